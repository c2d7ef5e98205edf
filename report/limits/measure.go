package limits

import (
	"fmt"
	"math"
	"strings"

	"sidelap/control"
	"sidelap/report"
)

// Groups of criteria: a verdict keeps relative and absolute apart.
const (
	Relative = "relative"
	Absolute = "absolute"
	Coverage = "coverage"
)

// Senses of a criterion.
const (
	Max    = "max"    // passes when value <= limit
	Min    = "min"    // passes when value >= limit
	Report = "report" // no limit: reported as found
)

// A measure is a value of the record that can have a limit.
type measure struct {
	id, name, group, unit, sense string

	// value returns nil and the reason when the record does not have it.
	value func(*report.Record) (*float64, string)

	// atLeast, where there is one, is what the value cannot lie below when it is not known; nil without.
	atLeast func(*report.Record) *float64
}

const (
	noSeparation = report.NoOverlap
	noSmooth     = "no smooth surface was found inside a strip"
	noChecks     = "no check points were given"
	noOpen       = "no usable check point on open ground"
	allControl   = "all check points stand in the list of control points too: they show the fit to them, not the accuracy"
	noVegetated  = "no usable check point in vegetation"
	noSurvey     = "the accuracy of the check point survey is unknown: give it (sd column or setting); it is not assumed to be zero"
	noCoverage   = "the coverage was not measured"
)

// measures are all criteria that a set may have, in the order of the report.
var measures = []measure{
	{"swath_rmsd", "strip to strip, RMSD of all overlaps", Relative, "m", Max, separation(func(s *report.Separation) *float64 { return s.RMSDM }), nil},
	{"swath_max", "strip to strip, largest difference", Relative, "m", Max, separation(func(s *report.Separation) *float64 { return s.MaxAbsM }), nil},
	{"swath_p95", "strip to strip, 95th percentile", Relative, "m", Max, separation(func(s *report.Separation) *float64 { return s.P95AbsM }), nil},
	{"swath_within_pct", "strip to strip, share of cells within the limit", Relative, "pct", Min, separation(func(s *report.Separation) *float64 { return s.WithinLimitPct }), nil},
	{"pair_rmsd", "strip to strip, RMSD of the worst pair", Relative, "m", Max, worstPair(func(p *report.Pair) *float64 { return p.RMSDM }), nil},
	{"pair_median", "strip to strip, height offset of the worst pair", Relative, "m", Max, worstPair(func(p *report.Pair) *float64 { return p.MedianM }), nil},
	{"smooth_max", "within a strip, largest difference on smooth surfaces", Relative, "m", Max, precision(largestRange), nil},
	{"smooth_rmsd", "within a strip, RMSD on smooth surfaces", Relative, "m", Max, precision(func(p *report.Precision) *float64 { return p.RMSDM }), nil},
	{"smooth_rms", "within a strip, rms of plane residuals", Relative, "m", Max, repeatability(func(p *report.Repeatability) *float64 { return p.RMSM }), nil},
	{"smooth_p95", "within a strip, 95th percentile of plane residuals", Relative, "m", Max, repeatability(func(p *report.Repeatability) *float64 { return p.P95M }), nil},
	{"nva_rmse", "check points in the open, RMSE of the fit", Absolute, "m", Max, open(func(a *report.Accuracy) *float64 { return a.RMSEM }), nil},
	{"nva_rmse_v", "check points in the open, RMSE with survey error", Absolute, "m", Max, withSurvey(open), fit(func(c *report.Checkpoints) *report.Accuracy { return c.NVA })},
	{"nva_95", "check points in the open, 95 % (1.96 RMSE)", Absolute, "m", Max, open(func(a *report.Accuracy) *float64 { return a.Accuracy95M }), nil},
	{"nva_mean", "check points in the open, mean difference", Absolute, "m", Max, open(func(a *report.Accuracy) *float64 { return abs(a.MeanM) }), nil},
	{"nva_max", "check points in the open, largest difference", Absolute, "m", Max, open(largest), nil},
	{"nva_points", "check points in the open, number used", Absolute, "1", Min, open(func(a *report.Accuracy) *float64 { return report.F(float64(a.N)) }), nil},
	{"vva_p95", "check points in vegetation, 95th percentile", Absolute, "m", Max, vegetated(func(a *report.Accuracy) *float64 { return a.P95AbsM }), nil},
	{"vva_rmse", "check points in vegetation, RMSE of the fit", Absolute, "m", Max, vegetated(func(a *report.Accuracy) *float64 { return a.RMSEM }), nil},
	{"vva_rmse_v", "check points in vegetation, RMSE with survey error", Absolute, "m", Max, withSurvey(vegetated), fit(func(c *report.Checkpoints) *report.Accuracy { return c.VVA })},
	{"horizontal_rmse", "targets, horizontal RMSE", Absolute, "m", Max, horizontal(func(h *report.Horizontal) *float64 { return h.RMSEM }), nil},
	{"strip_density", "first returns of a strip, median of the strips", Coverage, "1/m2", Min, coverage(func(c *report.Coverage) *float64 { return c.StripDensityPerM2 }), nil},
	{"density", "first returns, all strips together", Coverage, "1/m2", Min, coverage(func(c *report.Coverage) *float64 { return c.AggregateDensityPerM2 }), nil},
	{"density_p5", "first returns, 5th percentile of the cells", Coverage, "1/m2", Min, coverage(func(c *report.Coverage) *float64 { return c.DensityP5PerM2 }), nil},
	{"distribution", "cells of twice the spacing with a return, lowest strip", Coverage, "pct", Min, coverage(distribution), nil},
	{"covered", "cells with a return", Coverage, "pct", Min, coverage(func(c *report.Coverage) *float64 { return c.CellsWithReturnPct }), nil},
	{"covered_twice", "area covered by two strips or more", Coverage, "pct", Min, coverage(func(c *report.Coverage) *float64 { return c.CoveredTwicePct }), nil},
	{"sidelap", "sidelap, lowest of the neighbouring strips", Coverage, "pct", Min, lowestSidelap, nil},
	{"voids", "voids other than water", Coverage, "1", Max, voids, nil},
	{"void_area", "largest void", Coverage, "m2", Max, coverage(func(c *report.Coverage) *float64 { return c.LargestVoidM2 }), nil},
}

func measureOf(id string) *measure {
	for i := range measures {
		if measures[i].id == id {
			return &measures[i]
		}
	}
	return nil
}

func separation(of func(*report.Separation) *float64) func(*report.Record) (*float64, string) {
	return func(r *report.Record) (*float64, string) {
		if r.Separation == nil || r.Separation.Cells == 0 {
			return nil, report.NoSeparation(r)
		}
		return of(r.Separation), noSeparation
	}
}

// worstPair leaves pairs of a few cells out while there are others: strips that touch at a corner say nothing.
func worstPair(of func(*report.Pair) *float64) func(*report.Record) (*float64, string) {
	return func(r *report.Record) (*float64, string) {
		var worst *float64
		least := min(minCells, max(1, mostCells(r)))
		for i := range r.Pairs {
			if v := abs(of(&r.Pairs[i])); v != nil && r.Pairs[i].Cells >= least && (worst == nil || *v > *worst) {
				worst = v
			}
		}
		return worst, report.NoSeparation(r)
	}
}

// mostCells is the number of cells of the pair that has most.
func mostCells(r *report.Record) int64 {
	var n int64
	for i := range r.Pairs {
		n = max(n, r.Pairs[i].Cells)
	}
	return n
}

func repeatability(of func(*report.Repeatability) *float64) func(*report.Record) (*float64, string) {
	return func(r *report.Record) (*float64, string) {
		if r.Repeatability == nil || r.Repeatability.Cells == 0 {
			return nil, noSmooth
		}
		return of(r.Repeatability), noSmooth
	}
}

func precision(of func(*report.Precision) *float64) func(*report.Record) (*float64, string) {
	return func(r *report.Record) (*float64, string) {
		if r.Repeatability == nil || r.Repeatability.LBS == nil || r.Repeatability.LBS.Cells == 0 {
			return nil, noSmooth
		}
		return of(r.Repeatability.LBS), noSmooth
	}
}

// largestRange is the slope-corrected range farthest from zero: the RMSD and the percentile of the same cells count a
// range below zero by its size too.
func largestRange(p *report.Precision) *float64 {
	if p.MaxM == nil || p.MinM == nil {
		return p.MaxM
	}
	return report.F(max(math.Abs(*p.MinM), math.Abs(*p.MaxM)))
}

type accuracyOf = func(func(*report.Accuracy) *float64) func(*report.Record) (*float64, string)

func open(of func(*report.Accuracy) *float64) func(*report.Record) (*float64, string) {
	return checks(of, noOpen, func(c *report.Checkpoints) *report.Accuracy { return c.NVA })
}

func vegetated(of func(*report.Accuracy) *float64) func(*report.Record) (*float64, string) {
	return checks(of, noVegetated, func(c *report.Checkpoints) *report.Accuracy { return c.VVA })
}

func checks(of func(*report.Accuracy) *float64, none string, group func(*report.Checkpoints) *report.Accuracy) func(*report.Record) (*float64, string) {
	return func(r *report.Record) (*float64, string) {
		if r.Checkpoints == nil {
			return nil, noChecks
		}
		a := group(r.Checkpoints)
		if a == nil || a.N == 0 {
			if reused(r.Checkpoints) {
				return nil, allControl
			}
			return nil, none
		}
		return of(a), none
	}
}

// withSurvey is RMSE_V of Edition 2; without the survey's own accuracy it can
// not be computed.
func withSurvey(group accuracyOf) func(*report.Record) (*float64, string) {
	find := group(func(a *report.Accuracy) *float64 { return a.RMSEM })
	with := group(func(a *report.Accuracy) *float64 { return a.RMSEWithSurveyM })
	return func(r *report.Record) (*float64, string) {
		if v, why := find(r); v == nil {
			return nil, why
		}
		if r.Checkpoints.SurveyRMSEM == nil {
			return nil, noSurvey
		}
		v, _ := with(r)
		return v, noSurvey
	}
}

// reused tells that no check point is left because they are control points.
func reused(c *report.Checkpoints) bool {
	n := 0
	for i := range c.Points {
		if p := &c.Points[i]; p.Used {
			return false
		} else if strings.HasPrefix(string(p.Reason), string(control.ReasonControl)) {
			n++
		}
	}
	return n > 0
}

// fit is what RMSE_V of a group cannot lie below: the error of the survey can only add to the RMSE of the fit.
func fit(group func(*report.Checkpoints) *report.Accuracy) func(*report.Record) *float64 {
	return func(r *report.Record) *float64 {
		if r.Checkpoints == nil {
			return nil
		}
		if a := group(r.Checkpoints); a != nil && a.N > 0 {
			return a.RMSEM
		}
		return nil
	}
}

func horizontal(of func(*report.Horizontal) *float64) func(*report.Record) (*float64, string) {
	return func(r *report.Record) (*float64, string) {
		switch {
		case r.Checkpoints == nil:
			return nil, noChecks
		case r.Checkpoints.Horizontal == nil || r.Checkpoints.Horizontal.N == 0:
			return nil, "no check point was measured in plan"
		case r.Checkpoints.Horizontal.Estimated:
			return nil, "the horizontal figure is an estimate, not a test"
		}
		return of(r.Checkpoints.Horizontal), "no check point was measured in plan"
	}
}

func coverage(of func(*report.Coverage) *float64) func(*report.Record) (*float64, string) {
	return func(r *report.Record) (*float64, string) {
		if r.Coverage == nil {
			return nil, noCoverage
		}
		return of(r.Coverage), noCoverage
	}
}

func distribution(c *report.Coverage) *float64 {
	switch d := c.Distribution; {
	case d == nil || d.Cells == 0:
		return nil
	case d.LowestPct != nil:
		return d.LowestPct
	default:
		return d.WithReturnPct
	}
}

// lowestSidelap looks at strips flown beside one another; crossing strips have
// no sidelap.
func lowestSidelap(r *report.Record) (*float64, string) {
	var low *float64
	for i := range r.Pairs {
		p := &r.Pairs[i]
		if p.SidelapPct != nil && p.Relation != "crossing" && (low == nil || *p.SidelapPct < *low) {
			low = p.SidelapPct
		}
	}
	return low, "no neighbouring strips were found"
}

// voids counts the voids that nobody called water.
func voids(r *report.Record) (*float64, string) {
	if r.Coverage == nil || r.Coverage.Voids == nil {
		return nil, noCoverage
	}
	n := *r.Coverage.Voids
	for _, v := range r.Coverage.VoidList {
		if v.Note == "water" {
			n--
		}
	}
	return report.F(float64(max(n, 0))), ""
}

func largest(a *report.Accuracy) *float64 {
	if a.MinM == nil || a.MaxM == nil {
		return nil
	}
	return report.F(max(math.Abs(*a.MinM), math.Abs(*a.MaxM)))
}

func abs(v *float64) *float64 {
	if v == nil {
		return nil
	}
	return report.F(math.Abs(*v))
}

// Criteria returns one line for each criterion that a set may have: id, unit,
// sense and name. It is the list that an error about an unknown id shows.
func Criteria() []string {
	var s []string
	for _, m := range measures {
		s = append(s, fmt.Sprintf("%-17s %-5s %-4s %s", m.id, m.unit, m.sense, m.name))
	}
	return s
}

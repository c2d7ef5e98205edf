package blunder

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"

	"sidelap/control"
)

// assumedLimitM stands for the limit on RMSE where none is given: our proposal.
const assumedLimitM = 0.10

// rivalMargin is how close in explained share two findings are rivals: our proposal.
const rivalMargin = 0.05

// Find runs every rule that has its inputs and returns the findings, most likely first.
//
// The rules go from the place of the points over gross heights and constant shifts to tilts,
// single points, time and labels. A gross finding (columns, zone, unit) mutes the rules that would only
// restate it.
func Find(e Evidence) Report {
	r := &run{e: e, series: prepare(e.Points), limitM: e.LimitM}
	if r.limitM <= 0 {
		r.limitM = assumedLimitM
	}
	r.inside()
	if !r.gross {
		r.feetHeight()
	}
	if !r.gross {
		r.geoid()
		r.alternatives()
		r.horizontal()
		r.heights()
		r.base()
		r.unexplained()
		r.tilt()
		r.vegetation()
		r.sites()
		r.digits()
	}
	r.reused()
	r.times()
	r.clearance()
	r.verticalCRS()
	r.labels()
	r.rivals()
	r.tidy()
	return r.report
}

// tidy puts the lists of rules in order, each once; a rule that ran in some form is not listed as not run.
func (r *run) tidy() {
	number := func(id string) int {
		n, _ := strconv.Atoi(strings.TrimPrefix(id, "B"))
		return n
	}
	slices.SortFunc(r.report.Run, func(a, b string) int { return number(a) - number(b) })
	r.report.Run = slices.Compact(r.report.Run)
	slices.SortStableFunc(r.report.NotRun, func(a, b Skipped) int { return number(a.ID) - number(b.ID) })
	r.report.NotRun = slices.CompactFunc(r.report.NotRun, func(a, b Skipped) bool { return a.ID == b.ID })
	r.report.NotRun = slices.DeleteFunc(r.report.NotRun, func(s Skipped) bool { return slices.Contains(r.report.Run, s.ID) })
}

// run is one call of Find.
type run struct {
	e        Evidence
	series   series
	limitM   float64
	gross    bool // the points do not lie in the cloud, or heights are in another unit
	constant bool // a rule explained the constant height
	moved    bool // targets show a horizontal shift: slopes only repeat it
	planE    float64
	planN    float64 // that shift, cloud minus survey, where targets gave it
	report   Report
}

// series holds the differences the rules work on: check points with a height in the cloud, those in the
// open where there are at least three.
type series struct {
	index        []int // in Evidence.Points
	dz           []float64
	med, sr, rms float64 // median, 1.4826 MAD, RMSE
}

func prepare(points []control.PointResult) series {
	var all, open series
	for i := range points {
		p := &points[i]
		d := p.DzM
		if math.IsNaN(d) || math.IsInf(d, 0) || p.Use == control.UseControl {
			continue
		}
		all.index, all.dz = append(all.index, i), append(all.dz, d)
		if p.Cover != control.CoverVegetated {
			open.index, open.dz = append(open.index, i), append(open.dz, d)
		}
	}
	s := all
	if len(open.dz) >= 3 {
		s = open
	}
	if len(s.dz) > 0 {
		s.med, s.sr, s.rms = control.Median(s.dz), control.NMAD(s.dz), control.RMS(s.dz)
	}
	return s
}

func (s *series) n() int { return len(s.dz) }

// left returns what remains when predicted values are taken away.
func (s *series) left(predicted []float64) (medianM, rmseM, explained float64) {
	rest := make([]float64, len(s.dz))
	for i := range rest {
		rest[i] = s.dz[i] - predicted[i]
	}
	medianM, rmseM = control.Median(rest), control.RMS(rest)
	if s.rms > 0 {
		explained = 1 - (rmseM/s.rms)*(rmseM/s.rms)
	}
	return medianM, rmseM, explained
}

// same returns a constant prediction.
func (s *series) same(v float64) []float64 {
	p := make([]float64, len(s.dz))
	for i := range p {
		p[i] = v
	}
	return p
}

// seM is the standard error of the median, from the robust spread and never below what rounding
// of coordinates to the millimetre leaves.
func (s *series) seM() float64 { return max(s.sr, 0.001) / math.Sqrt(float64(s.n())) }

// shifted reports whether the differences share a height shift worth a search: enough points, beyond
// chance and half the limit, and most of the mean square.
func (r *run) shifted() bool {
	s := &r.series
	return s.n() >= 3 && math.Abs(s.med) > max(2*s.seM(), r.limitM/2) && s.med*s.med >= 0.8*s.core()*s.core()
}

// core is the RMSE without the points farther than 5 robust sigma from the median: one wild point
// does not hide a shift.
func (s *series) core() float64 {
	var v []float64
	for _, d := range s.dz {
		if math.Abs(d-s.med) <= 5*max(s.sr, 0.001) {
			v = append(v, d)
		}
	}
	return control.RMS(v)
}

// ran notes that a rule had its inputs.
func (r *run) ran(ids ...string) { r.report.Run = append(r.report.Run, ids...) }

// needs notes that a rule lacked an input.
func (r *run) needs(id, what string) {
	r.report.NotRun = append(r.report.NotRun, Skipped{id, what})
}

// add appends a finding that predicts differences.
func (r *run) add(f Finding, predicted []float64) {
	f.LeftMedianM, f.LeftRMSEM, f.ExplainedShare = r.series.left(predicted)
	r.report.Findings = append(r.report.Findings, f)
}

// note appends a finding that predicts no differences.
func (r *run) note(f Finding) {
	nan := math.NaN()
	f.LeftMedianM, f.LeftRMSEM, f.ExplainedShare = nan, nan, nan
	if f.ChancePct == 0 {
		f.ChancePct = nan
	}
	r.report.Findings = append(r.report.Findings, f)
}

// order of the rules where explained share and chance do not decide: from the gross to the fine.
var ruleOrder = []string{"B3", "B4", "B2", "B1", "B6", "B7", "B8", "B5", "B11", "B20", "B19", "B15", "B16", "B17", "B18", "B10", "B12", "B13", "B14", "B9", "B22", "B21"}

// rivals sorts the findings and names, for each, the others that explain nearly as much.
func (r *run) rivals() {
	f := r.report.Findings
	slices.SortStableFunc(f, func(a, b Finding) int {
		if a.Severity != b.Severity {
			return cmp.Compare(severityRank(a.Severity), severityRank(b.Severity))
		}
		sa, sb := share(a), share(b)
		if math.Abs(sa-sb) > rivalMargin {
			return cmp.Compare(sb, sa)
		}
		ca, cb := chance(a), chance(b)
		if math.Abs(ca-cb) > 0.5 {
			return cmp.Compare(ca, cb)
		}
		return cmp.Compare(slices.Index(ruleOrder, a.ID), slices.Index(ruleOrder, b.ID))
	})
	for i := range f {
		for j := range f {
			if i != j && f[i].ExplainedShare >= 0.2 && math.Abs(f[i].ExplainedShare-f[j].ExplainedShare) <= rivalMargin {
				f[i].Rivals = append(f[i].Rivals, Rival{f[j].ID, f[j].Title, f[j].ExplainedShare})
			}
		}
	}
}

func severityRank(s Severity) int {
	if s == Serious {
		return 0
	}
	return 1
}

// share is the explained share; findings that predict no differences stand where half is explained.
func share(f Finding) float64 {
	if math.IsNaN(f.ExplainedShare) {
		return 0.5
	}
	return f.ExplainedShare
}

func chance(f Finding) float64 {
	if math.IsNaN(f.ChancePct) {
		return 5
	}
	return f.ChancePct
}

// unionM is the total length of the windows value +- tolerance within -rangeM..rangeM, overlaps counted once.
func unionM(values []float64, tolM, rangeM float64) float64 {
	s := slices.Clone(values)
	slices.Sort(s)
	total, end := 0.0, -rangeM
	for _, v := range s {
		low, high := max(v-tolM, end), min(v+tolM, rangeM)
		if high > low {
			total += high - low
			end = high
		}
	}
	return total
}

package control

import (
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
)

// Reason says why a point did not enter an accuracy figure. The empty reason means it did.
type Reason string

// The reasons. PointResult.Detail has the figures of the case.
const (
	ReasonNone        Reason = ""
	ReasonControl     Reason = "control point: used in processing, not a check"
	ReasonNoHeight    Reason = "no surveyed height"
	ReasonOutside     Reason = "no return of the cloud in reach"
	ReasonFew         Reason = "too few ground returns"
	ReasonNotEnclosed Reason = "ground returns do not surround the point"
	ReasonVoid        Reason = "gap in the ground at the point"
	ReasonDuplicate   Reason = "same place as another point"
	ReasonByUser      Reason = "taken out by the user"
	ReasonRidge       Reason = "on a roof ridge: compared by its planes, not by the ground"
)

// Flag marks something about a point's site that a reader of its dz should know. A
// flagged point stays in the figures.
type Flag string

// The flags of a site.
const (
	FlagSteep  Flag = "steep"       // slope above EvaluateOptions.MaxSlopePct
	FlagStep   Flag = "step"        // vertical step within 1 m
	FlagRough  Flag = "rough"       // heights spread as over vegetation: not a hard surface
	FlagSparse Flag = "sparse"      // fewer than MinReturns ground returns within WithinM
	FlagDiffer Flag = "tin-plane"   // triangle and plane disagree beyond their noise
	FlagSingle Flag = "one-strip"   // one strip only
	FlagStrips Flag = "strips-part" // the strips' own surfaces differ by more than 3 sigma and MaxStripGapM
)

// EvaluateOptions controls Collector.Evaluate. Start from DefaultEvaluateOptions.
type EvaluateOptions struct {
	GroundClasses []uint8           // classes of the ground surface; default 2
	LastReturns   bool              // take the last returns even if the cloud is classified
	MinReturns    int               // ground returns that a surface needs, and below which within WithinM the site is sparse; default 5
	WithinM       float64           // radius of the local figures; default 0.5
	MaxEdgeM      float64           // longest side of the triangle at the point; 0 = five times the cloud's spacing, at least 1
	MaxSlopePct   float64           // default 10. Source: ASPRS Edition 2, section 7.12, from memory
	RoughM        float64           // p90-p10 above which the site is no hard surface; default 0.15, our proposal
	MaxStepM      float64           // a step above it is flagged; default 0.05, our proposal
	MaxStripGapM  float64           // default 0.05, our proposal
	Excluded      map[string]string // IDs that the user took out, with the user's reason
}

// DefaultEvaluateOptions returns the options described at EvaluateOptions.
func DefaultEvaluateOptions() EvaluateOptions {
	return EvaluateOptions{GroundClasses: []uint8{2}, MinReturns: 5, WithinM: 0.5, MaxSlopePct: 10,
		RoughM: 0.15, MaxStepM: 0.05, MaxStripGapM: 0.05}
}

// StripHeight is the surface of one strip at a point, from a plane through its ground returns.
type StripHeight struct {
	Source  uint16
	ZM      float64
	SigmaM  float64
	Returns int
}

// PointResult is what the cloud says at one point. CloudZM and DzM are NaN when the cloud
// has no surface there.
type PointResult struct {
	Point
	CloudZM float64 // height of the triangulated ground at the point
	DzM     float64 // CloudZM - ZM
	SigmaM  float64 // standard deviation of CloudZM from the returns' spread
	Used    bool    // enters an accuracy figure
	Reason  Reason  // why not
	Detail  string  // figures of the reason, one clause
	Flags   []Flag

	PlaneZM     float64 // second opinion: plane through the ground returns within PlaneRadiusM; NaN without
	PlaneRMSM   float64
	PlaneRadius float64
	EdgeM       float64 // longest side of the triangle
	NearestM    float64 // distance and height of the nearest ground return; NaN without
	NearestZM   float64
	SpreadM     float64 // standard deviation of the six nearest ground returns over the plane
	SlopePct    float64 // of the plane, NaN without
	GradE       float64 // its gradient to the east and north, NaN without
	GradN       float64
	P90P10M     float64 // spread of all returns within WithinM over the plane
	StepM       float64 // vertical step within 1 m, 0 = none found
	Returns     int     // ground returns within WithinM
	InReach     int     // ground returns within the collector's radius
	Duplicates  int     // returns present more than once
	Strips      []StripHeight
}

// Has reports whether the site carries the flag.
func (p *PointResult) Has(f Flag) bool { return slices.Contains(p.Flags, f) }

// Comparison is the cloud against a list of points.
type Comparison struct {
	Surface    string // what the heights of the cloud are, in words
	Classified bool
	SpacingM   float64 // median spacing of ground returns at the points
	NoiseM     float64 // median plane residual at the points
	RadiusM    float64
	Points     []PointResult // in the order of the list
	NVA, VVA   *Accuracy     // nil without a point
	NRead      int
	NUsed      int
	NExcluded  int // NRead - NUsed
	Warnings   []string
}

// DzM returns the differences of the used points of a cover in list order; CoverOpen
// includes the points of unknown cover.
func (c *Comparison) DzM(cover Cover) []float64 {
	var out []float64
	for i := range c.Points {
		p := &c.Points[i]
		if p.Used && (p.Cover == CoverVegetated) == (cover == CoverVegetated) {
			out = append(out, p.DzM)
		}
	}
	return out
}

// Evaluate finds the cloud's surface at each point and compares. It does not change what was
// collected.
func (c *Collector) Evaluate(o EvaluateOptions) *Comparison {
	o = o.withDefaults()
	cmp := &Comparison{RadiusM: c.radiusM, NRead: len(c.points)}
	cmp.Classified = c.classified(o.GroundClasses)
	ground := groundFilter(o, cmp.Classified)
	cmp.Surface = surfaceText(o, cmp.Classified)
	if c.none() {
		cmp.Surface = "none, as no return lies near a point"
	}
	sites := make([]*groundSite, len(c.points))
	each(len(sites), func(i int) { sites[i] = c.groundAt(i, ground, o) })
	cmp.SpacingM = typicalSpacing(sites)
	if o.MaxEdgeM == 0 {
		o.MaxEdgeM = max(1, 5*cmp.SpacingM)
	}
	cmp.Points = make([]PointResult, len(c.points))
	each(len(sites), func(i int) { cmp.Points[i] = sites[i].result(o) })
	markDuplicates(cmp.Points)
	cmp.finish(c, o)
	return cmp
}

// each calls f for 0..n-1 on all cores.
func each(n int, f func(i int)) {
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(n, runtime.GOMAXPROCS(0)) {
		wg.Go(func() {
			for i := next.Add(1) - 1; i < int64(n); i = next.Add(1) - 1 {
				f(int(i))
			}
		})
	}
	wg.Wait()
}

// finish counts, summarizes and warns.
func (c *Comparison) finish(col *Collector, o EvaluateOptions) {
	var noise []float64
	unknown := 0
	for i := range c.Points {
		p := &c.Points[i]
		if reason, out := o.Excluded[p.ID]; out && p.Reason == ReasonNone {
			p.Reason, p.Detail = ReasonByUser, reason
		}
		p.Used = p.Reason == ReasonNone
		if p.Used {
			c.NUsed++
		}
		if p.Used && p.Cover == CoverUnknown {
			unknown++
		}
		if p.Cover != CoverVegetated && p.PlaneRMSM > 0 {
			noise = append(noise, p.PlaneRMSM)
		}
	}
	c.NExcluded = c.NRead - c.NUsed
	c.NoiseM = Median(noise)
	if a, err := Summarize(c.DzM(CoverOpen)); err == nil {
		c.NVA = &a
	}
	if a, err := Summarize(c.DzM(CoverVegetated)); err == nil {
		c.VVA = &a
	}
	if unknown > 0 {
		c.Warnings = append(c.Warnings, fmt.Sprintf("%d of %d points name no land cover: counted as open ground", unknown, c.NUsed))
	}
	if col.seen > 0 && !c.Classified && !o.LastReturns && !col.none() {
		c.Warnings = append(c.Warnings, "no return near the points is classified as ground: the surface is made of last returns, which stand above the soil in vegetation")
	}
	for i := range col.sites {
		if r, dropped := col.Returns(i); dropped > 0 {
			c.Warnings = append(c.Warnings, fmt.Sprintf("point %s: the nearest %d returns were kept, which reach %.2f m", col.points[i].ID, len(r), col.reachM(i)))
		}
	}
}

// withDefaults fills options left zero.
func (o EvaluateOptions) withDefaults() EvaluateOptions {
	d := DefaultEvaluateOptions()
	if len(o.GroundClasses) == 0 {
		o.GroundClasses = d.GroundClasses
	}
	o.MinReturns = cmpOr(o.MinReturns, d.MinReturns)
	for _, f := range []struct{ v, d *float64 }{{&o.WithinM, &d.WithinM}, {&o.MaxSlopePct, &d.MaxSlopePct},
		{&o.RoughM, &d.RoughM}, {&o.MaxStepM, &d.MaxStepM}, {&o.MaxStripGapM, &d.MaxStripGapM}} {
		*f.v = cmpOr(*f.v, *f.d)
	}
	return o
}

func cmpOr[T int | float64](v, otherwise T) T {
	if v != 0 {
		return v
	}
	return otherwise
}

// none reports whether no return was kept at any point.
func (c *Collector) none() bool {
	for i := range c.sites {
		if len(c.sites[i].returns) > 0 {
			return false
		}
	}
	return true
}

func surfaceText(o EvaluateOptions, classified bool) string {
	if classified && !o.LastReturns {
		return fmt.Sprintf("TIN of ground returns (class %s)", joinClasses(o.GroundClasses))
	}
	return "TIN of last returns"
}

func joinClasses(c []uint8) string {
	s := ""
	for i, v := range c {
		if i > 0 {
			s += ", "
		}
		s += fmt.Sprint(v)
	}
	return s
}

// markDuplicates takes later points at the place of an earlier one out of the figures: the same
// shot would count twice.
func markDuplicates(points []PointResult) {
	const cellM = 0.005
	type cell struct{ e, n int64 }
	seen := map[cell][]int{}
	for i := range points {
		b := &points[i]
		if b.Reason != ReasonNone {
			continue
		}
		at := cell{int64(math.Floor(b.EM / cellM)), int64(math.Floor(b.NM / cellM))}
		for de := int64(-1); de <= 1; de++ {
			for dn := int64(-1); dn <= 1; dn++ {
				for _, j := range seen[cell{at.e + de, at.n + dn}] {
					a := &points[j]
					if math.Hypot(a.EM-b.EM, a.NM-b.NM) < cellM && math.Abs(a.ZM-b.ZM) < 0.0005 {
						b.Reason, b.Detail = ReasonDuplicate, "of point "+a.ID
					}
				}
			}
		}
		if b.Reason == ReasonNone {
			seen[at] = append(seen[at], i)
		}
	}
}

package trajectory

import (
	"fmt"
	"math"
	"sort"
)

// Interval is a stretch of time in seconds, ends included.
type Interval struct{ StartS, EndS float64 }

// ShiftCost measures how badly the path fits the cloud when shiftS is added
// to the times of the track: the variance of the beam's forward component in
// body axes, in m² (BeamPlane). False when it cannot be judged there.
type ShiftCost func(shiftS float64) (m2 float64, ok bool)

// TimeCandidate is one shift that makes the track meet the cloud in time.
type TimeCandidate struct {
	ShiftS  float64 // added to the track's times
	Name    string  // "GPS seconds of the week to adjusted standard GPS time", "... and UTC: 18 s"
	Fault   bool    // the shift is more than a change of notation: UTC for GPS, an hour, a day, a week
	Overlap float64 // share of the cloud's time that the track then covers
	CostM2  float64 // NaN when there is no cost
	rank    int
}

// TimeMatch is what is known about the time base of a track against a cloud.
type TimeMatch struct {
	TimeCandidate                 // the one to use
	FineS         float64         // part of ShiftS that the cost found beside the nearest named shift
	SigmaS        float64         // standard deviation of ShiftS from the curvature of the cost; NaN without
	Sure          bool            // the cost, or the overlap, leaves no rival
	Rivals        []TimeCandidate // the others that cover at least half as much, best first
	Text          string          // one sentence for the report
}

// MatchOptions bounds the search of MatchTime. The zero value searches ±50 ms
// around the best named shift, and ±2 s when no minimum lies there.
type MatchOptions struct {
	FineS    float64 // half the width of the fine search; 0 = 0.05
	CloudGPS bool    // the cloud's times are adjusted standard GPS time for sure: other readings come last
}

// MatchTime finds what to add to the times of the track so that it covers the
// cloud, whose times are given as intervals (one a strip, or one for all).
//
// Candidates are the changes of notation (seconds of the week against adjusted
// or Unix time) and, on top, the faults of the trade: UTC for GPS time (the
// leap seconds of the date), 19 and 37 s (International Atomic Time), whole
// hours, days, weeks and 1024 weeks. They are ranked by how much of the cloud's
// time the track then covers, and, if cost is given, by cost; among equals the
// plainest wins. With a cost the shift is refined and given a sigma.
//
// Source: rule B16 of the practice reference; beam-plane test, science reference section 11.
func MatchTime(t *Track, cloud []Interval, cost ShiftCost, o MatchOptions) (TimeMatch, error) {
	if t.Len() == 0 || len(cloud) == 0 {
		return TimeMatch{}, fmt.Errorf("%s: no times to compare with the cloud", t.Path)
	}
	cands := candidates(t, cloud, o)
	cov := newCoverage(t.TimeS)
	var good []TimeCandidate
	for _, c := range cands {
		if c.Overlap = cov.share(cloud, c.ShiftS); c.Overlap > 0 {
			c.CostM2 = math.NaN()
			good = append(good, c)
		}
	}
	if len(good) == 0 {
		a, b := t.Span()
		return TimeMatch{}, fmt.Errorf("%s: no known shift brings its times (%s, %s) over the cloud's (%s); is it the path of this flight?",
			t.Path, timeRangeText(a, b), t.TimeKind, timeRangeText(hull(cloud)))
	}
	best := 0.0
	for _, c := range good {
		best = max(best, c.Overlap)
	}
	good = keepIf(good, func(c TimeCandidate) bool { return c.Overlap >= best/2 })
	if cost != nil {
		for i := range good {
			if v, ok := cost(good[i].ShiftS); ok {
				good[i].CostM2 = v
			}
		}
	}
	sort.SliceStable(good, func(i, j int) bool { return better(good[i], good[j]) })
	m := TimeMatch{TimeCandidate: good[0], SigmaS: math.NaN(), Rivals: good[1:]}
	m.settle(cost, o)
	m.describe(t)
	return m, nil
}

// better ranks by cost (a fifth lower is lower), then by coverage (2 % more is more), then by plainness. A path
// that covers a part of the cloud ends too early under any shift: that a fault would cover a little more is
// no evidence of it.
func better(a, b TimeCandidate) bool {
	ca, cb := a.CostM2, b.CostM2
	switch {
	case !math.IsNaN(ca) && !math.IsNaN(cb):
		if ca < 0.8*cb || cb < 0.8*ca {
			return ca < cb
		}
	case math.IsNaN(ca) != math.IsNaN(cb):
		return !math.IsNaN(ca)
	}
	if math.Abs(a.Overlap-b.Overlap) > 0.02 && (a.Fault == b.Fault || max(a.Overlap, b.Overlap) > 0.98) {
		return a.Overlap > b.Overlap
	}
	return a.rank < b.rank
}

// wideS is half the width of a second search, for time tags wrong by more than the first one reaches.
const wideS = 2

// settle refines the shift and judges whether a rival is left.
func (m *TimeMatch) settle(cost ShiftCost, o MatchOptions) {
	fine := o.FineS
	if fine == 0 {
		fine = 0.05
	}
	if cost != nil && !math.IsNaN(m.CostM2) {
		d, sigma, v, ok := minimise(cost, m.ShiftS, fine)
		if !ok && o.FineS == 0 {
			d, sigma, v, ok = minimise(cost, m.ShiftS, wideS)
			ok = ok && v < 0.8*m.CostM2 && math.Abs(d) > 5*sigma
		}
		if ok {
			m.FineS, m.SigmaS, m.CostM2 = d, sigma, v
			m.ShiftS += d
		}
	}
	all := len(m.Rivals) > 0
	m.Sure = true
	for _, r := range m.Rivals {
		decided := !math.IsNaN(m.CostM2) && !math.IsNaN(r.CostM2) && m.CostM2 < 0.8*r.CostM2
		all = all && decided
		if !decided && r.Overlap > m.Overlap-0.02 {
			m.Sure = false
		}
	}
	m.Sure = m.Sure && (m.Overlap > 0.5 || all)
	// Hours, days and weeks over one and the same flight cannot all be told
	// apart by coverage, but nobody asks: the plain notation stands.
	if !m.Sure && !m.Fault && math.IsNaN(m.CostM2) {
		m.Sure = m.Overlap > 0.99 && !m.rivalNear(60)
	}
}

// rivalNear reports whether a fault within s seconds covers as much.
func (m *TimeMatch) rivalNear(s float64) bool {
	for _, r := range m.Rivals {
		if d := math.Abs(r.ShiftS - m.ShiftS); d < s && r.Overlap > m.Overlap-0.02 {
			return true
		}
	}
	return false
}

func (m *TimeMatch) describe(t *Track) {
	how := fmt.Sprintf("%.1f %% of the cloud's time is then covered", 100*m.Overlap)
	if !math.IsNaN(m.CostM2) {
		how += fmt.Sprintf(", the beam plane is then %.3f m thick", math.Sqrt(m.CostM2))
		next := math.NaN()
		for _, r := range m.Rivals {
			if !(r.CostM2 >= next) {
				next = r.CostM2
			}
		}
		if !math.IsNaN(next) {
			how += fmt.Sprintf(" (%.3f m with the next shift)", math.Sqrt(next))
		}
	}
	fine := ""
	if m.SigmaS > 0 && math.Abs(m.FineS) > 3*m.SigmaS {
		fine = fmt.Sprintf("; a time tag error of %+.1f ± %.1f ms is part of this shift", m.FineS*1e3, m.SigmaS*1e3)
	}
	m.Text = fmt.Sprintf("times of the path: %s, shift %+.3f s; %s%s", m.Name, m.ShiftS, how, fine)
	if !m.Sure {
		m.Text += "; not decided"
		if len(m.Rivals) > 0 {
			m.Text += ": " + m.Rivals[0].Name + fmt.Sprintf(" (%+.3f s) fits as well", m.Rivals[0].ShiftS)
		}
	}
}

func hull(iv []Interval) (a, b float64) {
	a, b = math.Inf(1), math.Inf(-1)
	for _, i := range iv {
		a, b = min(a, i.StartS), max(b, i.EndS)
	}
	return a, b
}

func keepIf(v []TimeCandidate, f func(TimeCandidate) bool) []TimeCandidate {
	var o []TimeCandidate
	for _, c := range v {
		if f(c) {
			o = append(o, c)
		}
	}
	return o
}

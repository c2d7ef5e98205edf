package fieldcheck

import (
	"errors"
	"fmt"
	"math"
)

// Proposals: an antenna height is measured to millimetres; the header holds what
// the receiver averaged, metres off at most.
const (
	antennaTolM = 0.005
	headerFarM  = 50
)

var errNoPlace = errors.New("the place of the base is not known")

// basePlace returns where the base stood in the grid: its mark, else the
// position in the header of its log.
func (r *runner) basePlace() (e, n float64, from string, err error) {
	if m := r.in.BaseMark; m != nil {
		return m[0], m[1], "the base mark", nil
	}
	e, n, err = r.headerPlace()
	return e, n, "the position in the base log's header", err
}

func (r *runner) headerPlace() (e, n float64, err error) {
	lat, lon, _, ok := r.in.Base.Position()
	if !ok || r.in.Grid == nil {
		return 0, 0, errNoPlace
	}
	return r.in.Grid.Forward(lat, lon)
}

// headerFromMark is the distance of the header's position from the mark.
func (r *runner) headerFromMark() (float64, bool) {
	e, n, err := r.headerPlace()
	if err != nil || r.in.BaseMark == nil {
		return 0, false
	}
	return math.Hypot(e-r.in.BaseMark[0], n-r.in.BaseMark[1]), true
}

// watchedShare of the epochs must have been watched for jumps before a base counts as not moved.
const watchedShare = 0.9

// baseMoved looks for a base that was touched: marks in the log, and jumps of
// its carrier phases during the recording.
func (r *runner) baseMoved(off float64, ok bool) {
	c := Check{ID: "base_moved", Title: "base not moved", Value: nan, Unit: "m", Limit: r.lim.BaseJumpM, Sense: AtMost, Basis: "knowledge base of a positioning kit: the base must not move; jumps of carrier phases: " + proposal}
	for _, e := range r.in.Base.SiteEvents() {
		if e.Flag == 2 || e.Flag == 3 {
			c.Result, c.Note = Caution, fmt.Sprintf("the log notes a moving antenna or a new site at %s", clock(e.GPSS))
			r.add(c)
			return
		}
	}
	a, b := r.in.Base.Span()
	without := 0.0 // seconds of the flight that the log does not tell of
	if ok {
		s, e, _ := r.recording()
		if b < s+off || a > e+off {
			r.missing(c.ID, c.Title, false, "the base log has no time in common with the recording")
			return
		}
		a, b = max(a, s+off), min(b, e+off)
		s, e = r.inAir()
		outside, inside := r.unlogged(s, e, off)
		without = outside + inside
	}
	jumps, watched := r.in.Base.Jumps(a, b, r.lim.BaseJumpM)
	switch {
	case len(jumps) > 0:
		c.Result, c.Value = Caution, jumps[0].SizeM
		for _, j := range jumps {
			c.Value = max(c.Value, j.SizeM)
		}
		c.Note = fmt.Sprintf("the carrier phases of most satellites jump together at %s: was the tripod touched? look at its level and measure the height again", clock(jumps[0].GPSS))
		if n := len(jumps) - 1; n > 0 {
			c.Note += fmt.Sprintf("; %s", counted(n, "more jump", "more jumps"))
		}
	case watched < watchedShare:
		c.Result, c.Note = NotJudged, "the log notes no move; its carrier phases cannot be watched (they need a step of 2 s at most)"
	default:
		c.Result, c.Value = Go, 0
		c.Note = fmt.Sprintf("no jump of its carrier phases above %g m; a slow sinking is not seen", r.lim.BaseJumpM)
	}
	unloggedNote(&c, without, "the flight")
	r.add(c)
}

func clock(gpsS float64) string { return utc(gpsS).Format("15:04:05") + " UTC" }

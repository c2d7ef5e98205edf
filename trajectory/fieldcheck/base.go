package fieldcheck

import (
	"fmt"
	"math"
	"strings"
	"time"

	"sidelap/trajectory"
	"sidelap/trajectory/rinex"
)

// baseChecks judges the base log against the recording.
func (r *runner) baseChecks() {
	b := r.in.Base
	need := !r.in.NoBase
	if b == nil || len(b.Epochs) == 0 {
		note := "no base log given"
		if r.in.NoBase {
			note = "flown without a base log"
		}
		for _, c := range [][2]string{{"base_covers", "base covers the recording"}, {"base_interval", "base interval"}, {"base_gaps", "gaps of the base"},
			{"base_file", "base file sound"}, {"base_moved", "base not moved"}, {"baseline", "distance to the base"}, {"base_satellites", "satellites of the base"}} {
			r.missing(c[0], c[1], need && (c[0] == "base_covers" || c[0] == "base_interval"), "%s", note)
		}
		return
	}
	off, how, ok := r.gpsOffset()
	r.baseCovers(off, how, ok)
	r.baseInterval()
	r.baseGaps(off, ok)
	r.baseFile(off, ok)
	r.baseMoved(off, ok)
	r.baseline()
	r.baseSatellites(off, ok)
}

// gpsOffset returns what to add to the path's times to get GPS seconds since 1980.
func (r *runner) gpsOffset() (float64, string, bool) {
	a, b, ok := r.recording()
	if !ok {
		return 0, "", false
	}
	if r.in.HasOffset {
		return r.in.GPSOffsetS, "", true
	}
	b0, b1 := r.in.Base.Span()
	switch {
	case a >= 1e9: // GPS seconds since 1980
		return 0, "", true
	case a > 2*trajectory.WeekS || a < 0: // adjusted standard GPS time
		return 1e9, "", true
	}
	// Seconds of the week: the week in which both meet, else that of the base.
	week := math.Floor(b0/trajectory.WeekS) * trajectory.WeekS
	best, most := week, -1.0
	for _, w := range []float64{week - trajectory.WeekS, week, week + trajectory.WeekS} {
		if both := min(b+w, b1) - max(a+w, b0); both > most {
			best, most = w, both
		}
	}
	return best, " (the path counts seconds of the week; the week is taken from the base log)", true
}

// recording returns the time of the path and of the strips, which may outlast it.
func (r *runner) recording() (a, b float64, ok bool) {
	a, b = math.Inf(1), math.Inf(-1)
	if r.motion != nil {
		a, b = r.motion.StartS, r.motion.EndS
	} else if len(r.shots) == 0 {
		return 0, 0, false
	}
	for _, s := range r.shots {
		a, b = min(a, s.StartS), max(b, s.EndS)
	}
	return a, b, true
}

// inAir returns the part of the recording from first take-off to last landing.
func (r *runner) inAir() (a, b float64) {
	a, b, _ = r.recording()
	if r.motion != nil && len(r.motion.Air) > 0 {
		a, b = r.motion.Air[0].TakeOffS, r.motion.Air[len(r.motion.Air)-1].LandingS
	}
	for _, s := range r.shots {
		a, b = min(a, s.StartS), max(b, s.EndS)
	}
	return a, b
}

// cutPathS is how long strips may go on without a path before it is taken for
// a part of one: proposal.
const cutPathS = 5.0

// pathCut returns the seconds of strips before the path begins and after it
// ends, zero where it is whole.
func (r *runner) pathCut() (before, after float64) {
	if r.motion == nil {
		return 0, 0
	}
	for _, s := range r.shots {
		before, after = max(before, r.motion.StartS-s.StartS), max(after, s.EndS-r.motion.EndS)
	}
	return before * step(before), after * step(after)
}

func step(s float64) float64 {
	if s > cutPathS {
		return 1
	}
	return 0
}

// wholePath is the question that comes before any flight where strips lie
// outside the path; "" where none does.
func (r *runner) wholePath() string {
	before, after := r.pathCut()
	var s []string
	if before > 0 {
		s = append(s, fmt.Sprintf("begins %s after the cloud", minutes(before)))
	}
	if after > 0 {
		s = append(s, fmt.Sprintf("ends %s before the cloud", minutes(after)))
	}
	if s == nil {
		return ""
	}
	return "is this the whole path file? It " + strings.Join(s, " and ")
}

func (r *runner) baseCovers(off float64, how string, ok bool) {
	c := Check{ID: "base_covers", Title: "base covers the recording", Unit: "s", Limit: r.lim.BaseMarginS, Sense: AtLeast, Required: !r.in.NoBase,
		Basis: "knowledge base of a positioning kit: the base must include the aircraft's time; margin: " + proposal}
	if !ok {
		r.missing(c.ID, c.Title, c.Required, "no path and no strips to compare the base log with")
		return
	}
	a, b, _ := r.recording()
	b0, b1 := r.in.Base.Span()
	before, after := a+off-b0, b1-b-off
	c.Value = min(before, after)
	air0, air1 := r.inAir()
	covered := func(s, e float64) bool { return s+off >= b0 && e+off <= b1 }
	for _, s := range r.shots {
		if !covered(s.StartS, s.EndS) {
			c.Strips = append(c.Strips, s.ID)
			why := "no base data"
			if ask := r.otherLog(off); ask != "" {
				why = firstAsk(ask, why)
			}
			r.want(s.ID, s.StartS, s.EndS, r.noBaseData(why), false)
		}
	}
	c.Note = fmt.Sprintf("logging began %s and ended %s", signed(before, "before the recording began", "after the recording began"), signed(after, "after the recording ended", "before the recording ended"))
	if r.baseDamaged() {
		how += "; " + copyBase
	}
	if ask := r.otherLog(off); ask != "" && (len(c.Strips) > 0 || !covered(air0, air1)) {
		c.Note = ask + " " + capital(c.Note)
	}
	switch {
	case b1 < a+off || b0 > b+off:
		c.Result = Refly
		c.Note = fmt.Sprintf("is this the log of this flight? It (%s) and the recording (%s) have no time in common%s", span(b0, b1), span(a+off, b+off), how)
	case len(c.Strips) > 0:
		c.Result = Refly
		c.Note += "; without base data: " + names(c.Strips)
	case !covered(air0, air1):
		c.Result = Refly
		c.Note += "; part of the flight, but no strip, is without base data"
	case c.Value < 0:
		c.Result = Caution
		c.Note += "; only time on the ground is without base data"
	default:
		c.Result = result(c.Value >= r.lim.BaseMarginS, Caution)
	}
	if !strings.HasSuffix(c.Note, how) {
		c.Note += how
	}
	r.add(c)
}

// unlogged returns the seconds from a to b, in the path's time, before the base
// log begins and after it ends, and those in its gaps; what is under the limit
// of a gap, or a step and a half of the log, does not count.
func (r *runner) unlogged(a, b, off float64) (outside, inside float64) {
	log := r.in.Base
	b0, b1 := log.Span()
	for _, g := range log.GapsWithin(a+off, b+off) {
		switch l := g.LengthS(); {
		case l <= max(r.lim.BaseGapS, 1.5*log.IntervalS):
		case g.EndS <= b0 || g.StartS >= b1:
			outside += l
		default:
			inside += l
		}
	}
	return outside, inside
}

// unloggedNote turns go into not judged where the base log has no data for a part of
// the time that a check is about.
func unloggedNote(c *Check, s float64, of string) {
	if s <= 0 {
		return
	}
	if c.Result == Go {
		c.Result = NotJudged
	}
	c.Note += fmt.Sprintf("; %s of %s are without base data", minutes(s), of)
}

// firstAsk puts a question, which may spare a flight, before what it explains.
func firstAsk(ask, what string) string {
	if strings.HasPrefix(ask, "is there ") {
		return ask + " If not: " + what
	}
	if strings.HasSuffix(ask, "?") {
		return ask + " If it is: " + what
	}
	return ask + ". If it is: " + what
}

// otherLog is the question that comes before any flight where a base log does
// not reach over it; "" where it does.
func (r *runner) otherLog(off float64) string {
	b0, b1 := r.in.Base.Span()
	a, b := r.inAir()
	a, b = a+off, b+off
	switch {
	case b1 < a || b0 > b:
		return "is this the log of this flight?"
	case b0 > a && b1 < b:
		return "is there another file of the base log, before or after this?"
	case b0 > a:
		return "is there an earlier file of the base log?"
	case b1 < b:
		return "is there a later file of the base log?"
	}
	return ""
}

// copyBase is the cheaper remedy where a log is damaged: what it lacks may be on the receiver.
const copyBase = "the base log is damaged: copy it from the receiver again before you fly"

func (r *runner) baseDamaged() bool { return len(r.in.Base.Damage()) > 0 || len(r.in.Base.Failed) > 0 }

// noBaseData is a reason to fly again, with what to do first.
func (r *runner) noBaseData(why string) string {
	if r.baseDamaged() {
		return why + "; " + copyBase
	}
	return why
}

func signed(s float64, pos, neg string) string {
	if s >= 0 {
		return minutes(s) + " " + pos
	}
	return minutes(-s) + " " + neg
}

func span(a, b float64) string {
	const f = "2006-01-02 15:04:05"
	return utc(a).Format(f) + " to " + utc(b).Format(f) + " UTC"
}

// utc turns GPS seconds into the time of the list and of the page.
func utc(gpsS float64) time.Time {
	return trajectory.CalendarFromGPS(gpsS - trajectory.LeapSeconds(trajectory.CalendarFromGPS(gpsS)))
}

// leastEpochs is how many epochs of a log tell its interval without a header that says the same: proposal.
const leastEpochs = 10

func (r *runner) baseInterval() {
	v, claimed := r.in.Base.IntervalS, r.in.Base.Header().ClaimedStepS
	c := Check{ID: "base_interval", Title: "base interval", Value: v, Unit: "s", Limit: r.lim.BaseStepS, Sense: AtMost, Required: !r.in.NoBase,
		Basis: "knowledge base of a positioning kit and users' reports: 1 s; refly from " + fmt.Sprintf("%g s: ", r.lim.BaseStepReflyS) + proposal}
	c.Note = fmt.Sprintf("an epoch every %g s", v)
	switch {
	case v == 0 || len(r.in.Base.Epochs) < leastEpochs && math.Abs(claimed-v) > 0.01*v:
		c.Value, c.Limit, c.Result = nan, nan, NotJudged
		c.Note = fmt.Sprintf("too few epochs in the log for an interval: %d", len(r.in.Base.Epochs))
		r.add(c)
		return
	case v <= r.lim.BaseStepS+1e-6:
		c.Result = Go
	case v < r.lim.BaseStepReflyS:
		c.Result = Caution
	default:
		c.Result = Refly
		c.Note += ": too few for a moving antenna, unless another station near by logged every second"
		for _, s := range r.shots {
			c.Strips = append(c.Strips, s.ID)
			r.want(s.ID, s.StartS, s.EndS, fmt.Sprintf("the base logged every %g s", v), false)
		}
	}
	if claimed > 0 && v > 0 && math.Abs(claimed-v) > 0.01*v {
		c.Note += fmt.Sprintf(" (the header claims %g s)", claimed)
	}
	r.add(c)
}

func (r *runner) baseGaps(off float64, ok bool) {
	c := Check{ID: "base_gaps", Title: "gaps of the base", Unit: "s", Limit: r.lim.BaseGapS, Sense: AtMost, Basis: proposal}
	if !ok {
		r.missing(c.ID, c.Title, false, "no path and no strips to compare the base log with")
		return
	}
	air0, air1 := r.inAir()
	b0, b1 := r.in.Base.Span()
	if b1 < air0+off || b0 > air1+off {
		r.missing(c.ID, c.Title, false, "the base log has no time in common with the flight")
		return
	}
	c.Result = Go
	for _, g := range r.in.Base.GapsWithin(max(air0+off, b0), min(air1+off, b1)) {
		// A common interval of 30 s is judged by its own check.
		l := g.LengthS()
		if l <= 1.5*r.in.Base.IntervalS {
			continue
		}
		c.Value = max(c.Value, l)
		if l > r.lim.BaseGapS && c.Result == Go {
			c.Result = Caution
		}
		for _, s := range r.shots {
			in := min(g.EndS, s.EndS+off) - max(g.StartS, s.StartS+off)
			if in <= 0 || l <= r.lim.BaseGapS {
				continue
			}
			c.Strips = append(c.Strips, s.ID)
			if in > r.lim.BaseGapStripS {
				c.Result = Refly
				r.want(s.ID, max(s.StartS, g.StartS-off-r.lim.LeadS), min(s.EndS, g.EndS-off+r.lim.LeadS), r.noBaseData(fmt.Sprintf("%.0f s without base data", in)), true)
			}
		}
	}
	c.Strips = unique(c.Strips)
	c.Note = fmt.Sprintf("longest gap during the flight %.1f s", c.Value)
	if len(c.Strips) > 0 {
		c.Note += ", in " + names(c.Strips)
	}
	outside, _ := r.unlogged(air0, air1, off)
	unloggedNote(&c, outside, "the flight")
	r.add(c)
}

func (r *runner) baseFile(off float64, ok bool) {
	b := r.in.Base
	h := b.Header()
	var bad []string
	if d := b.Damage(); len(d) > 0 {
		bad = append(bad, fmt.Sprintf("%s, the first at %s", counted(len(d), "damaged place", "damaged places"), d[0]))
	}
	if u := strings.ToUpper(h.AntennaType); h.AntennaType == "" || strings.Contains(u, "UNKNOWN") {
		bad = append(bad, "the antenna is not named")
	}
	if !h.HasPosition {
		bad = append(bad, "no position in the header")
	}
	switch measured := r.in.AntennaHeightM; {
	case measured > 0 && math.Abs(h.DeltaHENM[0]-measured) > antennaTolM:
		bad = append(bad, fmt.Sprintf("the antenna height in the header is %.3f m, measured were %.3f m: process with the measured one", h.DeltaHENM[0], measured))
	case measured == 0 && (!h.HasDelta || h.DeltaHENM[0] == 0):
		bad = append(bad, "the antenna height in the header is zero or missing (note the measured one)")
	}
	if d, ok := r.headerFromMark(); ok && d > headerFarM {
		bad = append(bad, fmt.Sprintf("the position in its header lies %.0f m from the base mark: the log of another place?", d))
	}
	bad = append(bad, b.Notes...)
	for _, err := range b.Failed {
		bad = append(bad, err.Error())
	}
	if ok {
		a, _, _ := r.recording()
		b0, _ := b.Span()
		if what := r.in.DateAssumed; what != "" {
			of := "the base log is of " + trajectory.CalendarFromGPS(b0).Format("2 January 2006")
			if r.in.Today != "" {
				of += ", this computer's clock says " + r.in.Today
			}
			bad = append(bad, fmt.Sprintf("neither path nor cloud says which %s it is; %s: is it the log of this flight?", what, of))
		}
		if d := math.Abs(a+off-b0) / 86400; d > 1 {
			bad = append(bad, fmt.Sprintf("its date is %s from the flight", counted(int(math.Round(d)), "day", "days")))
		}
	}
	c := Check{ID: "base_file", Title: "base file sound", Value: float64(len(bad)), Unit: "faults", Limit: 0, Sense: AtMost, Result: result(len(bad) == 0, Caution),
		Basis: "faults seen in practice; any: caution, " + proposal, Note: fmt.Sprintf("%s, antenna %s, height %.3f m", counted(len(b.Epochs), "epoch", "epochs"), h.AntennaType, h.DeltaHENM[0])}
	if len(bad) > 0 {
		c.Note = strings.Join(bad, "; ")
	}
	r.add(c)
}

func (r *runner) baseline() {
	c := Check{ID: "baseline", Title: "distance to the base", Unit: "km", Limit: r.lim.BaselineM / 1000, Sense: AtMost,
		Basis: fmt.Sprintf("knowledge base of a positioning kit: 10 km, at most %.0f km", r.lim.BaselineMaxM/1000)}
	e, n, from, err := r.basePlace()
	if r.in.Path == nil || err != nil {
		r.missing(c.ID, c.Title, false, "it needs a path, its coordinate system and a position in the base log, or the base mark")
		return
	}
	far := 0.0
	for i := range r.in.Path.EM {
		far = max(far, math.Hypot(r.in.Path.EM[i]-e, r.in.Path.NM[i]-n))
	}
	c.Value = far / 1000
	switch {
	case far <= r.lim.BaselineM:
		c.Result = Go
	case far <= r.lim.BaselineMaxM:
		c.Result = Caution
	default:
		c.Result = Refly
	}
	c.Note = fmt.Sprintf("at most %.2f km, by %s", c.Value, from)
	if c.Result == Refly {
		c.Note = "is this the log of this flight? The base stood " + fmt.Sprintf("up to %.0f km away, by %s", c.Value, from) + "; take a nearer station's data if there is one"
	}
	r.add(c)
}

func (r *runner) baseSatellites(off float64, ok bool) {
	c := Check{ID: "base_satellites", Title: "satellites of the base", Unit: "satellites", Limit: float64(r.lim.BaseSatsGo), Sense: AtLeast,
		Basis: fmt.Sprintf("hard limit %d: Florida DOT mobile lidar guideline; go from %d: %s", r.lim.BaseSats, r.lim.BaseSatsGo, proposal)}
	if !ok {
		r.missing(c.ID, c.Title, false, "no path and no strips say when the flight was")
		return
	}
	a, b := r.inAir()
	a, b = a+off, b+off
	where := "during the flight"
	if len(r.shots) > 0 {
		a, b, where = r.shots[0].StartS+off, r.shots[len(r.shots)-1].EndS+off, "during the strips"
	}
	outside, inside := r.unlogged(a-off, b-off, off)
	s := r.in.Base.Sky(a, b)
	if s.Epochs == 0 {
		r.missing(c.ID, c.Title, false, "no epoch %s", where)
		return
	}
	c.Value = float64(s.MinTwo)
	c.Note = fmt.Sprintf("at least %s %s, %d of them on two frequencies; median %d (%s)", counted(s.MinSats, "satellite", "satellites"), where, s.MinTwo, s.MedianSats, systems(s))
	switch {
	case s.MinTwo >= r.lim.BaseSatsGo:
		c.Result = Go
	case s.MinSats < r.lim.BaseSats:
		c.Result = Refly
		for _, x := range r.shots {
			if w := r.in.Base.Sky(x.StartS+off, x.EndS+off); w.Epochs > 0 && w.MinSats < r.lim.BaseSats {
				c.Strips = append(c.Strips, x.ID)
				r.want(x.ID, x.StartS, x.EndS, fmt.Sprintf("the base saw %s", counted(w.MinSats, "satellite", "satellites")), false)
			}
		}
	default:
		c.Result = Caution
		if s.MinTwo < r.lim.BaseSats {
			c.Note += ": one frequency alone fixes nothing over distance"
		}
	}
	if s.PowerFailure > 0 {
		c.Note += "; " + counted(s.PowerFailure, "power failure", "power failures")
		if c.Result == Go {
			c.Result = Caution
		}
	}
	unloggedNote(&c, outside+inside, strings.TrimPrefix(where, "during "))
	r.add(c)
}

func systems(s rinex.Sky) string {
	names := [...]string{"GPS", "GLONASS", "Galileo", "BeiDou", "QZSS", "NavIC", "SBAS"}
	var out []string
	for k, n := range s.PerSystem {
		if n > 0 {
			out = append(out, fmt.Sprintf("%s %d", names[k], n))
		}
	}
	return strings.Join(out, ", ")
}

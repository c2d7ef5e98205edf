package trajectory

import (
	"fmt"
	"math"
)

const toDeg = 180 / math.Pi

// headingRule is one way to read a heading from the columns of a file.
type headingRule struct {
	name string
	of   func(heading, wander float64) float64
}

var (
	asIs        = headingRule{"heading as in the file", func(h, _ float64) float64 { return h }}
	lessWander  = headingRule{"heading = platform heading - wander angle", func(h, w float64) float64 { return h - w }}
	plusWander  = headingRule{"heading = platform heading + wander angle", func(h, w float64) float64 { return h + w }}
	swapped     = headingRule{"the heading and wander columns are swapped", func(_, w float64) float64 { return w }}
	swappedLess = headingRule{"the heading and wander columns are swapped; heading = their difference", func(h, w float64) float64 { return w - h }}
	fromEast    = headingRule{"heading counter-clockwise from east, turned to clockwise from north", func(h, _ float64) float64 { return math.Pi/2 - h }}
	counter     = headingRule{"heading counter-clockwise from north, turned to clockwise", func(h, _ float64) float64 { return -h }}
	asDegrees   = headingRule{"heading in degrees although no value exceeds 6.3", func(h, _ float64) float64 { return h * math.Pi / 180 }}
)

// decideWander settles how the heading of an SBET file counts, by its course
// on straight legs.
func (t *Track) decideWander() {
	e, n := t.local()
	ls := legs(t.TimeS, e, n)
	wander := maxAbs(t.WanderRad)
	if wander < 1e-5 { // 2 arcseconds: no rule differs from another
		t.checkHeading(ls, asIs)
		return
	}
	rules := []headingRule{lessWander, asIs, plusWander, swapped, swappedLess}
	best, sure, why := t.pickHeading(ls, rules)
	t.decide(sure, best.name, "%s", why)
	if !sure && len(ls) > 0 {
		t.warn("%s is assumed: %s", best.name, why)
	}
	t.apply(best)
	t.checkHeading(ls, best)
}

// decideHeading settles how the heading of a text file counts.
func (t *Track) decideHeading(unitStated bool, radians bool) {
	if len(t.HeadingRad) != t.Len() {
		return
	}
	e, n := t.local()
	ls := legs(t.TimeS, e, n)
	if len(t.WanderRad) == t.Len() && maxAbs(t.WanderRad) > 1e-5 {
		t.decideWander()
		return
	}
	as := fitOffset(ls, func(i int) float64 { return t.HeadingRad[i] })
	const fits = 25 * math.Pi / 180
	if as.rmsRad < fits || len(ls) == 0 {
		t.checkHeading(ls, asIs)
		return
	}
	rules := []headingRule{fromEast, counter}
	if radians && !unitStated {
		rules = append(rules, asDegrees)
	}
	for _, r := range rules {
		f := fitOffset(ls, func(i int) float64 { return r.of(t.HeadingRad[i], 0) })
		if f.rmsRad < fits && f.spreadRad > 60*math.Pi/180 {
			t.decide(true, r.name, "on %d straight legs it differs from the course by %.1f° (rms), as written by %.1f°", f.legs, f.rmsRad*toDeg, as.rmsRad*toDeg)
			t.apply(r)
			t.checkHeading(ls, r)
			return
		}
	}
	t.checkHeading(ls, asIs)
}

// pickHeading returns the rule whose constant difference from the course is
// nearest zero; sure if all others are more than 3 sigma away.
func (t *Track) pickHeading(ls []leg, rules []headingRule) (best headingRule, sure bool, why string) {
	if len(ls) == 0 {
		return rules[0], false, "no straight leg to compare the heading with the course"
	}
	fit := make([]offsetFit, len(rules))
	k := 0
	for j, r := range rules {
		fit[j] = fitOffset(ls, func(i int) float64 { return r.of(t.HeadingRad[i], t.WanderRad[i]) })
		if math.Abs(fit[j].cRad) < math.Abs(fit[k].cRad) && fit[j].rmsRad < 30*math.Pi/180 || fit[k].rmsRad > 30*math.Pi/180 && fit[j].rmsRad < fit[k].rmsRad {
			k = j
		}
	}
	limit := 3 * fit[k].sigmaRad
	sure = math.Abs(fit[k].cRad) < limit
	for j := range rules {
		if j != k && math.Abs(fit[j].cRad) < limit && fit[j].rmsRad < 30*math.Pi/180 {
			sure = false
		}
	}
	if !sure && math.Abs(fit[0].cRad) < limit && fit[0].rmsRad < 30*math.Pi/180 {
		k = 0 // several fit: the usual rule
	}
	why = fmt.Sprintf("heading - course on %d straight legs, wind apart:", len(ls))
	for j := range rules {
		if j < 2 || j == k {
			why += fmt.Sprintf(" %+.2f° with \"%s\",", fit[j].cRad*toDeg, rules[j].name)
		}
	}
	return rules[k], sure, why + fmt.Sprintf(" each ± %.2f°", fit[k].sigmaRad*toDeg)
}

func (t *Track) apply(r headingRule) {
	for i, h := range t.HeadingRad {
		w := 0.0
		if len(t.WanderRad) == t.Len() {
			w = t.WanderRad[i]
		}
		t.HeadingRad[i] = Wrap2Pi(r.of(h, w))
	}
}

// checkHeading warns when the heading does not follow the course, and when the
// bank goes against the turns.
func (t *Track) checkHeading(ls []leg, rule headingRule) {
	f := fitOffset(ls, func(i int) float64 { return t.HeadingRad[i] })
	switch {
	case len(ls) == 0:
	case f.rmsRad > 25*math.Pi/180:
		t.warn("heading differs from the course by %.0f° (rms) on %d straight legs: no known convention fits; was the aircraft flown sideways, or is the column another angle?", f.rmsRad*toDeg, f.legs)
	case math.Abs(f.cRad) > max(3*f.sigmaRad, 10*math.Pi/180):
		t.warn("heading differs from the course by %+.1f° ± %.1f° on all legs: a crab angle would change its sign with the direction", f.cRad*toDeg, f.sigmaRad*toDeg)
	}
	if slope, r, n := t.bankSlope(); n >= 20 && r < -0.8 && slope < -0.3 {
		t.warn("roll goes against the turns (%.2f of the bank of a coordinated turn, correlation %.2f): its sign may be flipped", slope, r)
	}
}

// bankSlope regresses roll on the bank of a coordinated turn, atan(v ω/g),
// over turning samples one second apart.
func (t *Track) bankSlope() (slope, r float64, n int) {
	if len(t.RollRad) != t.Len() || len(t.HeadingRad) != t.Len() {
		return 0, 0, 0
	}
	e, nn := t.local()
	var sxx, sxy, syy float64
	last := 0
	for i := range t.TimeS {
		dt := t.TimeS[i] - t.TimeS[last]
		if dt < 1 {
			continue
		}
		if dt < 2 {
			v := math.Hypot(e[i]-e[last], nn[i]-nn[last]) / dt
			w := WrapPi(t.HeadingRad[i]-t.HeadingRad[last]) / dt
			if bank := math.Atan(v * w / 9.81); v > 3 && math.Abs(bank) > 5*math.Pi/180 && math.Abs(w) < 1 {
				y := t.RollRad[(i+last)/2]
				sxx, sxy, syy, n = sxx+bank*bank, sxy+bank*y, syy+y*y, n+1
			}
		}
		last = i
	}
	if sxx == 0 || syy == 0 {
		return 0, 0, n
	}
	return sxy / sxx, sxy / math.Sqrt(sxx*syy), n
}

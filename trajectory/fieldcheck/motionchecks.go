package fieldcheck

import (
	"fmt"
	"math"

	"sidelap/trajectory"
)

const checklist = "a payload maker's public flight checklist"

// motionChecks judges what the pilot did around the strips.
func (r *runner) motionChecks() {
	if r.motion == nil {
		for _, c := range [][2]string{{"still_before", "still before take-off"}, {"still_after", "still after landing"}, {"straight_run", "straight run before the first strip"},
			{"eights_before", "figure-eights before the first strip"}, {"manoeuvre_after", "manoeuvre after the last strip"}, {"battery_swap", "time on the ground between flights"}, {"bank_turns", "bank in turns"}} {
			need := c[0] == "still_before" || c[0] == "still_after" || c[0] == "eights_before"
			note := "no path given"
			if r.in.Path != nil {
				note = fmt.Sprintf("the path is too short to show a flight: %s", counted(len(r.in.Path.TimeS), "position", "positions"))
			}
			r.missing(c[0], c[1], need, "%s", note)
		}
		return
	}
	r.still("still_before", "still before take-off", r.motion.StartsOnGround, r.motion.StillBeforeS())
	r.still("still_after", "still after landing", r.motion.EndsOnGround, r.motion.StillAfterS())
	if len(r.shots) == 0 {
		for _, c := range [][2]string{{"straight_run", "straight run before the first strip"}, {"eights_before", "figure-eights before the first strip"}, {"manoeuvre_after", "manoeuvre after the last strip"}} {
			r.missing(c[0], c[1], c[0] == "eights_before", "no strip found in the path")
		}
	} else {
		r.alignment()
	}
	r.batterySwap()
	r.bankTurns()
}

func (r *runner) still(id, title string, ground bool, s float64) {
	c := Check{ID: id, Title: title, Value: s, Unit: "s", Limit: r.lim.StillS, Sense: AtLeast, Required: true,
		Basis: practice + fmt.Sprintf("; %s asks at least %.0f s", checklist, r.lim.StillMinS)}
	c.Result = result(s >= r.lim.StillS, Caution)
	before, after := r.pathCut()
	if id == "still_before" && before > 0 || id == "still_after" && after > 0 {
		c.Result, c.Value, c.Note = Caution, nan, r.wholePath()+": not seen"
		r.add(c)
		return
	}
	when := "the recording begins"
	if id == "still_after" {
		when = "the recording ends"
	}
	switch {
	case !ground:
		c.Note = when + " while the aircraft moves"
	case s < r.lim.StillMinS:
		c.Note = fmt.Sprintf("%.0f s: as good as none", s)
	default:
		c.Note = fmt.Sprintf("%.0f s", s)
	}
	if c.Result != Go && id == "still_after" {
		c.Note += "; if the recorder still runs, let it stand"
	}
	r.add(c)
}

// manoeuvres is what was flown around the strips of one alignment.
type manoeuvres struct {
	first, last string  // strips
	runS        float64 // longest straight run before the first
	eights      int     // before the first
	after       string  // what was flown after the last; empty: nothing
}

// alignments lists the stays in the air that hold strips. A short stop on the
// ground (battery swap) keeps the alignment, a long one begins a new one.
func (r *runner) alignments() []manoeuvres {
	var parts []trajectory.Air
	for _, a := range r.motion.Air {
		if k := len(parts) - 1; k >= 0 && a.TakeOffS-parts[k].LandingS <= r.lim.SwapS {
			parts[k].LandingS = a.LandingS
			continue
		}
		parts = append(parts, a)
	}
	var out []manoeuvres
	for _, p := range parts {
		first, last := -1, -1
		for i, s := range r.shots {
			if s.EndS > p.TakeOffS && s.StartS < p.LandingS {
				if first < 0 {
					first = i
				}
				last = i
			}
		}
		if first >= 0 {
			out = append(out, r.around(p, first, last))
		}
	}
	return out
}

// around looks at the events before strip first and after strip last of one stay in the air.
func (r *runner) around(p trajectory.Air, first, last int) manoeuvres {
	m := manoeuvres{first: r.shots[first].ID, last: r.shots[last].ID}
	for _, e := range r.motion.Events {
		switch {
		case e.StartS < p.TakeOffS || e.EndS > p.LandingS+1:
		case e.EndS <= r.shots[first].StartS+1:
			if e.Kind == trajectory.EventStraightRun {
				m.runS = max(m.runS, e.DurationS())
			}
			m.eights += e.Eights
		case e.StartS >= r.shots[last].EndS-1:
			if e.Kind == trajectory.EventFigureEight {
				m.after = counted(e.Eights, "figure-eight", "figure-eights")
			} else if e.Kind == trajectory.EventStraightRun && m.after == "" {
				m.after = "a straight run"
			}
		}
	}
	return m
}

// alignment judges straight run, figure-eights and the manoeuvre at the end;
// of several alignments the worst counts.
func (r *runner) alignment() {
	all := r.alignments()
	if len(all) == 0 {
		for _, c := range [][2]string{{"straight_run", "straight run before the first strip"}, {"eights_before", "figure-eights before the first strip"}, {"manoeuvre_after", "manoeuvre after the last strip"}} {
			r.missing(c[0], c[1], c[0] == "eights_before", "no strip lies inside a flight of the path")
		}
		return
	}
	run, eights, after := all[0].runS, all[0].eights, all[0].after
	var runStrips, eightStrips, afterStrips []string
	for _, m := range all {
		run, eights = min(run, m.runS), min(eights, m.eights)
		if m.runS < r.lim.RunS {
			runStrips = append(runStrips, m.first)
		}
		if m.eights < r.lim.Eights {
			eightStrips = append(eightStrips, m.first)
		}
		if m.after == "" {
			afterStrips = append(afterStrips, m.last)
		}
	}
	r.addRun(run, runStrips)
	r.addEights(eights, run, eightStrips)
	c := Check{ID: "manoeuvre_after", Title: "manoeuvre after the last strip", Value: nan, Limit: nan, Result: result(len(afterStrips) == 0, Caution), Strips: afterStrips, Basis: checklist,
		Note: after + " after the last strip"}
	if _, cut := r.pathCut(); cut > 0 {
		c.Result, c.Strips, c.Note = NotJudged, nil, r.wholePath()+": not seen"
	}
	if c.Result == Caution {
		c.Note = "neither a figure-eight nor a fast straight run after " + names(afterStrips) + ": the solution backwards in time starts weak there"
	}
	r.add(c)
}

func (r *runner) addRun(run float64, strips []string) {
	r.add(Check{ID: "straight_run", Title: "straight run before the first strip", Value: run, Unit: "s", Limit: r.lim.RunS, Sense: AtLeast, Strips: strips,
		Result: result(run >= r.lim.RunS-0.3, Caution), Basis: checklist, Note: fmt.Sprintf("%.0f s faster than %g m/s", run, r.lim.RunMPS)})
}

func (r *runner) addEights(n int, run float64, strips []string) {
	c := Check{ID: "eights_before", Title: "figure-eights before the first strip", Value: float64(n), Unit: "figure-eights", Limit: float64(r.lim.Eights), Sense: AtLeast, Strips: strips,
		Result: result(n >= r.lim.Eights, Caution), Basis: checklist + "; refly without any manoeuvre: " + proposal, Required: true}
	c.Note = fmt.Sprintf("%d before the first strip", n)
	if n == 0 && run < r.lim.RunS {
		// Nothing at all turned the inertial system before the first strip: its
		// heading is not to be trusted unless the solution says otherwise.
		if s, ok := r.headingSigmaDeg(strips); ok && s <= r.lim.SigmaHeadingDeg {
			c.Note += fmt.Sprintf("; the solution states a heading of %.3f° on it all the same", s)
		} else {
			c.Result = Refly
			c.Note = "no figure-eight and no straight run before " + names(strips) + ": its heading has not settled"
			for _, s := range r.shots {
				for _, id := range strips {
					if s.ID == id {
						r.want(s.ID, s.StartS, s.EndS, "no alignment manoeuvre before it; fly one first", false)
					}
				}
			}
		}
	} else if c.Result != Go {
		c.Note += "; look at the heading of " + names(strips) + " first"
	}
	r.add(c)
}

// headingSigmaDeg returns the largest stated heading accuracy on some strips.
func (r *runner) headingSigmaDeg(ids []string) (float64, bool) {
	v := 0.0
	if r.in.Path == nil || r.in.Path.Sigma == nil || len(r.in.Path.Sigma.HeadingRad) == 0 {
		return 0, false
	}
	for _, s := range r.shots {
		for _, id := range ids {
			if s.ID != id {
				continue
			}
			for t := s.StartS; t <= s.EndS; t++ {
				if g, ok := r.in.Path.SigmaAt(t); ok && !math.IsNaN(g.HeadingRad) {
					v = max(v, g.HeadingRad*180/math.Pi)
				}
			}
		}
	}
	return v, v > 0
}

func (r *runner) batterySwap() {
	c := Check{ID: "battery_swap", Title: "time on the ground between flights", Value: 0, Unit: "s", Limit: r.lim.SwapS, Sense: AtMost, Result: Go, Basis: checklist, Note: "one flight"}
	for k := 1; k < len(r.motion.Air); k++ {
		d := r.motion.Air[k].TakeOffS - r.motion.Air[k-1].LandingS
		c.Value = max(c.Value, d)
		c.Note = fmt.Sprintf("%d flights in one recording", len(r.motion.Air))
	}
	if c.Value > r.lim.SwapS {
		c.Result = Caution
		c.Note += fmt.Sprintf(", %.0f s on the ground between two: each needs its own still and manoeuvres", c.Value)
	}
	r.add(c)
}

func (r *runner) bankTurns() {
	p := r.in.Path
	c := Check{ID: "bank_turns", Title: "bank in turns", Unit: "deg", Limit: r.lim.BankTurnDeg, Sense: AtMost, Basis: "manned surveys: 15 to 25; multirotor " + proposal}
	if p == nil || !p.HasAttitude() {
		r.missing(c.ID, c.Title, false, "the path has no attitude")
		return
	}
	air0, air1 := r.inAir()
	for i, t := range p.TimeS {
		if t > air0+2 && t < air1-2 {
			c.Value = max(c.Value, math.Abs(p.RollRad[i])*180/math.Pi)
		}
	}
	c.Result = result(c.Value <= r.lim.BankTurnDeg, Caution)
	c.Note = fmt.Sprintf("up to %.0f° in the air: steep banks hide satellites", c.Value)
	if c.Result == Go {
		c.Note = fmt.Sprintf("up to %.0f° in the air", c.Value)
	}
	r.add(c)
}

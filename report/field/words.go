package field

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"sidelap/report"
	"sidelap/trajectory"
	"sidelap/trajectory/fieldcheck"
)

// cautions stand on every output.
var cautions = []string{
	"This list repeats strips as they were flown or planned. It is no flight plan. Whether, when and how to fly is for the pilot in command, under the rules of the place, the limits of the aircraft and the safety instructions of the laser. Minutes are estimates.",
	"A look at data, no certificate: it says nothing on the accuracy of the result, on flight safety or on laser safety.",
}

// noList stands for the first of the cautions where there is no list.
const noList = "Whether, when and how to fly is for the pilot in command, under the rules of the place, the limits of the aircraft and the safety instructions of the laser."

// cautions are those of this answer: of the list only where there is one.
func (r *Report) cautions() []string {
	if len(r.Refly) > 0 {
		return cautions
	}
	return append([]string{noList}, cautions[1:]...)
}

// word is the word for a result; it is never told by colour alone.
func word(r fieldcheck.Result) string {
	switch r {
	case fieldcheck.Go:
		return "go"
	case fieldcheck.Caution:
		return "caution"
	case fieldcheck.Refly:
		return "REFLY"
	}
	return "not judged"
}

// bigWord is the word for the verdict.
func bigWord(r fieldcheck.Result) string { return strings.ToUpper(word(r)) }

// Headline tells the verdict in one short sentence, without its word.
func (r *Report) Headline() string {
	switch r.Verdict {
	case fieldcheck.Go:
		return "nothing was found that only another flight would mend"
	case fieldcheck.Caution:
		s := counted(r.Count(fieldcheck.Caution), "thing", "things") + " to look at before you leave; nothing to fly again was found"
		if n := r.unjudged(); n > 0 {
			s += fmt.Sprintf(", but %s had nothing to go by", counted(n, "needed check", "needed checks"))
		}
		return s
	case fieldcheck.Refly:
		if len(r.Refly) == 0 {
			return "no single strip is at fault; look at: " + r.concern()
		}
		return fmt.Sprintf("%s, about %.0f min with take-off, manoeuvres and landing", r.reflyCount(), math.Ceil(r.ReflyMinutes))
	}
	return fmt.Sprintf("nothing bad was found, but %s had nothing to go by", counted(r.unjudged(), "needed check", "needed checks"))
}

// unjudged counts the needed checks that lack their input.
func (r *Report) unjudged() (n int) {
	for _, c := range r.Checks {
		if c.Required && c.Result == fieldcheck.NotJudged {
			n++
		}
	}
	return n
}

// Complete reports whether every needed check was judged.
func (r *Report) Complete() bool { return r.unjudged() == 0 }

// concern names what asks for a repeat when no strip can be named.
func (r *Report) concern() string {
	var s []string
	for _, c := range r.Checks {
		if c.Result == fieldcheck.Refly {
			s = append(s, c.Title)
		}
	}
	return strings.Join(s, ", ")
}

func (r *Report) reflyCount() string {
	whole, part, planned := 0, 0, 0
	for _, it := range r.Refly {
		switch {
		case it.Planned:
			planned++
		case it.Part:
			part++
		default:
			whole++
		}
	}
	var s []string
	for _, x := range []struct {
		n         int
		one, many string
	}{{whole, "strip", "strips"}, {part, "stretch of a strip", "stretches of strips"}, {planned, "planned line", "planned lines"}} {
		if x.n > 0 {
			s = append(s, counted(x.n, x.one, x.many))
		}
	}
	return strings.Join(s, " and ")
}

func counted(n int, one, many string) string { return report.Counted(n, one, many) }

// GPSSeconds returns a time of the report in the time of the cloud.
func (r *Report) GPSSeconds(t float64) float64 { return t + r.EpochS }

// Clock returns a time of the report as a reading of a clock, see ClockName.
func (r *Report) Clock(t float64) string {
	switch {
	case r.clock.absolute:
		at := trajectory.CalendarFromGPS(t + r.EpochS + r.clock.offsetS)
		at = trajectory.CalendarFromGPS(t + r.EpochS + r.clock.offsetS - trajectory.LeapSeconds(at))
		return at.Format("15:04:05")
	case r.clock.dayOnly:
		t = math.Mod(t+r.EpochS, 86400)
		return fmt.Sprintf("%02d:%02d:%02d", int(t)/3600, int(t)/60%60, int(t)%60)
	}
	return fmt.Sprintf("%d:%02d", int(t)/60, int(t)%60)
}

// ClockName says what Clock counts.
func (r *Report) ClockName() string {
	switch {
	case r.clock.absolute:
		return "UTC"
	case r.clock.dayOnly:
		return "by the GPS clock"
	}
	return "after the start"
}

// Date returns the day of the recording, "" when it is not known.
func (r *Report) Date() string {
	if !r.clock.absolute || r.path == nil && len(r.Refly) == 0 && r.EpochS == 0 {
		return ""
	}
	return trajectory.CalendarFromGPS(r.EpochS + r.clock.offsetS).Format("2 January 2006")
}

// startNote explains the seconds that the notes count.
func (r *Report) startNote() string {
	if r.EpochS == 0 && r.path == nil {
		return ""
	}
	if !r.clock.absolute && !r.clock.dayOnly {
		return "Times in seconds count from the start of the recording."
	}
	return "Times in seconds count from the start of the recording, " + r.Clock(0) + " " + r.ClockName() + "."
}

// itemTitle names an item of the list for a person.
func (r *Report) itemTitle(it *fieldcheck.Item) string {
	switch {
	case it.Planned:
		return "planned line " + it.Strip
	case strings.HasPrefix(it.Strip, "between "), strings.HasPrefix(it.Strip, "before "), strings.HasPrefix(it.Strip, "after "):
		return "the strip " + it.Strip
	}
	return "strip " + it.Strip
}

// itemPlace tells when an item was flown, and how long it is.
func (r *Report) itemPlace(it *fieldcheck.Item) string {
	var s []string
	if !it.Planned {
		when := r.Clock(it.StartS) + " to " + r.Clock(it.EndS) + " " + r.ClockName()
		if it.Part {
			when = "only " + when
		}
		s = append(s, when)
	}
	if it.LengthM > 0 {
		s = append(s, fmt.Sprintf("%.0f m", it.LengthM))
	}
	return strings.Join(append(s, fmt.Sprintf("%.1f min", it.Minutes)), ", ")
}

// reason is one clause of why, with the checks that it stands for.
type reason struct {
	Result fieldcheck.Result
	Title  string
	Note   string
}

// Word is the word of the result.
func (x reason) Word() string { return word(x.Result) }

// reasons lists what decides, worst first; needed checks that lack the same input make one line.
func (r *Report) reasons() []reason {
	var out []reason
	for _, want := range []fieldcheck.Result{fieldcheck.Refly, fieldcheck.Caution, fieldcheck.NotJudged} {
		for _, c := range r.Checks {
			if c.Result != want || want == fieldcheck.NotJudged && !c.Required {
				continue
			}
			if n := len(out); n > 0 && want == fieldcheck.NotJudged && out[n-1].Result == want {
				if k := slices.IndexFunc(out, func(x reason) bool { return x.Result == want && x.Note == c.Note }); k >= 0 {
					out[k].Title += ", " + c.Title
					continue
				}
			}
			out = append(out, reason{c.Result, c.Title, c.Note})
		}
	}
	return out
}

// ordered returns the checks, worst first, those not judged last.
func (r *Report) ordered() []fieldcheck.Check {
	rank := map[fieldcheck.Result]int{fieldcheck.Refly: 0, fieldcheck.Caution: 1, fieldcheck.Go: 2, fieldcheck.NotJudged: 3}
	out := slices.Clone(r.Checks)
	slices.SortStableFunc(out, func(a, b fieldcheck.Check) int { return rank[a.Result] - rank[b.Result] })
	return out
}

// notJudged names the checks without an answer, by what they lack.
func (r *Report) notJudged() []reason {
	var out []reason
	for _, c := range r.Checks {
		if c.Result != fieldcheck.NotJudged {
			continue
		}
		if k := slices.IndexFunc(out, func(x reason) bool { return x.Note == c.Note }); k >= 0 {
			out[k].Title += ", " + c.Title
		} else {
			out = append(out, reason{c.Result, c.Title, c.Note})
		}
	}
	return out
}

// eventLine tells what an event was, without its time.
func eventLine(e trajectory.Event) string {
	s := string(e.Kind)
	if e.Eights > 1 {
		s = counted(e.Eights, "figure-eight", "figure-eights")
	}
	s += fmt.Sprintf(", %.0f s", e.DurationS())
	switch e.Kind {
	case trajectory.EventStrip, trajectory.EventStraightRun:
		s += fmt.Sprintf(", %.0f m at %.1f m/s", e.LengthM, e.SpeedMPS)
	}
	return s
}

// events lists what the pilot did; short turns and transits between strips are left out.
func (r *Report) events() []trajectory.Event {
	if r.Motion == nil {
		return nil
	}
	var out []trajectory.Event
	for _, e := range r.Motion.Events {
		if (e.Kind == trajectory.EventTurn || e.Kind == trajectory.EventTransit) && e.DurationS() < 10 {
			continue
		}
		out = append(out, e)
	}
	return out
}

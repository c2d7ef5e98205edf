package adjust

import (
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"

	"sidelap/overlap"
)

// Severity ranks a finding.
type Severity int

// The severities.
const (
	Note Severity = iota
	Warning
	Fault
)

// Finding is one sentence about the strips with its evidence.
type Finding struct {
	ID       string
	Severity Severity
	Text     string
	Evidence string
	Rivals   []string
	DecideBy string
	Strips   []string
}

// plain names the kinds in the words of the trade.
var plain = map[Kind]string{
	BoresightRoll: "boresight roll", BoresightPitch: "boresight pitch", BoresightHeading: "boresight heading",
	ScanAngleScale: "scan angle scale", LeverX: "lever arm forward", LeverY: "lever arm to the right", LeverZ: "lever arm down",
	TimeOffset: "time offset between path and scanner", RangeOffset: "range offset", StripHeight: "height shifts of single strips",
	StripHorizontal: "horizontal shifts of single strips", StripDrift: "height drift within strips", AttitudeDrift: "roll error within strips",
	DatumHeight: "height datum",
}

// Plain returns the kind in words.
func (k Kind) Plain() string { return plain[k] }

// signature says how the kind shows, so that a reader can check it on the map.
var signature = map[Kind]string{
	BoresightRoll:    "separation tilts across the overlap of opposed strips and is zero in its middle; same-direction strips show a constant step",
	BoresightPitch:   "separation follows the slope along the flight and changes sign with the aspect, in opposed strips only",
	BoresightHeading: "separation follows the slope along the flight and grows with the distance between the strips, whatever their direction",
	ScanAngleScale:   "edges of the swath rise or fall on both sides, in every direction of flight",
	LeverX:           "an along-track shift that turns with the heading and does not grow with height",
	LeverY:           "an across-track shift that turns with the heading and does not grow with height",
	TimeOffset:       "an along-track shift in proportion to the speed, with ripples at the swath edges when the aircraft rolls",
	RangeOffset:      "nadir and edges of the swath differ slightly, and all heights are off",
	StripHeight:      "a constant step for each strip, independent of heading and of the place across the swath",
	StripHorizontal:  "separation follows the slope in a direction fixed in the map",
	StripDrift:       "separation ramps, bends or steps along the flight, alike across the whole swath",
	AttitudeDrift:    "separation tilts across the swath by an amount that differs from strip to strip or changes along it",
}

// decide is the one measurement that tells two kinds apart.
func decide(a, b Kind) string {
	if a > b {
		a, b = b, a
	}
	switch {
	case a == BoresightPitch && b == BoresightHeading:
		return "one more strip beside the pair, alternating in direction, or a crossing strip over sloping ground or roofs"
	case a == BoresightPitch && b == LeverX, a == BoresightRoll && b == LeverY:
		return "the same strips at a second height, clearly different from the first"
	case a == BoresightPitch && b == TimeOffset, a == LeverX && b == TimeOffset:
		return "an opposed pair flown at a second speed"
	case b == StripHorizontal:
		return "one strip that crosses the others over sloping ground or roofs, or targets in each strip"
	case a == BoresightRoll && b == StripHeight:
		return "one opposed pair or a crossing strip: roll tilts it, a height shift does not"
	case a == BoresightRoll && b == ScanAngleScale:
		return "a same-direction pair, a crossing strip, or check points across the whole swath"
	case b == AttitudeDrift || b == StripDrift || b == StripHeight:
		return "a crossing strip, or control points at the corners of the block"
	}
	return "strips at a second height and speed, and one crossing strip"
}

// Amount writes a value with its standard deviation in the kind's unit.
func (k Kind) Amount(x, sigma float64) string {
	unit, f := k.Unit()
	switch unit {
	case "deg":
		return fmt.Sprintf("%+.4f ± %.4f deg", x*f, sigma*f)
	case "m":
		return fmt.Sprintf("%+.3f ± %.3f m", x*f, sigma*f)
	case "s":
		return fmt.Sprintf("%+.4f ± %.4f s", x*f, sigma*f)
	}
	return fmt.Sprintf("%+.5f ± %.5f", x, sigma)
}

// Findings puts a diagnosis into sentences, the largest effect first.
func (d *Diagnosis) Findings(s *overlap.Survey) []Finding {
	if !d.Judged {
		return append(d.standing(s), Finding{ID: "cause-not-judged", Severity: Note, Text: "The cause of separations was not judged: " + d.Why + ".",
			DecideBy: "more overlap on smooth ground"})
	}
	var out []Finding
	if len(d.Causes) == 0 {
		out = append(out, Finding{ID: "no-cause", Severity: Note,
			Text:     fmt.Sprintf("No systematic cause was found: what separates the strips (%.3f m rms) looks like noise.", d.BeforeRMSM),
			Evidence: fmt.Sprintf("%d cells in %d blocks of ground; the best model leaves %.3f m on ground it was not fitted to", d.Cells, d.Blocks, d.FloorRMSM)})
	}
	for _, k := range d.kindsByEffect() {
		out = append(out, d.finding(s, k))
	}
	out = append(out, d.standing(s)...)
	out = append(out, d.predicted()...)
	return append(out, d.unobservable()...)
}

// wantedSigma is to what an angle should be found for a delivery: a centimetre or so at the edge of a swath from a drone. Our proposal.
func (k Kind) wantedSigma() float64 {
	const deg = math.Pi / 180
	switch k {
	case BoresightRoll:
		return 0.005 * deg / 2
	case BoresightPitch:
		return 0.01 * deg / 2
	}
	return 0.03 * deg / 2
}

// predicted says how well this block shows the boresight angles, from geometry, slopes and noise alone.
func (d *Diagnosis) predicted() []Finding {
	var parts []string
	for _, o := range d.Observable {
		if o.Kind > BoresightHeading || !o.Observable {
			continue
		}
		name, how := strings.TrimPrefix(o.Kind.Plain(), "boresight "), ""
		if o.SigmaJoint > o.Kind.wantedSigma() {
			how = "only "
		}
		part := fmt.Sprintf("%s %sto %s deg", name, how, twoDigits(o.SigmaJoint*180/math.Pi))
		if o.SigmaJoint > 2*o.Sigma {
			part += fmt.Sprintf(" (to %s deg if the other two angles are right)", twoDigits(o.Sigma*180/math.Pi))
		}
		parts = append(parts, part)
	}
	if len(parts) == 0 {
		return nil
	}
	return []Finding{{ID: "predicted-accuracy", Severity: Note,
		Text:     fmt.Sprintf("With these overlaps and slopes the boresight angles could be found to one standard deviation of: %s.", strings.Join(parts, ", ")),
		Evidence: fmt.Sprintf("predicted from the geometry of %d cells in %d blocks of ground, their slopes and their noise, before any fit", d.Cells, d.Blocks)}}
}

// twoDigits writes a small positive number with two digits that count.
func twoDigits(x float64) string {
	digits := 1 - int(math.Floor(math.Log10(x)))
	if !(x > 0) || digits < 0 || digits > 9 {
		return fmt.Sprintf("%.2g", x)
	}
	return strconv.FormatFloat(x, 'f', digits, 64)
}

func (d *Diagnosis) kindsByEffect() []Kind {
	effect := map[Kind]float64{}
	var kinds []Kind
	for _, c := range d.Causes {
		if _, ok := effect[c.Kind]; !ok {
			kinds = append(kinds, c.Kind)
		}
		effect[c.Kind] = c.EffectM
	}
	sort.SliceStable(kinds, func(i, j int) bool { return effect[kinds[i]] > effect[kinds[j]] })
	return kinds
}

// finding is the sentence about one kind, for the whole flight or for its strips together.
func (d *Diagnosis) finding(s *overlap.Survey, k Kind) Finding {
	f := Finding{ID: "cause-" + strings.ReplaceAll(k.String(), "_", "-"), Severity: Fault}
	var first Cause
	var parts []string
	var rivals []Kind
	for _, c := range d.Causes {
		if c.Kind != k {
			continue
		}
		rivals = union(rivals, c.ConfoundedWith)
		if first.Sigma == 0 {
			first = c
		}
		if c.Strip >= 0 {
			id := s.Strips[c.Strip].ID
			f.Strips = append(f.Strips, id)
			detail := k.Amount(c.Estimate, c.Sigma)
			if c.Detail != "" {
				detail = c.Detail
			}
			parts = append(parts, id+": "+detail)
		}
	}
	if k < globalKinds {
		f.Text = fmt.Sprintf("The %s is off by %s (used minus true); it moves strips against each other by up to %.3f m.",
			k.Plain(), k.Amount(first.Estimate, first.Sigma), first.EffectM)
		if !first.Significant { // what else it could be is in the standard deviation
			f.Severity = Warning
			f.Text = fmt.Sprintf("The %s may be off: alone it would be %s (used minus true) and move strips against each other by up to %.3f m.",
				k.Plain(), k.Amount(first.Estimate, first.Sigma), first.EffectM)
		}
	} else {
		f.Text = fmt.Sprintf("%s, up to %.3f m between strips: %s.", capital(k.Plain()), first.EffectM, strings.Join(parts, "; "))
		if len(first.ConfoundedWith) > 0 && !first.Significant {
			f.Severity = Warning
		}
	}
	if d.HoldoutRMSM >= d.BeforeRMSM {
		f.Severity = Note
		f.Text = "A trace only, for ground that was not fitted to gets no better by it. " + f.Text
	}
	f.Evidence = fmt.Sprintf("%s; it explains %.0f %% of the squared separations; with it, ground that was not fitted to is left with %.3f m rms instead of %.3f m",
		signature[k], first.ExplainedPct, d.HoldoutRMSM, d.BeforeRMSM)
	for _, q := range rivals {
		f.Rivals = append(f.Rivals, q.Plain())
	}
	if len(rivals) > 0 {
		f.Text += fmt.Sprintf(" These data cannot tell it from: %s.", strings.Join(f.Rivals, ", "))
		f.DecideBy = decide(k, rivals[0])
	}
	return f
}

// unobservable says which of the usual parameters this flight could not show.
func (d *Diagnosis) unobservable() []Finding {
	var names []string
	for _, o := range d.Observable {
		if !o.Observable && o.Kind <= ScanAngleScale {
			names = append(names, o.Kind.Plain())
		}
	}
	var out []Finding
	if len(names) > 0 {
		out = append(out, Finding{ID: "unobservable", Severity: Note,
			Text:     fmt.Sprintf("This flight cannot show an error of: %s.", strings.Join(names, ", ")),
			Evidence: "predicted standard deviations from geometry, slopes and noise, before any fit",
			DecideBy: "overlaps over sloping ground or roofs in several directions, and a crossing strip"})
	}
	for _, a := range d.Alike {
		if a[1] > BoresightHeading && a[0] > BoresightHeading {
			continue
		}
		out = append(out, Finding{ID: fmt.Sprintf("alike-%s-%s", strings.ReplaceAll(a[0].String(), "_", "-"), strings.ReplaceAll(a[1].String(), "_", "-")), Severity: Note,
			Text:     fmt.Sprintf("%s and %s cannot be told apart here.", capital(a[0].Plain()), a[1].Plain()),
			Evidence: fmt.Sprintf("the correlation of their estimates would exceed %.2f", alikeLimit), DecideBy: decide(a[0], a[1])})
	}
	return out
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

package fieldcheck

import (
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"sidelap/trajectory/rinex"
)

// Known truth from hand-made flights: what may be a wrong or cut file is asked about before anybody flies.
func TestAsksBeforeAFlight(t *testing.T) {
	for name, c := range map[string]struct {
		s     script
		edit  func(in *Input)
		check string
		want  Result
		says  string
	}{
		"path cut":                       {edit: cutPath, check: "path_gaps", want: Refly, says: "is this the whole path file?"},
		"still after of a cut path":      {edit: cutPath, check: "still_after", want: Caution, says: "is this the whole path file?"},
		"manoeuvre of a cut path":        {edit: cutPath, check: "manoeuvre_after", want: NotJudged, says: "is this the whole path file?"},
		"base that ends with a cut path": {s: script{baseEnd: 240}, edit: cutPath, check: "base_covers", want: Refly, says: "is there a later file of the base log?"},
		"base ends early":                {s: script{baseEnd: 240}, check: "base_covers", want: Refly, says: "is there a later file of the base log?"},
		"base begins late":               {s: script{baseStart: 190}, check: "base_covers", want: Refly, says: "is there an earlier file of the base log?"},
		"base of another day": {edit: func(in *Input) { in.HasOffset, in.GPSOffsetS = true, week+3*86400 }, check: "base_covers", want: Refly,
			says: "is this the log of this flight?"},
		"base far away": {edit: func(in *Input) {
			for i := range in.Path.EM {
				in.Path.EM[i] += 30_000
			}
		}, check: "baseline", want: Refly, says: "is this the log of this flight?"},
		"week of the base log":        {edit: func(in *Input) { in.DateAssumed, in.Today = "week", "2 June 2024" }, check: "base_file", want: Caution, says: "neither path nor cloud says which week"},
		"satellites without a flight": {edit: func(in *Input) { in.Path, in.Strips, in.Coverage = nil, nil, nil }, check: "base_satellites", want: NotJudged, says: "when the flight was"},
		"plan of another site": {edit: func(in *Input) {
			in.Plan = &Plan{Area: orb.MultiPolygon{band(e0+7000, n0+150, e0+7000, n0+450, 100)}, Lines: []PlannedLine{{ID: "1", Line: orb.LineString{{e0 + 7000, n0 + 150}, {e0 + 7000, n0 + 450}}}}}
		}, check: "coverage", want: Caution, says: "is it the plan of this site"},
		"half a strip without a path": {edit: func(in *Input) {
			in.Path = nil
			s := &in.Strips[2]
			s.EndS, s.Swath = (s.StartS+s.EndS)/2, band(e0+120, n0+150, e0+120, n0+300, 32)
		}, check: "sidelap", want: Caution, says: "is a part missing? Strip 3 is 150 m long, one beside it 3"},
		"half a strip, the length left out": {edit: func(in *Input) {
			in.Strips[2].Swath = band(e0+120, n0+150, e0+120, n0+300, 32)
		}, check: "sidelap", want: Go, says: "m with points of one strip only"},
		"path of two positions": {edit: func(in *Input) {
			p := in.Path
			p.TimeS, p.EM, p.NM, p.HM, p.RollRad, p.PitchRad, p.HeadingRad = p.TimeS[:2], p.EM[:2], p.NM[:2], p.HM[:2], p.RollRad[:2], p.PitchRad[:2], p.HeadingRad[:2]
			in.Strips = nil
		}, check: "still_before", want: NotJudged, says: "too short to show a flight: 2 positions"},
		"three epochs": {edit: func(in *Input) { in.Base.Epochs, in.Base.IntervalS = in.Base.Epochs[:3], 35070 }, check: "base_interval", want: NotJudged, says: "too few epochs"},
	} {
		in := fly(t, c.s, 3)
		if c.edit != nil {
			c.edit(&in)
		}
		r := mustRun(t, in)
		k := r.Check(c.check)
		if k.Result != c.want || !strings.Contains(k.Note, c.says) {
			t.Errorf("%s: %s is %s: %s", name, c.check, k.Result, k.Note)
		}
		for _, it := range r.Refly {
			if c.want == Refly && c.check != "baseline" && (!strings.Contains(strings.Join(it.Reasons, "; "), "?") || strings.HasPrefix(it.Reasons[0], "is this") != strings.Contains(it.Reasons[0], "If it is: ")) {
				t.Errorf("%s: strip %s is to be flown without the question: %v", name, it.Strip, it.Reasons)
			}
		}
	}
}

// cutPath ends the path before the last two strips.
func cutPath(in *Input) {
	p, end := in.Path, in.Strips[len(in.Strips)-2].StartS-20
	n := 0
	for n < len(p.TimeS) && p.TimeS[n] < end {
		n++
	}
	p.TimeS, p.EM, p.NM, p.HM = p.TimeS[:n], p.EM[:n], p.NM[:n], p.HM[:n]
	p.RollRad, p.PitchRad, p.HeadingRad = p.RollRad[:n], p.PitchRad[:n], p.HeadingRad[:n]
}

// Known truth: where the base log has no data during the flight, nothing is said of its gaps, its moves and its satellites
// that holds for the whole flight; a gap inside has its own check.
func TestBaseChecksOverUnloggedTime(t *testing.T) {
	gap := func(in *Input) {
		b := in.Base
		a := b.Epochs[len(b.Epochs)/2].GPSS
		kept := b.Epochs[:0]
		for _, e := range b.Epochs {
			if e.GPSS <= a || e.GPSS >= a+30 {
				kept = append(kept, e)
			}
		}
		b.Epochs, b.Gaps = kept, append(b.Gaps, rinex.Gap{StartS: a, EndS: a + 30})
	}
	for name, c := range map[string]struct {
		s    script
		edit func(in *Input)
		want [3]Result // gaps, moved, satellites
	}{
		"all covered":   {want: [3]Result{Go, Go, Go}},
		"ends early":    {s: script{baseEnd: 240}, want: [3]Result{NotJudged, NotJudged, NotJudged}},
		"begins late":   {s: script{baseStart: 190}, want: [3]Result{NotJudged, NotJudged, NotJudged}},
		"another day":   {edit: func(in *Input) { in.HasOffset, in.GPSOffsetS = true, week+3*86400 }, want: [3]Result{NotJudged, NotJudged, NotJudged}},
		"a gap":         {edit: gap, want: [3]Result{Refly, NotJudged, NotJudged}},
		"on the ground": {s: script{baseStart: 20}, want: [3]Result{Go, Go, Go}},
		"every 2 s":     {s: script{baseStep: 2}, want: [3]Result{Go, Go, Go}},
	} {
		in := fly(t, c.s, 3)
		if c.edit != nil {
			c.edit(&in)
		}
		r := mustRun(t, in)
		for k, id := range []string{"base_gaps", "base_moved", "base_satellites"} {
			if x := r.Check(id); x.Result != c.want[k] {
				t.Errorf("%s: %s is %s, want %s: %s", name, id, x.Result, c.want[k], x.Note)
			}
		}
	}
}

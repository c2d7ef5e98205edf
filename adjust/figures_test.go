package adjust

import (
	"bytes"
	"encoding/csv"
	"math"
	"strconv"
	"testing"

	"sidelap/overlap"
	"sidelap/trajectory/simulate"
)

// figureRows are residuals of two strips whose separation is known at every place: y = 0.001 across before, 0.0002 across after.
func figureRows() (*Diagnosis, *overlap.Survey, []overlap.Pair) {
	s := &overlap.Survey{Strips: []overlap.Strip{{ID: "1", StartGPSS: 100}, {ID: "2", StartGPSS: 300}}}
	d := &Diagnosis{Judged: true}
	for i := range 40 {
		for j := range 60 {
			across, along := float64(i)-19.5, float64(j)
			d.Residuals = append(d.Residuals, Residual{EM: 1000.5 + float64(i), NM: 2000.5 + along, AcrossA: across, AcrossB: -across,
				TimeAS: 100 + along, TimeBS: 360 - along, BeforeM: 0.001 * across, AfterM: 0.0002 * across, Weight: 1})
		}
	}
	return d, s, []overlap.Pair{{A: 0, B: 1, IDA: "1", IDB: "2"}}
}

// TestFigures is a closed form: separations that grow in proportion to the place across the strip.
func TestFigures(t *testing.T) {
	d, s, pairs := figureRows()
	// an outlier that counts on the map only
	d.Residuals = append(d.Residuals, Residual{EM: 1000.5, NM: 2000.5, AcrossA: -19.5, AcrossB: 19.5, TimeAS: 100, TimeBS: 360, BeforeM: 9, AfterM: 9})
	f := d.Figures(s, pairs)
	if len(f.Pairs) != 1 || len(f.Strips) != 2 || f.Pairs[0].IDA != "1" || f.Pairs[0].IDB != "2" {
		t.Fatalf("%d pairs, %d strips", len(f.Pairs), len(f.Strips))
	}
	for _, b := range f.Pairs[0].Across {
		if math.Abs(b.BeforeM.MedianM-0.001*b.At) > 0.0011 || math.Abs(b.AfterM.MedianM-0.0002*b.At) > 0.0003 {
			t.Errorf("across %.1f m: %+.4f before, %+.4f after", b.At, b.BeforeM.MedianM, b.AfterM.MedianM)
		}
		if b.BeforeM.LowM > b.BeforeM.MedianM || b.BeforeM.HighM < b.BeforeM.MedianM {
			t.Errorf("across %.1f m: quartiles %+.4f, %+.4f about %+.4f", b.At, b.BeforeM.LowM, b.BeforeM.HighM, b.BeforeM.MedianM)
		}
	}
	// Seen from the earlier strip the later one counts negative; the later strip lies the other way round.
	for i, sign := range []float64{-1, -1} {
		for _, b := range f.Strips[i].Across {
			if math.Abs(b.BeforeM.MedianM-sign*0.001*b.At) > 0.0011 {
				t.Errorf("strip %s, %.1f m across: %+.4f", f.Strips[i].ID, b.At, b.BeforeM.MedianM)
			}
		}
		for _, b := range f.Strips[i].Time {
			if math.Abs(b.BeforeM.MedianM) > 0.0011 || b.At < 0 || b.At > 60 {
				t.Errorf("strip %s, %.1f s after its start: %+.4f", f.Strips[i].ID, b.At, b.BeforeM.MedianM)
			}
		}
	}
	cells, worst := 0, 0.0
	for _, m := range f.Map {
		cells += m.Cells
		worst = math.Max(worst, m.BeforeM)
	}
	if cells != len(d.Residuals) || worst < 1 {
		t.Errorf("the map holds %d of %d cells, the largest rms is %.3f m", cells, len(d.Residuals), worst)
	}
	if empty := (&Diagnosis{}).Figures(s, pairs); len(empty.Pairs)+len(empty.Strips)+len(empty.Map) != 0 {
		t.Errorf("a diagnosis without residuals has figures: %+v", empty)
	}
}

// TestFiguresCSV reads the tables back.
func TestFiguresCSV(t *testing.T) {
	d, s, pairs := figureRows()
	f := d.Figures(s, pairs)
	var b bytes.Buffer
	if err := f.WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	want := len(f.Pairs[0].Across)
	for _, v := range f.Strips {
		want += len(v.Time) + len(v.Across)
	}
	if len(rows) != 1+want {
		t.Fatalf("%d rows, %d bins", len(rows)-1, want)
	}
	for i, k := range f.Pairs[0].Across {
		r := rows[1+i]
		if r[0] != "pair_across" || r[1] != "1" || r[2] != "2" || r[3] != "across_a_m" || r[5] != strconv.Itoa(k.Cells) {
			t.Errorf("row %d: %v", i, r)
		}
		if v, err := strconv.ParseFloat(r[6], 64); err != nil || math.Abs(v-k.BeforeM.MedianM) > 6e-5 {
			t.Errorf("row %d: median %s, %+.5f in the figure", i, r[6], k.BeforeM.MedianM)
		}
	}
	b.Reset()
	if err := f.WriteMapCSV(&b); err != nil {
		t.Fatal(err)
	}
	if rows, err = csv.NewReader(&b).ReadAll(); err != nil || len(rows) != 1+len(f.Map) {
		t.Fatalf("%d rows for %d squares, %v", len(rows)-1, len(f.Map), err)
	}
}

// TestFiguresOfFlight is known truth: with a boresight roll fault the profile of each strip against its neighbours tilts before the
// model and is level after it.
func TestFiguresOfFlight(t *testing.T) {
	sc := simulate.SmallScenario()
	sc.Plan.CrossStrips = 0
	sc.Faults.BoresightRollDeg = 0.08
	f := fly(t, sc, 1)
	d := Diagnose(f.survey, f.pairs, f.path, FromPath, DefaultOptions())
	fig := d.Figures(f.survey, f.pairs)
	if len(fig.Pairs) == 0 {
		t.Fatal("no figures")
	}
	for _, p := range fig.Pairs {
		if len(p.Across) < 8 || p.B != p.A+1 {
			continue
		}
		first, last := p.Across[0], p.Across[len(p.Across)-1]
		// georeferencing reference, section 3: opposed strips, dz of earlier minus later is -roll (2y - D)
		want := 0.08 * deg * 2 * (last.At - first.At)
		if got := last.BeforeM.MedianM - first.BeforeM.MedianM; math.Abs(got-want) > 0.15*want {
			t.Errorf("%s/%s: separation tilts by %+.4f m, %+.4f m expected", p.IDA, p.IDB, got, want)
		}
		if got := last.AfterM.MedianM - first.AfterM.MedianM; math.Abs(got) > 0.1*want {
			t.Errorf("%s/%s: separation still tilts by %+.4f m after the model", p.IDA, p.IDB, got)
		}
	}
}

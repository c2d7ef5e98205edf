package adjust

import (
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"sidelap/las"
	"sidelap/overlap"
	"sidelap/trajectory"
	"sidelap/trajectory/recover"
	"sidelap/trajectory/simulate"
)

// pathKind says what is known of the path in a study.
type pathKind int

const (
	fromFile   pathKind = iota // the path file
	fromPoints                 // recovered from the points
	noPath                     // headings, heights and scan angles of the strips alone
)

func (k pathKind) String() string { return [...]string{"file", "recovered", "none"}[k] }

// flownCloud is a simulated flight as a correction sees it.
type flownCloud struct {
	flight *simulate.Flight
	survey *overlap.Survey
	pairs  []overlap.Pair
	path   *trajectory.Path
	parts  []cloudPart
}

// cloudPart is a chunk of a flown cloud with where its returns came from.
type cloudPart struct {
	chunk *las.Chunk
	truth *simulate.TrueColumns
}

// each calls f for the cloud in parts, moved by m unless it is nil. The points are flown once and kept.
func (c *flownCloud) each(t testing.TB, m *Mover, f func(p cloudPart)) {
	t.Helper()
	if c.parts == nil {
		for i := range c.flight.Strips {
			for chunk, truth := range c.flight.StripChunksWithTruth(i) {
				k, r := *chunk, *truth
				k.X, k.Y, k.Z = slices.Clone(k.X), slices.Clone(k.Y), slices.Clone(k.Z)
				k.ReturnNumber, k.NumReturns, k.Flags = slices.Clone(k.ReturnNumber), slices.Clone(k.NumReturns), slices.Clone(k.Flags)
				k.Channel, k.Class, k.ScanAngle = slices.Clone(k.Channel), slices.Clone(k.Class), slices.Clone(k.ScanAngle)
				k.Source, k.GPSTime = slices.Clone(k.Source), slices.Clone(k.GPSTime)
				k.Intensity, k.UserData, k.Red, k.Green, k.Blue, k.NIR, k.Record = nil, nil, nil, nil, nil, nil, nil
				r.EM, r.NM, r.HM, r.Cover = slices.Clone(r.EM), slices.Clone(r.NM), slices.Clone(r.HM), slices.Clone(r.Cover)
				c.parts = append(c.parts, cloudPart{&k, &r})
			}
		}
	}
	for _, p := range c.parts {
		if m != nil {
			k := *p.chunk
			k.X, k.Y, k.Z = slices.Clone(k.X), slices.Clone(k.Y), slices.Clone(k.Z)
			if err := m.Move(&k, nil); err != nil {
				t.Fatal(err)
			}
			p.chunk = &k
		}
		f(p)
	}
}

// flyCloud flies a scenario and measures its overlaps, all in memory.
func flyCloud(t testing.TB, s simulate.Scenario, cellM float64) *flownCloud {
	t.Helper()
	f, err := simulate.Fly(s)
	if err != nil {
		t.Fatal(err)
	}
	c := &flownCloud{flight: f}
	c.measure(t, cellM, nil)
	u := f.Used
	c.path = &trajectory.Path{TimeS: f.PathTimesS(), EM: u.EM, NM: u.NM, HM: u.HM, RollRad: u.RollRad, PitchRad: u.PitchRad, HeadingRad: u.HeadingRad, Source: "simulated"}
	return c
}

// measure finds strips and pairs of the cloud, moved by m unless it is nil.
func (c *flownCloud) measure(t testing.TB, cellM float64, m *Mover) {
	t.Helper()
	o := overlap.DefaultOptions()
	o.CellM, o.Classified = cellM, !c.flight.Scenario.Label.Unclassified
	acc, err := overlap.NewAccumulator(o)
	if err != nil {
		t.Fatal(err)
	}
	c.each(t, m, func(p cloudPart) { acc.Add(p.chunk, 0) })
	if c.survey, err = acc.Survey(overlap.DefaultSurveyOptions()); err != nil {
		t.Fatal(err)
	}
	c.pairs = c.survey.Pairs(overlap.DefaultPairOptions())
}

// control are the flight's control points.
func (c *flownCloud) control() []ControlPoint {
	var out []ControlPoint
	for _, p := range c.flight.Control {
		out = append(out, ControlPoint{ID: p.ID, EM: p.GivenEM, NM: p.GivenNM, ZM: p.GivenHM, SigmaM: 0.012})
	}
	return out
}

// closeness is how near the points lie to where their returns came from, root mean squares in metres.
type closeness struct {
	groundM     float64 // across the surface, open ground
	roofM       float64 // across the surface, roofs: horizontal errors show
	horizontalM float64 // in plan, all of them
	movedM      float64 // by how much the points were moved
	movedMaxM   float64
}

// compare moves the points and compares them with the truth. free takes the mean error of the whole cloud off first: overlaps alone
// cannot show it.
func (c *flownCloud) compare(t testing.TB, m *Mover, free bool) closeness {
	t.Helper()
	var mean Vec
	if free {
		n := 0.0
		c.eachError(t, m, func(d Vec, _ *simulate.TrueColumns, _ int) {
			mean, n = mean.Add(d), n+1
		})
		mean = mean.Times(1 / n)
	}
	var g, r, h, nG, nR float64
	sf := c.flight.Surface
	c.eachError(t, m, func(d Vec, truth *simulate.TrueColumns, k int) {
		d = d.Sub(mean)
		e, n := truth.EM[k], truth.NM[k]
		h += d[0]*d[0] + d[1]*d[1]
		if truth.Cover[k] != simulate.CoverRoof {
			gE, gN := sf.GroundGradient(e, n)
			v := d[2] - gE*d[0] - gN*d[1]
			g += v * v / (1 + gE*gE + gN*gN)
			nG++
			return
		}
		const s = 0.05
		gE, gN := (sf.HeightM(e+s, n)-sf.HeightM(e-s, n))/(2*s), (sf.HeightM(e, n+s)-sf.HeightM(e, n-s))/(2*s)
		if math.Abs(gE) > 2 || math.Abs(gN) > 2 || math.Abs(sf.HeightM(e, n)-truth.HM[k]) > 0.01 {
			return // an edge
		}
		v := d[2] - gE*d[0] - gN*d[1]
		r += v * v / (1 + gE*gE + gN*gN)
		nR++
	})
	out := closeness{groundM: math.Sqrt(g / nG), roofM: math.Sqrt(r / math.Max(nR, 1)), horizontalM: math.Sqrt(h / (nG + nR))}
	if m != nil {
		out.movedM, out.movedMaxM = m.Counts().RMSM(), m.Counts().MaxM
	}
	return out
}

// eachError calls f for every return of open ground and roofs with where it lies minus where it came from.
func (c *flownCloud) eachError(t testing.TB, m *Mover, f func(d Vec, truth *simulate.TrueColumns, k int)) {
	c.each(t, m, func(p cloudPart) {
		chunk, truth := p.chunk, p.truth
		for k := range chunk.N {
			if cover := truth.Cover[k]; cover == simulate.CoverHard || cover == simulate.CoverGrass || cover == simulate.CoverRoof {
				f(Vec{chunk.Frame.XM(chunk.X[k]) - truth.EM[k], chunk.Frame.YM(chunk.Y[k]) - truth.NM[k], chunk.Frame.ZM(chunk.Z[k]) - truth.HM[k]}, truth, k)
			}
		}
	})
}

// corrected is what a correction of a simulated flight achieved.
type corrected struct {
	fit    *CorrectionFit
	before closeness
	after  closeness
}

// known returns what a correction may use of the path.
func (c *flownCloud) known(t testing.TB, k pathKind) (*trajectory.Path, Knowledge) {
	t.Helper()
	switch k {
	case fromFile:
		return c.path, FromPath
	case noPath:
		return nil, FromHeadings
	}
	col, err := recover.NewCollector(recover.DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	c.each(t, nil, func(p cloudPart) { col.Add(p.chunk, 0) })
	res := col.Recover()
	know := map[recover.Level]Knowledge{recover.LevelRays: FromRays, recover.LevelAngles: FromAngles}[res.Level]
	if res.Path == nil || know == "" {
		t.Fatalf("no path was recovered: %q", res.Notes)
	}
	return res.Path, know
}

// correctFlight diagnoses, estimates and moves.
func (c *flownCloud) correctFlight(t testing.TB, k pathKind, o CorrectOptions, free bool) corrected {
	t.Helper()
	path, know := c.known(t, k)
	d := Diagnose(c.survey, c.pairs, path, know, DefaultOptions())
	fit := EstimateCorrection(c.survey, c.pairs, path, d, o)
	m, err := NewMover(fit.Correction, path, 0)
	if err != nil {
		t.Fatal(err)
	}
	return corrected{fit: fit, before: c.compare(t, nil, free), after: c.compare(t, m, free)}
}

func fittedText(c *corrected) string {
	var v []string
	for _, f := range c.fit.Fitted {
		s := f.Kind.String()
		if f.Strip >= 0 {
			s += fmt.Sprintf("[%d]", f.Strip)
		}
		unit, k := f.Kind.Unit()
		v = append(v, fmt.Sprintf("%s %+.4f±%.4f %s %s", s, f.Value*k, f.Sigma*k, unit, f.Detail))
	}
	for _, r := range c.fit.Refused {
		v = append(v, fmt.Sprintf("REFUSED %s[%d] %s", r.Kind, r.Strip, r.Reason))
	}
	return strings.Join(v, "; ")
}

// TestCorrectLook prints what a study finds, for development: SIDELAP_LOOK holds names of fault cases, or all.
func TestCorrectLook(t *testing.T) {
	look := os.Getenv("SIDELAP_LOOK")
	if look == "" {
		t.Skip("SIDELAP_LOOK is not set")
	}
	for _, fc := range simulate.FaultCases() {
		if look != "all" && !strings.Contains(look, fc.Name) {
			continue
		}
		for seed := uint64(1); seed <= 2; seed++ {
			s := simulate.SmallScenario()
			s.Seed = seed
			clean := flyCloud(t, s, 1).compare(t, nil, false)
			fc.Apply(&s)
			f := flyCloud(t, s, 1)
			for _, path := range []pathKind{fromFile, fromPoints, noPath} {
				o := DefaultCorrectOptions()
				o.Control = f.control()
				c := f.correctFlight(t, path, o, false)
				fmt.Printf("%-18s %d path %-9v clean %.4f %.4f %.4f before %.4f %.4f %.4f after %.4f %.4f %.4f ratio %.2f %.2f %.2f moved %.4f hold-out %.4f->%.4f floor %.4f loo %.4f ctl %.4f->%.4f| %s\n", fc.Name, seed, path,
					clean.groundM, clean.roofM, clean.horizontalM, c.before.groundM, c.before.roofM, c.before.horizontalM, c.after.groundM, c.after.roofM, c.after.horizontalM,
					c.after.groundM/clean.groundM, c.after.roofM/clean.roofM, c.after.horizontalM/clean.horizontalM, c.after.movedM,
					c.fit.BeforeRMSM, c.fit.HoldoutRMSM, c.fit.FloorRMSM, c.fit.OverlapRMSM, c.fit.ControlRMSM, c.fit.ControlAfter, fittedText(&c))
				for _, n := range c.fit.Notes {
					fmt.Println("      ", n)
				}
			}
		}
	}
}

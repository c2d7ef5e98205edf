package adjust

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"

	"sidelap/trajectory"
	"sidelap/trajectory/simulate"
)

// correctionCase is a fault of the study with what may be used against it.
type correctionCase struct {
	name    string
	fault   func(s *simulate.Scenario)
	control bool // control points are given
	free    bool // the place of the whole block is nobody's to know: it is taken off before comparing
}

// correctionCases are the faults that a correction must take off.
func correctionCases() []correctionCase {
	named := map[string]func(*simulate.Scenario){}
	for _, c := range simulate.FaultCases() {
		named[c.Name] = c.Apply
	}
	return []correctionCase{
		{name: "clean", fault: named["clean"]},
		{name: "clean, control given", fault: named["clean"], control: true},
		{name: "boresight", fault: named["boresight all"]},
		{name: "scan angle scale", fault: named["scan angle scale"]},
		{name: "lever arm", fault: named["lever x"]},
		{name: "one strip high", fault: named["strip height"]},
		{name: "one strip aside", fault: named["strip horizontal"]},
		{name: "all strips shifted", free: true, fault: func(s *simulate.Scenario) {
			rng := rand.New(rand.NewPCG(s.Seed, 0x0ff))
			for i := range s.Plan.Strips + s.Plan.CrossStrips {
				s.Faults.Strips = append(s.Faults.Strips, simulate.StripFault{Strip: i + 1, EastM: 0.05 * rng.NormFloat64(), NorthM: 0.05 * rng.NormFloat64(), HeightM: 0.05 * rng.NormFloat64()})
			}
		}},
		{name: "height drift", fault: named["strip drift"]},
		{name: "height wave", fault: named["strip wave"]},
		{name: "roll drift", fault: named["roll drift"]},
		{name: "datum", fault: named["datum height"], control: true},
		{name: "mixed, range bias, control", control: true, fault: func(s *simulate.Scenario) {
			named["boresight all"](s)
			named["strip drift"](s)
			s.Faults.RangeOffsetM = 0.06
		}},
	}
}

// studied is one line of the study.
type studied struct {
	c      correctionCase
	seed   uint64
	path   bool
	clean  closeness
	result corrected
}

// studyFlight flies a case without and with its fault and corrects it.
func studyFlight(t testing.TB, c correctionCase, seed uint64, withPath bool) studied {
	s := simulate.SmallScenario()
	s.Seed = seed
	s.Survey.ControlPoints, s.Survey.SigmaVM, s.Survey.SeparationM = 20, 0.005, 3
	out := studied{c: c, seed: seed, path: withPath, clean: flyCloud(t, s, 1).compare(t, nil, c.free)}
	c.fault(&s)
	f := flyCloud(t, s, 1)
	o := DefaultCorrectOptions()
	if c.control {
		for _, p := range f.control() {
			p.SigmaM = 0.005
			o.Control = append(o.Control, p)
		}
	}
	var path *trajectory.Path
	if withPath {
		path = f.path
	}
	out.result = f.correctFlight(t, path, o, c.free)
	return out
}

// worst returns the largest ratio of the corrected cloud's errors to those of the same flight without faults.
func (s *studied) ratios() (ground, roof, horizontal float64) {
	a, c := s.result.after, s.clean
	return a.groundM / c.groundM, a.roofM / c.roofM, a.horizontalM / c.horizontalM
}

// TestCorrectionsReachTheNoise is known truth: the points of a corrected flight lie as near to the true surfaces as those of the same flight
// without the fault: within 1.2 times, across ground, across roofs and in plan; without a path within 1.5 times of that. A
// clean flight is moved by less than 2 mm.
func TestCorrectionsReachTheNoise(t *testing.T) {
	for _, c := range correctionCases() {
		seeds := []uint64{3}
		if testing.Short() {
			seeds = nil
		}
		for _, seed := range seeds {
			t.Run(fmt.Sprintf("%s/%d", c.name, seed), func(t *testing.T) {
				t.Parallel()
				r := studyFlight(t, c, seed, true)
				r.check(t, 1.2)
			})
		}
	}
	for _, name := range []string{"boresight", "one strip aside", "roll drift"} {
		for _, c := range correctionCases() {
			if c.name == name {
				t.Run(name+"/without path", func(t *testing.T) {
					t.Parallel()
					r := studyFlight(t, c, 4, false)
					r.check(t, 1.5)
				})
			}
		}
	}
}

func (s *studied) check(t *testing.T, limit float64) {
	t.Helper()
	if g, r, h := s.ratios(); !(g <= limit && r <= limit && h <= limit) {
		t.Errorf("seed %d, path %v: across ground %.2f, across roofs %.2f, in plan %.2f times the flight without fault, want %.1f at most; fitted %s; notes %q",
			s.seed, s.path, g, r, h, limit, fittedText(&s.result), s.result.fit.Notes)
	}
	if strings.HasPrefix(s.c.name, "clean") && s.result.after.movedMaxM > 0.002 {
		t.Errorf("seed %d, path %v: a clean flight was moved by up to %.4f m: %s", s.seed, s.path, s.result.after.movedMaxM, fittedText(&s.result))
	}
}

// TestCorrectionStudy is the study of docs/correction.md: SIDELAP_LONG=1 runs 20 seeds of each case, with and without path, and writes the table there.
func TestCorrectionStudy(t *testing.T) {
	if os.Getenv("SIDELAP_LONG") == "" {
		t.Skip("SIDELAP_LONG is not set")
	}
	seeds := 20
	if n, err := strconv.Atoi(os.Getenv("SIDELAP_LONG")); err == nil && n > 1 {
		seeds = n
	}
	cases := correctionCases()
	rows := make([]studied, len(cases)*2*seeds)
	sem := make(chan struct{}, 2)
	var wg sync.WaitGroup
	for i := range rows {
		wg.Go(func() {
			sem <- struct{}{}
			defer func() { <-sem }()
			rows[i] = studyFlight(t, cases[i/(2*seeds)], uint64(i%seeds)+1, i/seeds%2 == 0)
		})
	}
	wg.Wait()
	var b strings.Builder
	b.WriteString("| fault | path | before, m | after, m | ground | roofs | in plan | worst | moved, m | hold-out before, after, floor, m | seeds beyond |\n|---|---|---|---|---|---|---|---|---|---|---|\n")
	for k := 0; k < len(rows); k += seeds {
		part := rows[k : k+seeds]
		var g, r, h, before, after, moved, ho [3]float64
		beyond, worst, surfaces := 0, 0.0, 0.0
		var which []string
		for i := range part {
			s := &part[i]
			a, c, e := s.ratios()
			g[0], r[0], h[0] = g[0]+a/float64(seeds), r[0]+c/float64(seeds), h[0]+e/float64(seeds)
			before[0] += s.result.before.groundM / float64(seeds)
			after[0] += s.result.after.groundM / float64(seeds)
			moved[0] = math.Max(moved[0], s.result.after.movedMaxM)
			ho[0] += s.result.fit.BeforeRMSM / float64(seeds)
			ho[1] += s.result.fit.HoldoutRMSM / float64(seeds)
			ho[2] += s.result.fit.FloorRMSM / float64(seeds)
			limit := 1.2
			if !s.path {
				limit = 1.5
			}
			w := math.Max(a, math.Max(c, e))
			worst, surfaces = math.Max(worst, w), math.Max(surfaces, math.Max(a, c))
			if w > limit {
				beyond++
				which = append(which, fmt.Sprint(s.seed))
				fmt.Printf("BEYOND %s seed %d path %v %.2f %.2f %.2f %s %q\n", s.c.name, s.seed, s.path, a, c, e, fittedText(&s.result), s.result.fit.Notes)
			}
		}
		path := "yes"
		if !part[0].path {
			path = "no"
		}
		fmt.Fprintf(&b, "| %s | %s | %.4f | %.4f | %.2f | %.2f | %.2f | %.2f | %.4f | %.4f, %.4f, %.4f | %d %s |\n", part[0].c.name, path, before[0], after[0], g[0], r[0], h[0], worst, moved[0], ho[0], ho[1], ho[2], beyond, strings.Join(which, " "))
		// Against surfaces, roofs among them, every seed must hold; in plan alone, where the noise is 5 mm, the table names the seeds that do not.
		if path == "yes" && (surfaces > 1.2 || worst > 1.5) {
			t.Errorf("%s: up to %.2f times the noise against surfaces, %.2f in plan", part[0].c.name, surfaces, worst)
		}
		if strings.HasPrefix(part[0].c.name, "clean") && moved[0] > 0.002 {
			t.Errorf("%s: moved by up to %.4f m", part[0].c.name, moved[0])
		}
	}
	fmt.Println(b.String())
	writeBetween(t, filepath.Join("..", "docs", "correction.md"), "<!-- study -->", "<!-- end of study -->", b.String())
}

// writeBetween replaces what stands between two marks in a file.
func writeBetween(t *testing.T, path, from, to, text string) {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	i, j := strings.Index(string(b), from), strings.Index(string(b), to)
	if i < 0 || j < i {
		t.Fatalf("%s has no place between %s and %s", path, from, to)
	}
	if err := os.WriteFile(path, []byte(string(b)[:i+len(from)]+"\n"+text+string(b)[j:]), 0o644); err != nil {
		t.Fatal(err)
	}
}

// TestOverfitCaught gives a clean flight a model that is far too rich. In its own cells it agrees better, on ground outside the fit it does not, and
// no parameter of it is accepted.
func TestOverfitCaught(t *testing.T) {
	for seed := uint64(1); seed <= 2; seed++ {
		s := simulate.SmallScenario()
		s.Seed = seed
		f := flyCloud(t, s, 1)
		e := estimationOf(f, f.path)
		var all []int
		for c := range e.p.columns {
			if k := e.p.columns[c]; k.comp != compGlobal {
				all = append(all, c)
			}
		}
		x, _, ok := e.p.solve(all, -1)
		if !ok {
			t.Fatal("the rich model has no solution")
		}
		none, rich := e.p.score(nil), e.p.score(all)
		if before, after := e.p.residualRMS(make([]float64, e.p.size)), e.p.residualRMS(x); after >= before {
			t.Errorf("seed %d: in its own cells the rich model leaves %.5f m of %.5f: the test is no test", seed, after, before)
		}
		if z := clearness(e.p.blockSquares(none), e.p.blockSquares(rich)); z > 1 {
			t.Errorf("seed %d: held-out ground prefers the rich model by %.1f standard errors", seed, z)
		}
		if m := e.choose(nil); len(m) > 0 {
			t.Errorf("seed %d: %d groups of parameters were accepted on a clean flight", seed, len(m))
		}
	}
}

// TestRandomSplineRejected proposes a spline for a strip of a clean flight, and a random one with coefficients out of nowhere. Both must be rejected, and said so.
func TestRandomSplineRejected(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	s := simulate.SmallScenario()
	s.Plan.StripLengthM = 200
	f := flyCloud(t, s, 1)
	e := estimationOf(f, f.path)
	tested := 0
	for g := range e.p.groups {
		grp := &e.p.groups[g]
		if grp.knots < 3 {
			continue
		}
		tested++
		model := groupSet{g}
		e.fit.Refused = nil
		e.finish(model)
		if e.fit.Improved || !e.fit.Correction.Zero() || len(e.fit.Refused) == 0 {
			t.Errorf("a spline of %d knots for strip %d was not rejected", grp.knots, grp.strip)
		}
		// out of nowhere
		x := make([]float64, e.p.size)
		for _, c := range grp.cols {
			x[c] = rng.NormFloat64()
		}
		if size := quantile(e.moves(x, grp.strip), 0.95); size > 0 { // 2 cm
			for _, c := range grp.cols {
				x[c] *= 0.02 / size
			}
		}
		none, random := e.p.score(nil), &fitScore{ok: true}
		for k := range random.x {
			random.x[k] = x
		}
		if z := clearness(e.p.blockSquares(random), e.p.blockSquares(none)); z < e.o.MinZ {
			t.Errorf("a random spline of %d knots for strip %d makes held-out ground worse by %.1f standard errors only", grp.knots, grp.strip, z)
		}
	}
	if tested < 4 {
		t.Errorf("only %d splines were tried", tested)
	}
}

// estimationOf sets an estimation up as EstimateCorrection does, with the weights set and no model chosen.
func estimationOf(f *flownCloud, path *trajectory.Path) *estimation {
	o := DefaultCorrectOptions()
	fit := &CorrectionFit{Correction: &Correction{Version: CorrectionVersion, UsesPath: path != nil, Strips: NewStripCorrections(f.survey)}}
	refs := chooseCells(f.pairs, o.MaxSlopeRad, o.MaxCells)
	e := &estimation{s: f.survey, pairs: f.pairs, path: path, d: &Diagnosis{}, o: o, fit: fit}
	e.look = newLook(fit.Correction.Strips, path, o.LeverM, f.survey.Options.CellM)
	cols, ofStrip, groups := columnsFor(fit.Correction.Strips, f.pairs, refs, path, o)
	e.p = newFitProblem(fit.Correction.Strips, f.pairs, refs, e.look, f.survey.Options.CellM, cols, ofStrip)
	e.p.groups = groups
	e.p.regularise(groups)
	e.p.reweigh(e.rich())
	return e
}

package fieldcheck_test

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strconv"
	"testing"

	"github.com/paulmach/orb"

	"sidelap/las/crs"
	"sidelap/trajectory"
	"sidelap/trajectory/fieldcheck"
	"sidelap/trajectory/geodesy"
	"sidelap/trajectory/rinex"
	"sidelap/trajectory/simulate"
)

// scenario is a small survey with room for neighbours and a cross strip.
func scenario(seed uint64) simulate.Scenario {
	s := simulate.SmallScenario()
	s.Seed = seed
	s.Plan.Strips, s.Plan.StripLengthM, s.Plan.SpacingM = 4, 110, 30
	s.Plan.StillBeforeS, s.Plan.StillAfterS = 45, 45
	s.Scanner.PulseRateHz, s.Scanner.LineRateHz = 8000, 25
	s.Base.LeadS, s.Base.TrailS = 600, 600
	return s
}

// input reads the files that the simulator writes and sums up its points, as
// the command does with real ones: nothing of the simulator's truth is used.
func input(t *testing.T, f *simulate.Flight) fieldcheck.Input {
	t.Helper()
	dir := t.TempDir()
	sbet, base := filepath.Join(dir, "sbet.out"), filepath.Join(dir, "base.rnx")
	for _, err := range []error{f.WriteTrajectory(sbet), f.WriteAccuracy(filepath.Join(dir, "smrmsg.out")), f.WriteBaseLog(base)} {
		if err != nil {
			t.Fatal(err)
		}
	}
	c, err := crs.FromEPSG(32600 + f.Scenario.Site.UTMZone)
	if err != nil {
		t.Fatal(err)
	}
	proj, err := geodesy.New(c.Projection)
	if err != nil {
		t.Fatal(err)
	}
	tr, err := trajectory.Read(sbet, trajectory.ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	log, err := rinex.Read(base)
	if err != nil {
		t.Fatal(err)
	}
	var area orb.Ring
	for _, x := range f.Outline() {
		area = append(area, x)
	}
	in := fieldcheck.Input{Track: tr, Base: log, Grid: proj, Plan: &fieldcheck.Plan{Area: orb.MultiPolygon{{area}}}}
	var all [][3]float64
	var cloud []trajectory.Interval
	for i := range f.Strips {
		if s, pts, ok := sumUp(f, i); ok {
			in.Strips = append(in.Strips, s)
			cloud = append(cloud, trajectory.Interval{StartS: s.StartS, EndS: s.EndS})
			all = append(all, pts...)
		}
	}
	in.Coverage = raster(all)
	m, err := trajectory.MatchTime(tr, cloud, nil, trajectory.MatchOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if in.Path, err = tr.ToPath(proj, trajectory.PathOptions{ShiftS: m.ShiftS, HeightOffsetM: -f.Scenario.Site.GeoidM}); err != nil {
		t.Fatal(err)
	}
	return in
}

// sumUp makes the summary of one strip from its points: times, pauses, swath.
func sumUp(f *simulate.Flight, i int) (s fieldcheck.Strip, pts [][3]float64, ok bool) {
	var times []float64
	head := f.Strips[i].HeadingRad
	sin, cos := math.Sincos(head)
	type edge struct{ lo, hi float64 }
	edges := map[int]edge{}
	for c := range f.StripChunks(i) {
		for k := range c.N {
			if c.ReturnNumber[k] != 1 {
				continue
			}
			e := float64(c.X[k])*c.Frame.Scale[0] + c.Frame.Offset[0]
			n := float64(c.Y[k])*c.Frame.Scale[1] + c.Frame.Offset[1]
			times = append(times, c.GPSTime[k])
			pts = append(pts, [3]float64{e, n, float64(c.Z[k])})
			u, w := e*sin+n*cos, e*cos-n*sin
			b := int(math.Floor(u / 4))
			x, had := edges[b]
			if !had {
				x = edge{w, w}
			}
			edges[b] = edge{min(x.lo, w), max(x.hi, w)}
		}
	}
	if len(times) == 0 {
		return s, nil, false
	}
	sort.Float64s(times)
	s = fieldcheck.Strip{ID: strconv.Itoa(f.Strips[i].Number), StartS: times[0], EndS: times[len(times)-1], Points: int64(len(times)), HeadingRad: head, GapsKnown: true,
		HeightAboveGroundM: f.Scenario.Plan.HeightM}
	if h := f.Strips[i].HeightM; h > 0 {
		s.HeightAboveGroundM = h
	}
	for k := 1; k < len(times); k++ {
		if times[k]-times[k-1] > 0.4 {
			s.Gaps = append(s.Gaps, trajectory.Interval{StartS: times[k-1], EndS: times[k]})
		}
	}
	var bins []int
	for b := range edges {
		bins = append(bins, b)
	}
	sort.Ints(bins)
	var left, right orb.Ring
	for _, b := range bins[1 : len(bins)-1] {
		u := 4 * (float64(b) + 0.5)
		x := edges[b]
		left = append(left, orb.Point{u*sin + x.lo*cos, u*cos - x.lo*sin})
		right = append(right, orb.Point{u*sin + x.hi*cos, u*cos - x.hi*sin})
	}
	slices.Reverse(left)
	ring := append(right, left...)
	s.Swath = orb.Polygon{append(ring, ring[0])}
	return s, pts, true
}

func raster(pts [][3]float64) *fieldcheck.Coverage {
	lo, hi := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	for _, p := range pts {
		for k := range lo {
			lo[k], hi[k] = min(lo[k], p[k]), max(hi[k], p[k])
		}
	}
	c := &fieldcheck.Coverage{CellM: 1, EM: math.Floor(lo[0]) - 1, NM: math.Floor(lo[1]) - 1}
	c.Cols, c.Rows = int(hi[0]-c.EM)+2, int(hi[1]-c.NM)+2
	c.First = make([]uint32, c.Cols*c.Rows)
	for _, p := range pts {
		c.First[int(p[1]-c.NM)*c.Cols+int(p[0]-c.EM)]++
	}
	return c
}

// Known truth: the simulator's own list of faults of recording and flying.
// SIDELAP_LONG=1 flies each over more seeds.
func TestSimulatedFieldCases(t *testing.T) {
	seeds := []uint64{7}
	if os.Getenv("SIDELAP_LONG") == "1" {
		seeds = []uint64{1, 2, 3, 4, 5, 6, 7, 8}
	}
	for _, seed := range seeds {
		for _, c := range simulate.FieldCases() {
			t.Run(fmt.Sprintf("%s, seed %d", c.Name, seed), func(t *testing.T) { fieldCase(t, c, seed) })
		}
	}
}

func fieldCase(t *testing.T, c simulate.FieldCase, seed uint64) {
	t.Helper()
	s := scenario(seed)
	c.Apply(&s)
	f, err := simulate.Fly(s)
	if err != nil {
		t.Fatal(err)
	}
	r, err := fieldcheck.Run(input(t, f), fieldcheck.DefaultLimits())
	if err != nil {
		t.Fatal(err)
	}
	if good := c.Name == "good"; good != (r.Verdict == fieldcheck.Go) {
		t.Errorf("verdict %s; %q", r.Verdict, r.Reasons)
	}
	if c.Refly && r.Verdict != fieldcheck.Refly {
		t.Errorf("verdict %s, want refly; %q", r.Verdict, r.Reasons)
	}
	for _, n := range c.Strips {
		if !named(r, n) {
			t.Errorf("strip %d is not named", n)
		}
	}
	if !t.Failed() && !testing.Verbose() {
		return
	}
	for _, k := range r.Checks {
		if k.Result != fieldcheck.Go {
			t.Logf("%-16s %-10s %8.2f %-8s %v %s", k.ID, k.Result, k.Value, k.Unit, k.Strips, k.Note)
		}
	}
	for _, it := range r.Refly {
		t.Logf("refly %s: %v (%.1f min)", it.Title(), it.Reasons, it.Minutes)
	}
}

// named reports whether a check that is not good, or the list, names strip n. A strip
// without a point has no number in the cloud: it is named by its neighbours.
func named(r *fieldcheck.Report, n int) bool {
	id, gap := strconv.Itoa(n), fmt.Sprintf("between %d and %d", n-1, n+1)
	for _, k := range r.Checks {
		if k.Result != fieldcheck.Go && k.Result != fieldcheck.NotJudged && slices.Contains(k.Strips, id) {
			return true
		}
	}
	for _, it := range r.Refly {
		if it.Strip == id || it.Strip == gap {
			return true
		}
	}
	return false
}

// Known truth over seeds: a good flight gets go. Run with SIDELAP_LONG=1.
func TestSimulatedGoodFlightsOfManySeeds(t *testing.T) {
	if os.Getenv("SIDELAP_LONG") != "1" {
		t.Skip("set SIDELAP_LONG=1")
	}
	const seeds = 20
	good := 0
	for seed := uint64(1); seed <= seeds; seed++ {
		f, err := simulate.Fly(scenario(seed))
		if err != nil {
			t.Fatal(err)
		}
		r, err := fieldcheck.Run(input(t, f), fieldcheck.DefaultLimits())
		if err != nil {
			t.Fatal(err)
		}
		if r.Verdict == fieldcheck.Go {
			good++
		} else {
			t.Logf("seed %d: %s %q", seed, r.Verdict, r.Reasons)
		}
		if r.Verdict == fieldcheck.Refly {
			t.Errorf("seed %d: refly for a good flight", seed)
		}
	}
	if good < seeds*9/10 {
		t.Errorf("%d of %d good flights get go", good, seeds)
	}
}

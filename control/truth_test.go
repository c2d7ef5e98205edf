package control

import (
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"sidelap/trajectory/simulate"
)

// Known truth: intervals hold the true RMSE as often as they say, and samples pass as often as the table says.
func TestIntervalsCover(t *testing.T) {
	rng := rand.New(rand.NewPCG(41, 42))
	const trials, n, sigma = 4000, 20, 0.05
	var chi, upper, pass, mean int
	for range trials {
		v := make([]float64, n)
		for i := range v {
			v[i] = sigma * rng.NormFloat64()
		}
		a := must(t, v)
		if *a.RMSELowM <= sigma && sigma <= *a.RMSEHighM {
			chi++
		}
		if up, _ := RMSEUpper(a.RMSEM, n, 0.95); sigma <= up {
			upper++
		}
		if a.RMSEM <= sigma/1.1 {
			pass++
		}
		if m, _ := TestMean(v); m.LowM <= 0 && 0 <= m.HighM && !m.Significant {
			mean++
		}
	}
	share := func(k int) float64 { return float64(k) / trials }
	tol := 3 * math.Sqrt(0.05*0.95/trials) // three standard errors of the share
	near(t, "chi-square interval", share(chi), 0.95, tol)
	near(t, "one-sided bound", share(upper), 0.95, tol)
	near(t, "interval of the mean", share(mean), 0.95, tol)
	near(t, "share of passes at 1.1 of the class", share(pass), PassProbability(n, 1.1), 3*math.Sqrt(0.32*0.68/trials))
}

// The bootstrap interval needs no distribution: it covers normal and heavy-tailed errors with bias, somewhat less often than it says.
func TestBootstrapCovers(t *testing.T) {
	rng := rand.New(rand.NewPCG(43, 44))
	const trials, n = 250, 40
	truth := math.Sqrt(0.03*0.03 + 0.04*0.04)
	hit := 0
	for range trials {
		v := make([]float64, n)
		for i := range v {
			v[i] = 0.03 + 0.04*rng.NormFloat64()
		}
		low, high, ok := BootstrapRMSE(v, 0.95)
		low2, high2, _ := BootstrapRMSE(v, 0.95)
		if !ok || low != low2 || high != high2 {
			t.Fatal("the interval must be the same each time")
		}
		if low <= truth && truth <= high {
			hit++
		}
	}
	if s := float64(hit) / trials; s < 0.88 || s > 0.98 {
		t.Errorf("bootstrap interval covers %.3f, want near 0.95", s)
	}
}

// The order of the points changes no bit of the figures.
func TestOrderOfPoints(t *testing.T) {
	rng := rand.New(rand.NewPCG(45, 46))
	v := make([]float64, 101)
	for i := range v {
		v[i] = 0.1 * rng.NormFloat64()
	}
	want := must(t, v)
	for range 20 {
		rng.Shuffle(len(v), func(i, j int) { v[i], v[j] = v[j], v[i] })
		got := must(t, v)
		if got.MeanM != want.MeanM || got.RMSEM != want.RMSEM || *got.StdM != *want.StdM || *got.Skew != *want.Skew || *got.Kurtosis != *want.Kurtosis || got.NMADM != want.NMADM {
			t.Fatal("figures depend on the order of the points")
		}
	}
}

// Simulated flights with a known height shift: the mean difference at the open points finds it within its
// own interval, and the spread is that of survey and cloud.
func TestSimulatedShift(t *testing.T) {
	seeds := 4
	if os.Getenv("SIDELAP_LONG") == "1" {
		seeds = 20
	}
	if testing.Short() {
		seeds = 1
	}
	covered := 0
	for seed := range seeds {
		s := simulate.SmallScenario()
		s.Seed = uint64(300 + seed)
		s.Faults.DatumHeightM = 0.02 * float64(seed%9-4)
		f, err := simulate.Fly(s)
		if err != nil {
			t.Fatal(err)
		}
		var points []Point
		for _, p := range f.Points {
			c := CoverOpen
			if p.Cover != simulate.CoverHard {
				c = CoverVegetated
			}
			points = append(points, Point{ID: p.ID, EM: p.GivenEM, NM: p.GivenNM, ZM: p.GivenHM, Cover: c, Use: UseCheck})
		}
		col := NewCollector(points, 3)
		for ch := range f.Chunks() {
			col.Add(ch, 0)
		}
		cmp := col.Evaluate(DefaultEvaluateOptions())
		if cmp.NVA == nil || cmp.NVA.N < 15 {
			t.Fatalf("seed %d: %d of %d points used: %+v", seed, cmp.NUsed, cmp.NRead, cmp.Points)
		}
		m, _ := TestMean(cmp.DzM(CoverOpen))
		if m.LowM <= s.Faults.DatumHeightM && s.Faults.DatumHeightM <= m.HighM {
			covered++
		}
		if math.Abs(m.MeanM-s.Faults.DatumHeightM) > 0.02 {
			t.Errorf("seed %d: mean %.4f m, true shift %.4f m", seed, m.MeanM, s.Faults.DatumHeightM)
		}
		if *cmp.NVA.StdM > 0.04 {
			t.Errorf("seed %d: spread %.4f m; survey of 12 mm and returns of 12 mm leave about 0.02", seed, *cmp.NVA.StdM)
		}
	}
	if covered < seeds-1-seeds/10 {
		t.Errorf("the interval of the mean holds the shift in %d of %d flights", covered, seeds)
	}
}

// What the package says about somebody's accuracy is figures, not a certificate.
func TestNoCertificate(t *testing.T) {
	for _, ed := range []Edition{Edition1, Edition2, NSSDA} {
		e, err := Assess(ed, AssessInput{ClassM: 0.1, OpenM: d20, VegetatedM: d19, EastM: annexE, NorthM: annexN})
		if err != nil {
			t.Fatal(err)
		}
		text := e.Title + strings.Join(e.Notes, " ") + e.Statement.Disclaimer + e.Statement.TakeFrom + string(e.Statement.Case)
		for _, f := range e.Statement.Fields {
			text += f.Name + f.Value
		}
		if strings.Contains(strings.ToLower(text), "certif") || e.Statement.TakeFrom == "" {
			t.Errorf("%s: %s", ed, text)
		}
	}
	if _, err := Assess("other", AssessInput{}); err == nil {
		t.Error("an unknown standard must be an error")
	}
}

// Sentences on how little few points say, with the figures of the reference (section 7.5).
func TestJudge(t *testing.T) {
	u, err := Judge([]float64{0.03, -0.05, 0.02, 0.06, -0.01}, 0.05, 2)
	if err != nil {
		t.Fatal(err)
	}
	all := strings.Join(u.Text, "\n")
	for _, want := range []string{"with 5 points a cloud that is 25 % out of class passes one time in three", "5 points lie at 2 places"} {
		if !strings.Contains(all, want) {
			t.Errorf("no %q in\n%s", want, all)
		}
	}
	if u.PlacesHighM == nil || *u.PlacesHighM <= *u.HighM {
		t.Error("two places say less than five points")
	}
}

func TestPlacesAndIndependence(t *testing.T) {
	p := []Point{{EM: 0}, {EM: 40}, {EM: 80}, {EM: 300}, {EM: 345, NM: 20, Source: SourceBase}}
	group, n := Places(p, ClusterM)
	if n != 3 || group[0] != group[1] || group[2] == group[0] || group[3] != group[4] || group[0] == group[3] {
		t.Errorf("groups %v, %d places; 40 m from the first point is one place, 80 m another", group, n)
	}
	var row []Point
	for i := range 30 {
		row = append(row, Point{EM: 40 * float64(i)})
	}
	if _, n := Places(row, ClusterM); n != 15 {
		t.Errorf("30 points in a row of 1.2 km lie at %d places, want 15: a chain is not one place", n)
	}
	if i := TestIndependence(p[4:]); !i.Relative || !strings.Contains(i.Text, "relative to this base") {
		t.Errorf("%+v", i)
	}
	if i := TestIndependence([]Point{{Source: SourceLevel}}); i.Relative || !i.Known {
		t.Errorf("%+v", i)
	}
}

func TestFigures(t *testing.T) {
	h := NewHistogram(d20, 0.05)
	sum := 0
	for _, c := range h.Counts {
		sum += c
	}
	if sum != 20 || h.LowM > -0.05 || h.LowM+h.WidthM*float64(len(h.Counts)) < 0.30 {
		t.Errorf("histogram %+v", h)
	}
	area := 0.0
	for i := 1; i < len(h.CurveM); i++ {
		area += (h.CurveM[i] - h.CurveM[i-1]) * (h.CurveCount[i] + h.CurveCount[i-1]) / 2
	}
	near(t, "area under the normal curve over bins", area/h.WidthM, 20, 0.05)
	c := &Comparison{}
	for i := range 10 {
		c.Points = append(c.Points, PointResult{Point: Point{ZM: float64(i)}, DzM: 0.01 + 0.002*float64(i), SlopePct: 2, Used: true})
	}
	f := c.Figures(0.1)
	near(t, "dz against height", f.ByElevation.Slope, 0.002, 1e-12)
	if f.BySlope.OK || len(f.Arrows) != 10 {
		t.Error("equal slopes have no line; every point has an arrow")
	}
}

package control

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"testing"
)

// sciPy runs testdata/statistics.py with Debian's Python. Without SciPy the test is skipped, and fails in CI.
func sciPy(t *testing.T, in any) []map[string]any {
	t.Helper()
	b, err := json.Marshal(in)
	if err != nil {
		t.Fatal(err)
	}
	python := "/usr/bin/python3"
	if exec.Command(python, "-c", "import scipy").Run() != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("python3-scipy is missing: apt-get install python3-scipy")
		}
		t.Skip("python3-scipy is missing")
	}
	cmd := exec.Command(python, "testdata/statistics.py")
	cmd.Stdin = bytes.NewReader(b)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v: %s", err, stderr.String())
	}
	var res []map[string]any
	if err := json.Unmarshal(out, &res); err != nil {
		t.Fatal(err)
	}
	return res
}

// Every statistic against SciPy: normal, biased, heavy-tailed and skewed sets of many sizes.
func TestAgainstSciPy(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	type set struct {
		Name   string    `json:"name"`
		Values []float64 `json:"values"`
	}
	sets := []set{{"D20", d20}, {"D19", d19}, {"annex D Z", annexZ}}
	for _, n := range []int{4, 5, 6, 8, 11, 12, 30, 59, 200, 1000} {
		for kind := range 4 {
			s := set{Name: fmt.Sprintf("n %d kind %d", n, kind)}
			for range n {
				x := 0.03 * rng.NormFloat64()
				switch kind {
				case 1:
					x += 0.05
				case 2:
					x *= 1 + 4*math.Floor(1.1*rng.Float64())
				case 3:
					x = 0.05 * rng.ExpFloat64()
				}
				s.Values = append(s.Values, x)
			}
			sets = append(sets, s)
		}
	}
	for i, want := range sciPy(t, sets) {
		v, name := sets[i].Values, sets[i].Name
		a := must(t, v)
		m, _ := TestMean(v)
		jb, _ := TestNormal(v)
		up, _ := RMSEUpper(a.RMSEM, a.N, 0.95)
		bound, bounded := P95Upper(v, 0.95)
		if !bounded {
			bound = -1
		}
		sdLow, sdHigh, _ := StdInterval(*a.StdM, a.N, 0.95)
		outliers, _ := FindOutliers(v, 0.1)
		// the resamples are others than SciPy's: a fiftieth of the RMSE, more where few values leave few resamples
		low, high, _ := BootstrapRMSE(v, 0.95)
		tolerance := a.RMSEM * max(0.02, 0.3/float64(a.N))
		if l, h := want["boot_low"].(float64), want["boot_high"].(float64); math.Abs(low-l) > tolerance || math.Abs(high-h) > tolerance {
			t.Errorf("%s: bootstrap %.5f to %.5f, SciPy %.5f to %.5f", name, low, high, l, h)
		}
		// SciPy's quantiles of the normal are of single precision
		if w := want["w"].(float64); math.Abs(jb.W-w) > 3e-6 {
			t.Errorf("%s: Shapiro-Wilk W %.9g, SciPy %.9g", name, jb.W, w)
		}
		if w := want["w_p"].(float64); math.Abs(jb.WP-w) > 2e-6+0.002*w {
			t.Errorf("%s: Shapiro-Wilk p %.9g, SciPy %.9g", name, jb.WP, w)
		}
		for _, c := range []struct {
			key string
			got float64
		}{{"mean", a.MeanM}, {"std", *a.StdM}, {"rmse", a.RMSEM}, {"median", a.MedianM}, {"nmad", a.NMADM}, {"p95", a.P95AbsM}, {"q683", a.Q683AbsM},
			{"p95_bound", bound}, {"mean_low", m.LowM}, {"mean_high", m.HighM}, {"std_low", sdLow}, {"std_high", sdHigh}, {"one_beyond", outliers.ChanceOfOne}, {"skew", *a.Skew}, {"kurtosis", *a.Kurtosis}, {"jb", jb.JB}, {"jb_p", jb.P}, {"low", *a.RMSELowM}, {"high", *a.RMSEHighM}, {"upper", up},
			{"t", m.T}, {"t_p", m.P}, {"t_limit", m.LimitT}, {"class_confidence", ClassConfidence(a.RMSEM, a.N, 0.1)}, {"pass", PassProbability(a.N, 1.25)}} {
			w := want[c.key].(float64)
			if math.Abs(c.got-w) > 1e-9*(1+math.Abs(w)) {
				t.Errorf("%s: %s = %.12g, SciPy %.12g", name, c.key, c.got, w)
			}
		}
	}
}

// The exact 95 % radius against SciPy's quadrature.
func TestRadiusAgainstSciPy(t *testing.T) {
	type pair struct {
		Sigma  [2]float64 `json:"sigma"`
		Radius float64    `json:"radius"`
	}
	var in []pair
	for _, r := range []float64{1, 0.8, 0.5, 0.2, 0.05} {
		in = append(in, pair{[2]float64{1, r}, radius95(1, r)})
	}
	for i, want := range sciPy(t, in) {
		near(t, fmt.Sprintf("probability within the radius of %v", in[i].Sigma), want["inside"].(float64), 0.95, 1e-7)
	}
}

// The triangle at the point against SciPy's Delaunay triangulation (Qhull): random and gridded
// points, enclosed and not.
func TestDelaunayAgainstSciPy(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	type cloud struct {
		Points [][3]float64 `json:"points"`
	}
	var in []cloud
	for k := range 150 {
		n := 4 + rng.IntN(400)
		c := cloud{}
		de, dn := 3*rng.NormFloat64()*float64(k%3), 3*rng.NormFloat64()*float64(k%3)
		for range n {
			x, y := 4*rng.NormFloat64()+de, 4*rng.NormFloat64()+dn
			c.Points = append(c.Points, [3]float64{x, y, math.Sin(x) + 0.3*y*y})
		}
		in = append(in, c)
	}
	inside := 0
	for i, want := range sciPy(t, in) {
		var v []vertex
		for _, p := range in[i].Points {
			v = append(v, vertex{p[0], p[1], p[2]})
		}
		tri, ok := facetAt(v)
		if ok != want["inside"].(bool) {
			t.Errorf("cloud %d of %d points: enclosed %v, SciPy %v", i, len(v), ok, want["inside"])
			continue
		}
		if !ok {
			continue
		}
		inside++
		_, _, z, _ := plane3(v[tri[0]], v[tri[1]], v[tri[2]], func(p vertex) float64 { return p.z })
		near(t, fmt.Sprintf("cloud %d of %d points", i, len(v)), z, want["z"].(float64), 1e-8)
	}
	if inside < 75 || inside == len(in) {
		t.Errorf("%d of %d clouds enclose the point: the test needs both kinds", inside, len(in))
	}
}

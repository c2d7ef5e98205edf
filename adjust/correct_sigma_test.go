package adjust

import (
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"

	"sidelap/trajectory/simulate"
)

// deviate is one stated value against the truth, in its stated standard deviations.
type deviate struct {
	what string
	z    float64
}

// pathError returns what a flight's processing made wrong in a component of a strip, used minus true, at n even times.
func pathError(f *simulate.Flight, c *StripCorrection, comp component, n int) (times, v []float64) {
	for i := range n {
		t := *c.StartS + (*c.EndS-*c.StartS)*(float64(i)+0.5)/float64(n)
		at := t - f.PathTimesS()[0] + f.Used.TimeS[0] // the time of the cloud is another than that of the simulation
		u, w := f.Used.At(at), f.True.At(at)
		times = append(times, t)
		v = append(v, [...]float64{u.EM - w.EM, u.NM - w.NM, u.HM - w.HM, u.RollRad - w.RollRad, u.HeadingRad - w.HeadingRad}[comp])
	}
	return times, v
}

// projected is the value at t of what a curve of so many knots can show of an error: its mean, its straight line, or the error itself.
func projected(times, v []float64, knots int, t float64) float64 {
	mean, mid := 0.0, 0.0
	for i := range v {
		mean, mid = mean+v[i]/float64(len(v)), mid+times[i]/float64(len(v))
	}
	if knots <= 1 {
		return mean
	}
	if knots == 2 {
		xy, xx := 0.0, 0.0
		for i := range v {
			xy, xx = xy+(times[i]-mid)*(v[i]-mean), xx+(times[i]-mid)*(times[i]-mid)
		}
		return mean + xy/xx*(t-mid)
	}
	at := 0
	for i := range times {
		if math.Abs(times[i]-t) < math.Abs(times[at]-t) {
			at = i
		}
	}
	return v[at]
}

// deviates compares all that a fit states with the truth of the flight. Kinds of the whole flight that were not made stand for others, which the fit says in its notes: they are
// no estimate of anything that is known.
func deviates(fit *CorrectionFit, f *simulate.Flight) []deviate {
	var out []deviate
	ft := &f.Scenario.Faults
	const rad = math.Pi / 180
	made := map[Kind]float64{BoresightRoll: ft.BoresightRollDeg * rad, BoresightPitch: ft.BoresightPitchDeg * rad, BoresightHeading: ft.BoresightHeadingDeg * rad, ScanAngleScale: ft.ScanAngleScale,
		RangeOffset: ft.RangeOffsetM, LeverX: ft.LeverXM, LeverY: ft.LeverYM, TimeOffset: ft.TimeOffsetS}
	const n = 100
	for _, p := range fit.Fitted {
		add := func(part string, d float64) {
			out = append(out, deviate{fmt.Sprintf("%s[%d]%s %+.6g (off %+.6g)", p.Kind, p.Strip, part, p.Value, d), d / p.Sigma})
		}
		if p.Strip < 0 {
			if v := made[p.Kind]; v != 0 {
				add("", p.Value-v)
			}
			continue
		}
		c := &fit.Correction.Strips[p.Strip]
		shift := func(comp component, curve *Curve) {
			mean := 0.0
			for _, y := range curve.Value {
				mean += y / float64(len(curve.Value))
			}
			times, v := pathError(f, c, comp, n)
			want := projected(times, v, 1, 0)
			from := fit.middle[comp]
			if len(from) == 0 { // from the strips that stay where they are
				for i := range fit.Correction.Strips {
					s := &fit.Correction.Strips[i]
					if curve := [...]*Curve{&s.EastM, &s.NorthM, &s.UpM}[comp]; s.Line && curve.zero() {
						from = append(from, i)
					}
				}
			}
			for _, m := range from {
				times, v := pathError(f, &fit.Correction.Strips[m], comp, n)
				want -= projected(times, v, 1, 0) / float64(len(from))
			}
			add([]string{" east", " north", ""}[comp], mean-want)
		}
		between := func(comp component, curve *Curve, steps []Curve, lo, hi float64) {
			times, v := pathError(f, c, comp, n)
			knots := len(curve.TimeS)
			if len(steps) > 0 {
				knots = 3
			}
			got := curve.At(hi) + sumAt(steps, hi) - curve.At(lo) - sumAt(steps, lo)
			add([]string{" east", " north", " up"}[comp], got-(projected(times, v, knots, hi)-projected(times, v, knots, lo)))
		}
		switch {
		case p.Kind == StripHeight:
			shift(compUp, &c.UpM)
		case p.Kind == StripHorizontal:
			shift(compEast, &c.EastM)
			shift(compNorth, &c.NorthM)
		case p.Kind == StripDrift && strings.Contains(p.Detail, "east"):
			between(compEast, &c.EastM, nil, *c.StartS, *c.EndS)
			between(compNorth, &c.NorthM, nil, *c.StartS, *c.EndS)
		case p.Kind == StripDrift:
			lo, hi := *c.StartS, *c.EndS
			for i := range n + 1 {
				t := *c.StartS + (*c.EndS-*c.StartS)*float64(i)/n
				y := func(t float64) float64 { return c.UpM.At(t) + sumAt(c.UpStepsM, t) }
				if y(t) < y(lo) {
					lo = t
				}
				if y(t) > y(hi) {
					hi = t
				}
			}
			between(compUp, &c.UpM, c.UpStepsM, lo, hi)
		case p.Kind == AttitudeDrift:
			times, v := pathError(f, c, compRoll, n)
			at := c.RollRad.TimeS[max(slices.Index(c.RollRad.Value, p.Value), 0)]
			add("", p.Value-projected(times, v, len(c.RollRad.TimeS), at))
		}
	}
	return out
}

// flySigmas corrects one flight and compares what is stated. Even seeds have slow errors of the path as the demonstration has.
func flySigmas(t testing.TB, c correctionCase, seed uint64, kinds ...pathKind) [][]deviate {
	s := simulate.SmallScenario()
	s.Seed = seed
	if seed%2 == 0 {
		s.Process.NoiseHorizontalM, s.Process.NoiseVerticalM = 0.002, 0.003
		s.Process.NoiseRollPitchDeg, s.Process.NoiseHeadingDeg = 0.0008, 0.002
	}
	s.Survey.ControlPoints, s.Survey.SigmaVM, s.Survey.SeparationM = 20, 0.005, 3
	c.fault(&s)
	f := flyCloud(t, s, 1)
	o := DefaultCorrectOptions()
	if c.control {
		o.Control = f.control()
	}
	var out [][]deviate
	for _, k := range kinds {
		path, know := f.known(t, k)
		fit := EstimateCorrection(f.survey, f.pairs, path, Diagnose(f.survey, f.pairs, path, know, DefaultOptions()), o)
		out = append(out, deviates(fit, f.flight))
	}
	return out
}

// TestStatedSigmas is known truth: what a correction states lies within three of its standard deviations of the truth, for 99 of 100 values, and the standard deviations are no
// larger than they must be. SIDELAP_LONG=1 flies 20 seeds of every fault with each kind of path; SIDELAP_SEEDS, as 21-24, and SIDELAP_CASES a part with the path file. The ordinary run
// flies four.
func TestStatedSigmas(t *testing.T) {
	first, last := uint64(21), uint64(22)
	kinds := []pathKind{fromFile}
	long := os.Getenv("SIDELAP_LONG") != ""
	if long {
		last, kinds = 40, []pathKind{fromFile, fromPoints, noPath}
		if _, err := fmt.Sscanf(os.Getenv("SIDELAP_SEEDS"), "%d-%d", &first, &last); err == nil {
			kinds = kinds[:1]
		}
	} else if testing.Short() {
		t.Skip("flights of simulation")
	}
	type job struct {
		c    correctionCase
		seed uint64
	}
	var jobs []job
	for _, c := range correctionCases() {
		if strings.HasPrefix(c.name, "clean") || c.name == "datum" || !long && c.name != "boresight" && c.name != "all strips shifted" {
			continue
		}
		if names := os.Getenv("SIDELAP_CASES"); names != "" && !slices.Contains(strings.Split(names, ";"), c.name) {
			continue
		}
		for seed := first; seed <= last; seed++ {
			jobs = append(jobs, job{c, seed})
		}
	}
	all := make([][][]deviate, len(jobs))
	var wg sync.WaitGroup
	slots := make(chan struct{}, 2)
	for i, j := range jobs {
		wg.Go(func() {
			slots <- struct{}{}
			defer func() { <-slots }()
			all[i] = flySigmas(t, j.c, j.seed, kinds...)
		})
	}
	wg.Wait()
	for k, kind := range kinds {
		count, within, squares := 0, 0, 0.0
		for i, j := range jobs {
			for _, d := range all[i][k] {
				count++
				squares += d.z * d.z
				if math.Abs(d.z) <= 3 {
					within++
				} else {
					t.Logf("%s, seed %d, path %v: %s, %.1f standard deviations", j.c.name, j.seed, kind, d.what, d.z)
				}
			}
		}
		if count == 0 {
			t.Fatalf("path %v: nothing was stated", kind)
		}
		rms := math.Sqrt(squares / float64(count))
		t.Logf("path %v: %d of %d values within three stated standard deviations, rms %.2f", kind, within, count, rms)
		if float64(within) < 0.99*float64(count) {
			t.Errorf("path %v: %d of %d values within three stated standard deviations, 99 %% asked for", kind, within, count)
		}
		if long && (rms < 0.6 || rms > 1.3) {
			t.Errorf("path %v: rms of the deviates %.2f, want 0.6 to 1.3", kind, rms)
		}
	}
}

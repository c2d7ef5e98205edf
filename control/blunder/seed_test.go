package blunder

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"sidelap/control"
)

// survey is an invented survey: check points over a square of ground, differences of a few centimetres.
// Everything that the rules look at is there and in order, so that every rule can run and stay silent.
func survey(seed uint64, n int) Evidence {
	rng := rand.New(rand.NewPCG(seed, 77))
	e := Evidence{
		Extent: control.Box{MinEM: 512000, MinNM: 4500000, MaxEM: 512900, MaxNM: 4500700},
		LimitM: 0.10, NoiseM: 0.02, LatDeg: 40.65, LonDeg: -80.85, Zone: 17,
		GeoidM: -33.4, AntennaM: 1.643, PolesM: []float64{2.000, 1.800},
		VerticalKnown: true, CRSStated: true, VerticalCRS: "NAVD88 height", CloudUnit: "metre",
		FlightDate: time.Date(2026, 5, 12, 0, 0, 0, 0, time.UTC),
		Base:       &Base{EM: 512450, NM: 4500350, ZM: 230, Flush: true, HasGround: true, GroundM: 230 + 0.01*rng.NormFloat64(), HeaderDistanceM: 1.3},
		Time:       &TimeEvidence{Adjusted: true, MinS: 462500100, MaxS: 462501300, PathMatched: true, FileDate: gpsEpoch.Add(1462500200 * time.Second)},
		Path:       &HeightEvidence{GroundClearanceM: 0.45, Standing: true, FlightHeightM: 80, PlannedHeightM: 80},
		Labels:     &LabelEvidence{IDs: 7, Files: 1, Turns: 6},
		Datums:     []DatumShift{{"NAD 83(2011) against ITRF2020", 0.98, -1.10, -1.05}},
		Control:    []control.Point{{ID: "C1", EM: 512100, NM: 4500100, ZM: 231}, {ID: "C2", EM: 512700, NM: 4500500, ZM: 229}},
	}
	for i := range n {
		p := control.PointResult{Point: control.Point{ID: fmt.Sprintf("%d", 101+i), EM: 512050 + 800*rng.Float64(), NM: 4500050 + 600*rng.Float64(),
			Cover: control.CoverOpen, Use: control.UseCheck, Source: control.SourceNetwork, RodM: 2.0, Date: time.Date(2026, 5, 11, 0, 0, 0, 0, time.UTC)}, Used: true}
		p.ZM = math.Round(1000*(230+12*rng.NormFloat64())) / 1000
		setDz(&p, 0.025*rng.NormFloat64())
		p.GradE, p.GradN = 0.02*rng.NormFloat64(), 0.02*rng.NormFloat64()
		p.SlopePct = 100 * math.Hypot(p.GradE, p.GradN)
		p.PlaneRMSM, p.P90P10M, p.Returns = 0.018+0.004*rng.Float64(), 0.05+0.01*rng.Float64(), 40+rng.IntN(40)
		e.Points = append(e.Points, p)
	}
	for i := range 6 {
		e.Targets = append(e.Targets, Target{ID: fmt.Sprintf("T%d", i), EM: 512050 + 800*rng.Float64(), NM: 4500050 + 600*rng.Float64(),
			DEM: 0.02 * rng.NormFloat64(), DNM: 0.02 * rng.NormFloat64(), SigmaM: 0.02})
	}
	return e
}

func setDz(p *control.PointResult, dz float64) { p.DzM, p.CloudZM = dz, p.ZM+dz }

// raise adds a difference to every point.
func raise(e *Evidence, f func(p *control.PointResult) float64) {
	for i := range e.Points {
		p := &e.Points[i]
		setDz(p, p.DzM+f(p))
	}
}

func constant(v float64) func(*control.PointResult) float64 {
	return func(*control.PointResult) float64 { return v }
}

// move changes the surveyed positions, as a list read wrongly would; the cloud then has no surface there.
func move(e *Evidence, f func(eM, nM float64) (float64, float64)) {
	for i := range e.Points {
		p := &e.Points[i]
		p.EM, p.NM = f(p.EM, p.NM)
		p.DzM, p.CloudZM, p.Used, p.Reason = math.NaN(), math.NaN(), false, control.ReasonOutside
	}
}

// blunders are the seeded cases: what each does to a good survey, and the rule that must come first.
var blunders = []struct {
	name, rule string
	inject     func(e *Evidence, rng *rand.Rand)
}{
	{"cloud left in ellipsoidal heights", "B1", func(e *Evidence, _ *rand.Rand) { raise(e, constant(-33.38)) }},
	{"survey in ellipsoidal heights", "B1", func(e *Evidence, _ *rand.Rand) { raise(e, constant(33.42)) }},
	{"geoid with the wrong sign", "B1", func(e *Evidence, _ *rand.Rand) { raise(e, constant(-66.9)) }},
	{"geoid, separation not given", "B1", func(e *Evidence, _ *rand.Rand) { e.GeoidM = 0; e.Path = nil; raise(e, constant(16.2)) }},
	{"geoid with a grid", "B1", func(e *Evidence, _ *rand.Rand) {
		e.GeoidGrid = geoidPlane
		raise(e, func(p *control.PointResult) float64 { n, _ := geoidPlane(p.EM, p.NM); return n })
	}},
	{"two geoid models", "B1", func(e *Evidence, _ *rand.Rand) {
		e.GeoidGrid = geoidPlane
		e.GeoidOther = func(a, b float64) (float64, bool) { n, ok := geoidPlane(a, b); return n - 0.132, ok }
		raise(e, constant(0.132))
	}},
	{"list in feet, read as metres", "B2", func(e *Evidence, _ *rand.Rand) {
		move(e, func(a, b float64) (float64, float64) { return a / 0.3048, b / 0.3048 })
	}},
	{"list in metres, cloud in feet", "B2", func(e *Evidence, _ *rand.Rand) {
		move(e, func(a, b float64) (float64, float64) { return a * 0.3048, b * 0.3048 })
	}},
	{"heights of the list in feet", "B2", func(e *Evidence, _ *rand.Rand) {
		for i := range e.Points {
			p := &e.Points[i]
			p.ZM /= 0.3048
			p.DzM = p.CloudZM - p.ZM
		}
	}},
	{"heights of the cloud in feet", "B2", func(e *Evidence, _ *rand.Rand) {
		for i := range e.Points {
			p := &e.Points[i]
			setDz(p, (p.ZM+p.DzM)/0.3048-p.ZM)
		}
	}},
	{"easting and northing swapped", "B3", func(e *Evidence, _ *rand.Rand) { move(e, func(a, b float64) (float64, float64) { return b, a }) }},
	{"next UTM zone", "B4", func(e *Evidence, _ *rand.Rand) {
		into := zoneToZone(17, 18)
		move(e, into)
	}},
	{"southern hemisphere", "B4", func(e *Evidence, _ *rand.Rand) { move(e, func(a, b float64) (float64, float64) { return a, b + 1e7 }) }},
	{"latitude and longitude", "B4", func(e *Evidence, _ *rand.Rand) {
		back := zoneToDegrees(17)
		move(e, back)
	}},
	{"US survey foot for the international", "B5", func(e *Evidence, _ *rand.Rand) {
		e.CloudFeet, e.CloudUnitUS = true, true
		for i := range e.Targets {
			t := &e.Targets[i]
			t.DEM, t.DNM = t.DEM+footPPM*t.EM, t.DNM+footPPM*t.NM
		}
	}},
	{"base antenna left out", "B6", func(e *Evidence, _ *rand.Rand) { e.Base.HasGround = false; raise(e, constant(-1.643)) }},
	{"base antenna applied twice", "B6", func(e *Evidence, _ *rand.Rand) { e.Base.HasGround = false; raise(e, constant(1.643)) }},
	{"rover pole 2.0 entered as 1.8", "B6", func(e *Evidence, _ *rand.Rand) { raise(e, constant(-0.2)) }},
	{"one day with another pole", "B6", func(e *Evidence, _ *rand.Rand) {
		for i := range e.Points[:len(e.Points)/3] {
			p := &e.Points[i]
			p.Date = p.Date.AddDate(0, 0, 1)
			setDz(p, p.DzM+0.2)
		}
	}},
	{"base coordinate averaged", "B7", func(e *Evidence, _ *rand.Rand) {
		e.Base.HeaderDistanceM, e.Base.HasGround = 0.004, false
		shiftTargets(e, 1.31, -0.62)
		raise(e, constant(0.93))
	}},
	{"another datum", "B8", func(e *Evidence, _ *rand.Rand) {
		e.Base.HasGround = false
		shiftTargets(e, 0.98, -1.10)
		raise(e, constant(-1.05))
	}},
	{"unexplained bias", "B9", func(e *Evidence, _ *rand.Rand) { raise(e, constant(0.135)) }},
	{"tilted plane", "B10", func(e *Evidence, _ *rand.Rand) {
		raise(e, func(p *control.PointResult) float64 { return 2.2e-4 * (p.EM - 512450) })
	}},
	{"scale of the targets", "B11", func(e *Evidence, _ *rand.Rand) {
		for i := range e.Targets {
			t := &e.Targets[i]
			t.DEM, t.DNM = t.DEM-400e-6*(t.EM-512000), t.DNM-400e-6*(t.NM-4500000)
		}
	}},
	{"shots in grass", "B12", func(e *Evidence, rng *rand.Rand) {
		for i := range e.Points[:len(e.Points)/4] {
			p := &e.Points[i]
			p.P90P10M, p.Flags = 0.3, append(p.Flags, control.FlagRough)
			setDz(p, p.DzM+0.12+0.04*rng.ExpFloat64())
		}
	}},
	{"grass by code", "B12", func(e *Evidence, rng *rand.Rand) {
		for i := range e.Points {
			p := &e.Points[i]
			p.Code = "ASPH"
			if i < len(e.Points)/4 {
				p.Code = "GND"
				setDz(p, p.DzM+0.14+0.02*rng.NormFloat64())
			}
		}
	}},
	{"shot on a kerb", "B13", func(e *Evidence, _ *rand.Rand) {
		p := &e.Points[3]
		p.StepM, p.Flags = 0.15, append(p.Flags, control.FlagStep)
		setDz(p, 0.17)
	}},
	{"cloud shifted on slopes", "B13", func(e *Evidence, rng *rand.Rand) {
		for i := range e.Points {
			p := &e.Points[i]
			p.GradE, p.GradN = 0.09*rng.NormFloat64(), 0.09*rng.NormFloat64()
			setDz(p, p.DzM-0.6*p.GradE+0.5*p.GradN)
		}
	}},
	{"transposed digits", "B14", func(e *Evidence, _ *rand.Rand) {
		p := &e.Points[2]
		cloudZ := 231.63 + p.DzM
		p.ZM = 236.13 // written for 231.63
		p.CloudZM, p.DzM = cloudZ, cloudZ-p.ZM
	}},
	{"one wrong digit", "B14", func(e *Evidence, _ *rand.Rand) {
		p := &e.Points[2]
		setDz(p, p.DzM+10)
	}},
	{"control used as check", "B15", func(e *Evidence, _ *rand.Rand) { e.Control = append(e.Control, e.Points[0].Point, e.Points[1].Point) }},
	{"time mislabelled", "B17", func(e *Evidence, _ *rand.Rand) { e.Time.Adjusted = false }},
	{"midnight of the week", "B18", func(e *Evidence, _ *rand.Rand) { e.Time.LargestBackS = 604799.99 }},
	{"trajectory without geoid", "B19", func(e *Evidence, _ *rand.Rand) { e.Path.GroundClearanceM = 0.45 - 33.4 }},
	{"base mark off by the antenna", "B20", func(e *Evidence, _ *rand.Rand) { e.Base.GroundM = 230 - 1.643 }},
	{"no vertical reference", "B21", func(e *Evidence, _ *rand.Rand) { e.VerticalCRS = "" }},
	{"one point source ID", "B22", func(e *Evidence, _ *rand.Rand) { e.Labels.IDs = 1 }},
}

func shiftTargets(e *Evidence, de, dn float64) {
	for i := range e.Targets {
		e.Targets[i].DEM += de
		e.Targets[i].DNM += dn
	}
}

func geoidPlane(eM, nM float64) (float64, bool) {
	return -33.4 + 4e-5*(eM-512450) - 1e-5*(nM-4500350), true
}

// Every rule finds its blunder first, and says what was observed, predicted, left, and what would decide.
func TestSeededBlunders(t *testing.T) {
	for _, b := range blunders {
		t.Run(b.name, func(t *testing.T) {
			e := survey(42, 24)
			b.inject(&e, rand.New(rand.NewPCG(1, 1)))
			r := Find(e)
			if len(r.Findings) == 0 || r.Findings[0].ID != b.rule {
				t.Fatalf("found %s, want %s first", ids(r), b.rule)
			}
			f := r.Findings[0]
			if f.Title == "" || f.Text == "" || f.Observed == "" || f.Predicted == "" || f.DecideBy == "" {
				t.Errorf("incomplete finding: %+v", f)
			}
			if math.IsNaN(f.ExplainedShare) != math.IsNaN(f.LeftRMSEM) || math.IsNaN(f.ExplainedShare) != math.IsNaN(f.LeftMedianM) {
				t.Errorf("share %g, left %g and %g: all or none", f.ExplainedShare, f.LeftMedianM, f.LeftRMSEM)
			}
			if slices.Contains([]string{"B1", "B5", "B6", "B7", "B8", "B9"}, b.rule) && f.ExplainedShare < 0.8 {
				t.Errorf("explains %.2f, want most: %+v", f.ExplainedShare, f)
			}
			if !slices.Contains(r.Run, b.rule) {
				t.Errorf("rule not listed as run: %v", r.Run)
			}
		})
	}
}

func ids(r Report) string {
	var s []string
	for _, f := range r.Findings {
		s = append(s, fmt.Sprintf("%s %q", f.ID, f.Text))
	}
	return strings.Join(s, "\n  ")
}

// On a good survey with all evidence every rule runs, and none speaks.
func TestCleanSurveyIsSilent(t *testing.T) {
	r := Find(survey(42, 24))
	if len(r.Findings) > 0 {
		t.Errorf("clean survey: %s", ids(r))
	}
	for i := 1; i <= 22; i++ {
		if id := fmt.Sprintf("B%d", i); !slices.Contains(r.Run, id) {
			t.Errorf("%s did not run: %+v", id, r.NotRun)
		}
	}
}

// Without inputs no rule speaks, and each says what it lacks.
func TestNothingGiven(t *testing.T) {
	r := Find(Evidence{})
	if len(r.Findings) > 0 {
		t.Errorf("no evidence: %s", ids(r))
	}
	for i := 1; i <= 22; i++ {
		id := fmt.Sprintf("B%d", i)
		if i != 15 && !slices.ContainsFunc(r.NotRun, func(s Skipped) bool { return s.ID == id && s.Needs != "" }) {
			t.Errorf("%s does not say what it needs", id)
		}
	}
}

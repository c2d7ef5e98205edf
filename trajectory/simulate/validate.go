package simulate

import (
	"fmt"
	"math"
	"reflect"
)

// Validate reports the first field that cannot be, with its value and unit.
func (s *Scenario) Validate() error {
	if path, v, ok := firstNotFinite(reflect.ValueOf(*s), ""); ok {
		return fmt.Errorf("%s is %v; it must be a finite number", path, v)
	}
	for _, check := range []func() error{s.validatePositive, s.validateRanges, s.validatePlan, s.validateFaults} {
		if err := check(); err != nil {
			return err
		}
	}
	return nil
}

// firstNotFinite walks the numbers of v.
func firstNotFinite(v reflect.Value, path string) (string, float64, bool) {
	switch v.Kind() {
	case reflect.Float64:
		if f := v.Float(); math.IsNaN(f) || math.IsInf(f, 0) {
			return path, f, true
		}
	case reflect.Struct:
		for i := range v.NumField() {
			name := v.Type().Field(i).Name
			if path != "" {
				name = path + "." + name
			}
			if p, f, bad := firstNotFinite(v.Field(i), name); bad {
				return p, f, true
			}
		}
	case reflect.Slice:
		for i := range v.Len() {
			if p, f, bad := firstNotFinite(v.Index(i), fmt.Sprintf("%s[%d]", path, i)); bad {
				return p, f, true
			}
		}
	}
	return "", 0, false
}

type bound struct {
	name, unit string
	v, lo, hi  float64
}

func inBounds(list []bound) error {
	for _, b := range list {
		if b.v < b.lo || b.v > b.hi {
			return fmt.Errorf("%s is %g %s; it must be from %g to %g", b.name, b.v, b.unit, b.lo, b.hi)
		}
	}
	return nil
}

func (s *Scenario) validatePositive() error {
	p, sc := &s.Plan, &s.Scanner
	for _, x := range []bound{
		{name: "Plan.HeightM", unit: "m", v: p.HeightM}, {name: "Plan.SpeedMPS", unit: "m/s", v: p.SpeedMPS},
		{name: "Plan.StripLengthM", unit: "m", v: p.StripLengthM}, {name: "Plan.TurnRadiusM", unit: "m", v: p.TurnRadiusM},
		{name: "Plan.TurnSpeedMPS", unit: "m/s", v: p.TurnSpeedMPS}, {name: "Plan.AccelMPS2", unit: "m/s2", v: p.AccelMPS2},
		{name: "Plan.ClimbMPS", unit: "m/s", v: p.ClimbMPS}, {name: "Scanner.PulseRateHz", unit: "Hz", v: sc.PulseRateHz},
		{name: "Scanner.LineRateHz", unit: "Hz", v: sc.LineRateHz}, {name: "Process.RateHz", unit: "Hz", v: s.Process.RateHz},
		{name: "Terrain.CellM", unit: "m", v: s.Terrain.CellM}, {name: "Process.NoiseCorrelationS", unit: "s", v: s.Process.NoiseCorrelationS},
		{name: "Base.IntervalS", unit: "s", v: s.Base.IntervalS},
	} {
		if !(x.v > 0) {
			return fmt.Errorf("%s is %g %s; it must be positive", x.name, x.v, x.unit)
		}
	}
	if p.StraightRunM > 0 && !(p.StraightRunMPS > 0) {
		return fmt.Errorf("Plan.StraightRunMPS is %g m/s; it must be positive when there is a straight run", p.StraightRunMPS)
	}
	if p.FigureEightsBefore+p.FigureEightsAfter > 0 && !(p.FigureEightRadiusM > 0) {
		return fmt.Errorf("Plan.FigureEightRadiusM is %g m; it must be positive when there are figure-eights", p.FigureEightRadiusM)
	}
	if s.Terrain.ReliefM > 0 && s.Terrain.Octaves > 0 && !(s.Terrain.WavelengthM > 0) {
		return fmt.Errorf("Terrain.WavelengthM is %g m; relief needs a positive one", s.Terrain.WavelengthM)
	}
	return nil
}

func (s *Scenario) validateRanges() error {
	t, sc, pr := &s.Terrain, &s.Scanner, &s.Process
	return inBounds([]bound{
		{"Site.UTMZone", "", float64(s.Site.UTMZone), 1, 60},
		{"Site.GPSWeek", "weeks", float64(s.Site.GPSWeek), 0, 5000},
		{"Site.PowerOnS", "s", s.Site.PowerOnS, 0, weekS},
		{"Scanner.FieldOfViewDeg", "degrees", sc.FieldOfViewDeg, 1, 120},
		{"Scanner.MaxReturns", "returns", float64(sc.MaxReturns), 1, 7},
		{"Scanner.DropoutShare", "", sc.DropoutShare, 0, 1},
		{"Scanner.RangeNoiseM", "m", sc.RangeNoiseM, 0, 1},
		{"Scanner.AngleNoiseDeg", "degrees", sc.AngleNoiseDeg, 0, 1},
		{"Scanner.PulseRateHz/LineRateHz", "pulses in a line", sc.PulseRateHz / sc.LineRateHz, 8, 1e6},
		{"Process.RateHz", "Hz", pr.RateHz, 10, 2000},
		{"Terrain.CellM", "m", t.CellM, 0.25, 50},
		{"Terrain.SlopeE", "m/m", t.SlopeE, -0.6, 0.6},
		{"Terrain.SlopeN", "m/m", t.SlopeN, -0.6, 0.6},
		{"Terrain.ReliefM", "m", t.ReliefM, 0, 60},
		{"Terrain.GrassHeightM", "m", t.GrassHeightM, 0, 1},
		{"Terrain.MarginM", "m", t.MarginM, 0, 1000},
		{"Motion.Bank", "", s.Motion.Bank, 0, 1.2},
		{"Faults.TimeOffsetS", "s", s.Faults.TimeOffsetS, -5, 5},
	})
}

func (s *Scenario) validatePlan() error {
	p := &s.Plan
	for i, v := range p.StripSpeedsMPS {
		if v < 0 {
			return fmt.Errorf("Plan.StripSpeedsMPS[%d] is %g m/s; it must be positive, or 0 for the plan's speed", i, v)
		}
	}
	if n := p.Strips + p.CrossStrips + p.SecondStrips; n > 200 || p.Strips < 0 || p.CrossStrips < 0 || p.SecondStrips < 0 {
		return fmt.Errorf("Plan: %d strips; it must be from 1 to 200", n)
	}
	if p.SecondStrips > 0 && p.SecondHeightM <= 0 {
		return fmt.Errorf("Plan.SecondHeightM is %g m; the second block of %d strips needs a height", p.SecondHeightM, p.SecondStrips)
	}
	if p.SpeedChangeStrip > 0 && !(p.SpeedChangeFactor > 0) {
		return fmt.Errorf("Plan.SpeedChangeFactor is %g; it must be positive", p.SpeedChangeFactor)
	}
	length := float64(p.Strips+p.SecondStrips)*p.StripLengthM + float64(p.CrossStrips)*s.crossLengthM()
	if length > 100e3 {
		return fmt.Errorf("Plan: %.0f km of strips; at most 100 km are flown in one scenario", length/1000)
	}
	b := s.blockBox()
	if cells := (b.e1 - b.e0) * (b.n1 - b.n0) / (s.Terrain.CellM * s.Terrain.CellM); cells > 5e7 {
		return fmt.Errorf("Terrain.CellM is %g m over %.0f x %.0f m; that is %.0f million cells, at most 50 are laid out", s.Terrain.CellM, b.e1-b.e0, b.n1-b.n0, cells/1e6)
	}
	return nil
}

func (s *Scenario) validateFaults() error {
	for _, sf := range s.Faults.Strips {
		for _, d := range []Drift{sf.DriftE, sf.DriftN, sf.DriftH, sf.Roll, sf.Pitch, sf.Heading} {
			if (d.Shape == DriftWave || d.Shape == DriftSpline) && !(d.PeriodS > 0) {
				return fmt.Errorf("Faults.Strips: strip %d: a drift has PeriodS %g s; waves and splines need a positive one", sf.Strip, d.PeriodS)
			}
		}
		if sf.KeepFrom < 0 || sf.KeepTo > 1 || sf.KeepTo < sf.KeepFrom {
			return fmt.Errorf("Faults.Strips: strip %d: kept from %g to %g; give 0 <= from <= to <= 1", sf.Strip, sf.KeepFrom, sf.KeepTo)
		}
	}
	return nil
}

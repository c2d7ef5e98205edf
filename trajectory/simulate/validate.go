package simulate

import "fmt"

// Validate reports the first field that cannot be, with its value and unit.
func (s *Scenario) Validate() error {
	p, sc := &s.Plan, &s.Scanner
	positive := []struct {
		name, unit string
		v          float64
	}{
		{"Plan.HeightM", "m", p.HeightM}, {"Plan.SpeedMPS", "m/s", p.SpeedMPS}, {"Plan.StripLengthM", "m", p.StripLengthM},
		{"Plan.TurnRadiusM", "m", p.TurnRadiusM}, {"Plan.TurnSpeedMPS", "m/s", p.TurnSpeedMPS},
		{"Plan.AccelMPS2", "m/s2", p.AccelMPS2}, {"Plan.ClimbMPS", "m/s", p.ClimbMPS},
		{"Scanner.PulseRateHz", "Hz", sc.PulseRateHz}, {"Scanner.LineRateHz", "Hz", sc.LineRateHz},
		{"Scanner.FieldOfViewDeg", "degrees", sc.FieldOfViewDeg}, {"Process.RateHz", "Hz", s.Process.RateHz},
		{"Terrain.CellM", "m", s.Terrain.CellM},
	}
	for _, x := range positive {
		if !(x.v > 0) {
			return fmt.Errorf("%s is %g %s; it must be positive", x.name, x.v, x.unit)
		}
	}
	return nil
}

package simulate

import "math/rand/v2"

// Case is a named change of a scenario, for studies over many seeds.
type Case struct {
	Name  string
	Kinds []string          // kinds of causes[] that it puts in; empty: none
	Apply func(s *Scenario) // uses s.Seed for signs and strips, so that seeds differ
}

// signed returns +v or -v, and a strip of 1..n, from the seed.
func signed(s *Scenario, v float64) float64 {
	if rand.New(rand.NewPCG(s.Seed, 0x519)).Uint64()&1 == 1 {
		return -v
	}
	return v
}

// anyStrip picks a strip of the plan from the seed.
func anyStrip(s *Scenario) int {
	return 1 + rand.New(rand.NewPCG(s.Seed, 0x57a)).IntN(s.Plan.Strips+s.Plan.CrossStrips+s.Plan.SecondStrips)
}

func oneStrip(set func(f *StripFault, s *Scenario)) func(*Scenario) {
	return func(s *Scenario) {
		f := StripFault{Strip: anyStrip(s)}
		set(&f, s)
		s.Faults.Strips = append(s.Faults.Strips, f)
	}
}

// FaultCases are the faults of processing that a diagnosis must name, at sizes that matter
// for a delivery, and the clean flight. Signs and strips change with the seed.
func FaultCases() []Case {
	return []Case{
		{"clean", nil, func(*Scenario) {}},
		{"boresight roll", []string{"boresight_roll"}, func(s *Scenario) { s.Faults.BoresightRollDeg = signed(s, 0.04) }},
		{"boresight pitch", []string{"boresight_pitch"}, func(s *Scenario) { s.Faults.BoresightPitchDeg = signed(s, 0.06) }},
		{"boresight heading", []string{"boresight_heading"}, func(s *Scenario) { s.Faults.BoresightHeadingDeg = signed(s, 0.15) }},
		{"boresight all", []string{"boresight_roll", "boresight_pitch", "boresight_heading"}, func(s *Scenario) {
			s.Faults.BoresightRollDeg, s.Faults.BoresightPitchDeg, s.Faults.BoresightHeadingDeg = signed(s, 0.04), 0.05, signed(s, -0.12)
		}},
		{"scan angle scale", []string{"scan_angle_scale"}, func(s *Scenario) { s.Faults.ScanAngleScale = signed(s, 1.5e-3) }},
		{"range offset", []string{"range_offset"}, func(s *Scenario) { s.Faults.RangeOffsetM = signed(s, 0.06) }},
		{"lever x", []string{"lever_x"}, func(s *Scenario) { s.Faults.LeverXM = signed(s, 0.08) }},
		{"lever y", []string{"lever_y"}, func(s *Scenario) { s.Faults.LeverYM = signed(s, 0.08) }},
		{"lever z", []string{"lever_z"}, func(s *Scenario) { s.Faults.LeverZM = signed(s, 0.08) }},
		{"strip height", []string{"strip_height"}, oneStrip(func(f *StripFault, s *Scenario) { f.HeightM = signed(s, 0.06) })},
		{"strip horizontal", []string{"strip_horizontal"}, oneStrip(func(f *StripFault, s *Scenario) { f.EastM, f.NorthM = signed(s, 0.1), 0.08 })},
		{"strip drift", []string{"strip_drift"}, oneStrip(func(f *StripFault, s *Scenario) {
			f.DriftH = Drift{Shape: DriftLinear, Size: signed(s, 0.15)}
		})},
		{"strip wave", []string{"strip_drift"}, oneStrip(func(f *StripFault, s *Scenario) {
			f.DriftH = Drift{Shape: DriftSpline, Size: 0.05, PeriodS: 6}
		})},
		{"strip step", []string{"strip_drift"}, oneStrip(func(f *StripFault, s *Scenario) {
			f.DriftH = Drift{Shape: DriftStep, Size: signed(s, 0.1), At: 0.5}
		})},
		{"roll drift", []string{"attitude_drift"}, oneStrip(func(f *StripFault, s *Scenario) {
			f.Roll = Drift{Shape: DriftLinear, Size: signed(s, 0.12)}
		})},
		{"time offset", []string{"time_offset"}, func(s *Scenario) { s.Faults.TimeOffsetS = signed(s, 0.02) }},
		{"datum height", []string{"datum_height"}, func(s *Scenario) { s.Faults.DatumHeightM = signed(s, 0.15) }},
	}
}

// Geometries are the flight plans and sites over which faults must be judged. Each is applied to
// SmallScenario or a larger one before the fault.
func Geometries() []Case {
	return []Case{
		{"with cross strip", nil, func(*Scenario) {}},
		{"parallel only", nil, func(s *Scenario) { s.Plan.CrossStrips = 0 }},
		{"same direction", nil, func(s *Scenario) { s.Plan.CrossStrips, s.Plan.SameDirection = 0, true }},
		{"one opposed pair", nil, func(s *Scenario) { s.Plan.CrossStrips, s.Plan.Strips = 0, 2 }},
		{"two heights", nil, func(s *Scenario) { s.Plan.SecondHeightM, s.Plan.SecondStrips = s.Plan.HeightM*1.6, 2 }},
		{"two speeds", nil, func(s *Scenario) {
			v := s.Plan.SpeedMPS
			s.Plan.StripSpeedsMPS = []float64{v, 0.6 * v, v, 0.6 * v}
		}},
		{"flat", nil, func(s *Scenario) {
			s.Terrain.ReliefM, s.Terrain.SlopeE, s.Terrain.SlopeN, s.Terrain.Houses = 0, 0, 0, 0
		}},
		{"hilly", nil, func(s *Scenario) { s.Terrain.ReliefM, s.Terrain.Houses = 2*s.Terrain.ReliefM, 0 }},
		{"unclassified", nil, func(s *Scenario) { s.Label.Unclassified = true }},
		{"wooded", nil, func(s *Scenario) { s.Terrain.Woods, s.Terrain.WoodRadiusM = 4, s.Terrain.WoodRadiusM*1.6 }},
	}
}

// FieldCase is a fault that a check before leaving the site must find.
type FieldCase struct {
	Name   string
	Strips []int // numbers of the strips to name; empty: none in particular
	Refly  bool  // the flight or a strip must be flown again; false: caution may do
	Apply  func(s *Scenario)
}

// FieldCases are the faults of recording and flying, and the good flight (Refly false, no strip).
func FieldCases() []FieldCase {
	return []FieldCase{
		{"good", nil, false, func(*Scenario) {}},
		{"still too short", nil, false, func(s *Scenario) { s.Plan.StillBeforeS = 6 }},
		{"no still at the end", nil, false, func(s *Scenario) { s.Plan.StillAfterS = 0.5 }},
		{"no figure-eights before", nil, false, func(s *Scenario) { s.Plan.FigureEightsBefore = 0 }},
		{"no manoeuvre at all", nil, false, func(s *Scenario) {
			s.Plan.FigureEightsBefore, s.Plan.FigureEightsAfter, s.Plan.StraightRunM = 0, 0, 0
		}},
		{"base late", nil, true, func(s *Scenario) { s.Base.LeadS = -90 }},
		{"base ends early", nil, true, func(s *Scenario) { s.Base.TrailS = -60 }},
		{"base every 30 s", nil, true, func(s *Scenario) { s.Base.IntervalS = 30 }},
		{"base header lies about 30 s", nil, true, func(s *Scenario) { s.Base.IntervalS, s.Base.HeaderIntervalS = 30, 1 }},
		{"base gap", nil, false, func(s *Scenario) { s.Base.Gaps = []Gap{{StartS: s.Plan.StillBeforeS + 60, DurationS: 45}} }},
		{"pause in strip 2", []int{2}, true, func(s *Scenario) {
			s.Faults.Strips = append(s.Faults.Strips, StripFault{Strip: 2, Gaps: []Gap{{StartS: 4, DurationS: 3}}})
		}},
		{"strip 2 missing", []int{2}, true, func(s *Scenario) { s.Faults.Missing = []int{2} }},
		{"strip 3 cut short", []int{3}, true, func(s *Scenario) {
			s.Faults.Strips = append(s.Faults.Strips, StripFault{Strip: 3, KeepFrom: 0, KeepTo: 0.55})
		}},
		{"speed change in strip 1", []int{1}, false, func(s *Scenario) { s.Plan.SpeedChangeStrip, s.Plan.SpeedChangeFactor = 1, 1.6 }},
		{"strip 2 too high", []int{2}, false, func(s *Scenario) { s.Plan.StripHeightsM = []float64{0, 1.4 * s.Plan.HeightM} }},
		{"low sidelap", []int{3}, true, func(s *Scenario) { s.Plan.StripOffsetsM = []float64{0, 0, 0.9 * s.Plan.SpacingM} }},
		// 254 m², 2 % of the area, where half of 1 % may lack: the rule of coverage asks for a flight, of no strip in particular.
		{"hole", nil, true, func(s *Scenario) { s.Faults.Holes = []Hole{{EastM: 4, NorthM: -6, RadiusM: 9}} }},
	}
}

// BlunderCases are the check point blunders, by the ids of docs/blunders.md, at sizes met in practice.
func BlunderCases() []Case {
	add := func(name string, b Blunder) Case {
		return Case{name, nil, func(s *Scenario) { s.Survey.Blunders = append(s.Survey.Blunders, b) }}
	}
	return []Case{
		{"clean", nil, func(*Scenario) {}},
		add("B1 geoid in the list", Blunder{Kind: BlunderGeoid}),
		{"B1 geoid not applied to the cloud", nil, func(s *Scenario) { s.Faults.GeoidNotApplied = true }},
		{"B1 geoid with the wrong sign", nil, func(s *Scenario) { s.Faults.GeoidWrongSign = true }},
		add("B2h feet, all", Blunder{Kind: BlunderFeetAll}),
		add("B2v feet, heights", Blunder{Kind: BlunderFeetHeights}),
		add("B3 swapped", Blunder{Kind: BlunderSwapEN}),
		add("B4 zone", Blunder{Kind: BlunderZone}),
		add("B5 other foot", Blunder{Kind: BlunderWrongFoot}),
		add("B6 pole 2.0 m", Blunder{Kind: BlunderPole, Value: 2.0}),
		{"B6 base antenna left out", nil, func(s *Scenario) { s.Faults.DatumHeightM = -s.Base.AntennaHeightM }},
		{"B7 base averaged", nil, func(s *Scenario) {
			s.Faults.DatumEM, s.Faults.DatumNM, s.Faults.DatumHeightM = 0.9, -0.6, 1.2
		}},
		add("B9 constant", Blunder{Kind: BlunderConstant, Value: 0.17}),
		add("B10 tilt", Blunder{Kind: BlunderTilt, Value: 1.2e-3}),
		add("B11 scale", Blunder{Kind: BlunderScale, Value: 4e-4}),
		add("B12 in vegetation", Blunder{Kind: BlunderVegetation, Value: 0.05, Point: 3}),
		add("B13 edge", Blunder{Kind: BlunderEdge, Value: 2.5, Point: 5}),
		add("B14 transposed", Blunder{Kind: BlunderTranspose, Point: 7}),
		add("B14 digit", Blunder{Kind: BlunderDigit, Value: 1, Point: 2}),
		add("B15 control reused", Blunder{Kind: BlunderControlReuse}),
		{"B16 UTC", nil, func(s *Scenario) { s.Faults.TimeLabelS = -18 }},
		{"B17 mislabelled", nil, func(s *Scenario) { s.Faults.TimeMislabelled = true }},
	}
}

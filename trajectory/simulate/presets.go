package simulate

// DefaultScenario is a clean flight of five opposed strips and a cross strip over
// rolling open country with houses and woods, about 2 million points.
func DefaultScenario() Scenario {
	return Scenario{
		Seed: 1,
		Site: Site{
			Name: "Hollerbach Meadows (invented)", UTMZone: 33,
			CentreEM: 355420, CentreNM: 5561260, GroundM: 412,
			GeoidM: 46.2, GeoidSlopeE: 1.5e-5, GeoidSlopeN: -2.5e-5,
			GPSWeek: 2419, PowerOnS: 205200, // Tuesday 2026-05-19 09:00:00 GPS time
		},
		Terrain: Terrain{
			ReliefM: 3, WavelengthM: 180, Octaves: 3, SlopeE: 0.02, SlopeN: -0.03,
			Roads: 2, RoadWidthM: 5, Pads: 3, PadLengthM: 26, GrassHeightM: 0.03,
			Houses: 14, HouseAzimuthsDeg: []float64{20, 110, 65, 155}, HousePitchesDeg: []float64{38, 30, 45, 0},
			HouseLengthM: 14, HouseWidthM: 9, EavesM: 3.2,
			TreesPerHa: 180, TreeHeightM: 11, Woods: 3, WoodRadiusM: 22, ScatteredTrees: 25, BrushPerHa: 250,
			MarginM: 15, CellM: 1, KeepHousesOffTree: true,
		},
		Plan: Plan{
			Strips: 5, StripLengthM: 240, SpacingM: 35, HeadingDeg: 28, HeightM: 60, SpeedMPS: 6,
			CrossStrips: 1, CrossSpacingM: 60,
			TurnRadiusM: 12, TurnSpeedMPS: 5, LeadM: 15, AccelMPS2: 1.5, ClimbMPS: 3,
			StillBeforeS: 60, StillAfterS: 60, StraightRunM: 80, StraightRunMPS: 9,
			FigureEightsBefore: 2, FigureEightsAfter: 2, FigureEightRadiusM: 14,
			SpeedChangeFactor: 1, GroundClearanceM: 0.45, HomeAheadM: -40, HomeRightM: -25,
		},
		Motion: Motion{
			RollRMSDeg: 0.7, PitchRMSDeg: 0.6, HeadingRMSDeg: 0.6, TrackRMSM: 0.15, HeightRMSM: 0.08,
			PitchTrimDeg: -3, CrabDeg: 2.5, WindFromDeg: 250, Bank: 0.9,
		},
		Scanner: Scanner{
			PulseRateHz: 40000, LineRateHz: 30, FieldOfViewDeg: 70, RangeNoiseM: 0.012, AngleNoiseDeg: 0.002,
			MaxReturns: 5, LeverXM: 0.12, LeverYM: -0.03, LeverZM: 0.18,
			DropoutShare: 0.002, ReturnSeparationM: 0.4,
		},
		Process: Process{
			RateHz: 200, NoiseCorrelationS: 60,
			StatedHorizontalM: 0.008, StatedVerticalM: 0.013, StatedRollPitchDeg: 0.012, StatedHeadingDeg: 0.04,
			StatedHeadingUnaligned: 4,
		},
		Label: Label{FirstID: 101},
		Survey: Survey{
			OpenPoints: 24, VegetatedPoints: 10, ControlPoints: 6, SigmaHM: 0.012, SigmaVM: 0.012, SeparationM: 8,
		},
		Base: Base{
			Marker: "HM01", DistanceM: 380, AzimuthDeg: 205, AntennaHeightM: 1.6384, IntervalS: 1,
			LeadS: 900, TrailS: 600, MinElevationDeg: 10,
		},
	}
}

// FlatScenario is a clean flight of three opposed strips over a bare plane: the
// simplest case for closed-form checks. Motion, noise and slope are zero.
func FlatScenario() Scenario {
	s := SmallScenario()
	s.Terrain = Terrain{AllHard: true, MarginM: 15, CellM: 2, Octaves: 1, WavelengthM: 100}
	s.Motion = Motion{}
	s.Scanner.RangeNoiseM, s.Scanner.AngleNoiseDeg, s.Scanner.DropoutShare = 0, 0, 0
	s.Plan.CrossStrips = 0
	s.Survey.VegetatedPoints = 0
	return s
}

// SmallScenario is a clean flight of three opposed strips and a cross strip, about
// 200 000 points, that flies in a fraction of a second: for tests over many seeds.
// It keeps relief, roofs, woods and hard ground, so that every cause can be seen.
func SmallScenario() Scenario {
	s := DefaultScenario()
	s.Plan.Strips, s.Plan.StripLengthM, s.Plan.SpacingM = 3, 110, 30
	s.Plan.HeightM, s.Plan.SpeedMPS, s.Plan.TurnSpeedMPS = 50, 8, 6
	s.Plan.StillBeforeS, s.Plan.StillAfterS = 35, 35
	s.Plan.StraightRunM = 70
	s.Terrain.Houses, s.Terrain.Woods, s.Terrain.WoodRadiusM, s.Terrain.Pads = 8, 2, 14, 2
	s.Terrain.ScatteredTrees = 8
	s.Terrain.ReliefM, s.Terrain.WavelengthM = 2.5, 120
	s.Scanner.PulseRateHz, s.Scanner.LineRateHz = 20000, 25
	s.Survey.OpenPoints, s.Survey.VegetatedPoints, s.Survey.ControlPoints, s.Survey.SeparationM = 20, 6, 4, 4
	return s
}

// DemoScenario is the survey of the demonstration: the default block at some five
// million points, with small slow path errors as a real one has, and a boresight
// fault of a size that shows in every overlap.
func DemoScenario() Scenario {
	s := DefaultScenario()
	s.Scanner.PulseRateHz, s.Scanner.LineRateHz = 100000, 45
	s.Process.NoiseHorizontalM, s.Process.NoiseVerticalM = 0.002, 0.003
	s.Process.NoiseRollPitchDeg, s.Process.NoiseHeadingDeg = 0.0008, 0.002
	s.Process.MapScale = true
	s.Survey.TargetRadiusM = 0.5
	s.Scanner.BoresightRollDeg, s.Scanner.BoresightPitchDeg, s.Scanner.BoresightHeadingDeg = 0.118, -0.236, 0.305
	s.Faults.BoresightRollDeg, s.Faults.BoresightPitchDeg, s.Faults.BoresightHeadingDeg = 0.04, 0.03, 0.06
	return s
}

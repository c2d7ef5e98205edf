package sample

import (
	"math"
	"slices"

	"sidelap/report"
)

// fillPoints adds what is told about the list of check points beside the figures.
func fillPoints(rec *report.Record, ck *report.Checkpoints, open []float64) {
	a := ck.NVA
	a.RMSEBootLowM, a.RMSEBootHighM, a.RMSEUpperM = report.F(*a.RMSEM*0.801), report.F(*a.RMSEM*1.197), report.F(*a.RMSEM*1.257)
	a.RMSEPlacesHighM, a.ClassConfidencePct, a.BiasAbove25 = report.F(*a.RMSEM*1.503), report.F(93.4), report.B(math.Abs(*a.MeanM) > 0.0125)
	a.OutlierLimitM, a.OutlierChancePct = report.F(3**a.NMADM), report.F(8.3)
	a.Power = []report.Power{{Ratio: report.F(1), PassPct: report.F(53.3)}, {Ratio: report.F(1.25), PassPct: report.F(6.9)}}
	ck.List = &report.PointList{Choice: `semicolon-separated; columns from headings: point = "Punkt", easting = "Rechtswert", northing = "Hochwert", height = "Hoehe"; first row as read: point CP01`,
		Columns: "PENZ", ColumnsFrom: "headings", Delimiter: "semicolon", DecimalComma: true, Unit: "m", HeightUnit: "m", UnitFrom: "assumed",
		Refused: []string{"line 44 of the list is no point: no easting"}, Warnings: []string{"the list does not name its unit: metres assumed"}}
	ck.Independence = "check points surveyed independently of the base"
	ck.Distribution = &report.Spread{Area: "rectangle of the cloud along its strips", Along: true, SouthWest: 9, SouthEast: 10, NorthWest: 8, NorthEast: 9, QuadrantsOK: true,
		DiagonalM: report.F(402.375), NearestM: report.F(21.482), ClosePct: report.F(61.2), CoveredPct: report.F(88.1), Source: "FGDC-STD-007.3-1998, appendix 3-C"}
	ck.Rules = &report.RulesRun{Run: []string{"B1", "B2", "B3"}, NotRun: []report.NotRun{{ID: "B19", Needs: "a trajectory"}}}
	ck.Points[4].Flags, ck.Points[7].Flags = []string{"steep (14 %)", "one strip"}, []string{"strips differ"}
	ck.Points[4].SlopePct, ck.Points[4].Strips = report.F(14.2), []string{"101"}
	for i := range ck.Points {
		if ck.Points[i].DzM != nil {
			ck.Points[i].SigmaM = report.F(0.006)
		}
	}
	rest := accuracy(slices.Concat(open[:4], open[5:]), 0.012)
	ck.Subsets = []report.Subset{{ID: "without_steep", Name: "without points on slopes above 10 %", Group: "nva", LeftOut: []string{"CP05"}, N: rest.N, MeanM: rest.MeanM, StdM: rest.StdM,
		RMSEM: rest.RMSEM, RMSELowM: rest.RMSELowM, RMSEHighM: rest.RMSEHighM, Accuracy95M: rest.Accuracy95M, P95AbsM: rest.P95AbsM, Rule: "check points belong on ground of a slope of at most 10 %"}}
	ck.Horizontal = &report.Horizontal{N: 2, RMSEXM: report.F(0.021), RMSEYM: report.F(0.018), RMSEM: report.F(math.Hypot(0.021, 0.018)), MeanXM: report.F(0.004), MeanYM: report.F(-0.002),
		Accuracy95M: report.F(1.7308 * math.Hypot(0.021, 0.018)), Basis: "disc fitted to the intensity: 2 of 3 found", ExpectedM: report.F(0.047), ExpectedBasis: "estimated, not tested: by the path's own accuracy",
		Targets: []report.Target{{ID: "CP01", Kind: "disc", DxM: report.F(0.025), DyM: report.F(-0.020), SigmaM: report.F(0.004), Found: true, Returns: 61},
			{ID: "CP02", Kind: "disc", DxM: report.F(-0.017), DyM: report.F(0.016), SigmaM: report.F(0.005), Found: true, Returns: 54}, {ID: "CP03", Kind: "disc", Reason: "4 returns on the target", Returns: 4}}}
	ck.Points[0].DxM, ck.Points[0].DyM, ck.Points[1].DxM, ck.Points[1].DyM = report.F(0.025), report.F(-0.020), report.F(-0.017), report.F(0.016)
	result := func(v, limit float64) string {
		if v <= limit {
			return report.Pass
		}
		return report.Fail
	}
	ck.Editions = []report.Edition{
		{ID: "asprs-2", Title: "ASPRS Positional Accuracy Standards, Edition 2, Version 2.0 (2024)", ClassM: report.F(0.05), Chosen: true, RequiredOpen: 30, RequiredVegetated: 30, RequiredHorizontal: 30,
			RequiredSource: "ASPRS Edition 2, table C.1", Case: "tested", TakeFrom: "ASPRS Edition 2, section 7.16", Fields: []report.StatementField{{Name: "kind", Value: "tested"}},
			Statements: []report.StatementPart{
				{Subject: "vertical, open ground", Case: "tested", Complete: true, Fields: []report.StatementField{{Name: "kind", Value: "tested"}, {Name: "class", Value: "5 cm RMSE_V"}, {Name: "points called for", Value: "30"}}},
				{Subject: "horizontal", Case: "produced", Fields: []report.StatementField{{Name: "kind", Value: "not tested: produced to meet"}}, Missing: []string{"horizontal class: the limits claim none"}}},
			Measures: []report.Measure{{ID: "nva_rmse_v", Name: "NVA RMSE_V", N: a.N, ValueM: a.RMSEWithSurveyM, LimitM: report.F(0.05), Result: result(*a.RMSEWithSurveyM, 0.05), Source: "ASPRS Edition 2, sections 7.4 to 7.6"}}},
		{ID: "asprs-1", Title: "ASPRS Positional Accuracy Standards, Edition 1, Version 1.0 (2014)", ClassM: report.F(0.05), RequiredOpen: 20, RequiredVegetated: 5, RequiredHorizontal: 20,
			RequiredSource: "ASPRS Edition 1, table C.1", Case: "tested", TakeFrom: "ASPRS Edition 1, section 7.16", Fields: []report.StatementField{{Name: "kind", Value: "tested"}},
			Measures: []report.Measure{{ID: "nva_rmse", Name: "NVA RMSEz", N: a.N, ValueM: a.RMSEM, LimitM: report.F(0.05), Result: result(*a.RMSEM, 0.05), Source: "ASPRS Edition 1, section 7.5"}}}}
}

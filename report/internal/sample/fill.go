package sample

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"sidelap/report"

	"github.com/paulmach/orb"
)

func fillOverlap(s *Survey, pairs []cells, fault float64) {
	rec := s.Record
	var all []float64
	for _, c := range pairs {
		q := summarize(c.dz)
		all = append(all, c.dz...)
		w := math.Min(c.bounds.Max[0]-c.bounds.Min[0], c.bounds.Max[1]-c.bounds.Min[1])
		relation, trend := report.Text("opposite"), 0.0
		if c.b == 5 {
			relation = "crossing"
		} else {
			trend = -fault / 50
		}
		p := report.Pair{A: stripID(c.a), B: stripID(c.b), Relation: relation, OverlapM2: report.F((c.bounds.Max[0] - c.bounds.Min[0]) * (c.bounds.Max[1] - c.bounds.Min[1])),
			SidelapPct: report.F(w), SidelapP5Pct: report.F(w - 2.5), Cells: int64(len(c.dz)), MeanM: report.F(q.mean), MedianM: report.F(q.median), StdM: report.F(q.std),
			RMSDM: report.F(q.rms), NMADM: report.F(q.nmad), P95AbsM: report.F(q.p95), MaxAbsM: report.F(q.maxAbs), WithinLimitPct: within(c.dz), AboveTwicePct: above2(c.dz),
			LaterHigherPct: share(c.dz, func(v float64) bool { return v > 0 }),
			Flagged:        []report.Flagged{{Reason: "steep", Cells: 812}, {Reason: "rough", Cells: 640}, {Reason: "thin", Cells: 12}},
			Trend:          &report.Trend{SlopeMPerM: report.F(trend + 0.00001), SigmaMPerM: report.F(0.00002), RangeM: report.F(trend * 40), Significant: trend != 0},
			Horizontal: &report.Shift{Determinable: true, EastM: report.F(0.012), NorthM: report.F(-0.008), UpM: report.F(q.mean), SigmaEastM: report.F(0.006),
				SigmaNorthM: report.F(0.007), SigmaUpM: report.F(0.0006), ResidualM: report.F(q.std), Cells: int64(len(c.dz)), CellsSloping: report.I(412)}}
		for i, v := range c.dz {
			if math.Abs(v) == q.maxAbs {
				p.MaxAbsEM, p.MaxAbsNM = report.F(c.e[i]), report.F(c.n[i])
			}
		}
		rec.Pairs = append(rec.Pairs, p)
	}
	q := summarize(all)
	rec.Separation = &report.Separation{CellM: cellM, Pairs: int64(len(pairs)), Cells: int64(len(all)), MeanM: report.F(q.mean), MedianM: report.F(q.median), StdM: report.F(q.std),
		RMSDM: report.F(q.rms), NMADM: report.F(q.nmad), P95AbsM: report.F(q.p95), MaxAbsM: report.F(q.maxAbs), WithinLimitPct: within(all), AboveTwicePct: above2(all),
		Flagged: []report.Flagged{{Reason: "steep", Cells: 7308}, {Reason: "rough", Cells: 5760}, {Reason: "thin", Cells: 108}}}
	rec.Repeatability = &report.Repeatability{Cells: 41231, RMSM: report.F(0.0112), P95M: report.F(0.0231), MaxM: report.F(0.0274),
		LBS: &report.Precision{CellM: 2, Cells: 220, MinM: report.F(-0.012), MaxM: report.F(0.0282), RMSDM: report.F(0.0151), P95M: report.F(0.0244)}}
	rec.Coverage = &report.Coverage{CellM: cellM, AreaM2: report.F(areaW * areaH), AreaSource: "outline of the cloud", AggregateDensityPerM2: report.F(101.37), StripDensityPerM2: report.F(57.4),
		DensityP5PerM2: report.F(38.25), SpacingM: report.F(0.132), CellsWithReturnPct: report.F(99.6118), CoveredTwicePct: report.F(78.4),
		Distribution: &report.Distribution{CellM: 0.26, Cells: 1_508_876, WithReturnPct: report.F(98.1), LowestPct: report.F(96.4)}, Voids: report.I(1), LargestVoidM2: report.F(326.7), VoidMinM2: report.F(0.279),
		VoidList: []report.Void{{ID: "V1", EM: e0 + 205, NM: n0 + 62, AreaM2: 326.7, Note: "water"}}}
	s.Layers.Separations = histogram(all, -0.2, 0.005, 80)
}

func fillChecks(s *Survey, fault float64, r *rand.Rand) {
	var open, veg []float64
	ck := &report.Checkpoints{File: "checks.csv", Surface: "TIN of the ground returns", SurveyRMSEM: report.F(0.012), SurveySource: "rms of the points' own figures",
		Places: report.I(17), PlaceRadiusM: report.F(50), NRead: 38}
	worst := 0.0
	for i := range 38 {
		e := e0 + 12 + 315*math.Mod(float64(i)*0.618034, 1)
		n := n0 + 10 + 205*math.Mod(float64(i)*0.754878, 1)
		row := report.CheckRow{ID: fmt.Sprintf("CP%02d", i+1), EM: e, NM: n, ZM: report.F(height(e, n)), Cover: "open", Code: "HARD", Used: true, SlopePct: report.F(1 + 5*r.Float64()),
			RoughM: report.F(0.011), Returns: report.I(int64(180 + r.IntN(80))), NearestM: report.F(0.05 * r.Float64()), Strips: []string{"101", "102"}, SurveyM: report.F(0.012), Source: "network"}
		dz := 0.006 + 0.016*r.NormFloat64() + fault*0.5*r.NormFloat64()
		switch {
		case i >= 32 && i < 36:
			row.Cover, row.Code = "vegetated", "GRASS"
			dz = 0.05 + 0.03*r.NormFloat64()
		case i == 36:
			row.Used, row.Reason, row.SlopePct = false, "slope above 10 %", report.F(23.4)
		case i == 37:
			row.Used, row.Reason, row.Returns = false, "no ground return within 1.5 m", report.I(0)
		}
		if i < 37 {
			row.DzM, row.CloudZM, row.PlaneDzM = report.F(dz), report.F(*row.ZM+dz), report.F(dz+0.002)
		}
		if row.Used {
			ck.NUsed++
			if row.Cover == "open" {
				open = append(open, dz)
			} else {
				veg = append(veg, dz)
			}
			if math.Abs(dz) > worst {
				worst, ck.Worst = math.Abs(dz), report.Text(row.ID)
			}
		} else {
			ck.NExcluded++
		}
		ck.Points = append(ck.Points, row)
	}
	ck.NVA, ck.VVA = accuracy(open, 0.012), accuracy(veg, 0.012)
	if fault == 0 {
		ck.VVA.Normal = nil
	}
	ck.Statement = &report.Statement{Standard: "ASPRS Positional Accuracy Standards for Digital Geospatial Data", Edition: "Edition 2, Version 2.0 (2024)", Case: "tested", ClassM: report.F(0.05), Component: "RMSE_V",
		NVAM: ck.NVA.RMSEWithSurveyM, NVACount: ck.NVA.N, VVAM: ck.VVA.RMSEWithSurveyM, VVAMeasure: "rmse", VVACount: ck.VVA.N, PointsRequired: report.I(30), SurveyRMSEM: report.F(0.012), Complete: true}
	fillPoints(s.Record, ck, open)
	s.Record.Checkpoints = ck
}

func criterion(id, name, group string, v *float64, limit float64, unit, sense, source string) report.Criterion {
	c := report.Criterion{ID: id, Name: name, Group: group, Value: v, Limit: report.F(limit), Unit: unit, Sense: sense, Source: source, Result: report.Pass}
	if (sense == "max" && *v > limit) || (sense == "min" && *v < limit) {
		c.Result = report.Fail
	}
	return c
}

func fillVerdict(s *Survey, fault float64) {
	rec := s.Record
	src := "ASPRS Edition 2, section 7.14"
	v := report.Verdict{Result: report.Pass, Limits: "asprs-ed2:5", Title: "ASPRS Edition 2, 5 cm class", Source: "ASPRS Positional Accuracy Standards, Edition 2 (2023, v2.0 2024)",
		Criteria: []report.Criterion{
			criterion("swath_rmsd", "strip to strip, RMSD", "relative", rec.Separation.RMSDM, 0.04, "m", "max", src),
			criterion("within_swath_max", "within a strip, largest difference on smooth surfaces", "relative", rec.Repeatability.MaxM, 0.03, "m", "max", src),
			criterion("nva_rmse", "check points in the open, RMSE with survey error", "absolute", rec.Checkpoints.NVA.RMSEWithSurveyM, 0.05, "m", "max", "ASPRS Edition 2, section 7.4"),
			{ID: "vva_rmse", Name: "check points in vegetation, RMSE with survey error", Group: "absolute", Value: rec.Checkpoints.VVA.RMSEWithSurveyM, Unit: "m", Sense: "report", Result: report.NotJudged,
				Reason: "reported as found: the standard sets no limit", Source: "ASPRS Edition 2, section 7.4"},
		}}
	for _, c := range v.Criteria {
		if c.Result == report.Fail {
			v.Result = report.Fail
		}
	}
	rec.Verdict = v
	rec.Causes = []report.Cause{}
	rec.Findings = []report.Finding{{ID: "geoid-unknown", Severity: "warning", Text: "the geoid model is not known", Evidence: "no vertical part in the coordinate system of 6 of 6 files", DecideBy: "ask who processed the cloud"}}
	if fault == 0 {
		return
	}
	// The tilt of a strip, half the separations' from one side of it to the other: its right lies high, roll counts right wing down.
	rollDeg := -fault / 2 / (stripW / 2) * 180 / math.Pi
	rec.Causes = []report.Cause{
		{Kind: "boresight_roll", Estimate: report.F(rollDeg), Sigma: report.F(0.0008), Unit: "deg", Significant: true, ExplainedPct: report.F(81.2), ConfoundedWith: []string{"strip_height"}, Evidence: "tilt of opposite sign in opposed strips, 9 of 9 pairs"},
		{Kind: "strip_height", Strip: "103", Estimate: report.F(-0.0398), Sigma: report.F(0.0006), Unit: "m", Significant: true, ExplainedPct: report.F(9.4), Evidence: "mean separation of all 3 pairs of strip 103"},
		{Kind: "boresight_pitch", Estimate: report.F(0.0004), Sigma: report.F(0.0031), Unit: "deg"},
	}
	rec.Findings = append([]report.Finding{{ID: "roll", Severity: "fault", Text: "the strips are tilted against one another as a roll error of the mounting gives", Evidence: "trend across the overlap of -1.8 mm/m in 4 of 4 opposed pairs",
		Rivals: []string{"scan angle scale: would bend crossing strips as well, which it does not"}, DecideBy: "a cross strip over flat ground", Strips: []string{"101", "102", "103"}, Places: []report.Place{{EM: e0 + 80, NM: n0 + 40}}}}, rec.Findings...)
	rec.Correction = &report.Correction{Applied: false, Parameters: []report.Parameter{{Kind: "boresight_roll", Value: report.F(rollDeg), Sigma: report.F(0.0008), Unit: "deg", Significant: true}},
		Before:  &report.Level{Cells: rec.Separation.Cells, RMSDM: rec.Separation.RMSDM, NMADM: rec.Separation.NMADM, P95AbsM: rec.Separation.P95AbsM, MaxAbsM: rec.Separation.MaxAbsM},
		After:   &report.Level{Cells: rec.Separation.Cells, RMSDM: report.F(0.0151), NMADM: report.F(0.0142), P95AbsM: report.F(0.0291), MaxAbsM: report.F(0.0711)},
		Holdout: &report.Holdout{Cells: 4120, BeforeRMSM: report.F(0.0622), AfterRMSM: report.F(0.0153), NoiseFloorM: report.F(0.0148)}, Statement: "not applied: shown as it would be"}
	rec.Field = &report.Field{Verdict: report.Caution, Checks: []report.FieldCheck{
		{ID: "base_interval", Name: "base log interval", Value: report.F(1), Unit: "s", Limit: report.F(1), Sense: "max", Result: report.Go, Basis: "practice 5"},
		{ID: "sidelap", Name: "sidelap, 5th percentile", Value: report.F(37.5), Unit: "pct", Limit: report.F(50), Sense: "min", Result: report.Caution, Strips: []string{"103", "104"}, Basis: "practice 5"},
		{ID: "pdop", Name: "PDOP on the lines", Unit: "1", Limit: report.F(3), Sense: "max", Result: report.NotJudged, Basis: "practice 5", Note: "no satellite data given"}}}
}

func layers(pairs []cells) *report.Layers {
	grid := func() *report.Grid {
		g := &report.Grid{Col0: e0, Row0: n0, Cols: areaW, Rows: areaH, CellM: cellM, Values: make([]float32, areaW*areaH)}
		for i := range g.Values {
			g.Values[i] = float32(math.NaN())
		}
		return g
	}
	l := &report.Layers{Relief: grid(), Density: grid(), StripCount: grid()}
	for i := range areaW * areaH {
		e, n := float64(e0+i%areaW)+0.5, float64(n0+i/areaW)+0.5
		if inPond(e, n) {
			continue
		}
		k := 0
		for j := range 6 {
			if stripBound(j).Contains(orb.Point{e, n}) {
				k++
			}
		}
		l.Relief.Values[i], l.StripCount.Values[i] = float32(height(e, n)), float32(k)
		l.Density.Values[i] = float32(math.Round(float64(k) * (57 + 8*math.Sin(e/9)*math.Cos(n/11))))
	}
	for _, c := range pairs {
		b := c.bounds
		g := &report.Grid{Col0: int32(b.Min[0]), Row0: int32(b.Min[1]), Cols: int(b.Max[0] - b.Min[0]), Rows: int(b.Max[1] - b.Min[1]), CellM: cellM}
		g.Values = make([]float32, g.Cols*g.Rows)
		for i := range g.Values {
			g.Values[i] = float32(math.NaN())
		}
		flags := &report.Grid{Col0: g.Col0, Row0: g.Row0, Cols: g.Cols, Rows: g.Rows, CellM: cellM, Values: slices.Clone(g.Values)}
		for i := range g.Values { // the quarry's edge: there are differences, and they are flagged
			if e, n := float64(int(g.Col0)+i%g.Cols), float64(int(g.Row0)+i/g.Cols)+0.5; math.Abs(n-n0-230) < 10 && int(e)%3 > 0 {
				g.Values[i], flags.Values[i] = float32(0.3*math.Sin(e/3)), 1
			}
		}
		for i, v := range c.dz {
			flags.Values[(int(c.n[i])-int(g.Row0))*g.Cols+int(c.e[i])-int(g.Col0)] = 0
			g.Values[(int(c.n[i])-int(g.Row0))*g.Cols+int(c.e[i])-int(g.Col0)] = float32(v)
		}
		l.Pairs = append(l.Pairs, report.PairGrid{A: stripID(c.a), B: stripID(c.b), Grid: g, Flags: flags})
		l.Overlaps = append(l.Overlaps, report.Shape{ID: stripID(c.a) + "/" + stripID(c.b), A: stripID(c.a), B: stripID(c.b), Area: orb.MultiPolygon{b.ToPolygon()}})
	}
	l.Separation, l.Used = report.Combine(l.Pairs)
	for i := range 6 {
		b := stripBound(i)
		line := orb.LineString{{(b.Min[0] + b.Max[0]) / 2, b.Min[1]}, {(b.Min[0] + b.Max[0]) / 2, b.Max[1]}}
		if i == 5 {
			line = orb.LineString{{b.Min[0], (b.Min[1] + b.Max[1]) / 2}, {b.Max[0], (b.Min[1] + b.Max[1]) / 2}}
		} else if i%2 == 1 {
			line.Reverse()
		}
		l.Strips = append(l.Strips, report.Shape{ID: stripID(i), Area: orb.MultiPolygon{b.ToPolygon()}, Line: line})
	}
	var pond orb.Ring
	for k := range 25 {
		t := -2 * math.Pi * float64(k) / 24
		pond = append(pond, orb.Point{e0 + 205 + 13*math.Cos(t), n0 + 62 + 8*math.Sin(t)})
	}
	pond[24] = pond[0]
	l.Voids = []report.Shape{{ID: "V1", Area: orb.MultiPolygon{{pond}}}}
	l.Profiles = []report.Profile{profile()}
	return l
}

func profile() report.Profile {
	r := rand.New(rand.NewPCG(5, 5))
	p := report.Profile{Title: "over the shed's roof", From: orb.Point{e0 + 110, n0 + 178}, To: orb.Point{e0 + 150, n0 + 178}, WidthM: 0.5, Strips: []string{"102", "103"}}
	for i := range 2400 {
		d := 40 * r.Float64()
		z := height(p.From[0]+d, p.From[1]) + 0.012*r.NormFloat64() + 0.03*float64(i%2)
		p.Points = append(p.Points, report.ProfilePoint{DistM: d, ZM: z, Strip: i % 2})
	}
	return p
}

// fillRasters lists the rasters that Render will write.
func fillRasters(s *Survey) { s.Record.Rasters = nil }

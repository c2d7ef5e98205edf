package report

import (
	"slices"

	"github.com/paulmach/orb"
)

// featureLayer is one layer of the map of vectors: features of one kind of
// geometry with the same fields. Coordinates are metres in the cloud's CRS.
type featureLayer struct {
	name, title string
	kind        string // MULTIPOLYGON, LINESTRING, MULTILINESTRING, POINT
	fields      []featureField
	features    []feature
}

// featureField is a field: TEXT, REAL, INTEGER or BOOLEAN. Its name is the key
// of the record.
type featureField struct{ name, kind string }

// feature is a geometry with a value for each field, nil when not determined.
type feature struct {
	geometry orb.Geometry
	values   []any
}

// real, count and text turn values of the record into values of a field.
func realValue(p *float64) any {
	if p == nil {
		return nil
	}
	return *p
}

func countValue(p *int64) any {
	if p == nil {
		return nil
	}
	return *p
}

func textValue(t Text) any {
	if t == "" {
		return nil
	}
	return string(t)
}

func polygons(a orb.MultiPolygon) orb.Geometry {
	if len(a) == 0 {
		return nil
	}
	return a
}

// featureLayers returns the layers that have features: strips, their centre
// lines, overlap regions, voids, check points, findings, sensor path.
func featureLayers(rec *Record, l *Layers) []featureLayer {
	all := []featureLayer{stripAreas(rec, l), stripLines(rec, l), overlapAreas(rec, l), voidAreas(rec, l), checkPlaces(rec), findingPlaces(rec)}
	if len(l.Path) > 0 {
		all = append(all, featureLayer{name: "path", title: "sensor path", kind: "MULTILINESTRING", fields: []featureField{{"source", "TEXT"}},
			features: []feature{{geometry: l.Path, values: []any{pathText(rec.Path)}}}})
	}
	return slices.DeleteFunc(all, func(f featureLayer) bool { return len(f.features) == 0 })
}

// fieldResult returns the gravest result of the field checks that name a strip.
func fieldResult(rec *Record, strip string) any {
	if rec.Field == nil {
		return nil
	}
	worst, rank := "", 0
	for _, c := range rec.Field.Checks {
		if r := map[string]int{Go: 1, NotJudged: 2, Caution: 3, Refly: 4}[c.Result]; r > rank && slices.Contains(c.Strips, strip) {
			worst, rank = c.Result, r
		}
	}
	return textValue(Text(worst))
}

func stripAreas(rec *Record, l *Layers) featureLayer {
	f := featureLayer{name: "strips", title: "strips", kind: "MULTIPOLYGON", fields: []featureField{{"id", "TEXT"}, {"source", "TEXT"}, {"points", "INTEGER"}, {"first_return_density_per_m2", "REAL"},
		{"heading_deg", "REAL"}, {"length_m", "REAL"}, {"speed_mps", "REAL"}, {"height_above_ground_m", "REAL"}, {"start_gps_s", "REAL"}, {"end_gps_s", "REAL"}, {"field", "TEXT"}}}
	for i := range rec.Strips {
		s := &rec.Strips[i]
		if g := polygons(areaOf(l.Strips, s.ID)); g != nil {
			f.features = append(f.features, feature{g, []any{s.ID, s.Source, s.Points, realValue(s.DensityPerM2), realValue(s.HeadingDeg), realValue(s.LengthM), realValue(s.SpeedMPS),
				realValue(s.HeightAboveGroundM), realValue(s.StartGPSS), realValue(s.EndGPSS), fieldResult(rec, s.ID)}})
		}
	}
	return f
}

func areaOf(shapes []Shape, id string) orb.MultiPolygon {
	for i := range shapes {
		if shapes[i].ID == id {
			return shapes[i].Area
		}
	}
	return nil
}

func stripLines(rec *Record, l *Layers) featureLayer {
	f := featureLayer{name: "strip_lines", title: "centre lines of the strips, in flight direction", kind: "LINESTRING", fields: []featureField{{"id", "TEXT"}, {"heading_deg", "REAL"}}}
	for i := range rec.Strips {
		for k := range l.Strips {
			if s := &l.Strips[k]; s.ID == rec.Strips[i].ID && len(s.Line) > 1 {
				f.features = append(f.features, feature{s.Line, []any{s.ID, realValue(rec.Strips[i].HeadingDeg)}})
			}
		}
	}
	return f
}

func overlapAreas(rec *Record, l *Layers) featureLayer {
	f := featureLayer{name: "overlaps", title: "overlap regions with the separation of their strips", kind: "MULTIPOLYGON", fields: []featureField{{"a", "TEXT"}, {"b", "TEXT"}, {"relation", "TEXT"}, {"overlap_m2", "REAL"},
		{"sidelap_pct", "REAL"}, {"cells", "INTEGER"}, {"mean_m", "REAL"}, {"median_m", "REAL"}, {"rmsd_m", "REAL"}, {"nmad_m", "REAL"}, {"p95_abs_m", "REAL"}, {"max_abs_m", "REAL"}, {"within_limit_pct", "REAL"}}}
	for i := range rec.Pairs {
		p := &rec.Pairs[i]
		for k := range l.Overlaps {
			if s := &l.Overlaps[k]; s.A == p.A && s.B == p.B && len(s.Area) > 0 {
				f.features = append(f.features, feature{s.Area, []any{p.A, p.B, textValue(p.Relation), realValue(p.OverlapM2), realValue(p.SidelapPct), p.Cells, realValue(p.MeanM), realValue(p.MedianM), realValue(p.RMSDM),
					realValue(p.NMADM), realValue(p.P95AbsM), realValue(p.MaxAbsM), realValue(p.WithinLimitPct)}})
			}
		}
	}
	return f
}

func voidAreas(rec *Record, l *Layers) featureLayer {
	f := featureLayer{name: "voids", title: "places without returns", kind: "MULTIPOLYGON", fields: []featureField{{"id", "TEXT"}, {"area_m2", "REAL"}, {"note", "TEXT"}}}
	if rec.Coverage == nil {
		return f
	}
	for _, v := range rec.Coverage.VoidList {
		if g := polygons(areaOf(l.Voids, v.ID)); g != nil {
			f.features = append(f.features, feature{g, []any{v.ID, v.AreaM2, textValue(v.Note)}})
		}
	}
	return f
}

func checkPlaces(rec *Record) featureLayer {
	f := featureLayer{name: "checkpoints", title: "check points, dz is cloud minus survey", kind: "POINT", fields: []featureField{{"id", "TEXT"}, {"z_m", "REAL"}, {"cloud_z_m", "REAL"}, {"dz_m", "REAL"}, {"cover", "TEXT"}, {"used", "BOOLEAN"},
		{"reason", "TEXT"}, {"slope_pct", "REAL"}, {"returns", "INTEGER"}, {"survey_sigma_m", "REAL"}, {"outlier", "BOOLEAN"}}}
	if rec.Checkpoints == nil {
		return f
	}
	for i := range rec.Checkpoints.Points {
		p := &rec.Checkpoints.Points[i]
		f.features = append(f.features, feature{orb.Point{p.EM, p.NM}, []any{p.ID, realValue(p.ZM), realValue(p.CloudZM), realValue(p.DzM), p.Cover, p.Used, textValue(p.Reason), realValue(p.SlopePct), countValue(p.Returns), realValue(p.SurveyM), p.Outlier}})
	}
	return f
}

func findingPlaces(rec *Record) featureLayer {
	f := featureLayer{name: "findings", title: "places that findings point at", kind: "POINT", fields: []featureField{{"id", "TEXT"}, {"severity", "TEXT"}, {"text", "TEXT"}, {"decide_by", "TEXT"}}}
	for i := range rec.Findings {
		for _, p := range rec.Findings[i].Places {
			f.features = append(f.features, feature{orb.Point{p.EM, p.NM}, []any{rec.Findings[i].ID, rec.Findings[i].Severity, rec.Findings[i].Text, textValue(rec.Findings[i].DecideBy)}})
		}
	}
	return f
}

// scaleGeometry divides all coordinates by the metres in one unit.
func scaleGeometry(g orb.Geometry, unitM float64) orb.Geometry {
	if unitM == 1 {
		return g
	}
	return mapPoints(orb.Clone(g), func(p orb.Point) orb.Point { return orb.Point{p[0] / unitM, p[1] / unitM} })
}

// mapPoints replaces every point of a geometry.
func mapPoints(g orb.Geometry, to func(orb.Point) orb.Point) orb.Geometry {
	each := func(p []orb.Point) {
		for i := range p {
			p[i] = to(p[i])
		}
	}
	switch g := g.(type) {
	case orb.Point:
		return to(g)
	case orb.LineString:
		each(g)
	case orb.MultiLineString:
		for _, l := range g {
			each(l)
		}
	case orb.MultiPolygon:
		for _, p := range g {
			for _, r := range p {
				each(r)
			}
		}
	}
	return g
}

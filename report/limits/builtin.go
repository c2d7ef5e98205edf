package limits

import (
	"fmt"
	"strconv"
)

// Names of the standards, as printed beside each criterion.
const (
	ed1Name = "ASPRS Positional Accuracy Standards for Digital Geospatial Data, Edition 1, Version 1.0 (2014)"
	ed2Name = "ASPRS Positional Accuracy Standards for Digital Geospatial Data, Edition 2, Version 2.0 (2024)"
	lbsName = "USGS 3DEP Lidar Base Specification 2025 rev. A"

	ed1Short = "ASPRS Edition 1"
	ed2Short = "ASPRS Edition 2"
	lbsShort = "USGS LBS 2025 rev. A"
)

// thirds are the listed classes that are rounded thirds of a metre.
//
// Source: ASPRS Edition 1, annex B: 3.00 X is printed as 100, 200, 1000 cm for them.
var thirds = map[float64]float64{33.3: 100. / 3, 66.7: 200. / 3, 333.3: 1000. / 3}

// asprs makes the set of class cm (RMSE in centimetres).
//
// Source: the factors 0.60, 0.80, 1.60 (both editions), 1.96 and 3.00 (Edition 1):
// accuracy-standards digest, sections 1.2 and 2.3.
func asprs(b Basis, cm float64) *Set {
	label := strconv.FormatFloat(cm, 'g', -1, 64)
	s := &Set{Name: fmt.Sprintf("%s:%s", b, label), Basis: b}
	if third, ok := thirds[cm]; ok {
		cm = third
		s.Notes = append(s.Notes, fmt.Sprintf("class %s cm is taken as %s cm, a third of a metre or a multiple", label, strconv.FormatFloat(cm, 'f', 4, 64)))
	}
	x := cm / 100
	s.ClassM = x
	where := ed2Short + ", section 7.14"
	if b == ASPRSEd1 {
		s.Title, s.Source, where = "ASPRS Edition 1, "+label+" cm vertical class", ed1Name, ed1Short+", vertical accuracy classes"
	} else {
		s.Title, s.Source = "ASPRS Edition 2, "+label+" cm vertical class", ed2Name
	}
	s.Limits = []Limit{
		{ID: "swath_rmsd", Limit: scaled(cm, 80), Sense: Max, Source: where},
		{ID: "swath_max", Limit: scaled(cm, 160), Sense: Max, Source: where},
		{ID: "smooth_max", Limit: scaled(cm, 60), Sense: Max, Source: where},
	}
	if b == ASPRSEd1 {
		s.Limits = append(s.Limits,
			Limit{ID: "nva_rmse", Limit: x, Sense: Max, Source: where},
			Limit{ID: "nva_95", Limit: scaled(cm, 196), Sense: Max, Source: where},
			Limit{ID: "vva_p95", Limit: scaled(cm, 300), Sense: Max, Source: where, Optional: true})
		return s
	}
	s.Limits = append(s.Limits,
		Limit{ID: "nva_rmse_v", Limit: x, Sense: Max, Source: ed2Short + ", section 7.4"},
		Limit{ID: "vva_rmse_v", Sense: Report, Source: ed2Short + ", section 7.4"})
	return s
}

// scaled returns class times factor in metres. cm and factor in hundredths are
// multiplied first, so that 0.60 x 5 cm is the number nearest to 0.03.
func scaled(cm, hundredths float64) float64 { return cm * hundredths / 10000 }

// qualityLevel is one row of the quality levels.
//
// Source: Lidar Base Specification 2025 rev. A, tables 1, 2 and 4
// (accuracy-standards digest, section 4.1).
type qualityLevel struct {
	name            string
	densityPerM2    float64
	nvaM            float64
	smoothM, swathM float64
}

var qualityLevels = []qualityLevel{
	{"QL0", 8.0, 0.050, 0.03, 0.04},
	{"QL1", 8.0, 0.100, 0.06, 0.08},
	{"QL2", 2.0, 0.100, 0.06, 0.08},
	{"QL3", 0.5, 0.200, 0.12, 0.16},
}

func lbs(q *qualityLevel) *Set {
	return &Set{
		Name: "lbs:" + q.name, Title: "USGS Lidar Base Specification, " + q.name, Source: lbsName, Basis: LBS, ClassM: q.nvaM,
		Limits: []Limit{
			{ID: "swath_rmsd", Limit: q.swathM, Sense: Max, Source: lbsShort + ", table 2"},
			{ID: "smooth_rmsd", Limit: q.smoothM, Sense: Max, Source: lbsShort + ", table 2"},
			{ID: "nva_rmse_v", Limit: q.nvaM, Sense: Max, Source: lbsShort + ", table 4"},
			{ID: "vva_rmse_v", Sense: Report, Source: lbsShort + ", table 4"},
			{ID: "strip_density", Limit: q.densityPerM2, Sense: Min, Source: lbsShort + ", table 1"},
			{ID: "distribution", Limit: 90, Sense: Min, Source: lbsShort + ", spatial distribution and regularity"},
			{ID: "voids", Limit: 0, Sense: Max, Source: lbsShort + ", data voids"},
		},
		Notes: []string{
			"the specification also asks for a review of the swath separation images by eye (local and holistic); it is not judged here",
			"the overlap of 75 m with every neighbouring swath is written for crewed aircraft and is not judged here",
		},
	}
}

package simulate

import (
	"encoding/json"
	"io"
	"math"
)

// Outline returns the corners of the area that was ordered, map coordinates, closed, counter-clockwise: as long as the
// strips less 4 m at each end, as wide as the outer strips lie apart and half a swath more.
func (f *Flight) Outline() [][2]float64 {
	s := &f.Scenario
	a := s.Plan.HeadingDeg * math.Pi / 180
	b := box{sin: math.Sin(a), cos: math.Cos(a)}
	l := s.Plan.StripLengthM/2 - 4
	w := float64(max(s.Plan.Strips, 1)-1)/2*s.Plan.SpacingM + 0.5*s.Plan.HeightM*math.Tan(s.Scanner.FieldOfViewDeg/2*math.Pi/180)
	var out [][2]float64
	for _, c := range [5][2]float64{{-l, -w}, {-l, w}, {l, w}, {l, -w}, {-l, -w}} {
		e, n := b.toMap(c[0], c[1])
		out = append(out, [2]float64{s.Site.CentreEM + e, s.Site.CentreNM + n})
	}
	return out
}

// WriteArea writes the outline as GeoJSON, longitude and latitude on WGS 84 (RFC 7946).
func (f *Flight) WriteArea(path string) error {
	ring := f.Outline()
	for i, c := range ring {
		lat, lon := f.utm.Inverse(c[0], c[1])
		ring[i] = [2]float64{lon * 180 / math.Pi, lat * 180 / math.Pi}
	}
	doc := map[string]any{
		"type": "FeatureCollection",
		"features": []any{map[string]any{
			"type":       "Feature",
			"properties": map[string]any{"name": f.Scenario.Site.Name},
			"geometry":   map[string]any{"type": "Polygon", "coordinates": [][][2]float64{ring}},
		}},
	}
	return writeAtomic(path, func(w io.Writer) error {
		e := json.NewEncoder(w)
		e.SetIndent("", " ")
		return e.Encode(doc)
	})
}

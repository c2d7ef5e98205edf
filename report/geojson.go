package report

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"

	"sidelap/las/crs"
	"sidelap/trajectory/geodesy"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
)

// ErrNoProjection says that positions cannot be turned into longitude and
// latitude: the projection of the cloud is not known.
var ErrNoProjection = errors.New("the map projection of the cloud is not known, and GeoJSON needs longitude and latitude")

// WriteGeoJSON writes the map of vectors as GeoJSON (RFC 7946): longitude and
// latitude in degrees, in the datum of the cloud's own CRS (not moved to WGS 84:
// the difference is below a few metres). Each feature names its layer.
func WriteGeoJSON(w io.Writer, rec *Record, l *Layers, c *crs.CRS) error {
	if c == nil || c.Projection == nil {
		return ErrNoProjection
	}
	p, err := geodesy.New(c.Projection)
	if err != nil {
		return fmt.Errorf("%w: %w", ErrNoProjection, err)
	}
	fc := geojson.NewFeatureCollection()
	var failed error
	round := func(deg float64) float64 { return math.Round(deg*1e9) / 1e9 } // 0.1 mm
	toDegrees := func(q orb.Point) orb.Point {
		lat, lon, err := p.Inverse(q[0], q[1])
		if err != nil && failed == nil {
			failed = fmt.Errorf("place E %.3f m, N %.3f m: %w", q[0], q[1], err)
		}
		return orb.Point{round(lon * 180 / math.Pi), round(lat * 180 / math.Pi)}
	}
	for _, layer := range featureLayers(rec, l) {
		for _, x := range layer.features {
			f := geojson.NewFeature(rightHanded(mapPoints(orb.Clone(x.geometry), toDegrees)))
			f.Properties["layer"] = layer.name
			for i, field := range layer.fields {
				f.Properties[field.name] = x.values[i]
			}
			fc.Append(f)
		}
	}
	if failed != nil {
		return failed
	}
	e := json.NewEncoder(w)
	e.SetIndent("", " ")
	return e.Encode(fc)
}

// rightHanded turns rings as RFC 7946, section 3.1.6 asks: outer ones against
// the clock, inner ones with it.
func rightHanded(g orb.Geometry) orb.Geometry {
	m, ok := g.(orb.MultiPolygon)
	if !ok {
		return g
	}
	for _, p := range m {
		for i, r := range p {
			if want := orb.CCW; (i == 0) != (r.Orientation() == want) {
				r.Reverse()
			}
		}
	}
	return m
}

package fieldcheck

import (
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/paulmach/orb/geojson"
)

// nameKeys are the properties, and the columns, that name a feature, best first.
var nameKeys = []string{"id", "name", "line"}

func (p *Plan) readGeoJSON(b []byte) error {
	var fc *geojson.FeatureCollection
	var err error
	if fc, err = geojson.UnmarshalFeatureCollection(b); err != nil {
		if f, e := geojson.UnmarshalFeature(b); e == nil {
			fc = &geojson.FeatureCollection{Features: []*geojson.Feature{f}}
		} else if g, e := geojson.UnmarshalGeometry(b); e == nil {
			fc = &geojson.FeatureCollection{Features: []*geojson.Feature{{Geometry: g.Geometry()}}}
		} else {
			return fmt.Errorf("GeoJSON: %w", err)
		}
	}
	p.Geographic = true // RFC 7946
	far := 0.0
	for _, f := range fc.Features {
		if f == nil || f.Geometry == nil {
			continue
		}
		name := ""
		for _, k := range nameKeys {
			if v, ok := f.Properties[k]; ok && name == "" {
				name = fmt.Sprint(v)
			}
		}
		p.add(f.Geometry, name)
		b := f.Geometry.Bound()
		far = max(far, math.Abs(b.Max[0]), math.Abs(b.Max[1]), math.Abs(b.Min[0]), math.Abs(b.Min[1]))
	}
	p.EPSG = statedCRS(b)
	if far > 1000 { // against the standard, but usual: projected metres
		p.Geographic = false
	} else {
		p.EPSG = 0 // degrees: longitude and latitude, on whichever datum
	}
	return nil
}

// statedCRS returns the EPSG code of the member "crs", which GeoJSON had before
// RFC 7946 and programs still write; 0 without one.
func statedCRS(b []byte) int {
	var v struct {
		CRS struct {
			Properties struct {
				Name string `json:"name"`
			} `json:"properties"`
		} `json:"crs"`
	}
	if json.Unmarshal(b, &v) != nil {
		return 0
	}
	name := strings.ToUpper(v.CRS.Properties.Name)
	i := strings.LastIndexByte(name, ':')
	if i < 0 || !strings.Contains(name, "EPSG") {
		return 0
	}
	code, err := strconv.Atoi(name[i+1:])
	if err != nil || code < 0 {
		return 0
	}
	return code
}

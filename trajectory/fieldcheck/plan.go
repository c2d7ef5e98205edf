package fieldcheck

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strconv"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"

	"sidelap/trajectory"
)

// PlanError reports why a plan cannot be read.
type PlanError struct {
	Path   string
	Err    error
	Remedy string
}

func (e *PlanError) Error() string {
	s := e.Path + ": " + e.Err.Error()
	if e.Remedy != "" {
		s += "; " + e.Remedy
	}
	return s
}

// Unwrap returns the reason.
func (e *PlanError) Unwrap() error { return e.Err }

// maxPlanBytes bounds a plan file: outlines of sites have kilobytes.
const maxPlanBytes = 64 << 20

// ReadPlan reads the area, and lines if there are any, from GeoJSON, KML or
// GeoPackage. All polygons together are the area; all lines are planned lines,
// named by a property or element "id" or "name", else counted.
//
// Plan.Geographic says that the coordinates are longitude and latitude; call
// Project before Run.
func ReadPlan(path string) (*Plan, error) {
	st, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	fail := func(err error, remedy string) error { return &PlanError{path, err, remedy} }
	const give = "give a polygon as GeoJSON, KML or GeoPackage"
	if st.Size() > maxPlanBytes {
		return nil, fail(fmt.Errorf("%d MB are too many for an outline", st.Size()>>20), give)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	p := &Plan{Source: path}
	head := bytes.TrimSpace(bytes.TrimPrefix(b, []byte("\xef\xbb\xbf")))
	switch {
	case bytes.HasPrefix(b, []byte("SQLite format 3\x00")):
		err = p.readGeoPackage(path)
	case bytes.HasPrefix(head, []byte("{")):
		err = p.readGeoJSON(head)
	case bytes.HasPrefix(head, []byte("<")):
		err = p.readKML(head)
	case bytes.HasPrefix(b, []byte("PK\x03\x04")):
		err = errors.New("a zip archive (KMZ, or a zipped shape file)")
	default:
		err = errors.New("no GeoJSON, KML or GeoPackage")
	}
	if err != nil {
		return nil, fail(err, give)
	}
	if len(p.Area) == 0 && len(p.Lines) == 0 {
		return nil, fail(errors.New("no polygon and no line in it"), give)
	}
	return p, p.check(path)
}

// check looks at the numbers: finite, and degrees where they should be.
func (p *Plan) check(path string) error {
	var bad error
	p.each(func(x orb.Point) orb.Point {
		switch {
		case math.IsNaN(x[0]) || math.IsInf(x[0], 0) || math.IsNaN(x[1]) || math.IsInf(x[1], 0):
			bad = &PlanError{path, errors.New("a coordinate is not a finite number"), "export it again"}
		case p.Geographic && (math.Abs(x[0]) > 360 || math.Abs(x[1]) > 90):
			bad = &PlanError{path, fmt.Errorf("%g, %g are no longitude and latitude", x[0], x[1]), "export it in longitude and latitude, longitude first"}
		}
		return x
	})
	return bad
}

// each replaces every coordinate.
func (p *Plan) each(f func(orb.Point) orb.Point) {
	for _, poly := range p.Area {
		for _, ring := range poly {
			for i := range ring {
				ring[i] = f(ring[i])
			}
		}
	}
	for _, l := range p.Lines {
		for i := range l.Line {
			l.Line[i] = f(l.Line[i])
		}
	}
}

// Project brings a geographic plan into the grid; a plan in the grid is left alone.
func (p *Plan) Project(g trajectory.Projector) error {
	if !p.Geographic {
		return nil
	}
	if g == nil {
		return &PlanError{p.Source, errors.New("it is in longitude and latitude, and the coordinate system of the path is not known"), "name it with --crs"}
	}
	var bad error
	p.each(func(x orb.Point) orb.Point {
		e, n, err := g.Forward(x[1]/deg, x[0]/deg)
		if err != nil && bad == nil {
			bad = &PlanError{p.Source, fmt.Errorf("%g, %g: %w", x[0], x[1], err), "is it the plan of this site?"}
		}
		return orb.Point{e, n}
	})
	if bad == nil {
		p.Geographic = false
	}
	return bad
}

// add takes a geometry of any kind.
func (p *Plan) add(g orb.Geometry, name string) {
	switch g := g.(type) {
	case orb.Polygon:
		if len(g) > 0 && len(g[0]) >= 4 {
			p.Area = append(p.Area, g)
		}
	case orb.MultiPolygon:
		for _, x := range g {
			p.add(x, name)
		}
	case orb.LineString:
		if len(g) >= 2 {
			if name == "" {
				name = strconv.Itoa(len(p.Lines) + 1)
			}
			p.Lines = append(p.Lines, PlannedLine{ID: name, Line: g})
		}
	case orb.MultiLineString:
		for _, x := range g {
			p.add(x, name)
		}
	case orb.Collection:
		for _, x := range g {
			p.add(x, name)
		}
	}
}

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
		for _, k := range []string{"id", "name", "line"} {
			if v, ok := f.Properties[k]; ok && name == "" {
				name = fmt.Sprint(v)
			}
		}
		p.add(f.Geometry, name)
		b := f.Geometry.Bound()
		far = max(far, math.Abs(b.Max[0]), math.Abs(b.Max[1]), math.Abs(b.Min[0]), math.Abs(b.Min[1]))
	}
	if far > 1000 { // against the standard, but usual: projected metres
		p.Geographic = false
	}
	return nil
}

// readKML takes every Polygon and LineString, with the name of its Placemark.
func (p *Plan) readKML(b []byte) error {
	p.Geographic = true
	d := xml.NewDecoder(bytes.NewReader(b))
	var path []string
	var name, text string
	var poly orb.Polygon
	known := false
	for {
		t, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			return fmt.Errorf("KML: %w", err)
		}
		switch t := t.(type) {
		case xml.StartElement:
			if len(path) > 200 {
				return errors.New("KML: nested too deeply")
			}
			path = append(path, t.Name.Local)
			known = known || t.Name.Local == "kml"
			text = ""
			switch t.Name.Local {
			case "Placemark":
				name = ""
			case "Polygon":
				poly = nil
			}
		case xml.CharData:
			text += string(t)
		case xml.EndElement:
			in := func(e string) bool { return len(path) > 1 && path[len(path)-2] == e }
			switch t.Name.Local {
			case "name":
				if in("Placemark") {
					name = strings.TrimSpace(text)
				}
			case "coordinates":
				pts, err := kmlPoints(text)
				if err != nil {
					return err
				}
				if in("LinearRing") {
					poly = append(poly, orb.Ring(pts))
				} else if in("LineString") {
					p.add(orb.LineString(pts), name)
				}
			case "Polygon":
				p.add(poly, name)
			}
			path = path[:len(path)-1]
			text = ""
		}
	}
	if !known {
		return errors.New("an XML document that is no KML")
	}
	return nil
}

func kmlPoints(s string) ([]orb.Point, error) {
	var out []orb.Point
	for _, tuple := range strings.Fields(s) {
		f := strings.Split(tuple, ",")
		if len(f) < 2 {
			return nil, fmt.Errorf("KML: coordinates %q", tuple)
		}
		lon, err1 := strconv.ParseFloat(f[0], 64)
		lat, err2 := strconv.ParseFloat(f[1], 64)
		if err1 != nil || err2 != nil {
			return nil, fmt.Errorf("KML: coordinates %q", tuple)
		}
		out = append(out, orb.Point{lon, lat})
	}
	return out, nil
}

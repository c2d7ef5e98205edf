package fieldcheck

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strconv"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"sidelap/las/disk"
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

// ReadPlan reads the area, and lines if there are any, from GeoJSON, KML, KMZ or
// GeoPackage. All polygons together are the area; all lines are planned lines,
// named by a property or element "id" or "name", else counted.
//
// Plan.Geographic says that the coordinates are longitude and latitude; call
// Project before Run.
func ReadPlan(path string) (*Plan, error) {
	fail := func(err error, remedy string) error { return &PlanError{path, err, remedy} }
	const give = "give a polygon as GeoJSON, KML, KMZ or GeoPackage"
	b, err := disk.Read(path, maxPlanBytes)
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
		err = p.readKMZ(b)
	default:
		err = errors.New("no GeoJSON, KML, KMZ or GeoPackage")
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

// tidy closes rings that are open, leaves out those without an area, and puts
// the outline, the largest ring, first: files that break these rules are met.
// The direction of a ring never matters here.
func tidy(g orb.Polygon) orb.Polygon {
	var out orb.Polygon
	for _, r := range g {
		if len(r) > 0 && r[0] != r[len(r)-1] {
			r = append(r, r[0])
		}
		if len(r) < 4 {
			continue
		}
		out = append(out, r)
		if k := len(out) - 1; math.Abs(planar.Area(r)) > math.Abs(planar.Area(out[0])) {
			out[0], out[k] = out[k], out[0]
		}
	}
	return out
}

// add takes a geometry of any kind.
func (p *Plan) add(g orb.Geometry, name string) {
	switch g := g.(type) {
	case orb.Polygon:
		if g = tidy(g); len(g) > 0 {
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

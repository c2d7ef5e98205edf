package report

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"path/filepath"
	"sidelap/las/disk"
	"slices"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
)

// layersVersion is the version of layers.json.
const layersVersion = 1

// layersFile is layers.json: what the reports draw and neither the record nor
// the rasters hold. Coordinates are metres in the CRS of the cloud.
type layersFile struct {
	Version     int               `json:"version"`
	Strips      []shapeFile       `json:"strips"`
	Overlaps    []shapeFile       `json:"overlaps"`
	Voids       []shapeFile       `json:"voids"`
	Boundary    *geojson.Geometry `json:"boundary"`
	Path        *geojson.Geometry `json:"path"`
	Profiles    []profileFile     `json:"profiles"`
	Separations *Histogram        `json:"separations,omitempty"`
	Diagnosis   *diagnosisFile    `json:"diagnosis,omitempty"`
}

type shapeFile struct {
	ID   string            `json:"id"`
	A    string            `json:"a,omitempty"`
	B    string            `json:"b,omitempty"`
	Area *geojson.Geometry `json:"area"`
	Line *geojson.Geometry `json:"line"`
}

type profileFile struct {
	Title  string       `json:"title"`
	From   orb.Point    `json:"from"`
	To     orb.Point    `json:"to"`
	WidthM float64      `json:"width_m"`
	Strips []string     `json:"strips"`
	Points [][3]float64 `json:"points"` // distance, height, strip
}

// LoadFolder reads a results folder: its record and, from layers.json and the
// rasters, its layers, so that it can be rendered again without the points.
func LoadFolder(dir string) (*Record, *Layers, error) {
	rec, err := ReadFile(filepath.Join(dir, "results.json"))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil, fmt.Errorf("%s: no results.json in it: name the folder that sidelap assess wrote", dir)
	}
	if err != nil {
		return nil, nil, err
	}
	l := &Layers{}
	if err := l.readShapes(filepath.Join(dir, "layers.json")); err != nil {
		return nil, nil, err
	}
	unitM := 1.0
	if u := rec.CRS.HorizontalUnitM; u != nil {
		unitM = *u
	}
	for i := range rec.Rasters {
		r := &rec.Rasters[i]
		if r.Kind == swathKind { // painted anew
			continue
		}
		if !filepath.IsLocal(filepath.FromSlash(r.Path)) {
			return nil, nil, fmt.Errorf("%s: raster %q lies outside the folder", dir, r.Path)
		}
		g, err := ReadGeoTIFF(filepath.Join(dir, filepath.FromSlash(r.Path)), unitM)
		if err != nil {
			return nil, nil, err
		}
		l.place(r, g)
	}
	return rec, l, nil
}

// place puts a raster where it belongs.
func (l *Layers) place(r *Raster, g *Grid) {
	switch r.Kind {
	case "separation":
		l.Separation = g
	case "separation_before":
		l.Before = g
	case "used":
		l.Used = g
	case "used_before":
		l.BeforeUsed = g
	case "density":
		l.Density = g
	case "strips":
		l.StripCount = g
	case "relief":
		l.Relief = g
	case "intensity":
		l.Intensity = g
	case "separation_pair":
		l.Pairs = append(l.Pairs, PairGrid{A: string(r.A), B: string(r.B), Grid: g})
	case "flags_pair": // listed behind its pair
		for i := range l.Pairs {
			if l.Pairs[i].A == string(r.A) && l.Pairs[i].B == string(r.B) {
				l.Pairs[i].Flags = g
			}
		}
	}
}

func (l *Layers) readShapes(path string) error {
	b, err := disk.Read(path, maxRecordBytes)
	if err != nil {
		return err
	}
	return l.parseShapes(path, b)
}

func (l *Layers) parseShapes(path string, b []byte) error {
	var f layersFile
	if err := json.Unmarshal(b, &f); err != nil {
		return fmt.Errorf("%s: %w", path, jsonPlace(b, err))
	}
	if f.Version != layersVersion {
		return fmt.Errorf("%s: version %d: this program reads version %d; use the version of sidelap that wrote it", path, f.Version, layersVersion)
	}
	if err := f.inRange(); err != nil {
		return fmt.Errorf("%s: %w; assess again to make it anew", path, err)
	}
	l.Strips, l.Overlaps, l.Voids = shapes(f.Strips), shapes(f.Overlaps), shapes(f.Voids)
	l.Boundary, l.Path = area(f.Boundary), lines(f.Path)
	for _, p := range f.Profiles {
		q := Profile{Title: p.Title, From: p.From, To: p.To, WidthM: p.WidthM, Strips: p.Strips}
		for _, x := range p.Points {
			if k := int(x[2]); k >= 0 && k < len(p.Strips) {
				q.Points = append(q.Points, ProfilePoint{DistM: x[0], ZM: x[1], Strip: k})
			}
		}
		l.Profiles = append(l.Profiles, q)
	}
	l.Diagnosis, l.Separations = f.Diagnosis.figures(), f.Separations
	if h := l.Separations; h != nil && (!(h.StepM > 0) || len(h.Counts) > 1<<16) {
		l.Separations = nil
	}
	return nil
}

// maxCoordinateM is more than any coordinate of a map grid on the Earth in metres.
const maxCoordinateM = 1e9

// inRange returns an error when a coordinate, a separation or a number of cells cannot be one.
func (f *layersFile) inRange() error {
	bad := func(v ...float64) bool {
		return slices.ContainsFunc(v, func(x float64) bool { return !(math.Abs(x) <= maxCoordinateM) })
	}
	all := []*geojson.Geometry{f.Boundary, f.Path}
	for _, list := range [][]shapeFile{f.Strips, f.Overlaps, f.Voids} {
		for _, s := range list {
			all = append(all, s.Area, s.Line)
		}
	}
	for _, g := range all {
		if g == nil || g.Geometry() == nil {
			continue
		}
		if b := g.Geometry().Bound(); bad(b.Min[0], b.Min[1], b.Max[0], b.Max[1]) {
			return fmt.Errorf("a coordinate is beyond %g m", float64(maxCoordinateM))
		}
	}
	if err := f.Diagnosis.inRange(bad); err != nil {
		return err
	}
	if h := f.Separations; h != nil && bad(h.LowM, h.StepM, h.StepM*float64(len(h.Counts))) {
		return fmt.Errorf("a value of separations is beyond %g m", float64(maxCoordinateM))
	}
	for _, p := range f.Profiles {
		for _, x := range p.Points {
			if bad(p.From[0], p.From[1], p.To[0], p.To[1], p.WidthM, x[0], x[1], x[2]) {
				return fmt.Errorf("a value of the profile %q is beyond %g m", p.Title, float64(maxCoordinateM))
			}
		}
	}
	return nil
}

func shapes(f []shapeFile) []Shape {
	var out []Shape
	for _, s := range f {
		q := Shape{ID: s.ID, A: s.A, B: s.B, Area: area(s.Area)}
		if s.Line != nil {
			q.Line, _ = s.Line.Geometry().(orb.LineString)
		}
		out = append(out, q)
	}
	return out
}

func area(g *geojson.Geometry) orb.MultiPolygon {
	if g == nil {
		return nil
	}
	m, _ := g.Geometry().(orb.MultiPolygon)
	return m
}

func lines(g *geojson.Geometry) orb.MultiLineString {
	if g == nil {
		return nil
	}
	m, _ := g.Geometry().(orb.MultiLineString)
	return m
}

// millimetres rounds coordinates, so that the file is small and the same everywhere.
func millimetres(g orb.Geometry) *geojson.Geometry {
	round := func(x float64) float64 { return math.Round(x*1000) / 1000 }
	return geojson.NewGeometry(mapPoints(orb.Clone(g), func(p orb.Point) orb.Point { return orb.Point{round(p[0]), round(p[1])} }))
}

func shapeFiles(s []Shape) []shapeFile {
	out := []shapeFile{}
	for _, x := range s {
		f := shapeFile{ID: x.ID, A: x.A, B: x.B}
		if len(x.Area) > 0 {
			f.Area = millimetres(x.Area)
		}
		if len(x.Line) > 1 {
			f.Line = millimetres(x.Line)
		}
		out = append(out, f)
	}
	return out
}

func (l *Layers) writeShapes(w io.Writer) error {
	f := layersFile{Version: layersVersion, Strips: shapeFiles(l.Strips), Overlaps: shapeFiles(l.Overlaps), Voids: shapeFiles(l.Voids), Profiles: []profileFile{}}
	if len(l.Boundary) > 0 {
		f.Boundary = millimetres(l.Boundary)
	}
	if len(l.Path) > 0 {
		f.Path = millimetres(l.Path)
	}
	for _, p := range l.Profiles {
		q := profileFile{Title: p.Title, From: p.From, To: p.To, WidthM: p.WidthM, Strips: p.Strips, Points: make([][3]float64, len(p.Points))}
		for i, x := range p.Points {
			q.Points[i] = [3]float64{math.Round(x.DistM*1000) / 1000, math.Round(x.ZM*1000) / 1000, float64(x.Strip)}
		}
		f.Profiles = append(f.Profiles, q)
	}
	f.Separations = l.Separations
	f.Diagnosis = fileOfDiagnosis(l.Diagnosis)
	b, err := json.Marshal(f)
	if err != nil {
		return err
	}
	_, err = io.WriteString(w, strings.ReplaceAll(string(b), `{"id"`, "\n"+`{"id"`)+"\n")
	return err
}

// complete joins the rasters of flagged pairs and adds the histogram of the separations of all pairs when the caller
// gave none.
func (l *Layers) complete(rec *Record) {
	v := newView(rec)
	l.Diagnosis = fileOfDiagnosis(l.Diagnosis).figures() // as it will be read again
	if l.Used == nil && slices.ContainsFunc(l.Pairs, func(p PairGrid) bool { return p.Flags != nil || p.DrawFlags != nil }) {
		l.Separation, l.Used = Combine(l.Pairs)
	}
	if l.Separations == nil && len(l.Pairs) > 0 {
		limitM, _ := v.scaleLimit()
		h := newHistogram(limitM)
		for k := range l.Pairs {
			p := l.Pairs[k].drawn()
			if p.Grid == nil {
				continue
			}
			for i, x := range p.Grid.Values {
				if p.used(i) {
					h.add(float64(x))
				}
			}
		}
		l.Separations = h
	}
}

// newHistogram makes classes of about an eighth of the scale, five scales to
// each side of zero.
func newHistogram(scaleM float64) *Histogram {
	step, _ := roundStep(scaleM / 8)
	n := int(math.Ceil(5 * scaleM / step))
	return &Histogram{LowM: -float64(n) * step, StepM: step, Counts: make([]int64, 2*n)}
}

// add counts a value; NaN is no value.
func (h *Histogram) add(x float64) {
	switch i := math.Floor((x - h.LowM) / h.StepM); {
	case math.IsNaN(i):
	case i < 0:
		h.Under++
	case int(min(i, 1e9)) >= len(h.Counts):
		h.Over++
	default:
		h.Counts[int(i)]++
	}
}

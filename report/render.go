package report

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"golang.org/x/sync/errgroup"

	"sidelap/las/crs"
	"sidelap/las/disk"
)

// RenderOptions say how a results folder is written.
type RenderOptions struct {
	Force      bool     // replace an existing results folder
	CRS        *crs.CRS // of the rasters; nil: taken from the record
	Letter     bool     // report.pdf on US letter, A4 otherwise
	Brief      bool     // report.pdf as a summary of two pages
	SwathImage bool     // rasters/swath_separation_image.tif beside the others; a folder that has it keeps it
}

// Render writes the whole results folder: results.json, report.html,
// report.pdf, tables/*.csv, rasters/*.tif, map.gpkg, map.geojson where the map
// projection is known, and layers.json for rendering again.
//
// Everything is written into a temporary folder beside dir, which is renamed when
// complete: an interrupted run leaves dir as it was. Only a results folder of
// sidelap is ever replaced, and only with Force; the clouds of a correction are kept. Render fills rec.Rasters.
func Render(dir string, rec *Record, l *Layers, o RenderOptions) error {
	return RenderContext(context.Background(), dir, rec, l, o)
}

// RenderContext is Render that ends with the error of ctx, and writes nothing, when ctx is done.
func RenderContext(ctx context.Context, dir string, rec *Record, l *Layers, o RenderOptions) (err error) {
	dir = filepath.Clean(dir)
	if err := Replaceable(dir, o.Force); err != nil {
		return err
	}
	f, err := disk.NewFolder(dir, keep...)
	if err != nil {
		return err
	}
	defer func() {
		if e := f.Close(); err == nil {
			err = e
		}
	}()
	if err := RenderInto(ctx, f.Path, rec, l, o); err != nil {
		return f.Named(err, dir)
	}
	return f.Replace(keep...)
}

// keep names what a correction has in a results folder besides what Render writes.
var keep = []string{"cloud", "before"}

// RenderInto writes the files of a results folder into dir, which is made if absent. It is for
// a folder that gets its name later; Render is for one that the user sees.
func RenderInto(ctx context.Context, dir string, rec *Record, l *Layers, o RenderOptions) error {
	if l == nil {
		l = &Layers{}
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return err
	}
	l.complete(rec)
	for _, problem := range Check(rec) {
		w := "figures do not agree, a defect of this program, do not rely on them: " + problem
		if !slices.Contains(rec.Warnings, w) {
			rec.Warnings = append(rec.Warnings, w)
		}
	}
	c := o.CRS
	if c == nil {
		c = rec.CRS.CRS()
	}
	image := o.SwathImage || slices.ContainsFunc(rec.Rasters, func(r Raster) bool { return r.Kind == swathKind })
	if err := writeRasters(ctx, dir, rec, l, c, image); err != nil { // the record lists them
		return err
	}
	return together(ctx,
		func() error {
			return writeAtomic(filepath.Join(dir, "report.html"), func(w io.Writer) error { return WriteHTML(w, rec, l) })
		},
		func() error {
			return writeAtomic(filepath.Join(dir, "report.pdf"), func(w io.Writer) error {
				return WritePDF(w, rec, l, PDFOptions{Letter: o.Letter, Brief: o.Brief})
			})
		},
		func() error { return WriteGPKG(filepath.Join(dir, "map.gpkg"), rec, l, c) },
		func() error { return writeMap(filepath.Join(dir, "map.geojson"), rec, l, c) },
		func() error { return WriteFile(filepath.Join(dir, "results.json"), rec) },
		func() error { return writeAtomic(filepath.Join(dir, "layers.json"), l.writeShapes) },
		func() error { return writeTables(filepath.Join(dir, "tables"), rec) },
	)
}

// mostTogether bounds how many files are made at a time, and with them the rasters and pictures in memory.
const mostTogether = 4

// together calls the functions, some at a time, and returns the first error. None is begun when ctx is done.
func together(ctx context.Context, steps ...func() error) error {
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(mostTogether) // also on one core: writing through to the disk is waiting
	for _, step := range steps {
		group.Go(func() error {
			if err := ctx.Err(); err != nil {
				return err
			}
			return step()
		})
	}
	return group.Wait()
}

// writeMap writes map.geojson where the map projection is known.
func writeMap(path string, rec *Record, l *Layers, c *crs.CRS) error {
	var geo bytes.Buffer
	switch err := WriteGeoJSON(&geo, rec, l, c); {
	case errors.Is(err, ErrNoProjection):
		return nil
	case err != nil:
		return err
	}
	return writeAtomic(path, func(w io.Writer) error { _, err := geo.WriteTo(w); return err })
}

func writeTables(dir string, rec *Record) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	v := newView(rec)
	for _, t := range v.tables() {
		if err := writeAtomic(filepath.Join(dir, t.name+".csv"), func(w io.Writer) error { return v.csvTable(w, t) }); err != nil {
			return err
		}
	}
	return writeAtomic(filepath.Join(dir, "tables.md"), func(w io.Writer) error { return WriteMarkdown(w, rec) })
}

// CRS returns the coordinate system of the record for rasters and vectors: from
// its WKT, else from its EPSG code, nil when neither is known.
func (c *CRS) CRS() *crs.CRS {
	if c.WKT != "" {
		if x, err := crs.FromWKT(string(c.WKT)); err == nil {
			return x
		}
	}
	if c.HorizontalEPSG != nil {
		if x, err := crs.FromEPSG(int(*c.HorizontalEPSG)); err == nil {
			return x
		}
	}
	return nil
}

// CRSFrom returns what the record says about a coordinate system. The
// international foot is named in full: "foot" alone does not tell which.
func CRSFrom(c *crs.CRS) CRS {
	out := CRS{Name: Text(c.Name), Horizontal: Text(c.Horizontal.Name), Vertical: Text(c.Vertical.Name),
		HorizontalUnit: unitName(c.Horizontal.Unit), VerticalUnit: unitName(c.Vertical.Unit),
		HorizontalUnitStated: c.Horizontal.Unit.Stated, VerticalUnitStated: c.Vertical.Unit.Stated, WKT: Text(c.WKT), Notes: c.Notes}
	if c.Horizontal.EPSG != 0 {
		out.HorizontalEPSG = I(c.Horizontal.EPSG)
	}
	if c.Vertical.EPSG != 0 {
		out.VerticalEPSG = I(c.Vertical.EPSG)
	}
	if m := c.Horizontal.Unit.M; m > 0 {
		out.HorizontalUnitM = F(m)
	}
	if m := c.Vertical.Unit.M; m > 0 {
		out.VerticalUnitM = F(m)
	}
	return out
}

func unitName(u crs.Unit) Text {
	if u.Equal(crs.InternationalFoot()) {
		return "international foot"
	}
	return Text(u.Name)
}

// rasterFile is one raster of the folder.
type rasterFile struct {
	name, kind, a, b, unit, description string
	grid                                *Grid
	draw                                func() *Grid // makes grid when it is written
	typ                                 SampleType
}

// mostPairRasters is how many pairs have rasters of their own, those of largest
// RMSD: a cloud of hundreds of sub-strips has thousands of pairs.
const mostPairRasters = 200

// rasters lists the rasters of a folder; some of them may have no grid.
func (l *Layers) rasters(v *view) []rasterFile {
	files := []rasterFile{
		{name: "separation", kind: "separation", unit: "m", description: "separation between strips, metres, the largest in size where more than two meet", grid: l.Separation},
		{name: "density", kind: "density", unit: "1/m2", description: "first returns per square metre, all strips", grid: l.Density},
		{name: "strips", kind: "strips", unit: "1", description: "number of strips with a return", grid: l.StripCount, typ: Uint8},
		{name: "separation_before", kind: "separation_before", unit: "m", description: "separation between strips before the correction, metres", grid: l.Before},
		{name: "used_before", kind: "used_before", unit: "1", description: "1 where the separation before the correction entered the statistics, else 0", grid: l.BeforeUsed, typ: Uint8},
		{name: "intensity", kind: "intensity", unit: "1", description: "mean intensity of the last returns, as stored", grid: l.Intensity},
		{name: "relief", kind: "relief", unit: "m", description: "height of the surface, metres", grid: l.Relief},
	}
	if len(v.rec.Pairs) > mostPairRasters { // by the record: a folder read again holds no more pairs than it has rasters of
		files = append(files, rasterFile{name: "used", kind: "used", unit: "1", description: "1 where the separation entered the statistics, else 0", grid: l.Used, typ: Uint8})
	}
	pairs := l.Pairs
	if len(pairs) > mostPairRasters {
		pairs = l.worst(v, mostPairRasters)
	}
	for _, p := range pairs {
		files = append(files, rasterFile{name: "separation_" + safeName(p.A) + "_" + safeName(p.B), kind: "separation_pair", a: p.A, b: p.B, unit: "m",
			description: "separation of strip " + p.B + " over strip " + p.A + ", metres, every difference", grid: p.Grid, draw: p.DrawGrid})
		if p.Flags != nil || p.DrawFlags != nil {
			files = append(files, rasterFile{name: "flags_" + safeName(p.A) + "_" + safeName(p.B), kind: "flags_pair", a: p.A, b: p.B, unit: "1",
				description: "0 where the separation of strips " + p.A + " and " + p.B + " entered the statistics, else why not", grid: p.Flags, draw: p.DrawFlags, typ: Uint8})
		}
	}
	return files
}

// worst returns the rasters of the pairs with the largest RMSD.
func (l *Layers) worst(v *view, n int) []PairGrid {
	at := map[[2]string]int{}
	for i := range l.Pairs {
		at[[2]string{l.Pairs[i].A, l.Pairs[i].B}] = i
	}
	var out []PairGrid
	for _, k := range v.worstPairs(n) {
		if i, ok := at[[2]string{v.rec.Pairs[k].A, v.rec.Pairs[k].B}]; ok {
			out = append(out, l.Pairs[i])
		}
	}
	return out
}

// safeName makes an ID fit for a file name on every system: letters, digits,
// dots and hyphens, at most 40 of them.
func safeName(id string) string {
	s := strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' || r == '.' {
			return r
		}
		return '-'
	}, id)
	return s[:min(len(s), 40)]
}

func writeRasters(ctx context.Context, tmp string, rec *Record, l *Layers, c *crs.CRS, image bool) error {
	dir := filepath.Join(tmp, "rasters")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	unitM := 1.0
	if u := rec.CRS.HorizontalUnitM; u != nil {
		unitM = *u
	}
	used := map[string]bool{}
	v := newView(rec)
	files := l.rasters(v)
	rows := make([][]Raster, len(files))
	steps := make([]func() error, len(files))
	for i := range files {
		f := &files[i]
		for used[strings.ToLower(f.name)] { // two IDs may make one file name
			f.name += "-2"
		}
		used[strings.ToLower(f.name)] = true
		steps[i] = func() (err error) {
			rows[i], err = f.write(dir, v, c, unitM)
			return err
		}
	}
	if err := together(ctx, steps...); err != nil {
		return err
	}
	rec.Rasters = slices.Concat([]Raster{}, slices.Concat(rows...))
	if image {
		return writeSwathImage(dir, rec, l, RasterOptions{CRS: c, UnitM: unitM})
	}
	return nil
}

// write writes a raster and its style, and returns its row in the record; none when there is no grid.
func (f rasterFile) write(dir string, v *view, c *crs.CRS, unitM float64) ([]Raster, error) {
	if f.draw != nil {
		f.grid = f.draw()
	}
	g := f.grid
	if g == nil || len(g.Values) == 0 {
		return nil, nil
	}
	lo, hi, cells := rangeOf(g)
	if f.typ == Uint8 && hi >= 255 {
		f.typ = Uint16
	}
	path := filepath.Join(dir, f.name+".tif")
	unit := map[string]string{"m": "metre"}[f.unit]
	if unit == "" {
		unit = f.unit
	}
	if err := WriteGeoTIFF(path, g, RasterOptions{CRS: c, UnitM: unitM, Type: f.typ, Unit: unit, Description: f.description}); err != nil {
		return nil, err
	}
	if style := v.style(&f, unitM); style != "" {
		if err := writeAtomic(strings.TrimSuffix(path, ".tif")+".qml", func(w io.Writer) error { _, err := io.WriteString(w, style); return err }); err != nil {
			return nil, err
		}
	}
	sum, err := hashFile(path)
	if err != nil {
		return nil, err
	}
	return []Raster{{Path: "rasters/" + f.name + ".tif", Kind: f.kind, A: Text(f.a), B: Text(f.b), Unit: f.unit, CellM: g.CellM,
		Cols: int64(g.Cols), Rows: int64(g.Rows), Min: F(lo), Max: F(hi), Cells: cells, SHA256: Text(sum)}}, nil
}

func hashFile(path string) (string, error) {
	b, err := os.ReadFile(path)
	if err != nil {
		return "", err
	}
	h := sha256.New()
	if _, err := io.Copy(h, bytes.NewReader(b)); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

package report

import (
	"image/color"
	"math"
	"path/filepath"
	"slices"

	"github.com/paulmach/orb"
)

// The swath separation image: size of the separation in three levels over the
// intensity of the last returns, a form that reviewers know from base specifications.
// Every difference is shown, also of cells that were left out of the statistics;
// where more than two strips meet, the largest.
//
// Source of the levels (once and twice the limit) and of the ground of intensity:
// USGS Lidar Base Specification 2025 rev. A, swath separation images. The colours
// are ours: steps of darkness, so that they can be told apart by every viewer and in
// grey; the specification names others as an example.
var swathLevels = [3]color.RGBA{rgb(0xbfe0da), rgb(0xd98f2b), rgb(0x54220a)}

// swathOpacity is the share of the colour over the ground.
const swathOpacity = 0.75

// swathLevel is 0 up to the limit, 1 up to twice the limit, 2 beyond.
func swathLevel(dzM, limitM float64) int {
	switch d := math.Abs(dzM); {
	case d <= limitM:
		return 0
	case d <= 2*limitM:
		return 1
	}
	return 2
}

// swathGround is the grey under the image, and what it shows.
type swathGround struct {
	shows string
	at    func(e, n float64) (grey float64, ok bool) // 0 black to 1 white
}

// ground is the mean intensity of a cell's last returns, stretched between its 2nd and 98th percentile;
// without intensities the shaded relief, without that nothing.
func (l *Layers) ground() swathGround {
	cell := func(g *Grid, e, n float64) int {
		e0, n0 := g.Origin()
		c, r := int(math.Floor((e-e0)/g.CellM)), int(math.Floor((n-n0)/g.CellM))
		if c < 0 || r < 0 || c >= g.Cols || r >= g.Rows {
			return -1
		}
		return r*g.Cols + c
	}
	if g := l.Intensity; g != nil {
		var all []float32
		for _, v := range g.Values {
			if v == v {
				all = append(all, v)
			}
		}
		if len(all) > 0 {
			slices.Sort(all)
			lo, hi := float64(all[len(all)*2/100]), float64(all[(len(all)-1)*98/100])
			if !(hi > lo) {
				hi = lo + 1
			}
			return swathGround{"mean intensity of the last returns of the cell, all classes but noise, stretched between its 2nd and 98th percentile", func(e, n float64) (float64, bool) {
				i := cell(g, e, n)
				if i < 0 || g.Values[i] != g.Values[i] {
					return 0, false
				}
				return min(max((float64(g.Values[i])-lo)/(hi-lo), 0), 1), true
			}}
		}
	}
	if g := l.Relief; g != nil {
		return swathGround{"shaded relief: intensities were not read", func(e, n float64) (float64, bool) {
			i := cell(g, e, n)
			if i < 0 {
				return 0, false
			}
			s := shade(g, i%g.Cols, i/g.Cols, 1.5)
			return min(s/0.85, 1), s == s
		}}
	}
	return swathGround{"nothing", func(float64, float64) (float64, bool) { return 0, false }}
}

// swathImage paints the image; nil without separations.
func (l *Layers) swathImage(limitM float64) (g *Grid, pixels []color.RGBA, shows string) {
	if l.Separation == nil || len(l.Separation.Values) == 0 || !(limitM > 0) {
		return nil, nil, ""
	}
	under := l.ground()
	b, cellM := boundOf(l.Separation), l.Separation.CellM
	for _, x := range []*Grid{l.Intensity, l.Relief} {
		if x != nil && len(x.Values) > 0 {
			b = b.Union(boundOf(x))
		}
	}
	g = gridOver(b, cellM)
	pixels = make([]color.RGBA, g.Cols*g.Rows)
	for i := range pixels {
		col, row := g.Col0+int32(i%g.Cols), g.Row0+int32(i/g.Cols)
		grey, ok := under.at((float64(col)+0.5)*cellM, (float64(row)+0.5)*cellM)
		if ok {
			v := uint8(math.Round(255 * grey))
			pixels[i] = color.RGBA{v, v, v, 255}
		}
		dz := float64(l.Separation.At(col, row))
		if math.IsNaN(dz) {
			continue
		}
		if !ok { // a colour alone where nothing lies under it
			grey = 1
		}
		c := swathLevels[swathLevel(dz, limitM)]
		mix := func(v uint8) uint8 { return uint8(math.Round(swathOpacity*float64(v) + (1-swathOpacity)*255*grey)) }
		pixels[i] = color.RGBA{mix(c.R), mix(c.G), mix(c.B), 255}
	}
	return g, pixels, under.shows
}

// gridOver is an empty grid of the survey's cells over the bounds.
func gridOver(b orb.Bound, cellM float64) *Grid {
	lo := func(m float64) int32 { return int32(math.Floor(m/cellM + 1e-6)) }
	hi := func(m float64) int32 { return int32(math.Ceil(m/cellM - 1e-6)) }
	g := &Grid{Col0: lo(b.Min[0]), Row0: lo(b.Min[1]), CellM: cellM}
	g.Cols, g.Rows = int(hi(b.Max[0])-g.Col0), int(hi(b.Max[1])-g.Row0)
	return g
}

// swathKind is the kind of the image among the rasters of a record.
const swathKind = "swath_image"

// writeSwathImage writes the image and enters it in the record; without separations there is none, and a warning says so.
func writeSwathImage(dir string, rec *Record, l *Layers, o RasterOptions) error {
	limitM, judged := newView(rec).scaleLimit()
	g, pixels, shows := l.swathImage(limitM)
	if g == nil {
		if w := "no swath separation image was written: " + NoSeparation(rec); !slices.Contains(rec.Warnings, w) {
			rec.Warnings = append(rec.Warnings, w)
		}
		return nil
	}
	limits := "limit of the verdict and twice that"
	if !judged {
		limits = "no limit given: 95th percentile of the separations and twice that"
	}
	level := func(i int) string { return hexOf(swathLevels[i]) }
	o.Description = "swath separation image: size of the separation of strips, the largest where more than two meet"
	o.items = [][2]string{{"LEVELS_M", fixed(limitM, 3) + " and " + fixed(2*limitM, 3) + " (" + limits + ")"},
		{"COLOURS", level(0) + " within, " + level(1) + " beyond, " + level(2) + " beyond twice; opacity " + fixed(swathOpacity, 2)}, {"GROUND", shows}}
	path := filepath.Join(dir, "swath_separation_image.tif")
	if err := writeColours(path, g, pixels, o); err != nil {
		return err
	}
	sum, err := hashFile(path)
	if err != nil {
		return err
	}
	_, _, cells := rangeOf(l.Separation)
	rec.Rasters = append(rec.Rasters, Raster{Path: "rasters/swath_separation_image.tif", Kind: swathKind, Unit: "1", CellM: g.CellM, Cols: int64(g.Cols), Rows: int64(g.Rows), Cells: cells, SHA256: Text(sum)})
	return nil
}

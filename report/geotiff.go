package report

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"fmt"
	"html"
	"image/color"
	"io"
	"math"
	"strconv"

	"sidelap/las/crs"
)

// SampleType is the type of the values of a raster file.
type SampleType uint8

// The types: Float32 for measures (no value is NaN), Uint8 and Uint16 for counts
// (no value is the largest number of the type). Colours are four bytes: red,
// green, blue, opacity.
const (
	Float32 SampleType = iota
	Uint8
	Uint16
	colours
)

// RasterOptions says how a grid becomes a GeoTIFF.
type RasterOptions struct {
	CRS         *crs.CRS // nil: no CRS in the file
	UnitM       float64  // metres in one horizontal unit of the CRS
	Type        SampleType
	Unit        string      // of the values, as GDAL shows it: "metre", "1/m2"
	Description string      // of the band
	items       [][2]string // more names and values of the metadata
}

const tileSize = 256

// TIFF tags and values used here.
//
// Source: TIFF 6.0 (1992); Adobe Photoshop TIFF technical notes (2002) for
// compression 8; Adobe technical note 3 for predictor 3; OGC GeoTIFF 1.1
// (19-008r4) for 33550, 33922 and the GeoKeys; GDAL for 42112 and 42113.
const (
	tagSubfile, tagWidth, tagHeight, tagBits, tagCompression = 254, 256, 257, 258, 259
	tagPhotometric, tagSamples, tagPlanar, tagPredictor      = 262, 277, 284, 317
	tagTileWidth, tagTileHeight, tagOffsets, tagCounts       = 322, 323, 324, 325
	tagExtra, tagFormat, tagScale, tagTie                    = 338, 339, 33550, 33922
	tagGeoDirectory, tagGeoDoubles, tagGeoASCII              = 34735, 34736, 34737
	tagMetadata, tagNodata                                   = 42112, 42113
)

const (
	typeASCII, typeShort, typeLong, typeDouble = 2, 3, 4, 12
)

// cogHeader tells readers that the file is cloud optimized: all directories
// stand before the tiles, each tile has its size before it and its last four
// bytes again behind it.
//
// Source: GDAL's documentation of the COG driver, header ghost area.
const cogHeader = "LAYOUT=IFDS_BEFORE_DATA\nBLOCK_ORDER=ROW_MAJOR\nBLOCK_LEADER=SIZE_AS_UINT4\n" +
	"BLOCK_TRAILER=LAST_4_BYTES_REPEATED\nKNOWN_INCOMPATIBLE_EDITION=NO\n "

// level is one level of the raster: the grid itself or an overview, north up.
type level struct {
	cols, rows int
	v          []float32
	pixels     []color.RGBA // of colours, in place of v; opacity is none or whole
	tiles      [][]byte
}

// WriteGeoTIFF writes the grid as a Cloud Optimized GeoTIFF: tiles of 256,
// DEFLATE with the predictor of the type, overviews by halves (mean of the cells
// with a value; for counts the largest). Pixel size and place are in the CRS's
// own unit; the values keep the grid's unit.
func WriteGeoTIFF(path string, g *Grid, o RasterOptions) error {
	if err := checkGrid(path, g); err != nil {
		return err
	}
	return writeLevels(path, g, northUp(g), o)
}

// writeColours writes a picture with a pixel for each cell of g, rows from the
// south like its values, as a Cloud Optimized GeoTIFF of red, green, blue and opacity.
func writeColours(path string, g *Grid, pixels []color.RGBA, o RasterOptions) error {
	if len(pixels) != g.Cols*g.Rows || g.Cols <= 0 || g.Rows <= 0 || !(g.CellM > 0) {
		return fmt.Errorf("picture %s: %d x %d cells of %g m with %d pixels", path, g.Cols, g.Rows, g.CellM, len(pixels))
	}
	im := &level{cols: g.Cols, rows: g.Rows, pixels: make([]color.RGBA, len(pixels))}
	for r := range g.Rows {
		copy(im.pixels[r*g.Cols:(r+1)*g.Cols], pixels[(g.Rows-1-r)*g.Cols:])
	}
	o.Type = colours
	return writeLevels(path, g, im, o)
}

func writeLevels(path string, g *Grid, full *level, o RasterOptions) error {
	if o.UnitM == 0 {
		o.UnitM = 1
	}
	levels := []*level{full}
	for l := full; max(l.cols, l.rows) > tileSize; {
		l = l.half(o.Type)
		levels = append(levels, l)
	}
	for _, l := range levels {
		if err := l.compress(o.Type); err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
	}
	return writeAtomic(path, func(w io.Writer) error { return writeTIFF(w, g, levels, o) })
}

func northUp(g *Grid) *level {
	im := &level{cols: g.Cols, rows: g.Rows, v: make([]float32, len(g.Values))}
	for r := range g.Rows {
		copy(im.v[r*g.Cols:(r+1)*g.Cols], g.Values[(g.Rows-1-r)*g.Cols:])
	}
	return im
}

func (im *level) half(t SampleType) *level {
	h := &level{cols: (im.cols + 1) / 2, rows: (im.rows + 1) / 2}
	if t == colours {
		h.pixels = im.halfPixels(h.cols, h.rows)
		return h
	}
	h.v = make([]float32, h.cols*h.rows)
	for r := range h.rows {
		for c := range h.cols {
			sum, n, top := 0.0, 0, float32(math.Inf(-1))
			for _, d := range [4][2]int{{0, 0}, {0, 1}, {1, 0}, {1, 1}} {
				y, x := 2*r+d[0], 2*c+d[1]
				if y < im.rows && x < im.cols && im.v[y*im.cols+x] == im.v[y*im.cols+x] {
					sum += float64(im.v[y*im.cols+x])
					top = max(top, im.v[y*im.cols+x])
					n++
				}
			}
			switch {
			case n == 0:
				h.v[r*h.cols+c] = float32(math.NaN())
			case t == Float32:
				h.v[r*h.cols+c] = float32(sum / float64(n))
			default:
				h.v[r*h.cols+c] = top
			}
		}
	}
	return h
}

// halfPixels takes every second pixel, one of its neighbours where it is empty:
// colours that mean a level are not mixed.
func (im *level) halfPixels(cols, rows int) []color.RGBA {
	out := make([]color.RGBA, cols*rows)
	for r := range rows {
		for c := range cols {
			for _, d := range [4][2]int{{0, 0}, {0, 1}, {1, 0}, {1, 1}} {
				y, x := 2*r+d[0], 2*c+d[1]
				if y < im.rows && x < im.cols && im.pixels[y*im.cols+x].A > 0 {
					out[r*cols+c] = im.pixels[y*im.cols+x]
					break
				}
			}
		}
	}
	return out
}

func (t SampleType) bytes() int { return [4]int{4, 1, 2, 4}[t] }

func (t SampleType) nodata() string { return [3]string{"nan", "255", "65535"}[t] }

// compress makes the tiles, row by row from the north-west.
func (im *level) compress(t SampleType) error {
	var z *zlib.Writer
	raw := make([]byte, tileSize*tileSize*t.bytes())
	for ty := 0; ty < im.rows; ty += tileSize {
		for tx := 0; tx < im.cols; tx += tileSize {
			for r := range tileSize {
				if err := im.row(raw[r*tileSize*t.bytes():(r+1)*tileSize*t.bytes()], tx, ty+r, t); err != nil {
					return err
				}
			}
			var b bytes.Buffer
			if z == nil {
				z = zlib.NewWriter(&b)
			} else {
				z.Reset(&b)
			}
			if _, err := z.Write(raw); err != nil {
				return err
			}
			if err := z.Close(); err != nil {
				return err
			}
			im.tiles = append(im.tiles, b.Bytes())
		}
	}
	return nil
}

// row writes one row of a tile with its predictor into dst.
func (im *level) row(dst []byte, x0, y int, t SampleType) error {
	if t == colours {
		im.pixelRow(dst, x0, y)
		return nil
	}
	prev := uint16(0)
	for i := range tileSize {
		v := float32(math.NaN())
		if x := x0 + i; x < im.cols && y < im.rows {
			v = im.v[y*im.cols+x]
		}
		if t == Float32 {
			b := math.Float32bits(v)
			if v != v {
				b = 0x7fc00000 // one NaN for all
			}
			for k := range 4 { // planes of bytes, most significant first
				dst[k*tileSize+i] = byte(b >> (24 - 8*k))
			}
			continue
		}
		top := float32(255)
		if t == Uint16 {
			top = 65535
		}
		n := uint16(top)
		if v == v {
			if v < 0 || v >= top {
				return fmt.Errorf("value %g does not fit the raster's type (0 to %g)", v, top-1)
			}
			n = uint16(v + 0.5)
		}
		if t == Uint8 {
			dst[i] = byte(n) - byte(prev)
		} else {
			binary.LittleEndian.PutUint16(dst[2*i:], n-prev)
		}
		prev = n
	}
	if t == Float32 {
		for i := len(dst) - 1; i > 0; i-- {
			dst[i] -= dst[i-1]
		}
	}
	return nil
}

// pixelRow writes one row of colours with predictor 2: each sample less the one of the pixel before.
func (im *level) pixelRow(dst []byte, x0, y int) {
	var last color.RGBA
	for i := range tileSize {
		var p color.RGBA
		if x := x0 + i; x < im.cols && y < im.rows {
			p = im.pixels[y*im.cols+x]
		}
		dst[4*i], dst[4*i+1], dst[4*i+2], dst[4*i+3] = p.R-last.R, p.G-last.G, p.B-last.B, p.A-last.A
		last = p
	}
}

// field is one entry of a TIFF directory.
type field struct {
	tag, kind uint16
	data      []byte
}

func shorts(tag uint16, v ...uint16) field {
	b := make([]byte, 0, 2*len(v))
	for _, x := range v {
		b = binary.LittleEndian.AppendUint16(b, x)
	}
	return field{tag, typeShort, b}
}

func longs(tag uint16, v ...uint32) field {
	b := make([]byte, 0, 4*len(v))
	for _, x := range v {
		b = binary.LittleEndian.AppendUint32(b, x)
	}
	return field{tag, typeLong, b}
}

func doubles(tag uint16, v ...float64) field {
	b := make([]byte, 0, 8*len(v))
	for _, x := range v {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(x))
	}
	return field{tag, typeDouble, b}
}

func ascii(tag uint16, s string) field { return field{tag, typeASCII, append([]byte(s), 0)} }

func (f *field) count() uint32 {
	return uint32(len(f.data) / map[uint16]int{typeASCII: 1, typeShort: 2, typeLong: 4, typeDouble: 8}[f.kind])
}

// fields returns the directory of a level; offsets are placeholders until place.
func (im *level) fields(g *Grid, depth int, offsets, counts []uint32, o RasterOptions) []field {
	predictor, format := uint16(3), uint16(3)
	if o.Type != Float32 {
		predictor, format = 2, 1
	}
	bits, photometric := []uint16{uint16(8 * o.Type.bytes())}, uint16(1)
	if o.Type == colours {
		bits, photometric = []uint16{8, 8, 8, 8}, 2
	}
	f := []field{longs(tagSubfile, uint32(min(depth, 1))), longs(tagWidth, uint32(im.cols)), longs(tagHeight, uint32(im.rows)),
		shorts(tagBits, bits...), shorts(tagCompression, 8), shorts(tagPhotometric, photometric), shorts(tagSamples, uint16(len(bits))), shorts(tagPlanar, 1),
		shorts(tagPredictor, predictor), shorts(tagTileWidth, tileSize), shorts(tagTileHeight, tileSize), longs(tagOffsets, offsets...), longs(tagCounts, counts...)}
	if o.Type == colours {
		f = append(f, shorts(tagExtra, 2), shorts(tagFormat, 1, 1, 1, 1)) // 2: opacity, colours not multiplied by it
	} else {
		f = append(f, shorts(tagFormat, format))
	}
	if depth > 0 {
		if o.Type != colours {
			f = append(f, ascii(tagNodata, o.Type.nodata()))
		}
		return f
	}
	e, n := g.Origin()
	north := n + float64(g.Rows)*g.CellM
	f = append(f, doubles(tagScale, g.CellM/o.UnitM, g.CellM/o.UnitM, 0), doubles(tagTie, 0, 0, 0, e/o.UnitM, north/o.UnitM, 0))
	if o.CRS != nil {
		dir, dbl, txt := o.CRS.GeoKeys()
		if len(dir) > 0 {
			f = append(f, shorts(tagGeoDirectory, dir...))
		}
		if len(dbl) > 0 {
			f = append(f, doubles(tagGeoDoubles, dbl...))
		}
		if len(txt) > 0 {
			f = append(f, field{tagGeoASCII, typeASCII, txt})
		}
	}
	meta := "<GDALMetadata>\n  <Item name=\"DESCRIPTION\" sample=\"0\" role=\"description\">" + html.EscapeString(o.Description) +
		"</Item>\n  <Item name=\"UNITTYPE\" sample=\"0\" role=\"unittype\">" + html.EscapeString(o.Unit) +
		"</Item>\n  <Item name=\"CELL_M\">" + strconv.FormatFloat(g.CellM, 'g', -1, 64) + "</Item>\n"
	for _, x := range o.items {
		meta += `  <Item name="` + html.EscapeString(x[0]) + `">` + html.EscapeString(x[1]) + "</Item>\n"
	}
	f = append(f, ascii(tagMetadata, meta+"</GDALMetadata>\n"))
	if o.Type != colours {
		f = append(f, ascii(tagNodata, o.Type.nodata()))
	}
	return f
}

// directorySize returns the bytes of a directory with its values.
func directorySize(f []field) int {
	n := 2 + 12*len(f) + 4
	for _, x := range f {
		if len(x.data) > 4 {
			n += (len(x.data) + 1) &^ 1
		}
	}
	return n
}

func writeTIFF(w io.Writer, g *Grid, levels []*level, o RasterOptions) error {
	head := fmt.Appendf([]byte("II*\x00\x00\x00\x00\x00"), "GDAL_STRUCTURAL_METADATA_SIZE=%06d bytes\n%s", len(cogHeader), cogHeader)
	if len(head)%2 == 1 {
		head = append(head, ' ')
	}
	binary.LittleEndian.PutUint32(head[4:], uint32(len(head)))
	// Sizes of the directories do not depend on the offsets in them.
	at := int64(len(head))
	starts := make([]int64, len(levels)+1)
	for i, l := range levels {
		starts[i] = at
		at += int64(directorySize(l.fields(g, i, make([]uint32, len(l.tiles)), make([]uint32, len(l.tiles)), o)))
	}
	offsets, counts := make([][]uint32, len(levels)), make([][]uint32, len(levels))
	for i := len(levels) - 1; i >= 0; i-- { // coarsest first, as cloud readers expect
		for _, t := range levels[i].tiles {
			offsets[i], counts[i] = append(offsets[i], uint32(at+4)), append(counts[i], uint32(len(t)))
			at += 4 + int64(len(t)) + 4
		}
	}
	if at > math.MaxUint32 {
		return errors.New("the raster would be larger than 4 GiB: use larger cells")
	}
	if _, err := w.Write(head); err != nil {
		return err
	}
	for i, l := range levels {
		if _, err := w.Write(directory(l.fields(g, i, offsets[i], counts[i], o), starts[i], starts[i+1])); err != nil {
			return err
		}
	}
	for i := len(levels) - 1; i >= 0; i-- {
		for _, t := range levels[i].tiles {
			block := binary.LittleEndian.AppendUint32(make([]byte, 0, len(t)+8), uint32(len(t)))
			block = append(append(block, t...), t[len(t)-4:]...)
			if _, err := w.Write(block); err != nil {
				return err
			}
		}
	}
	return nil
}

// directory returns the bytes of a directory at offset start; next is the
// offset of the following one, 0 for none.
func directory(f []field, start, next int64) []byte {
	b := binary.LittleEndian.AppendUint16(nil, uint16(len(f)))
	values := int64(start) + 2 + 12*int64(len(f)) + 4
	var tail []byte
	for _, x := range f {
		b = binary.LittleEndian.AppendUint16(b, x.tag)
		b = binary.LittleEndian.AppendUint16(b, x.kind)
		b = binary.LittleEndian.AppendUint32(b, x.count())
		if len(x.data) <= 4 {
			b = append(b, append(x.data, make([]byte, 4-len(x.data))...)...)
			continue
		}
		b = binary.LittleEndian.AppendUint32(b, uint32(values)+uint32(len(tail)))
		tail = append(tail, x.data...)
		if len(tail)%2 == 1 {
			tail = append(tail, 0)
		}
	}
	b = binary.LittleEndian.AppendUint32(b, uint32(next))
	return append(b, tail...)
}

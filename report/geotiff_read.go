package report

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"sidelap/las/disk"
	"strconv"
	"strings"
)

// maxRasterBytes bounds a raster of ours: twenty thousand by twenty thousand cells.
const maxRasterBytes = 2 << 30

// ReadGeoTIFF reads a raster that WriteGeoTIFF wrote; unitM is the metres in
// one unit of its CRS. It is no reader for other GeoTIFF files.
func ReadGeoTIFF(path string, unitM float64) (*Grid, error) {
	b, err := disk.Read(path, maxRasterBytes)
	if err != nil {
		return nil, err
	}
	g, err := decodeTIFF(b, unitM)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return g, nil
}

var errNotOurs = errors.New("not a raster written by sidelap, or damaged; assess again to make it anew")

type tiffFields map[uint16]field

func (t tiffFields) uints(tag uint16) []uint32 {
	var v []uint32
	f := t[tag]
	for d := f.data; ; {
		switch {
		case f.kind == typeShort && len(d) >= 2:
			v, d = append(v, uint32(binary.LittleEndian.Uint16(d))), d[2:]
		case f.kind == typeLong && len(d) >= 4:
			v, d = append(v, binary.LittleEndian.Uint32(d)), d[4:]
		default:
			return v
		}
	}
}

func (t tiffFields) uint(tag uint16) int {
	if v := t.uints(tag); len(v) > 0 {
		return int(v[0])
	}
	return 0
}

func (t tiffFields) doubles(tag uint16) []float64 {
	var v []float64
	for d := t[tag].data; len(d) >= 8; d = d[8:] {
		v = append(v, math.Float64frombits(binary.LittleEndian.Uint64(d)))
	}
	return v
}

// readDirectory reads the first directory; every size is checked against the file.
func readDirectory(b []byte) (tiffFields, error) {
	if len(b) < 8 || string(b[:4]) != "II*\x00" {
		return nil, errNotOurs
	}
	at := int64(binary.LittleEndian.Uint32(b[4:]))
	if at+2 > int64(len(b)) {
		return nil, errNotOurs
	}
	n := int64(binary.LittleEndian.Uint16(b[at:]))
	if at+2+12*n > int64(len(b)) {
		return nil, errNotOurs
	}
	t := tiffFields{}
	for i := range n {
		e := b[at+2+12*i:]
		f := field{tag: binary.LittleEndian.Uint16(e), kind: binary.LittleEndian.Uint16(e[2:])}
		size := map[uint16]int64{typeASCII: 1, typeShort: 2, typeLong: 4, typeDouble: 8}[f.kind] * int64(binary.LittleEndian.Uint32(e[4:]))
		if f.data = e[8:12]; size > 4 {
			off := int64(binary.LittleEndian.Uint32(e[8:]))
			if off+size > int64(len(b)) {
				return nil, errNotOurs
			}
			f.data = b[off:]
		}
		f.data = f.data[:size:size]
		t[f.tag] = f
	}
	return t, nil
}

func decodeTIFF(b []byte, unitM float64) (*Grid, error) {
	t, err := readDirectory(b)
	if err != nil {
		return nil, err
	}
	bits := t.uint(tagBits)
	kind, ok := map[int]SampleType{32: Float32, 8: Uint8, 16: Uint16}[bits]
	cols, rows := t.uint(tagWidth), t.uint(tagHeight)
	scale, tie := t.doubles(tagScale), t.doubles(tagTie)
	offsets, counts := t.uints(tagOffsets), t.uints(tagCounts)
	across, down := (cols+tileSize-1)/tileSize, (rows+tileSize-1)/tileSize
	if !ok || len(scale) < 2 || len(tie) < 5 || !(scale[0] > 0) || t.uint(tagCompression) != 8 || t.uint(tagTileWidth) != tileSize ||
		cols <= 0 || rows <= 0 || len(offsets) != across*down || len(counts) != len(offsets) {
		return nil, errNotOurs
	}
	if float64(len(offsets))*tileSize*tileSize*float64(kind.bytes()) > 1100*float64(len(b)) { // DEFLATE packs at most 1032 to 1
		return nil, errNotOurs
	}
	cell := scale[0] * unitM
	if _, s, ok := strings.Cut(string(t[tagMetadata].data), `<Item name="CELL_M">`); ok {
		s, _, _ = strings.Cut(s, "<")
		if v, err := strconv.ParseFloat(s, 64); err == nil && math.Abs(v/cell-1) < 1e-6 {
			cell = v
		}
	}
	g := &Grid{Col0: int32(math.Round(tie[3] * unitM / cell)), Row0: int32(math.Round(tie[4]*unitM/cell)) - int32(rows), Cols: cols, Rows: rows, CellM: cell,
		Values: make([]float32, cols*rows)}
	raw := make([]byte, tileSize*tileSize*kind.bytes())
	for i := range offsets {
		end := int64(offsets[i]) + int64(counts[i])
		if end > int64(len(b)) {
			return nil, errNotOurs
		}
		z, err := zlib.NewReader(bytes.NewReader(b[offsets[i]:end]))
		if err != nil {
			return nil, errNotOurs
		}
		if _, err := io.ReadFull(z, raw); err != nil {
			return nil, errNotOurs
		}
		placeTile(g, raw, (i%across)*tileSize, (i/across)*tileSize, kind)
	}
	return g, nil
}

// placeTile undoes the predictor and puts a tile into the grid, south up.
func placeTile(g *Grid, raw []byte, x0, y0 int, kind SampleType) {
	width := tileSize * kind.bytes()
	for r := range min(tileSize, g.Rows-y0) {
		row := raw[r*width : (r+1)*width]
		out := g.Values[(g.Rows-1-y0-r)*g.Cols+x0:]
		if kind == Float32 {
			for i := 1; i < width; i++ {
				row[i] += row[i-1]
			}
		}
		sum := uint16(0)
		for i := range min(tileSize, g.Cols-x0) {
			switch kind {
			case Float32:
				out[i] = math.Float32frombits(uint32(row[i])<<24 | uint32(row[tileSize+i])<<16 | uint32(row[2*tileSize+i])<<8 | uint32(row[3*tileSize+i]))
				continue
			case Uint8:
				sum = uint16(byte(sum) + row[i])
			case Uint16:
				sum += binary.LittleEndian.Uint16(row[2*i:])
			}
			if out[i] = float32(sum); (kind == Uint8 && sum == 255) || (kind == Uint16 && sum == 65535) {
				out[i] = float32(math.NaN())
			}
		}
	}
}

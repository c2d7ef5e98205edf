package geoid

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// TIFF tags. Source: TIFF 6.0; GeoTIFF 1.1 (OGC 19-008r4); GDAL's no-data tag.
const (
	tagWidth, tagHeight         = 256, 257
	tagBits, tagCompression     = 258, 259
	tagStripOffsets             = 273
	tagSamples, tagRowsPerStrip = 277, 278
	tagStripCounts              = 279
	tagPlanar, tagPredictor     = 284, 317
	tagTileWidth, tagTileHeight = 322, 323
	tagTileOffsets              = 324
	tagTileCounts               = 325
	tagSampleFormat             = 339
	tagPixelScale, tagTiepoint  = 33550, 33922
	tagGeoKeys                  = 34735
	tagNoData                   = 42113
)

// tiff is the first image of a GeoTIFF.
type tiff struct {
	b                   []byte
	order               binary.ByteOrder
	tags                map[uint16][]float64
	text                map[uint16]string
	width, height       int
	blockW, blockH      int
	bytesPer, samples   int
	format, compression int
	predictor           int
	interleaved         bool
	offsets, counts     []float64
	noData              float64
	hasNoData           bool
	cacheIndex          int
	cache               []byte
}

// parseTIFF reads the structure of a GeoTIFF; blocks are decoded when a node is asked for.
func parseTIFF(b []byte) (*Grid, error) {
	t := &tiff{b: b, order: binary.LittleEndian, tags: map[uint16][]float64{}, text: map[uint16]string{}, cacheIndex: -1}
	if b[0] == 'M' {
		t.order = binary.BigEndian
	}
	if err := t.directory(); err != nil {
		return nil, err
	}
	if err := t.layout(); err != nil {
		return nil, err
	}
	scale, tie := t.tags[tagPixelScale], t.tags[tagTiepoint]
	if len(scale) < 2 || len(tie) < 6 {
		return nil, fmt.Errorf("%w: no pixel scale and tie point", ErrFormat)
	}
	area, geographic := t.geoKeys()
	if !geographic {
		return nil, fmt.Errorf("%w: the grid is not in latitude and longitude", ErrFormat)
	}
	g := &Grid{Format: "GeoTIFF", Rows: t.height, Cols: t.width, StepLonDeg: scale[0], StepLatDeg: scale[1]}
	west, north := tie[3]-tie[0]*scale[0], tie[4]+tie[1]*scale[1]
	if area { // the tie point is the corner of a pixel, nodes are at centres
		west, north = west+scale[0]/2, north-scale[1]/2
	}
	g.WestDeg, g.SouthDeg = west, north-float64(t.height-1)*scale[1]
	g.node = func(row, col int) (float64, error) { return t.value(t.height-1-row, col) }
	return g, nil
}

// directory reads the first image file directory.
func (t *tiff) directory() error {
	at := int64(t.order.Uint32(t.b[4:]))
	if at < 8 || at+2 > int64(len(t.b)) {
		return fmt.Errorf("%w: directory at byte %d", ErrFormat, at)
	}
	n := int64(t.order.Uint16(t.b[at:]))
	if at+2+12*n > int64(len(t.b)) {
		return fmt.Errorf("%w: directory of %d entries at byte %d", ErrFormat, n, at)
	}
	sizes := map[uint16]int64{1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 8: 2, 9: 4, 11: 4, 12: 8}
	for i := range n {
		e := t.b[at+2+12*i:]
		tag, typ, count := t.order.Uint16(e), t.order.Uint16(e[2:]), int64(t.order.Uint32(e[4:]))
		size, known := sizes[typ]
		if !known {
			continue
		}
		data := e[8:12]
		if size*count > 4 {
			from := int64(t.order.Uint32(e[8:]))
			if from+size*count > int64(len(t.b)) {
				return fmt.Errorf("%w: tag %d points beyond the file", ErrFormat, tag)
			}
			data = t.b[from : from+size*count]
		}
		if typ == 2 {
			t.text[tag] = strings.TrimRight(string(data[:count]), "\x00 ")
			continue
		}
		values := make([]float64, count)
		for k := range values {
			values[k] = t.number(typ, data[int64(k)*size:])
		}
		t.tags[tag] = values
	}
	return nil
}

func (t *tiff) number(typ uint16, d []byte) float64 {
	switch typ {
	case 1, 6:
		return float64(d[0])
	case 3:
		return float64(t.order.Uint16(d))
	case 8:
		return float64(int16(t.order.Uint16(d)))
	case 4:
		return float64(t.order.Uint32(d))
	case 9:
		return float64(int32(t.order.Uint32(d)))
	case 5:
		return float64(t.order.Uint32(d)) / float64(t.order.Uint32(d[4:]))
	case 11:
		return float64(math.Float32frombits(t.order.Uint32(d)))
	}
	return math.Float64frombits(t.order.Uint64(d))
}

// tag returns the first value of a tag.
func (t *tiff) tag(id uint16, otherwise int) int {
	if v := t.tags[id]; len(v) > 0 {
		return int(v[0])
	}
	return otherwise
}

// layout reads how the samples are stored.
func (t *tiff) layout() error {
	t.width, t.height = t.tag(tagWidth, 0), t.tag(tagHeight, 0)
	t.samples, t.compression = t.tag(tagSamples, 1), t.tag(tagCompression, 1)
	t.predictor, t.format = t.tag(tagPredictor, 1), t.tag(tagSampleFormat, 1)
	t.bytesPer = t.tag(tagBits, 1) / 8
	t.interleaved = t.tag(tagPlanar, 1) == 1
	t.offsets, t.counts = t.tags[tagTileOffsets], t.tags[tagTileCounts]
	t.blockW, t.blockH = t.tag(tagTileWidth, 0), t.tag(tagTileHeight, 0)
	if len(t.offsets) == 0 {
		t.offsets, t.counts = t.tags[tagStripOffsets], t.tags[tagStripCounts]
		t.blockW, t.blockH = t.width, min(t.tag(tagRowsPerStrip, t.height), t.height)
	}
	ok := t.format == 3 && (t.bytesPer == 4 || t.bytesPer == 8) || (t.format == 1 || t.format == 2) && (t.bytesPer == 2 || t.bytesPer == 4)
	if !ok {
		return fmt.Errorf("%w: samples of format %d and %d bytes", ErrFormat, t.format, t.bytesPer)
	}
	if t.width < 2 || t.height < 2 || t.width > 1<<20 || t.height > 1<<20 || t.blockW < 1 || t.blockH < 1 || t.samples < 1 || t.samples > 16 ||
		int64(t.blockW)*int64(t.blockH)*int64(t.samples)*int64(t.bytesPer) > 1<<30 {
		return fmt.Errorf("%w: image of %d x %d in blocks of %d x %d", ErrFormat, t.width, t.height, t.blockW, t.blockH)
	}
	across, down := (t.width+t.blockW-1)/t.blockW, (t.height+t.blockH-1)/t.blockH
	if len(t.offsets) < across*down || len(t.counts) < across*down {
		return fmt.Errorf("%w: %d blocks of %d", ErrFormat, len(t.offsets), across*down)
	}
	if s := t.text[tagNoData]; s != "" {
		if v, err := strconv.ParseFloat(strings.TrimSpace(s), 64); err == nil {
			t.noData, t.hasNoData = v, true
		}
	}
	return nil
}

// geoKeys tells whether pixels are areas and the model is geographic.
func (t *tiff) geoKeys() (area, geographic bool) {
	k := t.tags[tagGeoKeys]
	area = true
	for i := 4; i+3 < len(k); i += 4 {
		switch {
		case k[i] == 1024 && k[i+3] == 2: // GTModelTypeGeoKey: geographic
			geographic = true
		case k[i] == 1025 && k[i+3] == 2: // GTRasterTypeGeoKey: pixel is point
			area = false
		}
	}
	return area, geographic
}

// value returns the sample of the first band at a pixel, NaN for no data.
func (t *tiff) value(row, col int) (float64, error) {
	across := (t.width + t.blockW - 1) / t.blockW
	index := row/t.blockH*across + col/t.blockW
	if index != t.cacheIndex {
		b, err := t.block(index)
		if err != nil {
			return 0, err
		}
		t.cache, t.cacheIndex = b, index
	}
	step := 1
	if t.interleaved {
		step = t.samples
	}
	at := ((row%t.blockH)*t.blockW + col%t.blockW) * step * t.bytesPer
	if at+t.bytesPer > len(t.cache) {
		return 0, errors.New("block shorter than its pixels")
	}
	v := t.sample(t.cache[at:])
	if t.hasNoData && (v == t.noData || float32(v) == float32(t.noData)) {
		return math.NaN(), nil
	}
	return v, nil
}

func (t *tiff) sample(d []byte) float64 {
	switch {
	case t.format == 3 && t.bytesPer == 4:
		return float64(math.Float32frombits(t.order.Uint32(d)))
	case t.format == 3:
		return math.Float64frombits(t.order.Uint64(d))
	case t.format == 2 && t.bytesPer == 2:
		return float64(int16(t.order.Uint16(d)))
	case t.format == 2:
		return float64(int32(t.order.Uint32(d)))
	case t.bytesPer == 2:
		return float64(t.order.Uint16(d))
	}
	return float64(t.order.Uint32(d))
}

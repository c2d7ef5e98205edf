package geoid

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"io"

	"golang.org/x/image/tiff/lzw"
)

// block decodes a strip or tile: decompressed, predictor undone.
func (t *tiff) block(index int) ([]byte, error) {
	from, n := int64(t.offsets[index]), int64(t.counts[index])
	size := t.blockW * t.blockH * t.bytesPer
	if t.interleaved {
		size *= t.samples
	}
	if n == 0 { // sparse: all no data, or zero
		return make([]byte, size), nil
	}
	if from < 0 || n < 0 || from+n > int64(len(t.b)) {
		return nil, fmt.Errorf("byte %d: block of %d bytes reaches beyond the file; fetch the grid again", from, n)
	}
	raw := t.b[from : from+n]
	var r io.Reader
	switch t.compression {
	case 1:
		r = bytes.NewReader(raw)
	case 5:
		z := lzw.NewReader(bytes.NewReader(raw), lzw.MSB, 8)
		defer z.Close()
		r = z
	case 8, 32946:
		z, err := zlib.NewReader(bytes.NewReader(raw))
		if err != nil {
			return nil, fmt.Errorf("byte %d: block: %w", from, err)
		}
		defer z.Close()
		r = z
	default:
		return nil, fmt.Errorf("compression %d is not read here; convert the grid to deflate", t.compression)
	}
	out, err := io.ReadAll(io.LimitReader(r, int64(size)))
	if err != nil && len(out) < size {
		return nil, fmt.Errorf("byte %d: block: %w", from, err)
	}
	t.unpredict(out)
	return out, nil
}

// unpredict undoes differences of neighbours (2) and the floating point predictor (3).
func (t *tiff) unpredict(b []byte) {
	step := 1
	if t.interleaved {
		step = t.samples
	}
	stride := t.blockW * step * t.bytesPer
	for row := 0; row+stride <= len(b); row += stride {
		line := b[row : row+stride]
		switch t.predictor {
		case 2:
			t.sumLine(line, step)
		case 3:
			t.floatLine(line, step)
		}
	}
}

func (t *tiff) sumLine(line []byte, step int) {
	w := t.bytesPer
	for i := step * w; i+w <= len(line); i += w {
		switch w {
		case 2:
			t.order.PutUint16(line[i:], t.order.Uint16(line[i:])+t.order.Uint16(line[i-step*w:]))
		case 4:
			t.order.PutUint32(line[i:], t.order.Uint32(line[i:])+t.order.Uint32(line[i-step*w:]))
		case 8:
			t.order.PutUint64(line[i:], t.order.Uint64(line[i:])+t.order.Uint64(line[i-step*w:]))
		}
	}
}

// floatLine undoes predictor 3: bytes are summed, then gathered from planes, the most significant first.
//
// Source: Adobe Photoshop TIFF technical note 3, 2005 (from memory).
func (t *tiff) floatLine(line []byte, step int) {
	for i := step; i < len(line); i++ {
		line[i] += line[i-step]
	}
	n := len(line) / t.bytesPer
	out := make([]byte, len(line))
	for k := range n {
		for j := range t.bytesPer {
			to := j
			if t.order.String() == "LittleEndian" {
				to = t.bytesPer - 1 - j
			}
			out[k*t.bytesPer+to] = line[j*n+k]
		}
	}
	copy(line, out)
}

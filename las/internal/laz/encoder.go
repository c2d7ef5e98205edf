package laz

import (
	"errors"
	"fmt"
)

// Encoder encodes chunks of one file. It may be used again and again, by one
// goroutine at a time.
type Encoder struct {
	length int // bytes of a record
	pool   modelPool
	items  []pointItem // compressors 1 and 2
	slack  int         // bytes that a point takes at most, with compressors 1 and 2
	stream encoder
	layers *layered // compressor 3
}

// NewEncoder returns an encoder for the chunks of a file with this VLR, whose
// records have recordLength bytes.
func NewEncoder(v *VLR, recordLength int) (*Encoder, error) {
	if err := v.check(); err != nil {
		return nil, err
	}
	if n := v.RecordLength(); n != recordLength {
		return nil, fmt.Errorf("laz: the items of the LASzip VLR add up to %d bytes, the records have %d", n, recordLength)
	}
	e := &Encoder{length: recordLength}
	if v.Compressor == CompressorLayered {
		e.layers = newLayered(v, &e.pool)
		return e, nil
	}
	e.items = newPointItems(v, &e.pool)
	e.slack = pointBytes(v)
	return e, nil
}

// Encode appends to dst one chunk that holds the given records, at least one.
// The records must be whole and are not changed.
func (e *Encoder) Encode(dst []byte, records []byte) ([]byte, error) {
	n := len(records) / e.length
	switch {
	case n == 0:
		return dst, errors.New("laz: a chunk needs at least one point")
	case len(records) != n*e.length:
		return dst, fmt.Errorf("laz: %d bytes of records are no multiple of the record length %d", len(records), e.length)
	case int64(n) > 1<<31-1:
		return dst, fmt.Errorf("laz: %d points are too many for a chunk", n)
	}
	e.pool.release()
	dst = append(dst, records[:e.length]...)
	if e.layers != nil {
		return e.layers.encode(dst, records, n)
	}
	for _, it := range e.items {
		it.reset(records[it.from:e.length])
	}
	c := &e.stream
	c.start(dst, len(dst))
	for i := 1; i < n; i++ {
		rec := records[i*e.length:][:e.length]
		c.room(e.slack)
		for j := range e.items {
			it := &e.items[j]
			it.encode(c, rec[it.from:])
		}
	}
	dst = c.finish()
	c.out = nil // it is the caller's
	return dst, nil
}

// Bytes that a point takes at most: pointSlack for all items but the extra bytes,
// where a symbol takes 2 and a number of the integer compressor 10 (POINT10
// 60, GPSTIME11 30, RGB12 62, WAVEPACKET13 66), byteSlack for an extra byte, layerSlack
// in any layer.
const (
	pointSlack = 240
	byteSlack  = 10
	layerSlack = 80
)

func pointBytes(v *VLR) int {
	n := pointSlack
	if it := v.Items[len(v.Items)-1]; it.Type == ItemByte {
		n += byteSlack * int(it.Size)
	}
	return n
}

package laz

import "fmt"

// Decoder decodes chunks of one file. It may be used again and again, by one
// goroutine at a time.
type Decoder struct {
	length int // bytes of a record
	pool   modelPool
	items  []pointItem // compressors 1 and 2
	stream decoder
	layers *layered // compressor 3
}

// pointItem is an item of a pointwise record, with its place in the record.
type pointItem struct {
	name string
	from int
	pointCoder
}

// pointCoder codes one item of the points of a chunk, in their order. reset
// begins a chunk with the item's bytes in its first point.
type pointCoder interface {
	reset(first []byte)
	decode(c *decoder, dst []byte)
	encode(e *encoder, src []byte)
}

// NewDecoder returns a decoder for the chunks of a file with this VLR, whose
// records have recordLength bytes.
func NewDecoder(v *VLR, recordLength int) (*Decoder, error) {
	if err := v.check(); err != nil {
		return nil, err
	}
	if n := v.RecordLength(); n != recordLength {
		return nil, fmt.Errorf("laz: the items of the LASzip VLR add up to %d bytes, the records have %d", n, recordLength)
	}
	d := &Decoder{length: recordLength, pool: modelPool{search: true}}
	if v.Compressor == CompressorLayered {
		d.layers = newLayered(v, &d.pool)
		return d, nil
	}
	d.items = newPointItems(v, &d.pool)
	return d, nil
}

func newPointItems(v *VLR, pool *modelPool) []pointItem {
	var items []pointItem
	from := 0
	for _, it := range v.Items {
		items = append(items, pointItem{itemKinds[it.Type].name, from, newPointCoder(it, pool)})
		from += int(it.Size)
	}
	return items
}

func newPointCoder(it Item, pool *modelPool) pointCoder {
	first := it.Version == 1
	switch {
	case it.Type == ItemPoint10 && first:
		return &point10v1{pool: pool}
	case it.Type == ItemPoint10:
		return &point10{pool: pool}
	case it.Type == ItemGPSTime11 && first:
		return &gpsTime11v1{pool: pool}
	case it.Type == ItemGPSTime11:
		return &gpsTime11{pool: pool}
	case it.Type == ItemRGB12 && first:
		return &rgb12v1{pool: pool}
	case it.Type == ItemRGB12:
		return &rgb12{pool: pool}
	case it.Type == ItemWavePacket13:
		return &wavePacket13{pool: pool}
	case first:
		return newExtraBytesV1(pool, int(it.Size))
	}
	return newExtraBytes(pool, int(it.Size))
}

// Decode decodes one chunk of n points from the start of src into dst, which
// needs room for n records.
//
// points is the number of whole points, from the first, that are good: n unless
// err is set. consumed is the number of bytes that the chunk took, so that the
// next chunk can be found without a table, and so that a table can be checked; it means
// nothing after an error in a pointwise chunk. src may go on behind the chunk. For
// layered chunks a src that ends early gives the points that all its wanted layers
// still hold, and an error; n may be less than the chunk has.
// layers says which layers of a layered chunk are wanted.
//
// Damage is found at the latest when bytes are missing or left over. A damaged
// stream that happens to stay decodable gives wrong points in front of the place
// where the error is noticed. The points beside an error are therefore what was
// once written only if the bytes in src are sound and merely end early (ErrTruncated,
// and the caller knows that the file is cut); a damaged layer size, too, gives
// ErrTruncated where nothing is cut.
//
// Errors of the stream are of type *Error.
func (d *Decoder) Decode(dst []byte, src []byte, n int, layers Layers) (points, consumed int, err error) {
	if n <= 0 {
		return 0, 0, nil
	}
	if len(dst)/d.length < n {
		return 0, 0, fmt.Errorf("laz: room for %d records of %d bytes, need %d", len(dst)/d.length, d.length, n)
	}
	if len(src) < d.length {
		return 0, 0, &Error{Err: ErrTruncated}
	}
	d.pool.release()
	copy(dst, src[:d.length])
	if d.layers != nil {
		return d.layers.decode(dst, src, n, layers)
	}
	return d.decodePointwise(dst, src, n)
}

func (d *Decoder) decodePointwise(dst, src []byte, n int) (points, consumed int, err error) {
	for _, it := range d.items {
		it.reset(src[it.from:d.length])
	}
	c := &d.stream
	if len(src) < d.length+4 {
		return 1, len(src), &Error{Point: 1, Err: ErrTruncated}
	}
	c.start(src[d.length:])
	for i := 1; i < n; i++ {
		rec := dst[i*d.length:][:d.length]
		for j := range d.items {
			it := &d.items[j]
			it.decode(c, rec[it.from:])
			if c.over() {
				if err := c.check(); err != nil {
					return i, min(len(src), d.length+c.consumed()), &Error{Item: it.name, Point: i, Err: err}
				}
			}
		}
	}
	return n, d.length + c.consumed(), nil
}

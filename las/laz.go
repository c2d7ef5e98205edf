package las

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"sort"

	"sidelap/las/internal/laz"
)

// lazLayout is where the chunks of a LAZ file are.
type lazLayout struct {
	vlr    *laz.VLR
	chunks []lazChunk
}

// lazChunk is one chunk of compressed points.
type lazChunk struct {
	offset, bytes int64
	first, points int64
	cut           bool // the file ends inside it; points counts those before the end
}

// lazState is the memory that decoding needs.
type lazState struct {
	dec *laz.Decoder
	src []byte
	dst []byte
}

// pointsPerByte is more points than a byte of compressed points can hold, so that claims beyond it
// are false. The likeliest symbol of a model with 64 symbols costs at least
// -log2(1 - 63/32768) = 0.0028 bits, and every point has one such symbol at least.
const pointsPerByte = 4096

// growBytes is how many bytes of records are decoded at first when a chunk claims more: the memory
// grows with what is really there.
const growBytes = 32 << 20

// Chunks whose records need more memory than this are refused. Real ones have 50 000 points of
// less than 200 bytes. A file of the first compressor is a single chunk.
const (
	maxChunkBytes     = 1 << 30
	maxPointwiseBytes = 8 << 30
)

// firstTry is how many points of a chunk to decode first.
func firstTry(points, record int64) int64 { return min(points, max(growBytes/record, 1)) }

// spans cuts the chunks into runs of about n points.
func (l *lazLayout) spans(n, total int64) []Span {
	var list []Span
	var s Span
	for _, c := range l.chunks {
		s.N += c.points
		if s.N >= n {
			list = append(list, s)
			s = Span{First: s.First + s.N}
		}
	}
	if s.N > 0 || list == nil {
		list = append(list, s)
	}
	return list
}

// chunkAt returns the index of the chunk that holds the point.
func (l *lazLayout) chunkAt(point int64) int {
	return sort.Search(len(l.chunks), func(i int) bool {
		c := &l.chunks[i]
		return c.first+c.points > point
	})
}

// name returns what messages call chunk i.
func (l *lazLayout) name(i int) string {
	c := &l.chunks[i]
	return fmt.Sprintf("chunk %d of %d (points %d to %d)", i+1, len(l.chunks), c.first+1, c.first+c.points)
}

// layersFor returns the layers that hold the columns.
func layersFor(cols Columns) laz.Layers {
	if cols&ColRecord != 0 {
		return laz.AllLayers
	}
	layers := laz.LayerZ
	for _, m := range []struct {
		col   Columns
		layer laz.Layers
	}{
		{ColIntensity, laz.LayerIntensity}, {ColFlags, laz.LayerFlags}, {ColClass, laz.LayerClassification},
		{ColScanAngle, laz.LayerScanAngle}, {ColUserData, laz.LayerUserData}, {ColSource, laz.LayerPointSource},
		{ColGPSTime, laz.LayerGPSTime}, {ColRGB, laz.LayerRGB}, {ColNIR, laz.LayerNIR},
	} {
		if cols&m.col != 0 {
			layers |= m.layer
		}
	}
	return layers
}

// readLAZ reads points of compressed chunks. It returns false when the sequence is over.
func (f *File) readLAZ(ctx context.Context, st *readState, s Span, cols Columns, yield func(*Chunk, error) bool) bool {
	layers := layersFor(cols)
	end := s.First + s.N
	for i := f.laz.chunkAt(s.First); i < len(f.laz.chunks) && f.laz.chunks[i].first < end; i++ {
		if err := ctx.Err(); err != nil {
			yield(nil, err)
			return false
		}
		c := &f.laz.chunks[i]
		records, damage := f.decodeChunk(&st.laz, c, layers)
		good := int64(len(records) / f.record)
		from, to := max(s.First, c.first), min(end, c.first+good)
		if !f.deliverRecords(ctx, st, records, c.first, from, to, cols, yield) {
			return false
		}
		if damage == nil {
			continue
		}
		if !f.salvage {
			yield(nil, f.chunkFault(i, damage))
			return false
		}
		f.lostIn(loss{i, c.points - good, fmt.Sprintf("%s: points %d to %d are lost: %v", f.laz.name(i), c.first+good+1, c.first+c.points, damage)})
	}
	return true
}

// deliverRecords hands over points from..to-1 of records, which start at point first.
func (f *File) deliverRecords(ctx context.Context, st *readState, records []byte, first, from, to int64, cols Columns, yield func(*Chunk, error) bool) bool {
	record := int64(f.record)
	for ; from < to; from += MaxChunk {
		if err := ctx.Err(); err != nil {
			yield(nil, err)
			return false
		}
		n := min(to-from, MaxChunk)
		if !f.deliver(st, records[(from-first)*record:(from-first+n)*record], from, cols, yield) {
			return false
		}
	}
	return true
}

// chunkFault names the chunk that could not be read.
func (f *File) chunkFault(i int, err error) error {
	var fe *FormatError
	if errors.As(err, &fe) {
		return err
	}
	var pe *os.PathError
	if errors.As(err, &pe) {
		return fmt.Errorf("%s: %s: %w", f.path, f.laz.name(i), err)
	}
	kind := ErrCorrupt
	switch {
	case errors.Is(err, ErrUnsupported):
		kind = ErrUnsupported
	case f.laz.chunks[i].cut:
		kind = kindOf(err)
	}
	return &FormatError{f.path, f.laz.chunks[i].offset, f.laz.name(i), kindf(kind, "%v", err), remedyCopy}
}

// decodeChunk returns the records of a chunk. They stay valid until the next call with the state.
// After an error they are those that are good in spite of it: none, unless the file ends inside the
// chunk.
func (f *File) decodeChunk(st *lazState, c *lazChunk, layers laz.Layers) ([]byte, error) {
	if err := f.laz.checkSize(c, int64(f.record)); err != nil {
		return nil, err
	}
	st.src = sized(st.src, int(c.bytes), true)
	if err := readAt(f.r, st.src, c.offset); err != nil {
		return nil, f.fault(err)
	}
	if err := st.prepare(f.laz.vlr, f.record); err != nil {
		return nil, err
	}
	for n := firstTry(c.points, int64(f.record)); ; n = min(2*n, c.points) {
		points, consumed, err := st.decode(n, f.record, layers)
		if err != nil {
			if c.cut && kindOf(err) == ErrTruncated {
				return st.dst[:points*f.record], err
			}
			return nil, err
		}
		if n < c.points {
			continue
		}
		if !c.cut && int64(consumed) != c.bytes {
			return nil, kindf(ErrCorrupt, "the points take %d of the chunk's %d bytes", consumed, c.bytes)
		}
		return st.dst, nil
	}
}

// checkSize refuses a chunk whose records would take more memory than is reasonable.
func (l *lazLayout) checkSize(c *lazChunk, record int64) error {
	limit := int64(maxChunkBytes)
	if l.vlr.Compressor == laz.CompressorPointwise {
		limit = maxPointwiseBytes
	}
	if c.points > limit/record {
		return kindf(ErrUnsupported, "%d points of %d bytes would take more than %d MB of memory", c.points, record, limit>>20)
	}
	return nil
}

// prepare makes the decoder on first use.
func (st *lazState) prepare(v *laz.VLR, recordLength int) (err error) {
	if st.dec == nil {
		st.dec, err = laz.NewDecoder(v, recordLength)
	}
	return err
}

// decode decodes n points of st.src into st.dst.
func (st *lazState) decode(n int64, recordLength int, layers laz.Layers) (points, consumed int, err error) {
	st.dst = sized(st.dst, int(n)*recordLength, true)
	points, consumed, err = st.dec.Decode(st.dst, st.src, int(n), layers)
	if err == nil && int64(points) != n {
		err = kindf(ErrCorrupt, "it holds %d points instead of %d", points, n)
	}
	return points, consumed, err
}

// looksCompressed reports whether the points of a file that carries a LASzip record but whose
// format byte says LAS are compressed: there is a believable chunk table offset, or no room for
// the points uncompressed.
func (f *File) looksCompressed() bool {
	var b [8]byte
	if err := readAt(f.r, b[:], f.hdr.PointOffset); err == nil {
		at := int64(binary.LittleEndian.Uint64(b[:]))
		if at >= f.hdr.PointOffset+8 && at <= f.size-8 {
			return true
		}
	}
	room := uint64(f.size-f.hdr.PointOffset) / uint64(f.hdr.RecordLength)
	return f.hdr.StatedPoints > room
}

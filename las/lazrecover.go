package las

import (
	"encoding/binary"
	"errors"
	"fmt"

	"sidelap/las/internal/laz"
)

// recoverChunks finds the chunks of a file without chunk table, one after the other.
func (f *File) recoverChunks() error {
	h := &f.hdr
	l := f.laz
	next := f.nextLayered
	if l.vlr.Compressor != laz.CompressorLayered {
		st := &lazState{}
		if err := st.prepare(l.vlr, h.RecordLength); err != nil {
			return err
		}
		next = func(c *lazChunk) error { return f.nextPointwise(st, c) }
	}
	end := f.lazEnd()
	offset, first := h.PointOffset+8, int64(0)
	for h.StatedPoints == 0 || uint64(first) < h.StatedPoints {
		c := lazChunk{offset: offset, bytes: end - offset, first: first, points: int64(l.vlr.ChunkSize)}
		if h.StatedPoints > 0 {
			c.points = int64(min(uint64(c.points), h.StatedPoints-uint64(first)))
		}
		if c.bytes < int64(h.RecordLength)+4 {
			break
		}
		err := next(&c)
		if h.StatedPoints == 0 {
			c.cut = false // how many points the last chunk should have is not known: leave it out
		}
		if err == nil || c.cut && c.points > 0 {
			l.chunks = append(l.chunks, c)
			first += c.points
		}
		if err != nil {
			h.Points = first
			f.endOfRecovery(offset, first, err)
			return nil
		}
		offset += c.bytes
	}
	h.Points = first
	if h.StatedPoints > uint64(first) {
		f.lose(offset, fmt.Sprintf("chunk %d (from point %d on)", len(l.chunks)+1, first+1), kindf(ErrTruncated, "the file ends after %d of %d points", first, h.StatedPoints))
	}
	return nil
}

// endOfRecovery says why no chunk could be read at offset, behind the first points.
func (f *File) endOfRecovery(offset, first int64, err error) {
	what := fmt.Sprintf("chunk %d (from point %d on)", first/max(int64(f.laz.vlr.ChunkSize), 1)+1, first+1)
	switch {
	case f.hdr.StatedPoints > 0:
		f.lose(offset, what, kindf(kindOf(err), "%v; %d of %d points are before it", err, first, f.hdr.StatedPoints))
	case f.laz.vlr.Compressor == laz.CompressorLayered:
		f.warn(fmt.Sprintf("%d points were found; what follows at byte %d is no chunk", first, offset))
	default:
		f.lose(offset, what, kindf(ErrCorrupt, "the header says no points, so that those of the last chunk, fewer than %d, cannot be told from what follows; %d points are before it", f.laz.vlr.ChunkSize, first))
	}
}

// kindOf returns the sentinel that fits an error of decoding.
func kindOf(err error) error {
	if errors.Is(err, laz.ErrTruncated) || errors.Is(err, ErrTruncated) {
		return ErrTruncated
	}
	return ErrCorrupt
}

// nextLayered measures a layered chunk by the sizes of its layers. c comes with the most points and
// bytes that it can have.
func (f *File) nextLayered(c *lazChunk) error {
	record := int64(f.hdr.RecordLength)
	layers := layerCount(f.laz.vlr)
	start := record + 4 + 4*layers
	if c.bytes < start {
		return kindf(ErrTruncated, "the file ends inside the chunk's layer sizes")
	}
	b := make([]byte, start)
	if err := readAt(f.r, b, c.offset); err != nil {
		return err
	}
	n := int64(binary.LittleEndian.Uint32(b[record:]))
	sum := start
	for i := range layers {
		sum += int64(binary.LittleEndian.Uint32(b[record+4+4*i:]))
	}
	switch {
	case sum > c.bytes:
		return kindf(ErrTruncated, "the chunk needs %d bytes, the file has %d left", sum, c.bytes)
	case n == 0 || n > c.points || n > pointsPerByte*sum:
		return kindf(ErrCorrupt, "the chunk claims %d points", n)
	case n < c.points && f.hdr.StatedPoints > 0:
		return kindf(ErrCorrupt, "the chunk holds %d points instead of %d", n, c.points)
	}
	c.points, c.bytes = n, sum
	return nil
}

// layerCount returns how many layers a layered chunk has.
func layerCount(v *laz.VLR) (n int64) {
	for _, it := range v.Items {
		switch it.Type {
		case laz.ItemPoint14:
			n += 9
		case laz.ItemRGBNIR14:
			n += 2
		case laz.ItemByte14:
			n += int64(it.Size)
		default:
			n++
		}
	}
	return n
}

// nextPointwise measures a pointwise chunk by decoding it. When the file ends inside the chunk, c
// becomes the points before the end, with cut set, beside the error.
func (f *File) nextPointwise(st *lazState, c *lazChunk) error {
	record := int64(f.hdr.RecordLength)
	// No coded point needs twice its record and 64 bytes, so that this window holds the chunk.
	if err := f.laz.checkSize(c, record); err != nil {
		return err
	}
	window := min(c.bytes, record+8+c.points*(2*record+64))
	st.src = sized(st.src, int(window), true)
	if err := readAt(f.r, st.src, c.offset); err != nil {
		return err
	}
	for n := firstTry(c.points, record); ; n = min(2*n, c.points) {
		st.dst = sized(st.dst, int(n*record), true)
		points, consumed, err := st.dec.Decode(st.dst, st.src, int(n), laz.AllLayers)
		if err != nil {
			c.cut = errors.Is(err, laz.ErrTruncated) && window == c.bytes
			c.points = int64(points)
			return err
		}
		if n == c.points {
			c.bytes = int64(consumed)
			return nil
		}
	}
}

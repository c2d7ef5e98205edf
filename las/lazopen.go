package las

import (
	"encoding/binary"
	"fmt"
	"math"

	"sidelap/las/internal/laz"
)

// openLAZ reads the LASzip record and finds the chunks.
func (f *File) openLAZ(v *VLR) error {
	h := &f.hdr
	parsed, err := laz.ParseVLR(v.Data)
	if err != nil {
		return &headerFault{v.offset, "LASzip record", kindf(ErrUnsupported, "%v", err), remedyExport}
	}
	if got := parsed.RecordLength(); got != h.RecordLength {
		return &headerFault{v.offset, "LASzip record", kindf(ErrCorrupt, "its items have %d bytes, the points %d", got, h.RecordLength), remedyExport}
	}
	if got := parsed.Format(); got != int(h.Format) {
		return &headerFault{v.offset, "LASzip record", kindf(ErrCorrupt, "its items are those of point format %d, the header says %d", got, h.Format), remedyExport}
	}
	if _, err := laz.NewDecoder(parsed, h.RecordLength); err != nil {
		return &headerFault{v.offset, "LASzip record", kindf(ErrUnsupported, "%v", err), remedyExport}
	}
	f.laz = &lazLayout{vlr: parsed}
	if parsed.Compressor == laz.CompressorPointwise {
		return f.openPointwise()
	}
	return f.openChunked()
}

// lazEnd returns where the compressed points end at the latest.
func (f *File) lazEnd() int64 {
	if len(f.evlrs) > 0 {
		return f.evlrs[0].offset
	}
	return f.size
}

// openPointwise lays out a file of compressor 1: one chunk with all points.
func (f *File) openPointwise() error {
	h := &f.hdr
	n := f.lazEnd() - h.PointOffset
	if h.StatedPoints == 0 {
		return nil
	}
	if n < int64(h.RecordLength) {
		f.lose(h.PointOffset, "points", kindf(ErrTruncated, "the header says %d points, but there are only %d bytes", h.StatedPoints, n))
		return nil
	}
	if h.StatedPoints/pointsPerByte > uint64(n) {
		return reject(107, "number of point records", ErrCorrupt, "%d points cannot be in %d bytes", h.StatedPoints, n)
	}
	h.Points = int64(h.StatedPoints)
	// The end of the stream is not stated: what follows it (waveforms, padding) is left alone.
	f.laz.chunks = []lazChunk{{offset: h.PointOffset, bytes: n, points: h.Points, cut: true}}
	return nil
}

// openChunked finds the chunks of a file of compressors 2 and 3: by its table, or else one after the
// other.
func (f *File) openChunked() error {
	h := &f.hdr
	if h.PointOffset+8 > f.size {
		if h.StatedPoints > 0 {
			f.lose(h.PointOffset, "points", kindf(ErrTruncated, "the header says %d points, but the file ends before them", h.StatedPoints))
		}
		return nil
	}
	table, at, why := f.findTable()
	if table == nil {
		if why == "" { // an empty table
			return f.setChunks(nil, at)
		}
		if h.StatedPoints == 0 && f.lazEnd()-h.PointOffset-8 < int64(h.RecordLength) {
			return nil
		}
		if f.laz.vlr.Variable() {
			return &headerFault{h.PointOffset, "chunk table", kindf(ErrCorrupt, "%s, and chunks of variable size cannot be found without it", why), remedyCopy}
		}
		f.warn(fmt.Sprintf("chunk table: %s; the chunks were found one after the other", why))
		return f.recoverChunks()
	}
	return f.setChunks(table, at)
}

// findTable reads the chunk table. A nil table with a reason means that there is none to be used.
//
// The place of the table is in the first 8 bytes of the points; -1 there, or the placeholder of an
// interrupted writer, refers to the last 8 bytes of the file.
func (f *File) findTable() (table []laz.Chunk, at int64, why string) {
	first := f.hdr.PointOffset + 8
	at, err := f.int64At(f.hdr.PointOffset)
	if err != nil {
		return nil, 0, err.Error()
	}
	stated := at
	if at < first && f.size >= first+8 {
		at, err = f.int64At(f.size - 8)
		if err != nil {
			return nil, 0, err.Error()
		}
		if at < first || at > f.size-8-8 {
			return nil, 0, fmt.Sprintf("its place was never written (%d)", stated)
		}
	}
	if at > f.size-8 || at < first {
		return nil, 0, fmt.Sprintf("it should be at byte %d of %d", at, f.size)
	}
	room := at - first
	limit := room / int64(f.hdr.RecordLength)
	b := make([]byte, min(f.size-at, 8+64+16*limit))
	if err := readAt(f.r, b, at); err != nil {
		return nil, 0, err.Error()
	}
	table, err = laz.ParseTable(b, f.laz.vlr.Variable(), int(min(limit, math.MaxInt32)))
	if err != nil {
		return nil, 0, err.Error()
	}
	var sum int64
	for i, c := range table {
		sum += int64(c.Bytes)
		empty := f.laz.vlr.Variable() && c.Points == 0
		if int64(c.Bytes) < int64(f.hdr.RecordLength) && !empty || int64(c.Points) > pointsPerByte*int64(c.Bytes) {
			return nil, 0, fmt.Sprintf("entry %d of %d claims %d points in %d bytes", i+1, len(table), c.Points, c.Bytes)
		}
	}
	if sum > room {
		return nil, 0, fmt.Sprintf("its chunks add up to %d bytes, but there are %d before it", sum, room)
	}
	return table, at, ""
}

func (f *File) int64At(offset int64) (int64, error) {
	var b [8]byte
	if err := readAt(f.r, b[:], offset); err != nil {
		return 0, err
	}
	return int64(binary.LittleEndian.Uint64(b[:])), nil
}

// setChunks lays out the chunks of the table, which stands at byte at, and reconciles them with the
// number of points in the header.
func (f *File) setChunks(table []laz.Chunk, at int64) error {
	h := &f.hdr
	l := f.laz
	offset, first := h.PointOffset+8, int64(0)
	size := int64(l.vlr.ChunkSize)
	for i, c := range table {
		n := int64(c.Points)
		if !l.vlr.Variable() {
			n = size
			if i == len(table)-1 {
				if n = f.lastChunkPoints(first, offset, int64(c.Bytes)); n == 0 {
					break
				}
			}
		}
		if n > pointsPerByte*int64(c.Bytes) {
			return &headerFault{at, "chunk table", kindf(ErrCorrupt, "chunk %d should hold %d points in %d bytes", i+1, n, c.Bytes), remedyCopy}
		}
		if n > 0 {
			l.chunks = append(l.chunks, lazChunk{offset: offset, bytes: int64(c.Bytes), first: first, points: n})
		}
		offset += int64(c.Bytes)
		first += n
	}
	h.Points = first
	switch stated := h.StatedPoints; {
	case stated == uint64(first):
	case stated == 0:
		f.warn(fmt.Sprintf("the header says no points, but the chunk table names %d: read them (a writer was probably interrupted)", first))
	case stated < uint64(first):
		f.warn(fmt.Sprintf("the header says %d points, the chunk table %d; the rest is ignored", stated, first))
		l.trim(int64(stated))
		h.Points = int64(stated)
	default:
		f.lose(at, "chunk table", kindf(ErrTruncated, "the header says %d points, the chunks hold %d: %d are missing", stated, first, stated-uint64(first)))
	}
	return nil
}

// trim drops the chunks behind the first n points. The last chunk kept may hold points beyond n;
// readers stop before them.
func (l *lazLayout) trim(n int64) {
	for len(l.chunks) > 0 && l.chunks[len(l.chunks)-1].first >= n {
		l.chunks = l.chunks[:len(l.chunks)-1]
	}
}

// lastChunkPoints returns the points of the last chunk, whose first point is given, of a file with
// a fixed chunk size: what the header leaves over, or where it is wrong what the chunk says.
func (f *File) lastChunkPoints(first, offset, bytes int64) int64 {
	size := int64(f.laz.vlr.ChunkSize)
	if left := f.hdr.StatedPoints - uint64(first); f.hdr.StatedPoints > uint64(first) && left <= uint64(size) {
		return int64(left)
	}
	if f.hdr.StatedPoints > uint64(first) {
		return min(size, pointsPerByte*bytes)
	}
	if f.laz.vlr.Compressor == laz.CompressorLayered {
		var b [4]byte
		if err := readAt(f.r, b[:], offset+int64(f.hdr.RecordLength)); err == nil {
			return min(int64(binary.LittleEndian.Uint32(b[:])), size, pointsPerByte*bytes)
		}
	}
	if f.hdr.StatedPoints == 0 {
		f.lose(offset, "last chunk", kindf(ErrCorrupt, "the header says no points, so that the number of points of the last chunk is not known"))
	}
	return 0
}

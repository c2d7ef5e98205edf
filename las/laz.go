package las

import (
	"context"
	"encoding/binary"
)

// lazLayout is where the chunks of a LAZ file are.
type lazLayout struct{}

// lazState is the memory that decoding needs.
type lazState struct{}

// looksCompressed reports whether the points of a file that carries a LASzip record but whose
// format byte says LAS are compressed: there is a believable chunk table offset, or no room for
// the points uncompressed.
func (f *File) looksCompressed() bool {
	var b [8]byte
	if _, err := f.r.ReadAt(b[:], f.hdr.PointOffset); err == nil {
		at := int64(binary.LittleEndian.Uint64(b[:]))
		if at >= f.hdr.PointOffset+8 && at <= f.size-8 {
			return true
		}
	}
	room := uint64(f.size-f.hdr.PointOffset) / uint64(f.hdr.RecordLength)
	return f.hdr.StatedPoints > room
}

func (f *File) openLAZ(v *VLR) error {
	return reject(104, "point data record format", ErrUnsupported, "LAZ")
}

func (l *lazLayout) spans(n, total int64) []Span { return []Span{{0, total}} }

func (f *File) readLAZ(ctx context.Context, st *readState, s Span, cols Columns, yield func(*Chunk, error) bool) bool {
	return false
}

package las

import (
	"context"
	"fmt"
	"io"
	"iter"
)

// Span is a run of consecutive points of a file.
type Span struct {
	First int64 // index of the first point, from 0
	N     int64 // number of points
}

// Spans splits the file into runs of about n points each (at least one run, even of an empty file,
// so that a reader learns of damage). In LAZ files runs end at chunk borders, so that no chunk is
// decoded twice. n < 1 means one run.
func (f *File) Spans(n int64) []Span {
	total := f.hdr.Points
	if n < 1 || n > total {
		n = max(total, 1)
	}
	if f.laz != nil {
		return f.laz.spans(n, total)
	}
	var list []Span
	for first := int64(0); first < total; first += n {
		list = append(list, Span{first, min(n, total-first)})
	}
	if list == nil {
		list = []Span{{}}
	}
	return list
}

// readState is the memory of one reading, reused by the next.
type readState struct {
	chunk    Chunk
	records  []byte
	restored []byte
	laz      lazState
}

// Read returns the points of the span in file order, in chunks of at most MaxChunk points with the
// wanted columns. It is meant for one goroutine; other goroutines may read other spans of the file,
// or the same, at the same time.
//
// The chunk is reused: it and its slices are valid until the next step of the loop. Points that
// the span has beyond the end of the file are left out. When the file is damaged, the sequence
// gives the good points before the damage and then ends with a *FormatError; with
// OpenOptions.Salvage it goes on and Warnings tells what is lost. When ctx is done the sequence
// ends with its error.
func (f *File) Read(ctx context.Context, s Span, cols Columns) iter.Seq2[*Chunk, error] {
	return func(yield func(*Chunk, error) bool) {
		s.First = min(max(s.First, 0), f.hdr.Points)
		s.N = min(max(s.N, 0), f.hdr.Points-s.First)
		st := f.states.Get().(*readState)
		defer f.states.Put(st)
		read := f.readPlain
		if f.laz != nil {
			read = f.readLAZ
		}
		if !read(ctx, st, s, cols, yield) {
			return
		}
		if f.tail != nil && s.First+s.N == f.hdr.Points {
			yield(nil, f.tail)
		}
	}
}

// maxPlainBytes bounds the records of a chunk of LAS, whose records may have up to 65535 bytes: with
// ordinary ones MaxChunk is the smaller bound.
const maxPlainBytes = 4 << 20

// readPlain reads uncompressed records. It returns false when the sequence is over: the caller
// stopped it, or an error was delivered.
func (f *File) readPlain(ctx context.Context, st *readState, s Span, cols Columns, yield func(*Chunk, error) bool) bool {
	record := f.record
	most := max(1, min(MaxChunk, maxPlainBytes/int64(record)))
	for first, end := s.First, s.First+s.N; first < end; {
		if err := ctx.Err(); err != nil {
			yield(nil, err)
			return false
		}
		n := int(min(end-first, most))
		st.records = sized(st.records, n*record, true)
		at := f.hdr.PointOffset + first*int64(record)
		if err := readAt(f.r, st.records, at); err != nil {
			yield(nil, f.readFault(err, at, fmt.Sprintf("points %d to %d", first+1, first+int64(n))))
			return false
		}
		if !f.deliver(st, st.records, first, cols, yield) {
			return false
		}
		first += int64(n)
	}
	return true
}

// deliver hands over records as one chunk.
func (f *File) deliver(st *readState, records []byte, first int64, cols Columns, yield func(*Chunk, error) bool) bool {
	if f.compat != nil {
		st.restored = f.compat.restore(st.restored, records)
		records = st.restored
	}
	c := &st.chunk
	c.extract(records, f.hdr.RecordLength, f.hdr.Format, cols)
	c.Frame, c.First = &f.frame, first
	return yield(c, nil)
}

// readFault names the place of a failed reading.
func (f *File) readFault(err error, at int64, field string) error {
	if fe := f.fault(err); fe != err {
		return &FormatError{f.path, at, field, fe.(*FormatError).Err, remedyCopy}
	}
	return fmt.Errorf("%s: byte %d: %s: %w", f.path, at, field, err)
}

// readAt fills b from the bytes at offset.
func readAt(r io.ReaderAt, b []byte, offset int64) error {
	n, err := r.ReadAt(b, offset)
	switch {
	case n == len(b):
		return nil
	case err == nil:
		return io.ErrUnexpectedEOF
	}
	return err
}

package las

import (
	"errors"
	"fmt"

	"sidelap/las/internal/laz"
)

// Writer writes a LAS or LAZ file under a temporary name beside the wanted one; Close gives it its
// name. One goroutine uses it.
type Writer struct {
	path    string
	o       WriterOptions
	vlrs    []VLR
	evlrs   []VLR
	start   int64 // of the points
	body    pointSink
	laz     *laz.VLR // nil for LAS
	out     *outFile
	records []byte
	record  int // record length
	stats   pointStats
	err     error
	done    bool
}

// Create starts a file. Write points, then Close; or Abort, which leaves nothing behind.
func Create(path string, o WriterOptions) (*Writer, error) {
	if err := o.complete(); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	w := &Writer{path: path, o: o, record: FormatSize(o.Format) + o.ExtraBytes}
	if err := w.chooseRecords(); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	out, err := newOutFile(path, o.Overwrite)
	if err != nil {
		return nil, err
	}
	w.out = out
	if err := w.writeStart(); err != nil {
		out.abort()
		return nil, err
	}
	return w, nil
}

// Write appends the points of the chunk. When c.Record is filled, these records are written, with
// the coordinates replaced by X, Y and Z where those are filled: a caller that moves points reads
// with ColRecord, changes X, Y, Z, and every other byte is kept. The records must be of the
// writer's format and length.
//
// Else the records are made of the columns. Columns of length 0 are written as zero, except that
// absent returns become 1 of 1. A value that does not fit the format is an error; formats 0 to 5 hold
// FlagOverlap only with class 12.
func (w *Writer) Write(c *Chunk) error {
	if err := w.usable(); err != nil {
		return err
	}
	if len(c.Record) > 0 {
		return w.writeMoved(c)
	}
	w.records = sized(w.records, c.N*w.record, true)
	clear(w.records)
	if err := c.pack(w.records, w.record, w.o.Format); err != nil {
		return w.fail(fmt.Errorf("%s: point %d: %w", w.path, w.stats.n+1, err))
	}
	return w.put(w.records)
}

// writeMoved writes c.Record with the coordinates of the columns.
func (w *Writer) writeMoved(c *Chunk) error {
	if len(c.Record) != c.N*w.record {
		return w.fail(fmt.Errorf("%s: %d points with records of %d bytes in all, but the file's records have %d bytes", w.path, c.N, len(c.Record), w.record))
	}
	if len(c.X) != c.N {
		return w.put(c.Record)
	}
	w.records = append(w.records[:0], c.Record...)
	c.packXYZ(w.records, w.record)
	return w.put(w.records)
}

// WriteRecords appends points given as records of the writer's format and length.
func (w *Writer) WriteRecords(records []byte) error {
	if err := w.usable(); err != nil {
		return err
	}
	if len(records)%w.record != 0 {
		return w.fail(fmt.Errorf("%s: %d bytes are not a whole number of %d-byte records", w.path, len(records), w.record))
	}
	return w.put(records)
}

// put counts and writes whole records.
func (w *Writer) put(records []byte) error {
	w.stats.add(records, w.record, w.o.Format)
	if w.o.Version.Minor >= 5 {
		w.stats.addTimes(records, w.record, w.o.Format)
	}
	if err := w.body.write(records); err != nil {
		return w.fail(err)
	}
	return nil
}

// Points returns the number of points written so far.
func (w *Writer) Points() int64 { return w.stats.n }

var errClosed = errors.New("the writer is closed")

func (w *Writer) usable() error {
	if w.err == nil && w.done {
		return errClosed
	}
	return w.err
}

// fail keeps the first error and returns it; nil changes nothing.
func (w *Writer) fail(err error) error {
	if w.err == nil {
		w.err = err
	}
	return w.err
}

// Close finishes the file and gives it its name. After an error in Write it removes what was
// written and returns that error.
func (w *Writer) Close() error {
	if w.done {
		return w.err
	}
	if w.err == nil {
		w.fail(w.finish())
	}
	w.done = true
	if w.err != nil {
		w.body.stop()
		w.out.abort()
		return w.err
	}
	return w.fail(w.out.commit())
}

// Abort removes what was written. After Close it does nothing.
func (w *Writer) Abort() error {
	if w.done {
		return nil
	}
	w.done = true
	w.body.stop()
	return w.out.abort()
}

package las

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"time"

	"sidelap/las/internal/laz"
)

// WriterOptions says what kind of file Create makes. The zero value writes format 0 with a scale of
// 1 mm in version 1.2; set at least Format.
type WriterOptions struct {
	Format     uint8      // point data record format 0..10
	Version    Version    // zero: the oldest that fits the format (1.2, 1.3, 1.4)
	ExtraBytes int        // bytes of a record after the format's own; describe them with a VLR
	Compress   bool       // write LAZ
	ChunkSize  int        // points in a LAZ chunk; 0: 50 000
	Workers    int        // goroutines that compress; 0: one for each processor
	Scale      [3]float64 // zero components: 0.001
	Offset     [3]float64
	Overwrite  bool // replace an existing file; without it Create refuses

	GlobalEncoding uint16 // time type and so on; the bits for WKT and waveforms follow the records
	FileSourceID   uint16
	GUID           [16]byte
	SystemID       string
	Software       string    // zero: "sidelap"
	Created        time.Time // zero: the header says day 0 of year 0, so that equal inputs give equal files
	TimeOffset     uint16    // LAS 1.5, millions of seconds

	WKT   string // coordinate system; becomes a WKT record
	VLRs  []VLR  // copied; LASzip, COPC and superseded records are left out
	EVLRs []VLR  // copied behind the points (LAS 1.4 and later; LAS 1.3: only the waveform record)
}

// OptionsFrom returns options that write points of f in its own format, version, scale and offset
// with its records. The file's bits about time and returns are kept, and so are its date and strings.
func OptionsFrom(f *File) WriterOptions {
	h := f.Header()
	var created time.Time
	if h.CreationYear > 0 && h.CreationDay > 0 && h.CreationDay <= 366 {
		created = time.Date(int(h.CreationYear), 1, int(h.CreationDay), 0, 0, 0, 0, time.UTC)
	}
	return WriterOptions{
		Created: created,
		Format:  h.Format, Version: h.Version, ExtraBytes: h.ExtraBytes(), Compress: h.Compressed,
		Scale: h.Scale, Offset: h.Offset, GlobalEncoding: h.GlobalEncoding, FileSourceID: h.FileSourceID,
		GUID: h.GUID, SystemID: h.SystemID, Software: h.Software, TimeOffset: h.TimeOffset,
		VLRs: f.VLRs(), EVLRs: f.EVLRs(),
	}
}

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

// complete fills in defaults and checks the options.
func (o *WriterOptions) complete() error {
	if o.Format > maxFormat {
		return kindf(ErrInvalidValue, "point format %d, but only 0 to %d exist", o.Format, maxFormat)
	}
	if o.Version == (Version{}) {
		o.Version = versionFor(o.Format)
		if o.WKT != "" || len(o.EVLRs) > 0 {
			o.Version = Version{1, 4}
		}
	}
	size, known := o.Version.headerSize()
	if !known {
		return kindf(ErrUnsupported, "LAS version %s cannot be written", o.Version)
	}
	if need := versionFor(o.Format); Extended(o.Format) && size < 375 {
		return kindf(ErrInvalidValue, "point format %d needs LAS %s, not %s", o.Format, need, o.Version)
	}
	if o.Version.Minor >= 5 && !Extended(o.Format) {
		return kindf(ErrInvalidValue, "LAS %s has point formats 6 to 10 only, not %d", o.Version, o.Format)
	}
	if o.WKT != "" && size < 375 {
		return kindf(ErrInvalidValue, "LAS %s has no WKT; give GeoTIFF keys as VLRs, or write LAS 1.4", o.Version)
	}
	if n := FormatSize(o.Format) + o.ExtraBytes; o.ExtraBytes < 0 || n > math.MaxUint16 {
		return kindf(ErrInvalidValue, "%d extra bytes make a record of %d bytes, but at most 65535 can be written", o.ExtraBytes, n)
	}
	wave13 := o.Version.Minor == 3 && len(o.EVLRs) == 1 && o.EVLRs[0].is(UserSpec, recordWaveformData)
	if len(o.EVLRs) > 0 && size < 375 && !wave13 {
		return kindf(ErrInvalidValue, "LAS %s has no extended records", o.Version)
	}
	if o.ChunkSize < 0 || o.ChunkSize > maxChunkSize {
		return kindf(ErrInvalidValue, "chunks of %d points; give 1 to %d, or 0 for 50000", o.ChunkSize, maxChunkSize)
	}
	for i, axis := range [3]string{"X", "Y", "Z"} {
		if o.Scale[i] == 0 {
			o.Scale[i] = 0.001
		}
		if s, v := o.Scale[i], o.Offset[i]; math.IsNaN(s+v) || math.IsInf(s+v, 0) {
			return kindf(ErrInvalidValue, "scale %v and offset %v of %s cannot be written", s, v, axis)
		}
	}
	if o.Software == "" {
		o.Software = "sidelap"
	}
	return nil
}

// chooseRecords makes the lists of VLRs and EVLRs to write and the encoding bits that go with them.
func (w *Writer) chooseRecords() error {
	for _, list := range [2][]VLR{w.o.VLRs, w.o.EVLRs} {
		for _, v := range list {
			if v.droppedByWriter() || w.o.WKT != "" && v.UserID == UserProjection {
				continue
			}
			if len(v.UserID) > 16 || len(v.Description) > 32 {
				return kindf(ErrInvalidValue, "record %s/%d: user ID %q or description %q is longer than 16 or 32 bytes", v.UserID, v.RecordID, v.UserID, v.Description)
			}
			if !v.Extended && v.Size() > math.MaxUint16 {
				return kindf(ErrInvalidValue, "record %s/%d has %d bytes, a variable length record at most 65535", v.UserID, v.RecordID, v.Size())
			}
			if v.Extended {
				w.evlrs = append(w.evlrs, v)
			} else {
				w.vlrs = append(w.vlrs, v)
			}
		}
	}
	if w.o.WKT != "" {
		v := NewWKT(w.o.WKT)
		if len(v.Data) > math.MaxUint16 {
			return kindf(ErrInvalidValue, "the coordinate system has %d bytes of WKT, a record at most 65535", len(v.Data))
		}
		w.vlrs = append([]VLR{v}, w.vlrs...)
	}
	w.setEncoding()
	return nil
}

// setEncoding makes the encoding bits agree with the records.
func (w *Writer) setEncoding() {
	hasWKT, hasKeys, hasWaves := false, false, false
	for _, list := range [2][]VLR{w.vlrs, w.evlrs} {
		for i := range list {
			hasWKT = hasWKT || list[i].is(UserProjection, RecordWKT)
			hasKeys = hasKeys || list[i].is(UserProjection, RecordGeoKeys)
			hasWaves = hasWaves || list[i].is(UserSpec, recordWaveformData)
		}
	}
	switch {
	case w.o.Version.Minor < 4: // the bit is reserved
	case w.o.WKT != "", hasWKT && !hasKeys, Extended(w.o.Format) && !hasKeys:
		w.o.GlobalEncoding |= EncodingWKT
	case hasKeys && !hasWKT:
		w.o.GlobalEncoding &^= EncodingWKT
	}
	if !hasWaves {
		w.o.GlobalEncoding &^= EncodingWaveInternal
	}
}

// droppedByWriter reports whether a record describes the file it came from and would be false in
// another one.
func (v *VLR) droppedByWriter() bool {
	return v.is(userLASzip, recordLASzip) || v.UserID == userCOPC || v.is(UserSpec, recordSuperseded)
}

// NewWKT returns the record that holds a coordinate system as WKT.
func NewWKT(wkt string) VLR {
	return VLR{UserID: UserProjection, RecordID: RecordWKT, Description: "OGC WKT", Data: append([]byte(wkt), 0)}
}

// NewGeoKeys returns the records that hold a coordinate system as GeoTIFF keys, the form that
// crs.CRS.GeoKeys gives. Empty parts get no record.
func NewGeoKeys(directory []uint16, doubles []float64, ascii []byte) []VLR {
	le := binary.LittleEndian
	var list []VLR
	add := func(id uint16, description string, data []byte) {
		if len(data) > 0 {
			list = append(list, VLR{UserID: UserProjection, RecordID: id, Description: description, Data: data})
		}
	}
	var keys, numbers []byte
	for _, v := range directory {
		keys = le.AppendUint16(keys, v)
	}
	for _, v := range doubles {
		numbers = le.AppendUint64(numbers, math.Float64bits(v))
	}
	add(RecordGeoKeys, "GeoKeyDirectoryTag", keys)
	add(RecordGeoDoubles, "GeoDoubleParamsTag", numbers)
	add(RecordGeoASCII, "GeoAsciiParamsTag", ascii)
	return list
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
		w.fail2(w.finish())
	}
	w.done = true
	if w.err != nil {
		w.body.stop()
		w.out.abort()
		return w.err
	}
	return w.fail2(w.out.commit())
}

func (w *Writer) fail2(err error) error {
	if err != nil {
		return w.fail(err)
	}
	return w.err
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

// outFile is a file under a temporary name beside its final one.
type outFile struct {
	*os.File
	path string
}

// newOutFile creates the temporary file. It refuses to replace an existing file unless told to.
func newOutFile(path string, overwrite bool) (*outFile, error) {
	if _, err := os.Lstat(path); err == nil && !overwrite {
		return nil, &fs.PathError{Op: "create", Path: path, Err: fs.ErrExist}
	}
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*.part")
	if err != nil {
		return nil, err
	}
	return &outFile{f, path}, nil
}

func (o *outFile) commit() error {
	if err := o.Chmod(0o644); err != nil {
		o.abort()
		return err
	}
	if err := o.File.Close(); err != nil {
		os.Remove(o.Name())
		return err
	}
	if err := os.Rename(o.Name(), o.path); err != nil {
		os.Remove(o.Name())
		return err
	}
	return nil
}

func (o *outFile) abort() error {
	o.File.Close()
	return os.Remove(o.Name())
}

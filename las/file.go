package las

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"sync"

	"sidelap/las/crs"
	"sidelap/las/disk"
)

// OpenOptions says how tolerant a File is. The zero value is what Open uses.
type OpenOptions struct {
	// Salvage makes reading go on behind damage: what is lost is told by Warnings instead of an
	// error. Without it, reading gives all points before the damage and then an error.
	Salvage bool

	// Digest takes the SHA-256 of the file while it is read; see SHA256.
	Digest bool
}

// File is a LAS or LAZ file open for reading. Its methods may be called by several goroutines at
// once.
type File struct {
	path     string
	r        io.ReaderAt
	closer   io.Closer // nil for OpenReader
	size     int64
	salvage  bool
	hdr      Header
	vlrs     []VLR
	vlrEnd   int64 // end of the last good VLR
	evlrs    []VLR
	frame    Frame
	crs      *crs.CRS
	extra    []ExtraField
	record   int     // length of a stored record
	compat   *compat // restores stored records; nil when they are served as they are
	id       disk.Identity
	laz      *lazLayout // nil for LAS
	tail     error      // what is wrong at the end of the points; nil when all are there
	states   sync.Pool  // *readState
	mu       sync.Mutex // guards warnings, seen, losses
	losses   []loss     // by chunk
	warnings []string
	seen     map[string]bool
}

// Open reads everything but the points: header, variable length records, coordinate reference
// system, table of chunks. Errors are *FormatError, or those of the file system.
func Open(path string) (*File, error) { return OpenWith(path, OpenOptions{}) }

// OpenWith is Open with options.
func OpenWith(path string, o OpenOptions) (*File, error) { return openFile(path, o, false) }

// openFile opens a file. keepStored leaves points in compatibility mode as they are stored.
func openFile(path string, o OpenOptions, keepStored bool) (*File, error) {
	info, err := os.Stat(path) // before the file is opened: to open a pipe would wait for a writer
	if err != nil {
		return nil, err
	}
	switch {
	case info.IsDir():
		return nil, &FormatError{path, 0, "file", kindf(ErrNotLAS, "this is a directory"), "give a LAS or LAZ file"}
	case !info.Mode().IsRegular():
		return nil, &FormatError{path, 0, "file", kindf(ErrNotLAS, "this is no regular file (a pipe or a device)"), "give a LAS or LAZ file"}
	}
	r, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	id, err := disk.IdentityOf(r) // before anything is read
	if err != nil {
		r.Close()
		return nil, err
	}
	f, err := openReader(r, info.Size(), path, o, keepStored)
	if err != nil {
		r.Close()
		return nil, err
	}
	f.closer, f.id = r, id
	return f, nil
}

// Unchanged returns an error when the file on the disk is no longer what it was when it was opened: gone, replaced, of another size
// or changed since. What was read of it may then be a mixture. Ask at the end of a reading, and when one fails.
func (f *File) Unchanged() error { return f.id.Unchanged() }

// OpenReader is OpenWith for the bytes of a file that are not on disk. name stands for the path in
// messages. Close does not close r.
func OpenReader(r io.ReaderAt, size int64, name string, o OpenOptions) (*File, error) {
	return openReader(r, size, name, o, false)
}

func openReader(r io.ReaderAt, size int64, name string, o OpenOptions, keepStored bool) (*File, error) {
	f := &File{path: name, r: r, size: size, salvage: o.Salvage, seen: map[string]bool{}}
	if o.Digest {
		f.r = newDigest(r)
	}
	f.states.New = func() any { return new(readState) }
	if err := f.open(keepStored); err != nil {
		return nil, f.fault(err)
	}
	return f, nil
}

// open reads everything but the points.
func (f *File) open(keepStored bool) error {
	start := make([]byte, min(f.size, maxHeaderRead))
	if err := readAt(f.r, start, 0); err != nil {
		return err
	}
	h, warnings, err := parseHeader(start)
	if err != nil {
		return err
	}
	f.hdr = *h
	f.warn(warnings...)
	if err := f.checkPointOffset(); err != nil {
		return err
	}
	list, end, warnings, err := readVLRs(f.r, &f.hdr)
	f.warn(warnings...)
	if err != nil {
		return err
	}
	f.vlrs, f.vlrEnd = list, end
	evlrs, whole, warnings, err := readEVLRs(f.r, f.size, &f.hdr)
	f.warn(warnings...)
	if err != nil {
		return err
	}
	f.evlrs = evlrs
	if evlrs == nil {
		if f.evlrs, err = readWaveRecord(f.r, f.size, &f.hdr); err != nil {
			return err
		}
	}
	if err := f.locatePoints(whole); err != nil {
		return err
	}
	f.frame = Frame{Scale: f.hdr.Scale, Offset: f.hdr.Offset, HorizontalM: 1, VerticalM: 1}
	f.readProjection()
	f.readExtraFields()
	f.restoreFormat(keepStored)
	if f.IsCOPC() {
		f.warn("this is a COPC file: its points are in the order of an octree, not in the order of flight")
	}
	return nil
}

// checkPointOffset applies the rules of the offset to point data.
func (f *File) checkPointOffset() error {
	h := &f.hdr
	if h.PointOffset < int64(h.HeaderSize) {
		return reject(96, "offset to point data", ErrInvalidValue, "%d is inside the %d-byte header", h.PointOffset, h.HeaderSize)
	}
	if h.PointOffset > f.size {
		if h.StatedPoints == 0 && !h.Compressed {
			f.warn(fmt.Sprintf("the offset to point data %d lies beyond the end of the file (%d bytes); the file has no points", h.PointOffset, f.size))
			h.PointOffset = f.size
			return nil
		}
		return &headerFault{96, "offset to point data", kindf(ErrTruncated, "%d lies beyond the end of the file (%d bytes)", h.PointOffset, f.size), "copy the file again from its source"}
	}
	return nil
}

// locatePoints decides how many points the file holds and where they end. evlrsWhole reports that
// the extended records are all in the file, so that their start can be trusted.
func (f *File) locatePoints(evlrsWhole bool) error {
	vlr, marked := f.vlr(userLASzip, recordLASzip)
	if marked && !f.hdr.Compressed {
		if f.looksCompressed() {
			f.warn("the format byte says LAS, but there is a LASzip record and the points are compressed; read as LAZ")
			f.hdr.Compressed = true
		} else {
			f.warn("there is a LASzip record, but the points are not compressed; it is ignored")
		}
	}
	if f.hdr.Compressed {
		if !marked {
			return reject(104, "point data record format", ErrCorrupt, "marked as LAZ, but the LASzip record is missing")
		}
		return f.openLAZ(vlr)
	}
	return f.locatePlain(evlrsWhole)
}

// locatePlain counts the records of an uncompressed file.
func (f *File) locatePlain(evlrsWhole bool) error {
	h := &f.hdr
	record := int64(h.RecordLength)
	end := f.size
	if len(f.evlrs) > 0 {
		start := f.evlrs[0].offset
		overlap := h.StatedPoints > uint64((start-h.PointOffset)/record)
		if overlap && !evlrsWhole {
			f.warn("the extended records would lie inside the points; they are ignored")
			f.evlrs = nil
		} else {
			end = start
		}
	}
	if w := int64(h.WaveformStart); h.Version.Minor == 3 && h.GlobalEncoding&EncodingWaveInternal != 0 && w > h.PointOffset && w < end {
		end = w
	}
	present := (end - h.PointOffset) / record
	stated := h.StatedPoints
	switch {
	case stated == uint64(present):
		h.Points = present
	case stated == 0 && present > 0:
		h.Points = present
		f.warn(fmt.Sprintf("the header says no points, but there is room for %d: read them (a writer was probably interrupted)", present))
	case stated < uint64(present):
		h.Points = int64(stated)
		f.warn(fmt.Sprintf("%d bytes between the end of the %d points and byte %d are not points; ignored", end-h.PointOffset-int64(stated)*record, stated, end))
	default:
		h.Points = present
		at := h.PointOffset + present*record
		if present > 0 && stated == uint64(present)+1 { // the usual trace of a writer that was cut off
			f.warn(fmt.Sprintf("the file ends before its last point: %d of %d points are whole", present, stated))
			break
		}
		f.lose(at, fmt.Sprintf("point %d", present+1), kindf(ErrTruncated, "the header says %d points, the file holds %d: %d are missing", stated, present, stated-uint64(present)))
	}
	return nil
}

// lose records that the points end too early: an error at the end of reading, or a warning when
// the caller chose to salvage.
func (f *File) lose(offset int64, field string, err error) {
	if f.salvage {
		f.losses = append(f.losses, loss{chunk: math.MaxInt, text: fmt.Sprintf("%s: %v", field, err)})
		return
	}
	f.tail = &FormatError{f.path, offset, field, err, remedyCopy}
}

// fault turns an error of the header or of reading into a *FormatError with the path.
func (f *File) fault(err error) error {
	var h *headerFault
	switch {
	case errors.As(err, &h):
		return &FormatError{f.path, h.offset, h.field, h.err, h.remedy}
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return &FormatError{f.path, f.size, "file", kindf(ErrTruncated, "the file became shorter while it was read"), remedyCopy}
	}
	return err
}

// warn adds warnings, each text once.
func (f *File) warn(texts ...string) {
	f.mu.Lock()
	defer f.mu.Unlock()
	for _, t := range texts {
		if !f.seen[t] {
			f.seen[t] = true
			f.warnings = append(f.warnings, t)
		}
	}
}

// loss is one piece of damage that a salvaging reader went past.
type loss struct {
	chunk  int   // of a LAZ file; math.MaxInt: the points end too early
	points int64 // announced by the chunk, not delivered
	text   string
}

// lostIn records damage in a chunk, once however often it is read.
func (f *File) lostIn(l loss) {
	f.mu.Lock()
	defer f.mu.Unlock()
	at, known := slices.BinarySearchFunc(f.losses, l, func(a, b loss) int { return cmp.Compare(a.chunk, b.chunk) })
	if !known {
		f.losses = slices.Insert(f.losses, at, l)
	}
}

// Loss is what a salvaging reader went past.
type Loss struct {
	Undelivered int64 // of Header().Points, inside damaged chunks
	Missing     int64 // announced by the header beyond Header().Points
}

// Loss reports, after reading with OpenOptions.Salvage, whether points were lost. The counts are what
// header and chunks announce: a damaged header may announce fewer than there were. Layers of LAZ that
// were not asked for are not looked at.
func (f *File) Loss() (l Loss, damaged bool) {
	f.mu.Lock()
	defer f.mu.Unlock()
	for _, d := range f.losses {
		l.Undelivered += d.points
	}
	if stated := f.hdr.StatedPoints; len(f.losses) > 0 && stated > uint64(f.hdr.Points) && stated < 1<<62 {
		l.Missing = int64(stated) - f.hdr.Points
	}
	return l, len(f.losses) > 0
}

// Path returns the path as given to Open.
func (f *File) Path() string { return f.path }

// Size returns the bytes of the file.
func (f *File) Size() int64 { return f.size }

// Header returns the header. The caller must not change it.
func (f *File) Header() *Header { return &f.hdr }

// VLRs returns the variable length records, in file order. The caller must not change them.
func (f *File) VLRs() []VLR { return f.vlrs }

// EVLRs returns the extended variable length records, in file order. The caller must not change them.
func (f *File) EVLRs() []VLR { return f.evlrs }

// IsCOPC reports whether the points are in the order of a COPC octree.
func (f *File) IsCOPC() bool {
	_, ok := f.vlr(userCOPC, recordCOPCInfo)
	return ok
}

// Frame returns how stored integers become metres. It is shared by all chunks.
func (f *File) Frame() *Frame { return &f.frame }

// SetFrame overrides the frame, for a file whose units are missing or wrong. Call it before reading.
func (f *File) SetFrame(fr Frame) { f.frame = fr }

// Warnings returns what is odd about the file, and behind it what a salvaging reader lost, in file
// order. Reading adds to it. What is
// missing or assumed about the coordinate reference system is in CRS().Notes.
func (f *File) Warnings() []string {
	f.mu.Lock()
	defer f.mu.Unlock()
	list := append([]string(nil), f.warnings...)
	for _, l := range f.losses {
		list = append(list, l.text)
	}
	return list
}

// Close closes the file. Readings that are under way fail.
func (f *File) Close() error {
	if f.closer == nil {
		return nil
	}
	return f.closer.Close()
}

// vlr returns the first record with the IDs, in VLRs and then EVLRs.
func (f *File) vlr(user string, record uint16) (*VLR, bool) {
	for _, list := range [2][]VLR{f.vlrs, f.evlrs} {
		for i := range list {
			if list[i].is(user, record) {
				return &list[i], true
			}
		}
	}
	return nil, false
}

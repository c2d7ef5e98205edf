package las

import (
	"bufio"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"

	"sidelap/las/disk"
	"sidelap/las/internal/laz"
)

// RepackOptions controls Repack. The zero value is usable.
type RepackOptions struct {
	ChunkSize int  // points in a LAZ chunk; 0: 50 000
	Workers   int  // goroutines that pack and unpack; 0: one for each processor
	Salvage   bool // go on behind damage; what is lost is told in the result
	Overwrite bool // replace an existing file
	NoVerify  bool // do not decode each LAZ chunk again to prove that it holds the same bits

	Progress func(points int64) // called now and then with the points done so far; may be nil
}

// RepackResult says what Repack did.
type RepackResult struct {
	Points   int64
	Bytes    int64    // of the new file
	Warnings []string // about the input, and what could not be kept
}

// Repack copies a file as LAS or as LAZ, as the ending of the output's name says.
//
// Every bit of every point is kept, and so is every byte of the header and of the (extended)
// variable length records, except what the form itself requires: the LASzip record and the mark of
// compression come or go, offsets and the number of records follow, and counts of points that the
// file does not hold are put right. A COPC file is unpacked in the order of its points; its COPC
// records, which would be false, are left out and the result says so.
//
// Before the new file gets its name, every LAZ chunk has been decoded again and compared. On error,
// or when ctx is done, no output is left. The input is never changed.
func Repack(ctx context.Context, in, out string, o RepackOptions) (*RepackResult, error) {
	compress, err := compressByName(out)
	if err != nil {
		return nil, err
	}
	if o.ChunkSize < 0 || o.ChunkSize > maxChunkSize {
		return nil, kindf(ErrInvalidValue, "chunks of %d points; give 1 to %d, or 0 for 50000", o.ChunkSize, maxChunkSize)
	}
	f, err := openFile(in, OpenOptions{Salvage: o.Salvage}, true)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	if a, err := os.Stat(out); err == nil {
		if b, err := os.Stat(in); err == nil && os.SameFile(a, b) {
			return nil, fmt.Errorf("%s: input and output are the same file; give another name", out)
		}
	}
	file, err := newOutFile(out, o.Overwrite)
	if err != nil {
		return nil, err
	}
	r := repacker{f: f, out: file, o: o, compress: compress}
	if err := r.run(ctx); err != nil {
		file.abort()
		return nil, err
	}
	size, err := file.Seek(0, io.SeekEnd)
	if err == nil {
		err = file.commit()
	} else {
		file.abort()
	}
	if err != nil {
		return nil, err
	}
	return &RepackResult{Points: r.stats.n, Bytes: size, Warnings: append(f.Warnings(), r.warnings...)}, nil
}

// compressByName says what the ending of a file name asks for.
func compressByName(path string) (compress bool, err error) {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".las":
		return false, nil
	case ".laz":
		return true, nil
	}
	return false, fmt.Errorf("%s: the name must end in .las or .laz to say what to write", path)
}

// repacker is the state of one Repack.
type repacker struct {
	f        *File
	out      *outFile
	o        RepackOptions
	compress bool
	head     []byte // the header, patched as the file grows
	vlrs     []*VLR
	evlrs    []*VLR
	start    int64
	stats    pointStats
	warnings []string
}

func (r *repacker) warn(format string, args ...any) {
	r.warnings = append(r.warnings, fmt.Sprintf(format, args...))
}

func (r *repacker) run(ctx context.Context) error {
	r.head = make([]byte, r.f.hdr.HeaderSize)
	if err := readAt(r.f.r, r.head, 0); err != nil {
		return r.f.fault(err)
	}
	var vlr *laz.VLR
	if r.compress {
		v, err := lazFor(r.f.hdr.Format, r.f.hdr.RecordLength, r.f.hdr.Version, r.o.ChunkSize)
		if err != nil {
			return fmt.Errorf("%s: %w", r.f.path, err)
		}
		vlr = v
	}
	if err := r.writeFront(vlr); err != nil {
		return err
	}
	if err := r.writePoints(ctx, vlr); err != nil {
		return err
	}
	if err := r.writeBack(); err != nil {
		return err
	}
	_, err := r.out.WriteAt(r.head, 0)
	return err
}

// writeFront writes header, records and the bytes between them and the points.
func (r *repacker) writeFront(vlr *laz.VLR) error {
	f := r.f
	for i := range f.vlrs {
		if v := &f.vlrs[i]; !r.drops(v) {
			r.vlrs = append(r.vlrs, v)
		}
	}
	for i := range f.evlrs {
		if v := &f.evlrs[i]; !r.drops(v) {
			r.evlrs = append(r.evlrs, v)
		}
	}
	if vlr != nil {
		if _, ok := f.vlr(userCompatible, recordLASzip); ok {
			vlr.Options |= lazCompatible
		}
		v := newLASzip(vlr)
		r.vlrs = append(r.vlrs, &v)
	}
	gap := io.NewSectionReader(f.r, f.vlrEnd, f.hdr.PointOffset-f.vlrEnd)
	r.start = int64(len(r.head)) + gap.Size()
	for _, v := range r.vlrs {
		r.start += vlrHeaderSize + v.Size()
	}
	if r.start > math.MaxUint32 {
		return fmt.Errorf("%s: the points would start at byte %d, which a LAS file cannot say", r.out.path, r.start)
	}
	w := bufio.NewWriterSize(r.out, 1<<16)
	if _, err := w.Write(r.head); err != nil {
		return err
	}
	for _, v := range r.vlrs {
		if err := writeRecord(w, v); err != nil {
			return r.f.fault(err)
		}
	}
	if _, err := io.Copy(w, gap); err != nil {
		return r.f.fault(err)
	}
	return w.Flush()
}

// drops reports whether a record must not be carried over.
func (r *repacker) drops(v *VLR) bool {
	switch {
	case v.UserID == userCOPC:
		r.warn("the result is no longer COPC: record %s/%d is left out, the points keep their order", v.UserID, v.RecordID)
		return true
	case v.is(userLASzip, recordLASzip):
		return true
	}
	return false
}

// writePoints copies the points.
func (r *repacker) writePoints(ctx context.Context, vlr *laz.VLR) (err error) {
	f := r.f
	record := f.hdr.RecordLength
	var sink pointSink = &plainSink{bufio.NewWriterSize(r.out, 1<<18)}
	if vlr != nil {
		if sink, err = newLAZSink(r.out, vlr, record, r.start, r.o.Workers, !r.o.NoVerify); err != nil {
			return err
		}
	}
	defer sink.stop()
	for c, err := range f.Chunks(ctx, ColRecord, r.o.Workers) {
		if err != nil {
			return cmp.Or(f.Unchanged(), err)
		}
		r.stats.add(c.Record, record, f.hdr.Format)
		if err := sink.write(c.Record); err != nil {
			return r.named(err)
		}
		if r.o.Progress != nil {
			r.o.Progress(r.stats.n)
		}
	}
	if err := f.Unchanged(); err != nil {
		return err
	}
	return r.named(sink.close())
}

// named puts the output's name before errors that are not about a path.
func (r *repacker) named(err error) error {
	var de *disk.Error
	if err == nil || errors.As(err, &de) {
		return err
	}
	return fmt.Errorf("%s: %w", r.out.path, err)
}

// writeBack writes what follows the points and completes the header.
func (r *repacker) writeBack() error {
	f := r.f
	at, err := r.out.Seek(0, io.SeekEnd)
	if err != nil {
		return err
	}
	moved := map[int64]int64{} // places of blocks behind the points: old to new
	w := bufio.NewWriterSize(r.out, 1<<16)
	first := at
	for _, v := range r.evlrs {
		moved[v.offset] = at
		if err := writeRecord(w, v); err != nil {
			return f.fault(err)
		}
		at += evlrHeaderSize + v.Size()
	}
	if wave := int64(f.hdr.WaveformStart); len(f.evlrs) == 0 && f.hdr.Version.Minor == 3 && f.hdr.GlobalEncoding&EncodingWaveInternal != 0 && wave > f.hdr.PointOffset && wave < f.size {
		moved[wave] = at // not in the form of a record: carried as it is
		if _, err := io.Copy(w, io.NewSectionReader(f.r, wave, f.size-wave)); err != nil {
			return f.fault(err)
		}
	}
	if err := w.Flush(); err != nil {
		return err
	}
	r.patchHeader(first, moved)
	return nil
}

// lazCompatible is the option of the LASzip record that marks LAS 1.4 compatibility mode.
const lazCompatible = 1 << 0

// maxChunkSize is the most points that this package puts into a LAZ chunk.
const maxChunkSize = 1 << 24

// lazFor returns the LASzip record for new files. LAS 1.5 comes with items of version 4, older
// versions with those of version 3, as the reference library writes them.
func lazFor(format uint8, recordLength int, v Version, chunkSize int) (*laz.VLR, error) {
	l, err := laz.DefaultVLR(format, recordLength)
	if err != nil {
		return nil, err
	}
	if chunkSize > 0 {
		l.ChunkSize = uint32(chunkSize)
	}
	if v.Minor >= 5 && Extended(format) {
		for i := range l.Items {
			l.Items[i].Version = 4
		}
	}
	return l, nil
}

package las

import (
	"bufio"
	"encoding/binary"
	"io"
	"math"

	"sidelap/las/internal/laz"
)

// pointSink is where records go: plain or compressed.
type pointSink interface {
	write(records []byte) error
	close() error // everything written behind the start of the points
	stop()        // give up; after close it does nothing
}

// plainSink writes records as they are.
type plainSink struct{ w *bufio.Writer }

func (s *plainSink) write(records []byte) error {
	_, err := s.w.Write(records)
	return err
}
func (s *plainSink) close() error { return s.w.Flush() }
func (s *plainSink) stop()        {}

// writeStart writes a header without counts and the VLRs, and opens the sink for the points.
func (w *Writer) writeStart() error {
	if err := w.prepareSink(); err != nil {
		return err
	}
	size, _ := w.o.Version.headerSize()
	w.start = int64(size)
	for i := range w.vlrs {
		w.start += vlrHeaderSize + w.vlrs[i].Size()
	}
	if w.start > math.MaxUint32 {
		return kindf(ErrInvalidValue, "%d bytes of variable length records, more than a LAS file can have", w.start)
	}
	head := w.header(0)
	if _, err := w.out.Write(head); err != nil {
		return err
	}
	for i := range w.vlrs {
		if err := writeRecord(w.out, &w.vlrs[i]); err != nil {
			return err
		}
	}
	return w.openSink()
}

// writeRecord writes a VLR or EVLR.
func writeRecord(dst io.Writer, v *VLR) error {
	if _, err := dst.Write(v.header()); err != nil {
		return err
	}
	_, err := io.Copy(dst, v.Open())
	return err
}

// finish writes what follows the points and then the header with its counts.
func (w *Writer) finish() error {
	if err := w.body.close(); err != nil {
		return err
	}
	if limit := uint64(math.MaxUint32); w.o.Version.Minor < 4 && uint64(w.stats.n) > limit {
		return kindf(ErrInvalidValue, "%s: %d points, but LAS %s counts at most %d; write LAS 1.4", w.path, w.stats.n, w.o.Version, limit)
	}
	end, err := w.out.Seek(0, io.SeekEnd)
	if err != nil {
		return err
	}
	buf := bufio.NewWriterSize(w.out, 1<<16)
	for i := range w.evlrs {
		if err := writeRecord(buf, &w.evlrs[i]); err != nil {
			return err
		}
	}
	if err := buf.Flush(); err != nil {
		return err
	}
	_, err = w.out.WriteAt(w.header(end), 0)
	return err
}

// header returns the bytes of the public header; evlrs is the place of the first EVLR.
func (w *Writer) header(evlrs int64) []byte {
	size, _ := w.o.Version.headerSize()
	b := make([]byte, size)
	le := binary.LittleEndian
	o := &w.o
	copy(b, "LASF")
	if o.Version.Minor >= 1 {
		le.PutUint16(b[4:], o.FileSourceID)
	}
	if o.Version.Minor >= 2 {
		le.PutUint16(b[6:], o.GlobalEncoding)
	}
	copy(b[8:24], o.GUID[:])
	b[24], b[25] = o.Version.Major, o.Version.Minor
	copy(b[26:58], o.SystemID)
	copy(b[58:90], o.Software)
	if !o.Created.IsZero() {
		day := o.Created.UTC()
		le.PutUint16(b[90:], uint16(day.YearDay()))
		le.PutUint16(b[92:], uint16(day.Year()))
	}
	le.PutUint16(b[94:], uint16(size))
	le.PutUint32(b[96:], uint32(w.start))
	le.PutUint32(b[100:], uint32(len(w.vlrs)))
	b[104] = o.Format
	if o.Compress {
		b[104] |= 0x80
	}
	le.PutUint16(b[105:], uint16(w.record))
	w.stats.putCounts(b, o.Version, o.Format)
	for i := range 3 {
		putF64(b[131+8*i:], o.Scale[i])
		putF64(b[155+8*i:], o.Offset[i])
		if w.stats.n > 0 {
			lo := float64(w.stats.min[i])*o.Scale[i] + o.Offset[i]
			hi := float64(w.stats.max[i])*o.Scale[i] + o.Offset[i]
			putF64(b[179+16*i:], max(lo, hi))
			putF64(b[187+16*i:], min(lo, hi))
		}
	}
	if o.Version.Minor >= 3 {
		at := evlrs
		for i := range w.evlrs {
			if w.evlrs[i].is(UserSpec, recordWaveformData) {
				le.PutUint64(b[227:], uint64(at))
			}
			at += evlrHeaderSize + w.evlrs[i].Size()
		}
	}
	if o.Version.Minor >= 4 && len(w.evlrs) > 0 {
		le.PutUint64(b[235:], uint64(evlrs))
		le.PutUint32(b[243:], uint32(len(w.evlrs)))
	}
	if o.Version.Minor >= 5 {
		putF64(b[375:], w.stats.maxT)
		putF64(b[383:], w.stats.minT)
		le.PutUint16(b[391:], o.TimeOffset)
	}
	return b
}

func putF64(b []byte, v float64) { binary.LittleEndian.PutUint64(b, math.Float64bits(v)) }

// putCounts writes the point counts. Formats 6 to 10 leave the legacy fields zero; formats 0 to 5
// fill both where the count fits.
//
// Source: LAS 1.4 R16, legacy number of point records; issue 12 of its public repository.
func (s *pointStats) putCounts(b []byte, v Version, format uint8) {
	le := binary.LittleEndian
	if !Extended(format) && s.n <= math.MaxUint32 {
		le.PutUint32(b[107:], uint32(s.n))
		for i := range 5 {
			le.PutUint32(b[111+4*i:], uint32(s.byReturn[i+1]))
		}
	}
	if v.Minor >= 4 {
		le.PutUint64(b[247:], uint64(s.n))
		for i := range 15 {
			le.PutUint64(b[255+8*i:], s.byReturn[i+1])
		}
	}
}

// prepareSink adds the LASzip record that compressed points need.
func (w *Writer) prepareSink() error {
	if !w.o.Compress {
		return nil
	}
	v, err := lazFor(w.o.Format, w.record, w.o.Version, w.o.ChunkSize)
	if err != nil {
		return kindf(ErrInvalidValue, "%s: %v", w.path, err)
	}
	w.laz = v
	w.vlrs = append(w.vlrs, newLASzip(v))
	return nil
}

// newLASzip returns the record that describes the compression.
func newLASzip(v *laz.VLR) VLR {
	return VLR{UserID: userLASzip, RecordID: recordLASzip, Description: "LASzip", Data: v.Append(nil)}
}

// openSink opens the sink at the start of the points.
func (w *Writer) openSink() (err error) {
	if w.laz == nil {
		w.body = &plainSink{bufio.NewWriterSize(w.out, 1<<18)}
		return nil
	}
	w.body, err = newLAZSink(w.out, w.laz, w.record, w.start, w.o.Workers, false)
	return err
}

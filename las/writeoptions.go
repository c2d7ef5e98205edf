package las

import (
	"math"
	"time"
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

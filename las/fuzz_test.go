package las

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"
)

// seeds adds the small files, and the smallest vectors where they are present.
func seeds(f *testing.F, add func(b []byte)) {
	f.Helper()
	paths, _ := filepath.Glob(filepath.Join(smallDir, "*.la[sz]"))
	if len(paths) == 0 {
		f.Fatal("no seeds in testdata/las")
	}
	vectors, _ := filepath.Glob(filepath.Join("..", "..", "shared", "data", "laz-vectors", "*chunk1*.la[sz]"))
	for _, path := range append(paths, vectors...) {
		b, err := os.ReadFile(path)
		if err != nil {
			f.Fatal(err)
		}
		if len(b) < 20_000 {
			add(b)
		}
	}
}

// FuzzHeader: any bytes give a header or a fault with its place.
func FuzzHeader(f *testing.F) {
	seeds(f, func(b []byte) { f.Add(b[:min(len(b), maxHeaderRead)]) })
	f.Fuzz(func(t *testing.T, b []byte) {
		h, _, err := parseHeader(b[:min(len(b), maxHeaderRead)])
		var fault *headerFault
		if err != nil && !errors.As(err, &fault) {
			t.Fatalf("error without a place: %v", err)
		}
		if err == nil && (h.RecordLength < FormatSize(h.Format) || h.HeaderSize < minHeaderSize) {
			t.Fatalf("accepted %+v", h)
		}
	})
}

// FuzzRecords: VLRs, EVLRs, extra bytes of any bytes.
func FuzzRecords(f *testing.F) {
	seeds(f, func(b []byte) { f.Add(b[min(len(b), 227):], uint32(3), uint32(1), uint16(300)) })
	f.Fuzz(func(t *testing.T, b []byte, vlrs, evlrs uint32, end uint16) {
		h := &Header{PointOffset: min(int64(end), int64(len(b))), VLRCount: vlrs, EVLRStart: uint64(end), EVLRCount: evlrs}
		r := bytes.NewReader(b)
		list, stop, _, err := readVLRs(r, h)
		if err != nil || stop > h.PointOffset {
			t.Fatalf("%d records up to %d of %d: %v", len(list), stop, h.PointOffset, err)
		}
		more, _, _, err := readEVLRs(r, int64(len(b)), h)
		if err != nil {
			t.Fatal(err)
		}
		var total int64
		for _, v := range append(list, more...) {
			total += v.Size()
			if fields, last, err := parseExtraFields(v.Data, 20, 60); err == nil && last > 60 {
				t.Fatalf("%v up to byte %d of a record of 60", fields, last)
			}
		}
		if total > int64(2*len(b)) {
			t.Fatalf("records of %d bytes in %d", total, len(b))
		}
	})
}

// FuzzFile: any bytes are opened and read, or refused with a *FormatError; points never exceed what
// was announced, and with salvage reading never fails. One worker, because the fuzzer wants the same
// course each time. Run it with -fuzzminimizetime 10x: shrinking files of some kilobytes takes
// longer than finding them.
func FuzzFile(f *testing.F) {
	seeds(f, func(b []byte) { f.Add(b) })
	f.Fuzz(func(t *testing.T, b []byte) {
		for _, salvage := range []bool{false, true} {
			file, err := OpenReader(bytes.NewReader(b), int64(len(b)), "fuzz", OpenOptions{Salvage: salvage})
			var fe *FormatError
			if err != nil {
				if !errors.As(err, &fe) {
					t.Fatalf("error without a place: %v", err)
				}
				return
			}
			h := file.Header()
			if h.Points*int64(h.RecordLength) > 16<<20 { // the codec's time, not its safety
				return
			}
			var n int64
			for c, err := range file.Chunks(context.Background(), ColAll, 1) {
				if err != nil {
					if !errors.As(err, &fe) || salvage {
						t.Fatalf("salvage %v: reading ends with %v", salvage, err)
					}
					break
				}
				if c.N < 1 || c.N > MaxChunk || len(c.X) != c.N || len(c.Record) != c.N*h.RecordLength {
					t.Fatalf("chunk of %d points with %d X and %d bytes", c.N, len(c.X), len(c.Record))
				}
				n += int64(c.N)
			}
			if n > h.Points {
				t.Fatalf("%d points delivered, %d announced", n, h.Points)
			}
			AuditTime(h, TimeRange{})
			file.ExtraFields()
		}
	})
}

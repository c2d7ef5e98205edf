package las

import (
	"context"
	"encoding/binary"
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"testing"
)

// TestMoreThan32Bits: a file of 100 GB with more points than 32 bits count, made as a sparse file with
// one point written near its end.
func TestMoreThan32Bits(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("sparse files are taken for granted on Linux only")
	}
	const points, index = 5_000_000_000, 4_999_999_990
	w := &Writer{o: WriterOptions{Format: 0, Version: Version{1, 4}}, record: 20, start: 375}
	if err := w.o.complete(); err != nil {
		t.Fatal(err)
	}
	head := w.header(0)
	binary.LittleEndian.PutUint64(head[247:], points)
	path := filepath.Join(t.TempDir(), "large.las")
	out, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer out.Close()
	if _, err := out.Write(head); err != nil {
		t.Fatal(err)
	}
	if err := out.Truncate(375 + points*20); err != nil {
		t.Skipf("no file of 100 GB here: %v", err)
	}
	if _, err := out.WriteAt([]byte{1, 2, 3, 4}, 375+index*20); err != nil {
		t.Fatal(err)
	}
	f := mustOpen(t, path, OpenOptions{})
	if f.Header().Points != points || len(f.Warnings()) > 0 {
		t.Fatalf("%d points, warnings %q", f.Header().Points, f.Warnings())
	}
	for c, err := range f.Read(context.Background(), Span{index - 1, 100}, 0) {
		if err != nil {
			t.Fatal(err)
		}
		if c.N != 11 || c.First != index-1 || c.X[0] != 0 || c.X[1] != 0x04030201 || c.X[2] != 0 {
			t.Errorf("chunk of %d points at %d: X %#x", c.N, c.First, c.X)
		}
	}
	spans := f.Spans(1 << 30)
	if last := spans[len(spans)-1]; len(spans) != 5 || last.First+last.N != points {
		t.Errorf("spans %v", spans)
	}
}

// TestTooManyPoints: LAS before 1.4 counts points with 32 bits; the writer says so instead of wrapping.
func TestTooManyPoints(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.las")
	w, err := Create(path, WriterOptions{Format: 0})
	if err != nil {
		t.Fatal(err)
	}
	w.stats.n = 1 << 32
	if err := w.Close(); !errors.Is(err, ErrInvalidValue) {
		t.Errorf("Close: %v", err)
	}
	if _, err := os.Stat(path); err == nil {
		t.Error("the file was kept")
	}
}

// TestWriterOptions: what no file can be is refused before anything is written.
func TestWriterOptions(t *testing.T) {
	dir := t.TempDir()
	long := VLR{UserID: "a user ID of 17 b", RecordID: 1}
	for name, o := range map[string]WriterOptions{
		"format 11":            {Format: 11},
		"format 6 in 1.2":      {Format: 6, Version: Version{1, 2}},
		"format 1 in 1.5":      {Format: 1, Version: Version{1, 5}},
		"version 2.0":          {Version: Version{2, 0}},
		"negative extra bytes": {ExtraBytes: -1},
		"too long a record":    {ExtraBytes: 65530},
		"WKT in 1.2":           {Version: Version{1, 2}, WKT: utm32},
		"EVLR in 1.2":          {Version: Version{1, 2}, EVLRs: []VLR{{Extended: true}}},
		"chunk size":           {Compress: true, ChunkSize: -1},
		"user ID":              {VLRs: []VLR{long}},
		"long VLR":             {VLRs: []VLR{{UserID: "a", Data: make([]byte, 65536)}}},
	} {
		if w, err := Create(filepath.Join(dir, "a.las"), o); !errors.Is(err, ErrInvalidValue) && !errors.Is(err, ErrUnsupported) {
			t.Errorf("%s: error %v", name, err)
			if err == nil {
				w.Abort()
			}
		}
	}
	if list, _ := os.ReadDir(dir); len(list) > 0 {
		t.Errorf("left behind: %v", list)
	}
}

// TestLongRecords: records may have 65535 bytes; a chunk of them stays small.
func TestLongRecords(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("sparse files are taken for granted on Linux only")
	}
	const points, record = 1000, 65535
	w := &Writer{o: WriterOptions{Format: 0, Version: Version{1, 4}}, record: record, start: 375}
	if err := w.o.complete(); err != nil {
		t.Fatal(err)
	}
	head := w.header(0)
	binary.LittleEndian.PutUint16(head[105:], record)
	binary.LittleEndian.PutUint64(head[247:], points)
	binary.LittleEndian.PutUint32(head[107:], points)
	path := filepath.Join(t.TempDir(), "long.las")
	if err := os.WriteFile(path, head, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(path, 375+points*record); err != nil {
		t.Skipf("no sparse file here: %v", err)
	}
	f := mustOpen(t, path, OpenOptions{})
	var n int64
	for c, err := range f.Read(context.Background(), Span{0, points}, ColAll) {
		if err != nil {
			t.Fatal(err)
		}
		if len(c.Record) > maxPlainBytes || c.First != n {
			t.Fatalf("chunk at %d of %d bytes", c.First, len(c.Record))
		}
		n += int64(c.N)
	}
	if n != points {
		t.Errorf("%d points, want %d", n, points)
	}
}

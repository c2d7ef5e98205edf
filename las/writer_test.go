package las

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"testing"
)

// forms are all point formats, plain and compressed.
func forms(yield func(format uint8, compress bool) bool) {
	for format := uint8(0); format <= maxFormat; format++ {
		for _, compress := range []bool{false, true} {
			if !yield(format, compress) {
				return
			}
		}
	}
}

// TestWriteRead: what is written as columns comes back as columns, in every format, for chunks that
// fit no boundary.
func TestWriteRead(t *testing.T) {
	for format, compress := range forms {
		t.Run(fmt.Sprintf("format=%d/laz=%v", format, compress), func(t *testing.T) {
			rng := rand.New(rand.NewPCG(1, uint64(format)))
			path := filepath.Join(t.TempDir(), "a.las")
			w, err := Create(path, WriterOptions{Format: format, Compress: compress, ChunkSize: 3000, Offset: [3]float64{5e5, 5.4e6, 0}})
			if err != nil {
				t.Fatal(err)
			}
			parts := []*Chunk{randomChunk(rng, 1, format), randomChunk(rng, 10001, format), randomChunk(rng, 77, format)}
			var want Chunk
			for _, c := range parts {
				if err := w.Write(c); err != nil {
					t.Fatal(err)
				}
				appendChunk(&want, c)
			}
			if err := w.Close(); err != nil {
				t.Fatal(err)
			}
			f := mustOpen(t, path, OpenOptions{})
			if w := f.Warnings(); len(w) > 0 && f.CRS().Kind != 0 {
				t.Errorf("warnings about our own file: %q", w)
			}
			got := gather(t, f, ColAll&^ColRecord)
			got.Record = nil
			if !reflect.DeepEqual(got, &want) {
				t.Fatal("the columns read are not those written")
			}
			checkHeaderCounts(t, f, &want)
		})
	}
}

// checkHeaderCounts compares the header with the points.
func checkHeaderCounts(t *testing.T, f *File, c *Chunk) {
	t.Helper()
	h := f.Header()
	var byReturn [15]uint64
	maxReturn := 5
	if h.Version.Minor >= 4 {
		maxReturn = 15
	}
	minX, maxX := c.X[0], c.X[0]
	for i := range c.N {
		if r := int(c.ReturnNumber[i]); r >= 1 && r <= maxReturn {
			byReturn[r-1]++
		}
		minX, maxX = min(minX, c.X[i]), max(maxX, c.X[i])
	}
	if h.Points != int64(c.N) || h.StatedPoints != uint64(c.N) || h.StatedReturns != byReturn {
		t.Errorf("header counts %d, %d, %v; want %d, %v", h.Points, h.StatedPoints, h.StatedReturns, c.N, byReturn)
	}
	if lo, hi := float64(minX)*h.Scale[0]+h.Offset[0], float64(maxX)*h.Scale[0]+h.Offset[0]; h.Min[0] != lo || h.Max[0] != hi {
		t.Errorf("header X bounds %v to %v, want %v to %v", h.Min[0], h.Max[0], lo, hi)
	}
}

// appendChunk appends the columns of c to dst.
func appendChunk(dst, c *Chunk) {
	d, s := reflect.ValueOf(dst).Elem(), reflect.ValueOf(c).Elem()
	for i := range d.NumField() {
		if f := d.Field(i); f.Kind() == reflect.Slice && s.Field(i).Len() > 0 {
			f.Set(reflect.AppendSlice(f, s.Field(i)))
		}
	}
	dst.N += c.N
}

// gather reads the whole file into one chunk.
func gather(t *testing.T, f *File, cols Columns) *Chunk {
	t.Helper()
	var all Chunk
	for c, err := range f.Read(context.Background(), Span{0, f.Header().Points}, cols) {
		if err != nil {
			t.Fatal(err)
		}
		if c.First != int64(all.N) {
			t.Fatalf("chunk starts at point %d, want %d", c.First, all.N)
		}
		appendChunk(&all, c)
	}
	return &all
}

// TestWriteMoved: with records given, only the coordinates come from the columns.
func TestWriteMoved(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	dir := t.TempDir()
	a, b := filepath.Join(dir, "a.las"), filepath.Join(dir, "b.las")
	w, err := Create(a, WriterOptions{Format: 7, ExtraBytes: 3})
	if err != nil {
		t.Fatal(err)
	}
	in := make([]byte, 39*500)
	for i := range in {
		in[i] = byte(rng.Uint32())
	}
	if err := w.WriteRecords(in); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	f := mustOpen(t, a, OpenOptions{})
	o := OptionsFrom(f)
	w, err = Create(b, o)
	if err != nil {
		t.Fatal(err)
	}
	for c, err := range f.Chunks(context.Background(), ColRecord, 1) {
		if err != nil {
			t.Fatal(err)
		}
		for i := range c.Z {
			c.Z[i]++
		}
		if err := w.Write(c); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	got, err := records(mustOpen(t, b, OpenOptions{}), 0)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(in); i += 39 {
		v := int32(uint32(in[i+8]) | uint32(in[i+9])<<8 | uint32(in[i+10])<<16 | uint32(in[i+11])<<24)
		v++
		in[i+8], in[i+9], in[i+10], in[i+11] = byte(v), byte(v>>8), byte(v>>16), byte(v>>24)
	}
	if string(got) != string(in) {
		t.Error("moving the heights changed other bytes")
	}
}

// TestWriterLeavesNothing: no file under the final name before Close, none at all after Abort or
// after an error, and no existing file is replaced unless told to.
func TestWriterLeavesNothing(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.las")
	w, err := Create(path, WriterOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(path); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the file has its name before Close: %v", err)
	}
	if err := w.Abort(); err != nil {
		t.Fatal(err)
	}
	w, err = Create(path, WriterOptions{})
	if err != nil {
		t.Fatal(err)
	}
	bad := randomChunk(rand.New(rand.NewPCG(3, 3)), 10, 0)
	bad.Class[4] = 40
	if err := w.Write(bad); !errors.Is(err, ErrInvalidValue) {
		t.Errorf("class 40 in format 0: error %v", err)
	}
	if err := w.Close(); !errors.Is(err, ErrInvalidValue) {
		t.Errorf("Close after a failed Write: error %v", err)
	}
	if list, _ := os.ReadDir(dir); len(list) != 0 {
		t.Errorf("files left behind: %v", list)
	}
	if err := os.WriteFile(path, []byte("keep"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Create(path, WriterOptions{}); !errors.Is(err, fs.ErrExist) {
		t.Errorf("Create over an existing file: error %v", err)
	}
}

// TestFramePack: the inverse of XM, YM, ZM, with the overflow of 32 bits told.
func TestFramePack(t *testing.T) {
	f := Frame{Scale: [3]float64{0.01, 0.01, 0.001}, Offset: [3]float64{1e6, 2e6, 100}, HorizontalM: 1200. / 3937, VerticalM: 0.3048}
	v, ok := f.Pack(f.XM(123456), f.YM(-77), f.ZM(2147483647))
	if !ok || v != [3]int32{123456, -77, 2147483647} {
		t.Errorf("Pack = %v, %v", v, ok)
	}
	if _, ok := f.Pack(0, 0, 1e9); ok {
		t.Error("a height of 1e9 m with a scale of 1 mm fits 32 bits?")
	}
}

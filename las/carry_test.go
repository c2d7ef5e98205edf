package las

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
)

// wave13 returns a LAS 1.3 file of format 4 with its waveforms behind the points, as a record or, as
// some writers leave them, as bare bytes.
func wave13(t *testing.T, record bool) []byte {
	t.Helper()
	path := filepath.Join(t.TempDir(), "a.las")
	data := bytes.Repeat([]byte("waveform"), 99)
	w, err := Create(path, WriterOptions{Format: 4, GlobalEncoding: EncodingWaveInternal, Version: Version{1, 3}, EVLRs: []VLR{
		{Extended: true, UserID: UserSpec, RecordID: recordWaveformData, Data: data},
	}})
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Write(randomChunk(rand.New(rand.NewPCG(1, 1)), 700, 4)); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if start := binary.LittleEndian.Uint64(b[227:]); start != uint64(len(b)-len(data)-evlrHeaderSize) || b[6]&2 == 0 {
		t.Errorf("waveforms of LAS 1.3 at byte %d of %d, encoding %#x", start, len(b), b[6])
	}
	if !record {
		start := len(b) - len(data) - evlrHeaderSize
		b = append(b[:start:start], data...)
	}
	return b
}

// TestRepackWaveforms: waveforms inside the file survive LAS to LAZ and back, as the block of LAS 1.3
// and as the extended record of LAS 1.4 (longer than what Open keeps in memory), and their place in
// the header follows.
func TestRepackWaveforms(t *testing.T) {
	dir := t.TempDir()
	wave14 := filepath.Join(dir, "wave14.las")
	w, err := Create(wave14, WriterOptions{Format: 9, GlobalEncoding: EncodingWaveInternal, EVLRs: []VLR{
		{Extended: true, UserID: UserSpec, RecordID: RecordTextArea, Data: []byte("first")},
		{Extended: true, UserID: UserSpec, RecordID: recordWaveformData, Data: make([]byte, evlrInMemory+1)},
	}})
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Write(randomChunk(rand.New(rand.NewPCG(1, 1)), 700, 9)); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	b14, err := os.ReadFile(wave14)
	if err != nil {
		t.Fatal(err)
	}
	if start := binary.LittleEndian.Uint64(b14[235:]) + evlrHeaderSize + 5; start != binary.LittleEndian.Uint64(b14[227:]) {
		t.Errorf("waveforms of LAS 1.4 at byte %d, want %d", binary.LittleEndian.Uint64(b14[227:]), start)
	}

	for name, want := range map[string][]byte{"1.3": wave13(t, true), "1.3 bare": wave13(t, false), "1.4": b14} {
		in, packed, out := writeFile(t, "in.las", want), filepath.Join(dir, name+".laz"), filepath.Join(dir, name+".las")
		repack(t, in, packed, RepackOptions{})
		f := mustOpen(t, packed, OpenOptions{})
		at := make([]byte, 8)
		if err := readAt(f.r, at, int64(f.hdr.WaveformStart)); err != nil || f.hdr.WaveformStart == binary.LittleEndian.Uint64(want[227:]) {
			t.Errorf("%s: waveforms at byte %d of the packed file: %v", name, f.hdr.WaveformStart, err)
		}
		if got, _ := repack(t, packed, out, RepackOptions{}); !bytes.Equal(got, want) {
			t.Errorf("%s: packing and unpacking changed the file", name)
		}
	}
}

// TestRepackUnkeepable: a bit that LAZ cannot keep is told, not lost. The sign of a GPS time of minus
// zero is such a bit in formats 6 to 10 when it follows plus zero.
func TestRepackUnkeepable(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.las")
	w, err := Create(path, WriterOptions{Format: 6})
	if err != nil {
		t.Fatal(err)
	}
	c := randomChunk(rand.New(rand.NewPCG(1, 1)), 3, 6)
	copy(c.GPSTime, []float64{0, math.Copysign(0, -1), 5})
	if err := w.Write(c); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	want, err := records(mustOpen(t, path, OpenOptions{}), 0)
	if err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(t.TempDir(), "a.laz")
	if _, err := Repack(context.Background(), path, out, RepackOptions{}); err != nil {
		if !errors.Is(err, ErrUnsupported) {
			t.Errorf("error %v", err)
		}
		if _, err := os.Stat(out); err == nil {
			t.Error("a file was left")
		}
		return
	}
	if got, err := records(mustOpen(t, out, OpenOptions{}), 0); err != nil || !bytes.Equal(got, want) {
		t.Errorf("the file was written, but its records differ (%v)", err)
	}
}

// TestVLRsCarried: a copy through Writer keeps foreign records, drops what would be false, and sets the
// bit for the kind of coordinate system.
func TestVLRsCarried(t *testing.T) {
	f := mustOpen(t, filepath.Join(dataDir(t, "real/odd"), "laspy-simple.copc.laz"), OpenOptions{})
	o := OptionsFrom(f)
	o.Compress = false
	path := filepath.Join(t.TempDir(), "a.las")
	w, err := Create(path, o)
	if err != nil {
		t.Fatal(err)
	}
	for c, err := range f.Chunks(context.Background(), ColRecord, 2) {
		if err != nil {
			t.Fatal(err)
		}
		if err := w.Write(c); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	g := mustOpen(t, path, OpenOptions{})
	for _, list := range [2][]VLR{g.VLRs(), g.EVLRs()} {
		for _, v := range list {
			if v.droppedByWriter() {
				t.Errorf("record %s/%d was carried", v.UserID, v.RecordID)
			}
		}
	}
	if g.Header().GlobalEncoding&EncodingWKT == 0 || g.CRS().WKT != f.CRS().WKT || g.Frame().VerticalM != f.Frame().VerticalM {
		t.Errorf("the coordinate system changed: %v", g.CRS())
	}
	a, _ := records(f, 0)
	b, err := records(g, 0)
	if err != nil || !bytes.Equal(a, b) {
		t.Errorf("the records changed (%v)", err)
	}
}

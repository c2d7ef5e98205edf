package las

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"
)

// TestTruncatedLAZ: a LAZ file cut anywhere gives a prefix of its points and an error, never a wrong
// point and never silence; salvage gives the same points and says what is lost. The vectors were
// written by the LASzip reference library.
func TestTruncatedLAZ(t *testing.T) {
	dir := dataDir(t, "laz-vectors")
	for _, name := range []string{"pdrf1_basic", "pdrf3_v1_pointwise", "pdrf5_extra4", "pdrf6_basic", "pdrf7_evlr", "pdrf10_extra20", "pdrf6_varchunk"} {
		t.Run(name, func(t *testing.T) {
			truth := twin(t, filepath.Join(dir, name+".laz"))
			whole, err := os.ReadFile(filepath.Join(dir, name+".laz"))
			if err != nil {
				t.Fatal(err)
			}
			f := mustOpen(t, filepath.Join(dir, name+".laz"), OpenOptions{})
			start, record := int(f.hdr.PointOffset), f.hdr.RecordLength
			most := 0
			for cut := start; cut < len(whole); cut += 1 + (len(whole)-start)/97 {
				path := writeFile(t, "cut.laz", whole[:cut])
				for _, salvage := range []bool{false, true} {
					g, err := OpenWith(path, OpenOptions{Salvage: salvage})
					if err != nil {
						var fe *FormatError
						if !errors.As(err, &fe) {
							t.Fatalf("cut at %d: %v", cut, err)
						}
						continue
					}
					got, err := records(g, 0)
					if !bytes.HasPrefix(truth, got) {
						t.Fatalf("cut at %d: wrong points", cut)
					}
					complete := len(got) == len(truth)
					if salvage && err != nil || !salvage && !complete && !errors.Is(err, ErrTruncated) {
						t.Fatalf("cut at %d, salvage %v: %d points, error %v", cut, salvage, len(got)/record, err)
					}
					if salvage && !complete && len(g.Warnings()) == 0 {
						t.Fatalf("cut at %d: nothing said of what is lost", cut)
					}
					most = max(most, len(got))
					g.Close()
				}
			}
			if name != "pdrf6_varchunk" && most < len(truth)/2 {
				t.Errorf("at most %d of %d bytes of records before a cut", most, len(truth))
			}
		})
	}
}

// TestSalvage: behind a damaged chunk the others are read, and what is lost is told with its points.
func TestSalvage(t *testing.T) {
	for _, format := range []uint8{1, 6} {
		path := benchFile(t, 10000, format, false)
		packed := filepath.Join(t.TempDir(), "a.laz")
		if _, err := Repack(context.Background(), path, packed, RepackOptions{ChunkSize: 2000}); err != nil {
			t.Fatal(err)
		}
		truth, err := records(mustOpen(t, path, OpenOptions{}), 0)
		if err != nil {
			t.Fatal(err)
		}
		f := mustOpen(t, packed, OpenOptions{})
		b, err := os.ReadFile(packed)
		if err != nil {
			t.Fatal(err)
		}
		c := f.laz.chunks[2]
		for i := c.offset + c.bytes/2; i < c.offset+c.bytes/2+40; i++ {
			b[i] ^= 0x55
		}
		bad := writeFile(t, "bad.laz", b)
		record := f.hdr.RecordLength
		for _, workers := range []int{1, 3} {
			g := mustOpen(t, bad, OpenOptions{})
			got, err := chunkRecords(g, workers)
			if !errors.Is(err, ErrCorrupt) || !bytes.Equal(got, truth[:4000*record]) {
				t.Errorf("format %d, %d workers: %d points, error %v; want 4000 and damage", format, workers, len(got)/record, err)
			}
			s := mustOpen(t, bad, OpenOptions{Salvage: true})
			got, err = chunkRecords(s, workers)
			want := append(append([]byte(nil), truth[:4000*record]...), truth[6000*record:]...)
			loss, damaged := s.Loss()
			if err != nil || !bytes.Equal(got, want) || len(s.Warnings()) != 1 || !damaged || loss != (Loss{Undelivered: 2000}) {
				t.Errorf("format %d, %d workers: salvage gives %d points, error %v, warnings %q, loss %+v", format, workers, len(got)/record, err, s.Warnings(), loss)
			}
		}
	}
}

// chunkRecords reads all records with several workers.
func chunkRecords(f *File, workers int) (b []byte, err error) {
	for c, err := range f.Chunks(context.Background(), ColRecord, workers) {
		if err != nil {
			return b, err
		}
		b = append(b, c.Record...)
	}
	return b, nil
}

// TestInterruptedWriter: a writer that ended without writing the counts and the chunk table. Layered
// chunks tell their points; of pointwise ones the last, whose number of points nobody knows, is left
// out rather than guessed.
func TestInterruptedWriter(t *testing.T) {
	dir := dataDir(t, "laz-vectors")
	for _, c := range []struct {
		name   string
		points int
		err    error
	}{
		{"broken_pdrf1_offset0", 1000, ErrCorrupt}, {"broken_pdrf3_interrupted", 1000, ErrCorrupt}, {"broken_pdrf6_interrupted", 1300, nil},
	} {
		path := filepath.Join(dir, c.name+".laz")
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		clear(b[107:131])
		if b[25] >= 4 {
			clear(b[247:375])
		}
		truth := twin(t, path)
		f := mustOpen(t, writeFile(t, "a.laz", b), OpenOptions{})
		got, err := records(f, 0)
		if n := len(got) / f.hdr.RecordLength; n != c.points || !bytes.HasPrefix(truth, got) || !errors.Is(err, c.err) {
			t.Errorf("%s without counts: %d points, error %v; want %d, %v", c.name, n, err, c.points, c.err)
		}
		s := mustOpen(t, writeFile(t, "a.laz", b), OpenOptions{Salvage: true})
		if got, err := records(s, 0); err != nil || len(got)/f.hdr.RecordLength != c.points || len(s.Warnings()) == 0 {
			t.Errorf("%s: salvage %d points, %v, warnings %q", c.name, len(got)/f.hdr.RecordLength, err, s.Warnings())
		}
	}
}

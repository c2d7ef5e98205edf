package las

import (
	"bytes"
	"context"
	"errors"
	"path/filepath"
	"strings"
	"testing"
)

// twin reads the records of NAME.las, the truth for NAME.laz.
func twin(t *testing.T, laz string) []byte {
	t.Helper()
	b, err := records(mustOpen(t, strings.TrimSuffix(laz, "z")+"s", OpenOptions{}), 0)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// TestVectors: every good pair of the LAZ vectors, which were encoded by the LASzip reference library
// 3.5.0, gives the bytes of its uncompressed twin, for spans of any size and for serial and parallel
// reading.
func TestVectors(t *testing.T) {
	dir := dataDir(t, "laz-vectors")
	n := 0
	for _, path := range glob(t, dir, "pdrf*.laz") {
		n++
		t.Run(filepath.Base(path), func(t *testing.T) {
			want := twin(t, path)
			f := mustOpen(t, path, OpenOptions{})
			for _, span := range []int64{0, 1, 700} {
				got, err := records(f, span)
				if err != nil {
					t.Fatal(err)
				}
				if !bytes.Equal(got, want) {
					t.Fatalf("spans of %d points: the records differ from the twin's", span)
				}
			}
			var got []byte
			for c, err := range f.Chunks(context.Background(), ColRecord, 3) {
				if err != nil {
					t.Fatal(err)
				}
				got = append(got, c.Record...)
			}
			if !bytes.Equal(got, want) {
				t.Fatal("parallel reading gives other records than serial reading")
			}
		})
	}
	if n != 93 {
		t.Errorf("%d vectors, want 93", n)
	}
}

// TestBrokenVectors: the damaged vectors behave as their README says.
func TestBrokenVectors(t *testing.T) {
	dir := dataDir(t, "laz-vectors")
	for _, c := range []struct {
		name    string
		open    string // part of the error of Open; empty: it opens
		points  int    // good points before the error
		err     error  // at the end of reading
		says    string // part of the reading error, or of a warning when there is no error
		salvage int    // points with Salvage; -1: all but those of the first chunk
	}{
		{name: "broken_pdrf3_interrupted", points: 1300, says: "chunks were found one after the other", salvage: 1300},
		{name: "broken_pdrf6_interrupted", points: 1300, says: "chunks were found one after the other", salvage: 1300},
		{name: "broken_pdrf1_offset0", points: 1300, says: "chunks were found one after the other", salvage: 1300},
		{name: "broken_pdrf7_tableversion", points: 1300, says: "version 7", salvage: 1300},
		{name: "broken_pdrf6_truncated", points: 500, err: ErrTruncated, says: "chunk 2", salvage: 500},
		{name: "broken_pdrf1_varchunk_notable", open: "chunk table"},
		{name: "broken_pdrf6_layersize", points: 0, err: ErrCorrupt, says: "chunk 1 of 3", salvage: -1},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(dir, c.name+".laz")
			f, err := Open(path)
			if c.open != "" {
				var fe *FormatError
				if !errors.As(err, &fe) || !strings.Contains(err.Error(), c.open) {
					t.Fatalf("Open: %v; want a *FormatError about the %s", err, c.open)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			defer f.Close()
			truth := twin(t, path)
			record := f.Header().RecordLength
			got, err := records(f, 0)
			if len(got) != c.points*record || !bytes.HasPrefix(truth, got) {
				t.Errorf("%d points before the damage, want the first %d of the twin", len(got)/record, c.points)
			}
			text := strings.Join(f.Warnings(), "\n")
			if err != nil {
				text = err.Error()
			}
			if !errors.Is(err, c.err) || !strings.Contains(text, c.says) {
				t.Errorf("error %v, warnings %q; want %v with %q", err, f.Warnings(), c.err, c.says)
			}
			s := mustOpen(t, path, OpenOptions{Salvage: true})
			got, err = records(s, 0)
			if err != nil {
				t.Errorf("salvage ends with %v", err)
			}
			want := truth[:max(c.salvage, 0)*record]
			if c.salvage < 0 {
				want = truth[500*record:]
			}
			if !bytes.Equal(got, want) {
				t.Errorf("salvage gives %d points, want %d of the twin's", len(got)/record, len(want)/record)
			}
			if c.err != nil && len(s.Warnings()) == 0 {
				t.Error("salvage tells nothing of what is lost")
			}
		})
	}
}

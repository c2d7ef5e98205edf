package las_test

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"

	"sidelap/las"
)

// The sum of a file is that of its bytes, in whatever order and by however many its points are read.
// Outside las: crypto/sha256 over the bytes as the file system gives them.
func TestDigest(t *testing.T) {
	files, err := filepath.Glob("../testdata/*/*.la[sz]")
	if err != nil || len(files) < 4 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	orders := map[string]func(t *testing.T, f *las.File, spans []las.Span){
		"not read": func(*testing.T, *las.File, []las.Span) {},
		"forwards": read,
		"backwards": func(t *testing.T, f *las.File, spans []las.Span) {
			spans = slices.Clone(spans)
			slices.Reverse(spans)
			read(t, f, spans)
		},
		"twice": func(t *testing.T, f *las.File, spans []las.Span) { read(t, f, spans); read(t, f, spans) },
		"half":  func(t *testing.T, f *las.File, spans []las.Span) { read(t, f, spans[:len(spans)/2]) },
		"by two": func(t *testing.T, f *las.File, spans []las.Span) {
			var wg sync.WaitGroup
			for k := range 2 {
				wg.Go(func() {
					for i := k; i < len(spans); i += 2 {
						read(t, f, spans[i:i+1])
					}
				})
			}
			wg.Wait()
		},
	}
	for _, path := range files {
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		want := sha256.Sum256(b)
		for name, order := range orders {
			for _, with := range []bool{true, false} {
				f, err := las.OpenWith(path, las.OpenOptions{Digest: with})
				if err != nil {
					t.Fatal(err)
				}
				order(t, f, f.Spans(100))
				got, err := f.SHA256(context.Background())
				if err != nil || got != hex.EncodeToString(want[:]) {
					t.Errorf("%s, %s, digest %v: %s, %v; want %x", filepath.Base(path), name, with, got, err, want)
				}
				f.Close()
			}
		}
	}
}

func read(t *testing.T, f *las.File, spans []las.Span) {
	for _, s := range spans {
		for _, err := range f.Read(context.Background(), s, las.ColAll) {
			if err != nil {
				t.Error(err)
			}
		}
	}
}

// A file that became shorter has no sum, and the error says so.
func TestDigestShort(t *testing.T) {
	from, err := filepath.Glob("../testdata/*/*.las")
	if err != nil || len(from) == 0 {
		t.Fatal(from, err)
	}
	b, err := os.ReadFile(from[0])
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "a.las")
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
	f, err := las.OpenWith(path, las.OpenOptions{Digest: true})
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := os.Truncate(path, int64(len(b)-1)); err != nil {
		t.Fatal(err)
	}
	var fe *las.FormatError
	if s, err := f.SHA256(context.Background()); !errors.As(err, &fe) || !errors.Is(err, las.ErrTruncated) {
		t.Errorf("%q, %v", s, err)
	}
}

package las

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// repack runs Repack and returns the bytes of the new file.
func repack(t *testing.T, in, out string, o RepackOptions) ([]byte, *RepackResult) {
	t.Helper()
	res, err := Repack(context.Background(), in, out, o)
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	if res.Bytes != int64(len(b)) {
		t.Errorf("Bytes = %d, the file has %d", res.Bytes, len(b))
	}
	return b, res
}

// TestRepackVectors: unpacking a vector gives its twin to the last byte, header and records included
// (the twins were made with the LASzip reference library 3.5.0), and packing the twin and unpacking
// it again changes nothing.
func TestRepackVectors(t *testing.T) {
	dir := dataDir(t, "laz-vectors")
	for _, path := range glob(t, dir, "pdrf*.laz") {
		t.Run(filepath.Base(path), func(t *testing.T) {
			tmp := t.TempDir()
			twin := strings.TrimSuffix(path, "z") + "s"
			want, err := os.ReadFile(twin)
			if err != nil {
				t.Fatal(err)
			}
			got, _ := repack(t, path, filepath.Join(tmp, "unpacked.las"), RepackOptions{})
			if !bytes.Equal(got, want) {
				t.Error("the unpacked file differs from the twin")
			}
			packed := filepath.Join(tmp, "packed.laz")
			repack(t, twin, packed, RepackOptions{ChunkSize: 333, Workers: 3})
			got, _ = repack(t, packed, filepath.Join(tmp, "again.las"), RepackOptions{})
			if !bytes.Equal(got, want) {
				t.Error("packing and unpacking changed the file")
			}
		})
	}
}

// TestRepackSamePoints: with the chunk size of the vector, packing gives the very bytes of the points
// and of the chunk table that the LASzip reference library wrote.
func TestRepackSamePoints(t *testing.T) {
	dir := dataDir(t, "laz-vectors")
	for _, path := range glob(t, dir, "pdrf*_basic.laz") {
		f := mustOpen(t, path, OpenOptions{})
		out := filepath.Join(t.TempDir(), "packed.laz")
		got, _ := repack(t, strings.TrimSuffix(path, "z")+"s", out, RepackOptions{ChunkSize: 500, Workers: 2})
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		g := mustOpen(t, out, OpenOptions{})
		if !bytes.Equal(got[g.hdr.PointOffset:], want[f.hdr.PointOffset:]) {
			t.Errorf("%s: the packed points differ from the reference library's", filepath.Base(path))
		}
	}
}

// TestRepackReal: decode, encode, decode over open data; equal bytes.
func TestRepackReal(t *testing.T) {
	for _, path := range glob(t, dataDir(t, "real/lidar"), "*.la[sz]") {
		t.Run(filepath.Base(path), func(t *testing.T) {
			tmp := t.TempDir()
			las, laz, again := filepath.Join(tmp, "a.las"), filepath.Join(tmp, "b.laz"), filepath.Join(tmp, "c.las")
			want, _ := repack(t, path, las, RepackOptions{})
			repack(t, las, laz, RepackOptions{NoVerify: true})
			got, _ := repack(t, laz, again, RepackOptions{})
			if !bytes.Equal(got, want) {
				t.Error("decode, encode, decode changed the file")
			}
			if strings.HasSuffix(path, ".las") {
				orig, err := os.ReadFile(path)
				if err != nil {
					t.Fatal(err)
				}
				if !bytes.Equal(orig, want) {
					t.Error("copying a LAS file changed it")
				}
			}
		})
	}
}

// TestRepackCOPC: the points come in file order, without COPC records, and the result says so.
func TestRepackCOPC(t *testing.T) {
	path := filepath.Join(dataDir(t, "real/odd"), "laspy-simple.copc.laz")
	out := filepath.Join(t.TempDir(), "plain.laz")
	_, res := repack(t, path, out, RepackOptions{})
	if !strings.Contains(strings.Join(res.Warnings, "\n"), "no longer COPC") {
		t.Errorf("warnings %q say nothing of COPC", res.Warnings)
	}
	a, b := mustOpen(t, path, OpenOptions{}), mustOpen(t, out, OpenOptions{})
	if !a.IsCOPC() || b.IsCOPC() {
		t.Errorf("COPC before %v, after %v", a.IsCOPC(), b.IsCOPC())
	}
	want, err := records(a, 0)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := records(b, 0); err != nil || !bytes.Equal(got, want) {
		t.Errorf("the points changed (%v)", err)
	}
}

// TestRepackLeavesNothing: damage, an interrupt, an existing file, the same file: an error and no
// output, the input unchanged.
func TestRepackLeavesNothing(t *testing.T) {
	src := benchFile(t, 20000, 1, false)
	before, err := os.ReadFile(src)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	out := filepath.Join(dir, "out.laz")
	cut := writeFile(t, "cut.las", before[:len(before)/2])
	if _, err := Repack(context.Background(), cut, out, RepackOptions{}); !errors.Is(err, ErrTruncated) {
		t.Errorf("half a file: error %v", err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	o := RepackOptions{Progress: func(int64) { cancel() }}
	if _, err := Repack(ctx, src, out, o); !errors.Is(err, context.Canceled) {
		t.Errorf("interrupted: error %v", err)
	}
	if list, _ := os.ReadDir(dir); len(list) != 0 {
		t.Errorf("files left behind: %v", list)
	}
	if _, err := Repack(context.Background(), src, src, RepackOptions{Overwrite: true}); err == nil {
		t.Error("a file was repacked onto itself")
	}
	if err := os.WriteFile(out, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Repack(context.Background(), src, out, RepackOptions{}); !errors.Is(err, fs.ErrExist) {
		t.Errorf("existing file: error %v", err)
	}
	if after, _ := os.ReadFile(src); !bytes.Equal(before, after) {
		t.Error("the input was changed")
	}
	res, err := Repack(context.Background(), cut, out, RepackOptions{Salvage: true, Overwrite: true})
	if err != nil || len(res.Warnings) == 0 {
		t.Fatalf("salvage: %v, %+v", err, res)
	}
	f := mustOpen(t, out, OpenOptions{})
	if h := f.Header(); h.Points != res.Points || h.StatedPoints != uint64(res.Points) || len(f.Warnings()) > 0 {
		t.Errorf("salvaged file: %d points, stated %d, warnings %q", h.Points, h.StatedPoints, f.Warnings())
	}
}

package las

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// badDisk is a file of which a stretch of bytes cannot be read, as of a disk with damaged sectors.
type badDisk struct {
	b        []byte
	from, to int64
}

func (d badDisk) ReadAt(p []byte, off int64) (int, error) {
	if off < d.to && off+int64(len(p)) > d.from {
		return 0, &os.PathError{Op: "read", Path: "strip.laz", Err: syscall.EIO}
	}
	return bytes.NewReader(d.b).ReadAt(p, off)
}

// TestReadError: bytes in the middle that the disk does not give end the reading with the disk's error and the file's name, for any number of
// workers; the points before are right, and none is made up.
func TestReadError(t *testing.T) {
	dir := dataDir(t, "laz-vectors")
	for _, name := range []string{"pdrf1_basic.laz", "pdrf6_varchunk.laz", "pdrf1_basic.las"} {
		whole, err := os.ReadFile(filepath.Join(dir, name))
		if errors.Is(err, os.ErrNotExist) {
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		f, err := OpenReader(bytes.NewReader(whole), int64(len(whole)), name, OpenOptions{})
		if err != nil {
			t.Fatal(err)
		}
		truth, err := records(f, 0)
		if err != nil {
			t.Fatal(err)
		}
		for at := int64(0); at < int64(len(whole)); at += int64(len(whole))/23 + 1 {
			disk := badDisk{whole, at, at + 512}
			f, err := OpenReader(disk, int64(len(whole)), name, OpenOptions{})
			var got []byte
			if err == nil {
				got, err = records(f, 0)
			}
			if err == nil && !bytes.Equal(got, truth) {
				t.Errorf("%s: bad at %d: %d of %d bytes of records and no error", name, at, len(got), len(truth))
			}
			if err != nil && !strings.Contains(err.Error(), "read strip.laz: "+syscall.EIO.Error()) {
				t.Errorf("%s: bad at %d: %v", name, at, err)
			}
			if !bytes.HasPrefix(truth, got) {
				t.Errorf("%s: bad at %d: wrong points", name, at)
			}
		}
	}
}

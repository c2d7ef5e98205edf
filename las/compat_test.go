package las

import (
	"bytes"
	"path/filepath"
	"testing"
)

// TestCompatibilityMode: points stored in LAS 1.4 compatibility mode are restored to the records of
// the native originals (vectors made with the LASzip reference library 3.5.0), from LAZ and from the
// unpacked LAS.
func TestCompatibilityMode(t *testing.T) {
	dir := dataDir(t, "laz-vectors")
	for stored, native := range map[string]string{"pdrf6_compat": "pdrf6_returns15", "pdrf10_compat": "pdrf10_basic"} {
		n := mustOpen(t, filepath.Join(dir, native+".las"), OpenOptions{})
		want, err := records(n, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, ending := range []string{".las", ".laz"} {
			f := mustOpen(t, filepath.Join(dir, stored+ending), OpenOptions{})
			if f.Header().Format != n.Header().Format || f.Header().StatedReturns != n.Header().StatedReturns {
				t.Errorf("%s%s: format %d, returns %v", stored, ending, f.Header().Format, f.Header().StatedReturns)
			}
			if got, err := records(f, 0); err != nil || !bytes.Equal(got, want) {
				t.Errorf("%s%s: restored records differ from those of %s (%v)", stored, ending, native, err)
			}
			if fields := f.ExtraFields(); len(fields) != 0 {
				t.Errorf("%s%s: extra fields left: %v", stored, ending, fields)
			}
		}
	}
}

package las

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
)

func TestProbeOdd(t *testing.T) {
	for _, d := range []string{"real/odd", "real/lidar"} {
		for _, p := range glob(t, dataDir(t, d), "*.la*") {
			f, err := Open(p)
			if err != nil {
				var fe *FormatError
				t.Logf("%s\t\tREFUSED %v %v", filepath.Base(p), err, errors.As(err, &fe))
				continue
			}
			b, err := records(f, 0)
			st, _ := os.Stat(p)
			h := f.Header()
			t.Logf("%s\t%s pdrf %d n=%d stated=%d got %d size %d err=%v crs=%s", filepath.Base(p), h.Version, h.Format, h.Points, h.StatedPoints, len(b)/h.RecordLength, st.Size(), err, f.CRS())
			for _, w := range f.Warnings() {
				t.Logf("\t\t%s", w)
			}
			f.Close()
		}
	}
}

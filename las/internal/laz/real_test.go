package laz

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
)

// realDir holds open data of several producers and writers; see its README.
const realDir = "../../../../shared/data/real"

// TestRealRoundTrip decodes every chunk of the open LAZ files, encodes the points
// and decodes them again: equal bytes. The encoded chunks are those of the files,
// which several producers wrote with programs that we do not know.
func TestRealRoundTrip(t *testing.T) {
	files, _ := filepath.Glob(filepath.Join(realDir, "lidar", "*.laz"))
	odd, _ := filepath.Glob(filepath.Join(realDir, "odd", "las[pz]*.laz"))
	if len(files) == 0 {
		if os.Getenv("CI") == "true" {
			t.Fatal("no open data in " + realDir)
		}
		t.Skip("no open data in " + realDir)
	}
	broken, _ := filepath.Glob(filepath.Join(realDir, "odd", "laszip-broken*.laz"))
	skip := map[string]bool{}
	for _, f := range broken {
		skip[f] = true
	}
	for _, path := range append(files, odd...) {
		if skip[path] {
			continue
		}
		t.Run(filepath.Base(path), func(t *testing.T) {
			v := readLAZ(t, path)
			d, err := NewDecoder(v.vlr, v.length)
			if err != nil {
				t.Fatal(err)
			}
			at, same := 0, 0
			chunks := v.chunks(t)
			for i, c := range chunks {
				if v.vlr.Compressor == CompressorPointwise {
					c.Bytes = uint32(len(v.block))
				}
				n := int(c.Points)
				src := v.block[at : at+int(c.Bytes)]
				at += int(c.Bytes)
				records := make([]byte, n*v.length)
				points, consumed, err := d.Decode(records, src, n, AllLayers)
				if err != nil || points != n || consumed != len(src) && v.vlr.Compressor != CompressorPointwise {
					t.Fatalf("chunk %d: %d of %d points, %d of %d bytes, error %v", i, points, n, consumed, len(src), err)
				}
				again := encodeAll(t, v.vlr, records)
				if bytes.Equal(again, src[:consumed]) {
					same++
				}
				roundTrip(t, v.vlr, records)
			}
			if same != len(chunks) {
				t.Errorf("%d of %d chunks encoded to the bytes of the file", same, len(chunks))
			}
			t.Logf("%d points, %d chunks, items %v", v.n, len(chunks), v.vlr.Items)
		})
	}
}

package laz

import (
	"os"
	"path/filepath"
	"testing"
)

// Open data instead of the synthetic scan lines.
//
// go test -run '^$' -bench Real -count 10 ./las/internal/laz
func BenchmarkReal(b *testing.B) {
	for _, file := range []string{"nl-ahn3-delft-1", "ca-bc-forest-1", "fr-ign-decimated-0382_6565", "fr-ign-block-77055_627755"} {
		path := filepath.Join(realDir, "lidar", file+".laz")
		if _, err := os.Stat(path); err != nil {
			b.Skip(err)
		}
		v := readLAZ(b, path)
		var chunks, records [][]byte
		d, err := NewDecoder(v.vlr, v.length)
		if err != nil {
			b.Fatal(err)
		}
		e, err := NewEncoder(v.vlr, v.length)
		if err != nil {
			b.Fatal(err)
		}
		at := 0
		for _, c := range v.chunks(b) {
			chunks = append(chunks, v.block[at:at+int(c.Bytes)])
			records = append(records, make([]byte, int(c.Points)*v.length))
			at += int(c.Bytes)
		}
		b.Run("decode/file="+file, func(b *testing.B) {
			times := newChunkTimes(len(chunks))
			for b.Loop() {
				for i, c := range chunks {
					times.begin()
					_, _, err := d.Decode(records[i], c, len(records[i])/v.length, AllLayers)
					times.end(i)
					if err != nil {
						b.Fatal(err)
					}
				}
			}
			times.report(b, v.n)
		})
		b.Run("encode/file="+file, func(b *testing.B) {
			times := newChunkTimes(len(chunks))
			var dst []byte
			for i, c := range chunks {
				if _, _, err := d.Decode(records[i], c, len(records[i])/v.length, AllLayers); err != nil {
					b.Fatal(err)
				}
			}
			for b.Loop() {
				for i, r := range records {
					times.begin()
					dst, err = e.Encode(dst[:0], r)
					times.end(i)
					if err != nil {
						b.Fatal(err)
					}
				}
			}
			times.report(b, v.n)
		})
	}
}

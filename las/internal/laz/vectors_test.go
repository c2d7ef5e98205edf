package laz

import (
	"bytes"
	"encoding/binary"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// vectorDir holds pairs NAME.laz, NAME.las: NAME.laz was written by the LASzip
// library 3.5.0, NAME.las holds the same points uncompressed.
const vectorDir = "../../../../shared/data/laz-vectors"

// vector is the point block of a pair.
type vector struct {
	name    string
	vlr     *VLR
	vlrRaw  []byte
	length  int
	n       int
	block   []byte // .laz from the first chunk on to the end of the file
	table   int    // place of the chunk table in block, -1: none
	records []byte // from the .las
}

func readVector(t testing.TB, name string) *vector {
	t.Helper()
	v := readLAZ(t, filepath.Join(vectorDir, name+".laz"))
	v.name = name
	plain, err := os.ReadFile(filepath.Join(vectorDir, name+".las"))
	if err != nil {
		t.Fatal(err)
	}
	from := int(binary.LittleEndian.Uint32(plain[96:]))
	v.records = plain[from : from+v.n*v.length]
	return v
}

// readLAZ reads what the codec needs of a LAZ file; records stays empty.
func readLAZ(t testing.TB, path string) *vector {
	t.Helper()
	packed, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	v := &vector{name: filepath.Base(path), table: -1}
	le := binary.LittleEndian
	head := int(le.Uint16(packed[94:]))
	at := int(le.Uint32(packed[96:]))
	v.length = int(le.Uint16(packed[105:]))
	v.n = int(le.Uint32(packed[107:]))
	if packed[25] >= 4 {
		v.n = int(le.Uint64(packed[247:]))
	}
	p := packed[head:]
	for range le.Uint32(packed[100:]) {
		size := int(le.Uint16(p[20:]))
		body := p[54 : 54+size]
		if strings.TrimRight(string(p[2:18]), "\x00") == "laszip encoded" && le.Uint16(p[18:]) == 22204 {
			v.vlrRaw = body
		}
		p = p[54+size:]
	}
	if v.vlr, err = ParseVLR(v.vlrRaw); err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	v.block = packed[at:]
	if v.vlr.Compressor != CompressorPointwise {
		off := int64(le.Uint64(v.block))
		if off == -1 {
			off = int64(le.Uint64(packed[len(packed)-8:]))
		}
		v.block = packed[at+8:]
		if off > int64(at+8) || off == int64(at+8) && v.n == 0 {
			v.table = int(off) - at - 8
		}
	}
	return v
}

func vectorNames(t testing.TB) []string {
	t.Helper()
	names, _ := filepath.Glob(filepath.Join(vectorDir, "*.laz"))
	if len(names) == 0 {
		if os.Getenv("CI") == "true" {
			t.Fatal("no test vectors in " + vectorDir)
		}
		t.Skip("no test vectors in " + vectorDir)
	}
	var good []string
	for _, n := range names {
		if n = strings.TrimSuffix(filepath.Base(n), ".laz"); !strings.HasPrefix(n, "broken_") {
			good = append(good, n)
		}
	}
	return good
}

// chunks returns the chunk table, with the points filled in.
func (v *vector) chunks(t testing.TB) []Chunk {
	t.Helper()
	if v.vlr.Compressor == CompressorPointwise {
		return []Chunk{{uint32(v.n), uint32(len(v.block))}}
	}
	if v.table < 0 {
		t.Fatalf("%s: no chunk table", v.name)
	}
	chunks, err := ParseTable(v.block[v.table:], v.vlr.Variable(), v.table)
	if err != nil {
		t.Fatalf("%s: %v", v.name, err)
	}
	left := v.n
	for i := range chunks {
		if !v.vlr.Variable() {
			chunks[i].Points = uint32(min(left, int(v.vlr.ChunkSize)))
		}
		left -= int(chunks[i].Points)
	}
	return chunks
}

// TestDecodeVectors decodes every good vector and compares each record with its
// uncompressed twin, chunk by chunk with the table and once more without it.
// Source of the truth: LASzip library 3.5.0.
func TestDecodeVectors(t *testing.T) {
	names := vectorNames(t)
	for _, name := range names {
		t.Run(name, func(t *testing.T) {
			v := readVector(t, name)
			d, err := NewDecoder(v.vlr, v.length)
			if err != nil {
				t.Fatal(err)
			}
			if raw := v.vlr.Append(nil); !bytes.Equal(raw, v.vlrRaw) {
				t.Errorf("VLR written back: got %x, want %x", raw, v.vlrRaw)
			}
			at, from := 0, 0
			got := make([]byte, len(v.records))
			for i, c := range v.chunks(t) {
				n := int(c.Points)
				dst := got[from*v.length:]
				if v.n == 0 {
					break
				}
				points, consumed, err := d.Decode(dst, v.block[at:at+int(c.Bytes)], n, AllLayers)
				if err != nil || points != n || consumed != int(c.Bytes) {
					t.Errorf("chunk %d: %d of %d points, %d of %d bytes, error %v", i, points, n, consumed, c.Bytes, err)
				}
				points, consumed, err = d.Decode(dst, v.block[at:], n, AllLayers)
				if v.vlr.Compressor != CompressorPointwise && (err != nil || points != n || consumed != int(c.Bytes)) {
					t.Errorf("chunk %d without table: %d of %d points, %d of %d bytes, error %v", i, points, n, consumed, c.Bytes, err)
				}
				at += int(c.Bytes)
				from += n
			}
			if from != v.n {
				t.Fatalf("chunks hold %d points, header says %d", from, v.n)
			}
			for i := range v.n {
				if g, w := got[i*v.length:][:v.length], v.records[i*v.length:][:v.length]; !bytes.Equal(g, w) {
					t.Fatalf("point %d:\n got %x\nwant %x", i, g, w)
				}
			}
		})
	}
	if len(names) != 93 {
		t.Errorf("%d good vectors, want 93", len(names))
	}
}

// TestEncodeVectors encodes the points of every good vector with the items and
// chunks of its own VLR, and compares chunks and chunk table byte for byte
// with what LASzip library 3.5.0 wrote.
func TestEncodeVectors(t *testing.T) {
	for _, name := range vectorNames(t) {
		t.Run(name, func(t *testing.T) {
			v := readVector(t, name)
			e, err := NewEncoder(v.vlr, v.length)
			if err != nil {
				t.Fatal(err)
			}
			if v.n == 0 {
				if got, want := AppendTable(nil, nil, false), v.block[:8]; !bytes.Equal(got, want) {
					t.Errorf("empty chunk table: got %x, want %x", got, want)
				}
				return
			}
			at, from := 0, 0
			chunks := v.chunks(t)
			for i, c := range chunks {
				n := int(c.Points)
				got, err := e.Encode([]byte("before"), v.records[from*v.length:][:n*v.length])
				if err != nil {
					t.Fatal(err)
				}
				if want := v.block[at : at+int(c.Bytes)]; !bytes.Equal(got, append([]byte("before"), want...)) {
					t.Fatalf("chunk %d of %d points: got %d bytes, want %d; first difference at byte %d",
						i, n, len(got)-6, len(want), firstDifference(got[6:], want))
				}
				at += int(c.Bytes)
				from += n
			}
			if v.table >= 0 {
				got := AppendTable([]byte{7}, chunks, v.vlr.Variable())[1:]
				if want := v.block[v.table:]; !bytes.HasPrefix(want, got) {
					t.Errorf("chunk table: got %x, want %x", got, want[:min(len(want), len(got))])
				}
			}
		})
	}
}

func firstDifference(a, b []byte) int {
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] {
			return i
		}
	}
	return min(len(a), len(b))
}

package crs

import (
	"bytes"
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// realData is where the open data lie relative to the repository root.
func realData(t *testing.T) string {
	t.Helper()
	dir := filepath.Join("..", "..", "..", "shared", "data", "real")
	if _, err := os.Stat(dir); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("open data missing: %v", err)
		}
		t.Skip("open data not present")
	}
	return dir
}

// records are the georeferencing records of a LAS file.
type records struct {
	directory []uint16
	doubles   []float64
	ascii     []byte
	wkt       []byte
	hasKeys   bool
	wktBit    bool
}

// readRecords walks header and VLRs by itself, so that these tests depend on no reader.
func readRecords(b []byte) (r records) {
	if len(b) < 227 || string(b[:4]) != "LASF" {
		return r
	}
	le := binary.LittleEndian
	r.wktBit = le.Uint16(b[6:])&16 != 0
	p, end := int(le.Uint16(b[94:])), min(int(le.Uint32(b[96:])), len(b))
	for range min(le.Uint32(b[100:]), 1000) {
		if p < 227 || p+54 > end {
			break
		}
		user, _, _ := bytes.Cut(b[p+2:p+18], []byte{0})
		id, n := le.Uint16(b[p+18:]), int(le.Uint16(b[p+20:]))
		if p+54+n > end {
			break
		}
		body := b[p+54 : p+54+n]
		if string(user) == "LASF_Projection" {
			switch id {
			case 34735:
				r.hasKeys = true
				for i := 0; i+2 <= n; i += 2 {
					r.directory = append(r.directory, le.Uint16(body[i:]))
				}
			case 34736:
				for i := 0; i+8 <= n; i += 8 {
					r.doubles = append(r.doubles, math.Float64frombits(le.Uint64(body[i:])))
				}
			case 34737:
				r.ascii = body
			case 2112:
				r.wkt = body
			}
		}
		p += 54 + n
	}
	return r
}

func TestDump(t *testing.T) {
	dir := realData(t)
	for _, sub := range []string{"lidar", "odd"} {
		names, _ := filepath.Glob(filepath.Join(dir, sub, "*.la[sz]"))
		for _, n := range names {
			b, _ := os.ReadFile(n)
			r := readRecords(b)
			if r.hasKeys {
				c, err := FromGeoKeys(r.directory, r.doubles, r.ascii)
				t.Log(filepath.Base(n), "KEYS", c, err)
				dump(t, c)
			}
			if r.wkt != nil {
				c, err := FromWKT(string(r.wkt))
				t.Log(filepath.Base(n), "WKT", c, err)
				dump(t, c)
			}
		}
	}
}

func dump(t *testing.T, c *CRS) {
	if c == nil {
		return
	}
	t.Logf("    datum %q vertdatum %q heights %s geoid %q kind %s", c.Datum, c.VertDatum, c.Heights, c.Geoid, c.Kind)
	for _, n := range c.Notes {
		t.Log("    - ", n)
	}
}

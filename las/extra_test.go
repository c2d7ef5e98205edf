package las

import (
	"encoding/binary"
	"math"
	"path/filepath"
	"testing"
)

// describe returns one 192-byte description of the Extra Bytes record.
func describe(name string, dataType, options uint8, noData uint64, scale, offset float64) []byte {
	b := make([]byte, extraRecordSize)
	b[2], b[3] = dataType, options
	copy(b[4:36], name)
	binary.LittleEndian.PutUint64(b[40:], noData)
	putFloat(b, 112, scale)
	putFloat(b, 136, offset)
	return b
}

// TestExtraValues: the data types and options of LAS 1.4 R16, table of the Extra Bytes record.
func TestExtraValues(t *testing.T) {
	payload := append(describe("reflectance", 4, extraNoData|extraScale|extraOffset, uint64(0xFFFFFFFFFFFF8000), 0.01, 5), // i16, no-data -32768
		append(describe("deviation", 3, 0, 0, 99, 99), // u16, no option set: scale ignored
			append(describe("raw", 0, 3, 0, 0, 0), // 3 undocumented bytes
				append(describe("normal", 29, 0, 0, 0, 0), // 3 x f32, deprecated array
					describe("weight", 10, 0, 0, 0, 0)...)...)...)...)
	list, _, err := parseExtraFields(payload, 30, 30+2+2+3+12+8+1)
	if err != nil {
		t.Fatal(err)
	}
	record := make([]byte, 58)
	le := binary.LittleEndian
	le.PutUint16(record[30:], 0xFF9C) // -100
	le.PutUint16(record[32:], 65535)
	le.PutUint32(record[37:], math.Float32bits(0.5))
	putFloat(record, 49, 2.25)
	for i, want := range []struct {
		name       string
		offset     int
		components int
		value      float64
		ok         bool
	}{
		{"reflectance", 30, 1, 4, true}, {"deviation", 32, 1, 65535, true}, {"raw", 34, 1, 0, false},
		{"normal", 37, 3, 0.5, true}, {"weight", 49, 1, 2.25, true},
	} {
		e := list[i]
		v, ok := e.Value(record)
		if e.Name != want.name || e.Offset != want.offset || e.Components != want.components || v != want.value || ok != want.ok {
			t.Errorf("%+v = %v, %v; want %+v", e, v, ok, want)
		}
	}
	le.PutUint16(record[30:], 0x8000)
	if _, ok := list[0].Value(record); ok {
		t.Error("the no-data value is a value")
	}
}

// TestExtraMalformed: records that do not fit are refused, so that Open ignores them.
func TestExtraMalformed(t *testing.T) {
	for name, payload := range map[string][]byte{
		"not a multiple of 192":     make([]byte, 191),
		"more bytes than there are": append(describe("a", 10, 0, 0, 0, 0), describe("b", 1, 0, 0, 0, 0)...),
		"unknown type":              describe("a", 31, 0, 0, 0, 0),
	} {
		if list, _, err := parseExtraFields(payload, 20, 28); err == nil {
			t.Errorf("%s: accepted as %v", name, list)
		}
	}
}

// TestExtraReal: descriptions in open data.
func TestExtraReal(t *testing.T) {
	dir := dataDir(t, "real/odd")
	f := mustOpen(t, filepath.Join(dir, "laszip4j-record-format-7.laz"), OpenOptions{})
	// README: 3 Extra Bytes records; they hold 4, 1 and 3 fields for the 21 extra bytes.
	list := f.ExtraFields()
	if n := len(list); n != 8 || list[n-1].Offset+list[n-1].Size != f.Header().RecordLength {
		t.Errorf("%d fields %+v, want 8 up to the end of the record", n, list)
	}
	g := mustOpen(t, filepath.Join(dir, "lasr-malformed_extrabytes.las"), OpenOptions{})
	if g.ExtraFields() != nil {
		t.Error("a malformed record gave fields")
	}
}

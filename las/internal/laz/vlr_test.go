package laz

import (
	"bytes"
	"encoding/binary"
	"errors"
	"math/rand/v2"
	"slices"
	"testing"
)

func TestParseVLRRefuses(t *testing.T) {
	base := func(change func(v *VLR)) []byte {
		v := vlrOf(t, 3, 2, 4)
		change(v)
		return v.Append(nil)
	}
	for name, b := range map[string][]byte{
		"empty":                      nil,
		"short":                      base(func(*VLR) {})[:33],
		"items missing":              base(func(*VLR) {})[:50],
		"no items":                   base(func(v *VLR) { v.Items = nil }),
		"compressor 0":               base(func(v *VLR) { v.Compressor = 0 }),
		"compressor 4":               base(func(v *VLR) { v.Compressor = 4 }),
		"coder":                      base(func(v *VLR) { v.Coder = 1 }),
		"item type":                  base(func(v *VLR) { v.Items[1].Type = 3 }),
		"item size":                  base(func(v *VLR) { v.Items[1].Size = 7 }),
		"item version 0":             base(func(v *VLR) { v.Items[0].Version = 0 }),
		"item version 3":             base(func(v *VLR) { v.Items[0].Version = 3 }),
		"order":                      base(func(v *VLR) { v.Items[0], v.Items[1] = v.Items[1], v.Items[0] }),
		"layered item, pointwise":    base(func(v *VLR) { v.Items = vlrOf(t, 6, 3, 0).Items }),
		"pointwise item, layered":    base(func(v *VLR) { v.Compressor = CompressorLayered }),
		"extra bytes without number": base(func(v *VLR) { v.Items[3].Size = 0 }),
	} {
		if v, err := ParseVLR(b); err == nil {
			t.Errorf("%s: accepted as %+v", name, v)
		}
	}
}

func TestDefaultVLR(t *testing.T) {
	for format := range uint8(11) {
		for _, extra := range []int{0, 1, 20} {
			v, err := DefaultVLR(format, formatLength[format]+extra)
			if err != nil {
				t.Fatal(err)
			}
			got, err := ParseVLR(append(v.Append([]byte{1}), 9, 9)[1:])
			if err != nil {
				t.Fatalf("format %d: %v", format, err)
			}
			if got.Format() != int(format) || got.RecordLength() != formatLength[format]+extra || !slices.Equal(got.Items, v.Items) {
				t.Errorf("format %d, %d extra bytes: got %+v", format, extra, got)
			}
		}
	}
	if _, err := DefaultVLR(11, 40); err == nil {
		t.Error("format 11 is accepted")
	}
	if _, err := DefaultVLR(6, 29); err == nil {
		t.Error("a record of format 6 with 29 bytes is accepted")
	}
}

// TestTable writes and reads chunk tables: property, no outside source. The
// vectors' own tables are in TestEncodeVectors.
func TestTable(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for _, variable := range []bool{false, true} {
		for _, n := range []int{0, 1, 2, 1000} {
			chunks := make([]Chunk, n)
			for i := range chunks {
				chunks[i].Bytes = 1 + rng.Uint32()>>rng.IntN(32)
				if variable {
					chunks[i].Points = rng.Uint32() >> rng.IntN(32)
				}
			}
			b := AppendTable(nil, chunks, variable)
			got, err := ParseTable(append(b, 1, 2, 3), variable, n)
			if err != nil || !slices.Equal(got, chunks) {
				t.Errorf("%d chunks, variable %v: error %v, or other chunks", n, variable, err)
			}
			if n == 0 {
				continue
			}
			if _, err := ParseTable(b, variable, n-1); !errors.Is(err, ErrCorrupt) {
				t.Errorf("table of %d chunks where %d have room: error %v", n, n-1, err)
			}
			if got, err := ParseTable(b[:len(b)-1:len(b)-1], variable, n); !errors.Is(err, ErrTruncated) || !slices.Equal(got, chunks[:len(got)]) {
				t.Errorf("table without its last byte: error %v", err)
			}
		}
	}
	bad := binary.LittleEndian.AppendUint32(nil, 7)
	if _, err := ParseTable(append(bad, bytes.Repeat([]byte{0}, 20)...), false, 9); err == nil {
		t.Error("version 7 of the table is accepted")
	}
}

package laz

import (
	"bytes"
	"errors"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
)

// seedVectors calls add for the small good vectors, if they are there.
func seedVectors(f *testing.F, add func(v *vector)) {
	names, _ := filepath.Glob(filepath.Join(vectorDir, "pdrf*.laz"))
	for _, n := range names {
		if st, err := os.Stat(n); err == nil && st.Size() < 30000 {
			name := filepath.Base(n)
			add(readVector(f, name[:len(name)-len(".laz")]))
		}
	}
}

// FuzzVLR: what is accepted is written back to the same bytes, and a decoder and
// an encoder can be made for it.
func FuzzVLR(f *testing.F) {
	for _, k := range kinds() {
		f.Add(vlrOf(f, k.format, k.version, k.extra).Append(nil))
	}
	seedVectors(f, func(v *vector) { f.Add(v.vlrRaw) })
	f.Fuzz(func(t *testing.T, b []byte) {
		v, err := ParseVLR(b)
		if err != nil {
			return
		}
		if back := v.Append(nil); !bytes.HasPrefix(b, back) {
			t.Fatalf("written back as %x", back)
		}
		if _, err := NewDecoder(v, v.RecordLength()); err != nil {
			t.Fatal(err)
		}
		if _, err := NewEncoder(v, v.RecordLength()); err != nil {
			t.Fatal(err)
		}
	})
}

// FuzzTable: no more chunks than there may be, and those of a whole table are
// the same after being written.
func FuzzTable(f *testing.F) {
	f.Add(AppendTable(nil, []Chunk{{0, 100}, {0, 90}, {0, 120}, {0, 3}}, false), false)
	f.Add(AppendTable(nil, []Chunk{{5, 100}, {1, 1 << 31}, {1 << 30, 120}}, true), true)
	seedVectors(f, func(v *vector) {
		if v.table >= 0 {
			f.Add(v.block[v.table:], v.vlr.Variable())
		}
	})
	f.Fuzz(func(t *testing.T, b []byte, variable bool) {
		const most = 10000
		chunks, err := ParseTable(b, variable, most)
		if len(chunks) > most {
			t.Fatalf("%d chunks", len(chunks))
		}
		if err != nil {
			return
		}
		again, err := ParseTable(AppendTable(nil, chunks, variable), variable, most)
		if err != nil || len(again) != len(chunks) {
			t.Fatalf("%d chunks, written and read %d, error %v", len(chunks), len(again), err)
		}
		for i := range again {
			if again[i] != chunks[i] {
				t.Fatalf("chunk %d: %v, written and read %v", i, chunks[i], again[i])
			}
		}
	})
}

// FuzzDecode decodes any bytes as a chunk of each kind: no panic, errors with a
// place, and, since every record can be encoded, what was decoded whole comes
// back from its own encoding.
func FuzzDecode(f *testing.F) {
	all := kinds()
	for i, k := range all {
		v := vlrOf(f, k.format, k.version, k.extra)
		rng := rand.New(rand.NewPCG(uint64(i), 1))
		for _, chance := range []float64{0.02, 0.5} {
			f.Add(encodeAll(f, v, noisy(rng, 40, v.RecordLength(), chance)), uint8(i), uint16(40))
		}
	}
	seedVectors(f, func(v *vector) {
		for i, k := range all {
			if w := vlrOf(f, k.format, k.version, k.extra); v.n > 0 && w.Format() == v.vlr.Format() &&
				w.Items[0].Version == v.vlr.Items[0].Version && w.RecordLength() == v.length {
				c := v.chunks(f)[0]
				f.Add(v.block[:c.Bytes], uint8(i), uint16(min(c.Points, 300)))
			}
		}
	})
	f.Fuzz(func(t *testing.T, b []byte, which uint8, n uint16) {
		k := all[int(which)%len(all)]
		v := vlrOf(t, k.format, k.version, k.extra)
		length := v.RecordLength()
		d, err := NewDecoder(v, length)
		if err != nil {
			t.Fatal(err)
		}
		want := int(n % 1500)
		dst := make([]byte, want*length)
		points, consumed, err := d.Decode(dst, b, want, AllLayers)
		var e *Error
		switch {
		case points < 0 || points > want || consumed < 0 || consumed > len(b):
			t.Fatalf("%d of %d points, %d of %d bytes", points, want, consumed, len(b))
		case err != nil && !errors.As(err, &e):
			t.Fatalf("error without a place: %v", err)
		case err == nil && points != want:
			t.Fatalf("%d of %d points and no error", points, want)
		}
		if points == 0 {
			return
		}
		roundTrip(t, v, dst[:points*length])
	})
}

// FuzzEncode encodes any records and decodes them again.
func FuzzEncode(f *testing.F) {
	all := kinds()
	for i, k := range all {
		length := formatLength[k.format] + k.extra
		f.Add(noisy(rand.New(rand.NewPCG(uint64(i), 2)), 20, length, 0.1), uint8(i))
	}
	seedVectors(f, func(v *vector) {
		for i, k := range all {
			if length := formatLength[k.format] + k.extra; length == v.length && int(k.format) == v.vlr.Format() {
				f.Add(v.records[:min(40, v.n)*length], uint8(i))
			}
		}
	})
	f.Fuzz(func(t *testing.T, records []byte, which uint8) {
		k := all[int(which)%len(all)]
		v := vlrOf(t, k.format, k.version, k.extra)
		if n := len(records) / v.RecordLength(); n > 0 {
			roundTrip(t, v, records[:n*v.RecordLength()])
		}
	})
}

func roundTrip(t *testing.T, v *VLR, records []byte) {
	t.Helper()
	length := v.RecordLength()
	n := len(records) / length
	chunk := encodeAll(t, v, records)
	d, err := NewDecoder(v, length)
	if err != nil {
		t.Fatal(err)
	}
	got := make([]byte, len(records))
	points, consumed, err := d.Decode(got, chunk, n, AllLayers)
	if err != nil || points != n || consumed != len(chunk) {
		t.Fatalf("%d of %d points, %d of %d bytes, error %v", points, n, consumed, len(chunk), err)
	}
	if !bytes.Equal(got, records) {
		t.Fatalf("records differ at byte %d", firstDifference(got, records))
	}
}

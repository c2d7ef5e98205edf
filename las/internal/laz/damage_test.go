package laz

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// vlrOf makes a VLR of any format, item version and number of extra bytes.
func vlrOf(t testing.TB, format uint8, version uint16, extra int) *VLR {
	t.Helper()
	v, err := DefaultVLR(format, formatLength[format]+extra)
	if err != nil {
		t.Fatal(err)
	}
	for i := range v.Items {
		if v.Items[i].Type != ItemWavePacket13 {
			v.Items[i].Version = version
		}
	}
	return v
}

// kind is a format with a version of its items.
type kind struct {
	format  uint8
	version uint16
	extra   int
}

func kinds() []kind {
	var k []kind
	for f := range uint8(11) {
		for _, extra := range []int{0, 3} {
			if f < 6 {
				k = append(k, kind{f, 1, extra}, kind{f, 2, extra})
			} else {
				k = append(k, kind{f, 3, extra}, kind{f, 4, extra})
			}
		}
	}
	return k
}

func (k kind) String() string {
	return fmt.Sprintf("format=%d/version=%d/extra=%d", k.format, k.version, k.extra)
}

// noisy makes n records in which each byte changes with the given chance, so
// that all symbols and escapes are met.
func noisy(rng *rand.Rand, n, length int, chance float64) []byte {
	b := make([]byte, n*length)
	for i := range b {
		if i >= length {
			b[i] = b[i-length]
		}
		if rng.Float64() < chance {
			b[i] = byte(rng.Uint32())
		}
	}
	return b
}

func encodeAll(t testing.TB, v *VLR, records []byte) []byte {
	t.Helper()
	e, err := NewEncoder(v, v.RecordLength())
	if err != nil {
		t.Fatal(err)
	}
	chunk, err := e.Encode(nil, records)
	if err != nil {
		t.Fatal(err)
	}
	return chunk
}

// TestRoundTrip encodes and decodes points of all kinds: what comes out is what
// went in. Property, no outside source.
func TestRoundTrip(t *testing.T) {
	for _, k := range kinds() {
		t.Run(k.String(), func(t *testing.T) {
			rng := rand.New(rand.NewPCG(uint64(k.format), uint64(k.version)))
			v := vlrOf(t, k.format, k.version, k.extra)
			length := v.RecordLength()
			d, err := NewDecoder(v, length)
			if err != nil {
				t.Fatal(err)
			}
			for _, chance := range []float64{0, 0.001, 0.02, 0.3, 1} {
				for _, n := range []int{1, 2, 3, 1025, 3000} {
					records := noisy(rng, n, length, chance)
					chunk := encodeAll(t, v, records)
					got := make([]byte, len(records))
					points, consumed, err := d.Decode(got, chunk, n, AllLayers)
					if err != nil || points != n || consumed != len(chunk) {
						t.Fatalf("chance %g: %d of %d points, %d of %d bytes, error %v", chance, points, n, consumed, len(chunk), err)
					}
					if !bytes.Equal(got, records) {
						t.Fatalf("chance %g, %d points: records differ at byte %d", chance, n, firstDifference(got, records))
					}
				}
			}
		})
	}
}

// TestGPSTimeBits keeps times that floating point would confuse: both zeros and
// values that are no numbers.
func TestGPSTimeBits(t *testing.T) {
	times := []uint64{0, 1 << 63, 0, math.Float64bits(math.NaN()), math.Float64bits(math.NaN()), 0x7FF0000000000001, 1 << 63, 1, math.Float64bits(math.Inf(-1))}
	for _, format := range []uint8{1, 6} {
		v := vlrOf(t, format, map[uint8]uint16{1: 2, 6: 3}[format], 0)
		length := v.RecordLength()
		records := make([]byte, len(times)*length)
		for i, bits := range times {
			binary.LittleEndian.PutUint64(records[(i+1)*length-8:], bits)
		}
		d, err := NewDecoder(v, length)
		if err != nil {
			t.Fatal(err)
		}
		got := make([]byte, len(records))
		if _, _, err := d.Decode(got, encodeAll(t, v, records), len(times), AllLayers); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, records) {
			t.Errorf("format %d: times differ", format)
		}
	}
}

// TestTruncated cuts chunks at every length: the points that are given are right,
// and an *Error tells of the rest.
func TestTruncated(t *testing.T) {
	for _, k := range kinds() {
		t.Run(k.String(), func(t *testing.T) {
			rng := rand.New(rand.NewPCG(7, uint64(k.format)))
			v := vlrOf(t, k.format, k.version, k.extra)
			length := v.RecordLength()
			const n = 60
			records := noisy(rng, n, length, 0.05)
			chunk := encodeAll(t, v, records)
			d, err := NewDecoder(v, length)
			if err != nil {
				t.Fatal(err)
			}
			got := make([]byte, len(records))
			last := 0
			for cut := range chunk {
				points, _, err := d.Decode(got, chunk[:cut:cut], n, AllLayers)
				var e *Error
				if !errors.As(err, &e) || !errors.Is(err, ErrTruncated) {
					t.Fatalf("cut at %d of %d: error %v, want an *Error that wraps ErrTruncated", cut, len(chunk), err)
				}
				if points > n || !bytes.Equal(got[:points*length], records[:points*length]) {
					t.Fatalf("cut at %d of %d: %d points, some of them wrong", cut, len(chunk), points)
				}
				if points < last {
					t.Fatalf("cut at %d: %d points, with less bytes there were %d", cut, points, last)
				}
				last = points
			}
			if k.format < 6 && last < n-2 {
				t.Errorf("without the last byte %d points are decoded, of %d", last, n)
			}
		})
	}
}

// TestDamaged flips bits: no panic, never more points than asked for, and the error
// is an *Error.
func TestDamaged(t *testing.T) {
	rounds := 3000
	if testing.Short() {
		rounds = 300
	}
	for _, k := range kinds() {
		t.Run(k.String(), func(t *testing.T) {
			rng := rand.New(rand.NewPCG(9, uint64(k.format)))
			v := vlrOf(t, k.format, k.version, k.extra)
			const n = 100
			chunk := encodeAll(t, v, noisy(rng, n, v.RecordLength(), 0.1))
			d, err := NewDecoder(v, v.RecordLength())
			if err != nil {
				t.Fatal(err)
			}
			dst := make([]byte, n*v.RecordLength())
			for range rounds / 10 {
				b := bytes.Clone(chunk)
				for range 1 + rng.IntN(4) {
					b[rng.IntN(len(b))] ^= 1 << rng.IntN(8)
				}
				points, _, err := d.Decode(dst, b, n, AllLayers)
				var e *Error
				if err != nil && !errors.As(err, &e) || points < 0 || points > n || err == nil && points != n {
					t.Fatalf("%d of %d points, error %v", points, n, err)
				}
			}
		})
	}
}

// TestFirstBytesAllOnes is the one start of a stream that no encoder writes and
// that would lead a decoder out of its tables.
func TestFirstBytesAllOnes(t *testing.T) {
	for _, k := range kinds() {
		v := vlrOf(t, k.format, k.version, k.extra)
		d, err := NewDecoder(v, v.RecordLength())
		if err != nil {
			t.Fatal(err)
		}
		b := bytes.Repeat([]byte{0xFF}, 5000)
		if k.format >= 6 {
			head := b[v.RecordLength():]
			binary.LittleEndian.PutUint32(head, 500)
			for i := range d.layers.names {
				binary.LittleEndian.PutUint32(head[4+4*i:], 200)
			}
		}
		points, _, err := d.Decode(make([]byte, 500*v.RecordLength()), b, 500, AllLayers)
		if !errors.Is(err, ErrCorrupt) {
			t.Errorf("%v: %d points, error %v, want ErrCorrupt", k, points, err)
		}
	}
}

// TestLayers decodes with layers left out: the wanted fields are the same, and
// the chunk is as long as before.
func TestLayers(t *testing.T) {
	// bytes of a record of format 10 with three extra bytes that each layer fills
	fields := map[Layers][2]int{
		LayerZ: {8, 12}, LayerIntensity: {12, 14}, LayerClassification: {16, 17}, LayerUserData: {17, 18},
		LayerScanAngle: {18, 20}, LayerPointSource: {20, 22}, LayerGPSTime: {22, 30}, LayerRGB: {30, 36},
		LayerNIR: {36, 38}, LayerWavePacket: {38, 67}, LayerExtraBytes: {67, 70},
	}
	for _, version := range []uint16{3, 4} {
		v := vlrOf(t, 10, version, 3)
		length := v.RecordLength()
		const n = 2500
		records := noisy(rand.New(rand.NewPCG(3, 4)), n, length, 0.1)
		chunk := encodeAll(t, v, records)
		d, err := NewDecoder(v, length)
		if err != nil {
			t.Fatal(err)
		}
		got := make([]byte, len(records))
		for set := range Layers(1) << 12 {
			if set&(set-1) != 0 && set != AllLayers&^(LayerRGB|LayerNIR) { // one layer alone, and one mixture
				continue
			}
			points, consumed, err := d.Decode(got, chunk, n, set)
			if err != nil || points != n || consumed != len(chunk) {
				t.Fatalf("layers %b: %d of %d points, %d of %d bytes, error %v", set, points, n, consumed, len(chunk), err)
			}
			for i := range n {
				g, w := got[i*length:][:length], records[i*length:][:length]
				if !bytes.Equal(g[:8], w[:8]) || g[14] != w[14] || g[15]&0x30 != w[15]&0x30 {
					t.Fatalf("layers %b, point %d: coordinates, returns or channel differ", set, i)
				}
				if set&LayerFlags != 0 && g[15] != w[15] {
					t.Fatalf("layers %b, point %d: flags %x, want %x", set, i, g[15], w[15])
				}
				for layer, f := range fields {
					if set&layer != 0 && !bytes.Equal(g[f[0]:f[1]], w[f[0]:f[1]]) {
						t.Fatalf("layers %b, point %d: layer %b differs", set, i, layer)
					}
				}
			}
		}
	}
}

// TestLayerSize gives a layer an absurd size: an error, no allocation by that
// size, and the decoder goes on with the next chunk.
func TestLayerSize(t *testing.T) {
	v := vlrOf(t, 6, 3, 0)
	length := v.RecordLength()
	const n = 500
	records := noisy(rand.New(rand.NewPCG(5, 6)), n, length, 0.1)
	good := encodeAll(t, v, records)
	bad := bytes.Clone(good)
	binary.LittleEndian.PutUint32(bad[length+4+4*layerZ:], 0xFFFFFFF0)
	d, err := NewDecoder(v, length)
	if err != nil {
		t.Fatal(err)
	}
	dst := make([]byte, n*length)
	points, _, err := d.Decode(dst, bad, n, AllLayers)
	if err == nil || points > 1 {
		t.Errorf("%d points, error %v, want the first point at most and an error", points, err)
	}
	if points, _, err = d.Decode(dst, good, n, AllLayers); err != nil || points != n || !bytes.Equal(dst, records) {
		t.Errorf("next chunk: %d of %d points, error %v", points, n, err)
	}
}

// TestCount is about the number of points that a layered chunk states.
func TestCount(t *testing.T) {
	v := vlrOf(t, 7, 3, 0)
	length := v.RecordLength()
	const n = 40
	records := noisy(rand.New(rand.NewPCG(5, 6)), n, length, 0.1)
	chunk := encodeAll(t, v, records)
	d, err := NewDecoder(v, length)
	if err != nil {
		t.Fatal(err)
	}
	dst := make([]byte, 2*n*length)
	for _, c := range []struct {
		ask, points int
		bad         bool
	}{{n, n, false}, {n - 1, n - 1, false}, {1, 1, false}, {0, 0, false}, {n + 1, n, true}} {
		points, _, err := d.Decode(dst, chunk, c.ask, AllLayers)
		if points != c.points || (err != nil) != c.bad || !bytes.Equal(dst[:points*length], records[:points*length]) {
			t.Errorf("asked for %d of %d points: got %d, error %v", c.ask, n, points, err)
		}
	}
	binary.LittleEndian.PutUint32(chunk[length:], 0)
	if points, _, err := d.Decode(dst, chunk, n, AllLayers); points != 0 || !errors.Is(err, ErrCorrupt) {
		t.Errorf("chunk of no points: got %d, error %v", points, err)
	}
}

// TestNoAllocation decodes and encodes chunk after chunk without allocating.
func TestNoAllocation(t *testing.T) {
	for _, format := range []uint8{1, 3, 6, 7} {
		p := synthetic(t, format, 20000)
		d, _ := NewDecoder(p.vlr, p.length)
		e, _ := NewEncoder(p.vlr, p.length)
		dst := make([]byte, len(p.records))
		var out []byte
		run := func() {
			if _, _, err := d.Decode(dst, p.chunks[0], 20000, AllLayers); err != nil {
				t.Fatal(err)
			}
			out, _ = e.Encode(out[:0], p.records)
		}
		run()
		if n := testing.AllocsPerRun(3, run); n > 0 {
			t.Errorf("format %d: %g allocations for each chunk", format, n)
		}
	}
}

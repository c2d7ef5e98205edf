package field

import (
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"sidelap/las"
)

func timesChunk(t []float64, source uint16) *las.Chunk {
	c := &las.Chunk{N: len(t), GPSTime: t, Source: make([]uint16, len(t))}
	for i := range c.Source {
		c.Source[i] = source
	}
	return c
}

// Closed form: pauses by sorting all times. Any split over workers and any order gives the same.
func TestPauses(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 50 {
		var all []float64
		at := 4.6e8 + rng.Float64()
		for range 4000 {
			step := 0.002
			if rng.IntN(400) == 0 {
				step = rng.Float64() * 3
			}
			at += step
			all = append(all, at)
		}
		var want [][2]float64
		for i := 1; i < len(all); i++ {
			if all[i]-all[i-1] > leastPauseS {
				want = append(want, [2]float64{all[i-1], all[i]})
			}
		}
		mixed := slices.Clone(all)
		rng.Shuffle(len(mixed), func(i, j int) { mixed[i], mixed[j] = mixed[j], mixed[i] })
		parts := []*timeBins{newTimeBins(), newTimeBins(), newTimeBins()}
		for k := range parts {
			for lo := k * 100; lo < len(mixed); lo += 300 {
				parts[k].Add(timesChunk(mixed[lo:min(lo+100, len(mixed))], 3), 1)
			}
		}
		parts[0].Add(timesChunk([]float64{all[0] - 5, all[len(all)-1] + 5, math.NaN(), math.Inf(1)}, 4), 1) // another source
		parts[2].merge(parts[0])
		parts[2].merge(parts[1])
		var got [][2]float64
		for _, g := range parts[2].pauses(func(k binKey) bool { return k == binKey{1, 3} }, all[0], all[len(all)-1], leastPauseS) {
			got = append(got, [2]float64{g.StartS, g.EndS})
		}
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("%d pauses, want %d: %v, %v", len(got), len(want), got, want)
		}
	}
}

// Random times, as of a damaged file, stay within the bound and are said to be unknown, however they are split.
func TestTimesWithoutEnd(t *testing.T) {
	a, b := newTimeBins(), newTimeBins()
	rng := rand.New(rand.NewPCG(3, 4))
	v := make([]float64, 8000)
	for range 3 {
		for i := range v {
			v[i] = rng.Float64() * 1e11
		}
		a.Add(timesChunk(v, 0), 0)
		for i := range v {
			v[i] = rng.Float64() * 1e11
		}
		b.Add(timesChunk(v[:4000], 0), 0)
	}
	if b.overflow {
		t.Fatal("12 000 times should fit")
	}
	b.merge(a)
	if !a.overflow || !b.overflow || b.n > maxBlocks {
		t.Errorf("overflow %v %v, %d blocks", a.overflow, b.overflow, b.n)
	}
}

func TestParseBytes(t *testing.T) {
	for s, want := range map[string]float64{"12G": 12e9, "900M": 9e8, "1.5tb": 1.5e12, "512": 512, "4GiB": 4 << 30, "2 KiB": 2048, "7B": 7, "3 MB": 3e6} {
		if v, err := ParseBytes(s); err != nil || math.Abs(v-want) > 1e-6*want {
			t.Errorf("%q: %g, %v", s, v, err)
		}
	}
	for _, s := range []string{"", "G", "-3G", "0", "12X", "NaN", "Inf", "1e400", "12GG", "iB"} {
		if v, err := ParseBytes(s); err == nil {
			t.Errorf("%q: %g", s, v)
		}
	}
}

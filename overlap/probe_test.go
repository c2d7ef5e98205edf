package overlap_test

import (
	"math/rand/v2"
	"strings"
	"testing"

	"sidelap/las"
	"sidelap/overlap"
)

// The cell proposed for clouds of known density, in the order of flight and in
// random order: within a factor 2 of the one that Survey keeps.
func TestProbe(t *testing.T) {
	for _, c := range []struct {
		density, cellM float64
	}{{0.5, 4}, {3, 2}, {10, 1}} {
		for _, shuffled := range []bool{false, true} {
			if shuffled && c.density > 3 {
				continue // the same again, and slow
			}
			s := newScene()
			for i := range 3 {
				s.fly(line{id: uint16(i + 1), startS: 1000 + 100*float64(i), e: 400000 + 60*float64(i), n: 5600000, speed: 8, lengthM: 200, heightM: 80,
					fanDeg: 70, density: c.density, noiseM: 0.01, class: 2, jitter: rng(uint64(60 + i))})
			}
			chunks, total := s.out, 0
			for _, x := range chunks {
				total += x.N
			}
			if shuffled {
				chunks = shuffle(chunks, total)
			}
			var p overlap.Probe
			p.File(int64(total), 232*200)
			for i := 0; i < len(chunks); i += 4 {
				p.Add(chunks[i])
			}
			o, why := p.Options()
			if !o.Classified || !strings.Contains(why, "classified") {
				t.Errorf("all ground: %+v, %s", o, why)
			}
			if o.CellM > c.cellM || o.CellM < c.cellM/2 {
				t.Errorf("%g points per m2, shuffled %v: cells of %g m, want %g or half of it", c.density, shuffled, o.CellM, c.cellM)
			}
			if got := mustSurvey(t, sum(t, o, chunks)).Options.CellM; got != c.cellM {
				t.Errorf("%g points per m2, shuffled %v: kept cells of %g m, want %g", c.density, shuffled, got, c.cellM)
			}
		}
	}
	var none overlap.Probe
	if o, why := none.Options(); o.Validate() != nil || why == "" {
		t.Errorf("no sample: %+v, %q", o, why)
	}
}

func shuffle(chunks []*las.Chunk, total int) []*las.Chunk {
	all := singles(chunks)
	rand.New(rand.NewPCG(1, 1)).Shuffle(total, func(i, j int) { all[i], all[j] = all[j], all[i] })
	var out []*las.Chunk
	for i := 0; i < total; i += las.MaxChunk {
		d := &las.Chunk{Frame: chunks[0].Frame}
		for _, c := range all[i:min(i+las.MaxChunk, total)] {
			d.N++
			d.X, d.Y, d.Z = append(d.X, c.X...), append(d.Y, c.Y...), append(d.Z, c.Z...)
			d.ReturnNumber, d.NumReturns = append(d.ReturnNumber, c.ReturnNumber...), append(d.NumReturns, c.NumReturns...)
			d.Flags, d.Channel, d.Class = append(d.Flags, c.Flags...), append(d.Channel, c.Channel...), append(d.Class, c.Class...)
			d.ScanAngle, d.Source, d.GPSTime = append(d.ScanAngle, c.ScanAngle...), append(d.Source, c.Source...), append(d.GPSTime, c.GPSTime...)
		}
		out = append(out, d)
	}
	return out
}

// The k-d tree finds the pairs that comparing every two strips cell by cell finds.
func TestPairsAgainstAll(t *testing.T) {
	s := newScene()
	r := rand.New(rand.NewPCG(9, 9))
	for i := range 14 {
		s.fly(line{id: uint16(i + 1), startS: 1000 + 200*float64(i), e: 400000 + 300*r.Float64(), n: 5600000 + 300*r.Float64(), headingDeg: 360 * r.Float64(),
			speed: 8, lengthM: 60 + 100*r.Float64(), heightM: 20 + 30*r.Float64(), fanDeg: 60, density: 9, noiseM: 0.01, jitter: r})
	}
	sv := mustSurvey(t, sum(t, overlap.DefaultOptions(), s.out))
	want := map[[2]int]int{}
	lines := sv.Lines()
	for a := range lines {
		has := map[[2]int32]bool{}
		for _, f := range lines[a].Facets {
			has[[2]int32{f.Col, f.Row}] = f.First > 0
		}
		for b := a + 1; b < len(lines); b++ {
			for _, f := range lines[b].Facets {
				if f.First > 0 && has[[2]int32{f.Col, f.Row}] {
					want[[2]int{a, b}]++
				}
			}
		}
	}
	o := overlap.DefaultPairOptions()
	o.MinCells = 1
	pairs := sv.Pairs(o)
	if len(pairs) != len(want) || len(pairs) < 10 {
		t.Errorf("%d pairs, %d by comparing all", len(pairs), len(want))
	}
	for _, p := range pairs {
		if p.CommonCells != want[[2]int{p.A, p.B}] {
			t.Errorf("%s-%s: %d cells, %d by comparing all", p.IDA, p.IDB, p.CommonCells, want[[2]int{p.A, p.B}])
		}
		cells := 0
		for _, g := range p.Regions {
			cells += g.Cells
		}
		if cells != p.CommonCells {
			t.Errorf("%s-%s: regions hold %d of %d cells", p.IDA, p.IDB, cells, p.CommonCells)
		}
	}
}

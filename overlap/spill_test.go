package overlap

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sidelap/las"
)

// scattered returns chunks of several seconds whose cells are met again and again.
func scattered(r *rand.Rand, n int) []*las.Chunk {
	frame := &las.Frame{Scale: [3]float64{0.01, 0.01, 0.001}, Offset: [3]float64{3e5, 5e6, 0}, HorizontalM: 1, VerticalM: 1}
	var out []*las.Chunk
	for range n {
		out = append(out, randomChunk(r, 500+r.IntN(2000), frame))
	}
	return out
}

// TestSpillSums is a property: any budget gives the same sums, as they are, merged, and with wider cells.
func TestSpillSums(t *testing.T) {
	chunks := scattered(rand.New(rand.NewPCG(5, 6)), 40)
	o := Options{CellM: 0.5, SegmentS: 1, SubCells: 4}
	sums := func(t *testing.T, budget int64, parts int, dir string) (whole, wide string, spilled int64) {
		acc := make([]*Accumulator, parts)
		for i := range acc {
			acc[i], _ = NewAccumulator(o)
			acc[i].budget, acc[i].spillDir = budget, dir
			defer acc[i].Close()
		}
		for i, c := range chunks {
			acc[i%parts].Add(c, i%2)
		}
		for _, b := range acc[1:] {
			if err := acc[0].Merge(b); err != nil {
				t.Fatal(err)
			}
		}
		w, err := acc[0].coarsen()
		if err != nil {
			t.Fatal(err)
		}
		defer w.Close()
		one, err := acc[0].MarshalBinary()
		if err != nil {
			t.Fatal(err)
		}
		two, err := w.MarshalBinary()
		if err != nil {
			t.Fatal(err)
		}
		return string(one), string(two), acc[0].Spilled()
	}
	whole, wide, _ := sums(t, 0, 1, "")
	for _, budget := range []int64{30_000, 200_000, 1_000_000, 1 << 40} {
		for _, parts := range []int{1, 3} {
			dir := t.TempDir()
			one, two, spilled := sums(t, budget, parts, dir)
			if one != whole || two != wide {
				t.Errorf("budget %d, %d parts: other sums", budget, parts)
			}
			if small := budget < 1<<21; (spilled > 0) != small {
				t.Errorf("budget %d, %d parts: %d bytes in files", budget, parts, spilled)
			}
			if left, _ := os.ReadDir(dir); len(left) > 0 {
				t.Errorf("budget %d: %s is left in the folder for temporary files", budget, left[0].Name())
			}
		}
	}
}

// Where the files cannot be made or read, Merge and Survey say so.
func TestSpillFails(t *testing.T) {
	chunks := scattered(rand.New(rand.NewPCG(7, 8)), 10)
	add := func(dir string) *Accumulator {
		a, _ := NewAccumulator(DefaultOptions())
		a.budget, a.spillDir = 30_000, dir
		for _, c := range chunks {
			a.Add(c, 0)
		}
		return a
	}
	a := add(filepath.Join(t.TempDir(), "none"))
	if _, err := a.Survey(DefaultSurveyOptions()); err == nil || a.Err() == nil || !strings.Contains(err.Error(), "TMPDIR") {
		t.Errorf("no folder: %v", err)
	}
	b, _ := NewAccumulator(DefaultOptions())
	if b.Merge(a) == nil {
		t.Error("no folder: merged")
	}
	a = add(t.TempDir())
	defer a.Close()
	if err := a.own.f.Truncate(a.own.size / 2); err != nil {
		t.Fatal(err)
	}
	if _, err := a.Survey(DefaultSurveyOptions()); err == nil {
		t.Error("half a file: no error")
	}
	if err := a.Close(); err != nil {
		t.Fatal(err)
	}
	for i, c := range chunks { // a closed one begins a file anew
		a.Add(c, i%2)
	}
	if a.Spilled() == 0 || a.Err() != nil {
		t.Errorf("used after Close: %d bytes in files, %v", a.Spilled(), a.Err())
	}
}

package overlap_test

import (
	"fmt"
	"sync"
	"testing"

	"sidelap/las"
	"sidelap/overlap"
	"sidelap/trajectory/simulate"
)

// work accumulates chunks of files with some workers, each its own accumulator,
// and merges them in the order in which they happen to end.
func work(t *testing.T, chunks [][]*las.Chunk, workers int) *overlap.Accumulator {
	t.Helper()
	type job struct {
		c    *las.Chunk
		file int
	}
	jobs := make(chan job)
	out, err := overlap.NewAccumulator(overlap.DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	var mu sync.Mutex
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			a, _ := overlap.NewAccumulator(overlap.DefaultOptions())
			for j := range jobs {
				a.Add(j.c, j.file)
			}
			mu.Lock()
			defer mu.Unlock()
			if err := out.Merge(a); err != nil {
				t.Error(err)
			}
		})
	}
	for i, f := range chunks {
		for _, c := range f {
			jobs <- job{c, i}
		}
	}
	close(jobs)
	wg.Wait()
	return out
}

// The same bits for any number of workers and any order of files.
func TestSameForAnyOrder(t *testing.T) {
	f, err := simulate.Fly(simulate.SmallScenario())
	if err != nil {
		t.Fatal(err)
	}
	var files [][]*las.Chunk
	for i := range f.Strips {
		var cs []*las.Chunk
		for c := range f.StripChunks(i) {
			cs = append(cs, cloneChunk(c))
		}
		files = append(files, cs)
	}
	render := func(a *overlap.Accumulator) string {
		s := mustSurvey(t, a)
		for i := range s.Strips {
			s.Strips[i].Files = nil // the only thing that names files
		}
		pairs := s.Pairs(overlap.DefaultPairOptions())
		big, mean := s.CombinedSeparation(pairs)
		r, c := s.Repeatability(overlap.DefaultRepeatabilityOptions()), s.Coverage(overlap.DefaultCoverageOptions())
		grids := []overlap.Grid{*big, *mean, *r.Roughness, *c.Density, *c.Count}
		r.Roughness, c.Density, c.Count = nil, nil, nil // Sprint would show their addresses
		return fmt.Sprintln(s.Options, s.Mode, s.Why, s.Notes, s.Strips, s.Counts, s.ANPSM, s.Outliers, s.RoughLimitM(), s.SmoothLimitM(), pairs, overlap.Loops(pairs), overlap.Separation(pairs, 0.08, true), r, c, grids)
	}
	want := render(work(t, files, 1))
	if got := render(work(t, files, 8)); got != want {
		t.Error("8 workers: another result")
	}
	turned := [][]*las.Chunk{files[2], files[0], files[3], files[1]}
	if got := render(work(t, turned, 3)); got != want {
		t.Error("another order of files: another result")
	}
}

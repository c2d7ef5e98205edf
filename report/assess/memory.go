package assess

import (
	"fmt"

	"sidelap/overlap"
)

// DefaultMemory is the memory that a run aims at: enough for a square kilometre of 1 m cells.
const DefaultMemory = 2 << 30

// minMemory is the smallest memory that may be asked for: path, lists and drawings need about as much.
const minMemory = 128 << 20

// sumsShare is the share of the memory that the sums of cells may take while the points are read: as much again is
// needed while those of two workers are joined, and the planes made of them take the rest.
const sumsShare = 0.25

func (o *Options) validateMemory() error {
	if o.MemoryBytes != 0 && o.MemoryBytes < minMemory {
		return &SettingsError{Flag: "memory", Err: fmt.Errorf("%d bytes are too few", o.MemoryBytes), Remedy: "give 128MiB at least"}
	}
	return nil
}

// sumsBudget is what the sums of cells may take together, 0 for no bound.
func (o *Options) sumsBudget() int64 {
	if o.sumsBytes != 0 {
		return o.sumsBytes
	}
	return int64(sumsShare * float64(o.MemoryBytes))
}

// wroteSums is shown the sums of all workers, in tests.
var wroteSums func(*overlap.Accumulator)

// newSums makes one worker's sums of cells.
func (j *job) newSums() (*overlap.Accumulator, error) {
	a, err := overlap.NewAccumulator(j.probe)
	if err == nil {
		if all := j.o.sumsBudget(); all > 0 {
			a.SetBudget(max(1, all/int64(max(1, j.o.Workers))), "")
		}
	}
	return a, err
}

// joinSums merges the sums of the workers into the first, and frees the others.
func (j *job) joinSums(parts []*overlap.Accumulator) (*overlap.Accumulator, error) {
	all := parts[0]
	all.SetBudget(j.o.sumsBudget(), "")
	for i, a := range parts[1:] {
		if err := all.Merge(a); err != nil {
			return nil, err
		}
		a.Close()
		parts[i+1] = nil
	}
	if wroteSums != nil {
		wroteSums(all)
	}
	return all, nil
}

// closeSums removes temporary files that are left.
func closeSums(parts []*overlap.Accumulator) {
	for _, a := range parts {
		if a != nil {
			a.Close()
		}
	}
}

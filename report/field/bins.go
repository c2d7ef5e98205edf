package field

import (
	"math"
	"sort"

	"sidelap/las"
	"sidelap/trajectory"
)

// binS is the length of a time bin in seconds: pauses shorter than it are not seen.
const binS = 0.1

// blockBins is the number of bins that are stored together.
const blockBins = 64

// maxBlocks bounds the memory of one reading: 20 000 blocks are 35 hours of points, in 20 MB. Times of
// more are not those of a flight; pauses are then not known.
const maxBlocks = 20_000

// binKey is one origin of points: a file and a point source ID.
type binKey struct {
	file   int32
	source uint16
}

// block holds the first and last time in each of its bins; first is +Inf where there is none.
type block struct{ first, last [blockBins]float64 }

// timeBins keeps when a source gave points, bin by bin. One goroutine each; merging gives the same for
// any split and order, since only smallest and largest times are kept.
type timeBins struct {
	blocks   map[binKey]map[int64]*block
	n        int
	overflow bool

	key   binKey // of the block used last
	index int64
	cur   *block
}

func newTimeBins() *timeBins { return &timeBins{blocks: map[binKey]map[int64]*block{}} }

// Add takes the times of a chunk.
func (b *timeBins) Add(c *las.Chunk, file int) {
	if len(c.GPSTime) < c.N {
		return
	}
	k := binKey{file: int32(file)}
	for i, t := range c.GPSTime[:c.N] {
		if !(math.Abs(t) < 1e12) {
			continue
		}
		if len(c.Source) >= c.N {
			k.source = c.Source[i]
		}
		bin := int64(math.Floor(t / binS))
		index := bin >> 6 // floor of bin/64
		if b.cur == nil || index != b.index || k != b.key {
			if b.cur = b.at(k, index); b.cur == nil {
				return
			}
			b.key, b.index = k, index
		}
		j := bin & (blockBins - 1)
		if t < b.cur.first[j] {
			b.cur.first[j] = t
		}
		if t > b.cur.last[j] {
			b.cur.last[j] = t
		}
	}
}

// at returns a block, nil when there are too many.
func (b *timeBins) at(k binKey, index int64) *block {
	m := b.blocks[k]
	if m == nil {
		m = map[int64]*block{}
		b.blocks[k] = m
	}
	x := m[index]
	if x == nil {
		if b.n >= maxBlocks {
			b.overflow = true
			return nil
		}
		x = new(block)
		for j := range x.first {
			x.first[j], x.last[j] = math.Inf(1), math.Inf(-1)
		}
		m[index] = x
		b.n++
	}
	return x
}

func (b *timeBins) merge(o *timeBins) {
	b.overflow = b.overflow || o.overflow
	for k, m := range o.blocks {
		for index, x := range m {
			y := b.at(k, index)
			if y == nil {
				return
			}
			for j := range y.first {
				y.first[j], y.last[j] = min(y.first[j], x.first[j]), max(y.last[j], x.last[j])
			}
		}
	}
}

// pauses returns the stretches of startS..endS, longer than leastS, in which the chosen sources gave no
// points, in order.
func (b *timeBins) pauses(wanted func(binKey) bool, startS, endS, leastS float64) []trajectory.Interval {
	type run struct{ first, last float64 }
	var runs []run
	for k, m := range b.blocks {
		if !wanted(k) {
			continue
		}
		for _, x := range m {
			for j, t := range x.first {
				if t <= endS && x.last[j] >= startS {
					runs = append(runs, run{t, x.last[j]})
				}
			}
		}
	}
	sort.Slice(runs, func(i, j int) bool { return runs[i].first < runs[j].first })
	var out []trajectory.Interval
	reached := math.Inf(1)
	for i, r := range runs {
		if i > 0 && r.first-reached > leastS {
			out = append(out, trajectory.Interval{StartS: reached, EndS: r.first})
		}
		if i == 0 || r.last > reached {
			reached = r.last
		}
	}
	return out
}

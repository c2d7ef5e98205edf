package recover

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// timeBin is the evidence of one time bin, of all sources of a leg.
type timeBin struct {
	index  int64
	pulses []pulse // the fair sample, in time order
	rays   []pulse // in time order
}

// evidence is what is known about one leg.
type evidence struct {
	binS    float64
	sources []uint16
	bins    []timeBin
}

func (e *evidence) startS() float64 { return float64(e.bins[0].index) * e.binS }
func (e *evidence) endS() float64   { return float64(e.bins[len(e.bins)-1].index+1) * e.binS }

// legs splits what was gathered at pauses. Sources that were seen at the same time
// are one leg, for they are one aircraft, unless they are too far apart for that:
// then times of several flights are mixed, and the one with the most pulses is kept.
func (c *Collector) legs(notes *[]string) []*evidence {
	bins := c.withEdges()
	keys := make([]binKey, 0, len(bins))
	for k := range bins {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b binKey) int {
		return cmp.Or(cmp.Compare(a.bin, b.bin), cmp.Compare(a.source, b.source))
	})
	gap := max(int64(math.Ceil(legGapS/c.o.BinS)), 1)
	var out []*evidence
	for start := 0; start < len(keys); {
		end := start + 1
		for end < len(keys) && keys[end].bin-keys[end-1].bin <= gap {
			end++
		}
		run := keys[start:end]
		if clash := clashing(run, bins); clash != nil {
			*notes = append(*notes, fmt.Sprintf("between %.1f and %.1f s the sources %v are in different places at the same time: several flights share these times, and only source %d is used",
				float64(run[0].bin)*c.o.BinS, float64(run[len(run)-1].bin+1)*c.o.BinS, clash.sources, clash.best))
			run = slices.DeleteFunc(slices.Clone(run), func(k binKey) bool { return k.source != clash.best })
		}
		out = append(out, gather(run, bins, c.o.BinS))
		start = end
	}
	return out
}

// withEdges returns the bins with the pulses that touched chunk borders put together
// and offered like the others. Bins that change are copies.
func (c *Collector) withEdges() map[binKey]*bin {
	out := make(map[binKey]*bin, len(c.bins))
	for k, b := range c.bins {
		out[k] = b
	}
	copied := map[binKey]bool{}
	for k, p := range c.edge {
		if !p.isRay() {
			continue
		}
		bk := binKey{k.source, int64(math.Floor(p.timeS * c.perBin))}
		if !copied[bk] {
			b := *out[bk]
			for s := range b.widest {
				b.widest[s] = slices.Clone(b.widest[s])
			}
			out[bk], copied[bk] = &b, true
		}
		out[bk].offer(p, c.o.RaysPerSector)
	}
	return out
}

// gather puts the bins of a run together, by time.
func gather(run []binKey, bins map[binKey]*bin, binS float64) *evidence {
	e := &evidence{binS: binS}
	for _, k := range run {
		if !slices.Contains(e.sources, k.source) {
			e.sources = append(e.sources, k.source)
		}
		if n := len(e.bins); n == 0 || e.bins[n-1].index != k.bin {
			e.bins = append(e.bins, timeBin{index: k.bin})
		}
		t := &e.bins[len(e.bins)-1]
		b := bins[k]
		for i := range b.sample {
			t.pulses = append(t.pulses, b.sample[i].pulse)
		}
		wide := map[float64]bool{}
		for s := range b.widest {
			for i := range b.widest[s] {
				wide[b.widest[s][i].timeS] = true
				t.rays = append(t.rays, b.widest[s][i])
			}
		}
		for i := range b.sample { // rays of the fair sample: all there are where a file stores returns apart
			if p := &b.sample[i].pulse; p.isRay() && !wide[p.timeS] {
				t.rays = append(t.rays, *p)
			}
		}
	}
	slices.Sort(e.sources)
	byTime := func(a, b pulse) int {
		return cmp.Or(cmp.Compare(a.timeS, b.timeS), compareVec(a.last, b.last), compareVec(a.first, b.first))
	}
	for i := range e.bins {
		slices.SortFunc(e.bins[i].pulses, byTime)
		slices.SortFunc(e.bins[i].rays, byTime)
	}
	return e
}

func compareVec(a, b vec) int {
	switch {
	case a.before(b):
		return -1
	case b.before(a):
		return 1
	}
	return 0
}

// clash tells of sources that cannot be one aircraft.
type clash struct {
	sources []uint16
	best    uint16
}

// clashFactor is how many times their own extents the places of two sources may be
// apart at one time, and clashFloorM is always allowed.
const (
	clashFactor = 4
	clashFloorM = 200
)

// clashing looks at the bins that two sources share. It returns nil when they go together.
func clashing(run []binKey, bins map[binKey]*bin) *clash {
	shared, apart := 0, 0
	pulses := map[uint16]int{}
	for i := range run {
		pulses[run[i].source] += len(bins[run[i]].sample)
		if i > 0 && run[i].bin == run[i-1].bin {
			shared++
			ca, ra := centre(bins[run[i-1]])
			cb, rb := centre(bins[run[i]])
			if math.Hypot(ca[0]-cb[0], ca[1]-cb[1]) > clashFactor*(ra+rb)+clashFloorM {
				apart++
			}
		}
	}
	if shared == 0 || 5*apart < shared {
		return nil
	}
	c := &clash{}
	for s, n := range pulses {
		c.sources = append(c.sources, s)
		if m := pulses[c.best]; n > m || n == m && s < c.best {
			c.best = s
		}
	}
	slices.Sort(c.sources)
	return c
}

// centre returns the mean place of the pulses of a bin and their mean distance from it.
func centre(b *bin) (vec, float64) {
	var m vec
	for i := range b.sample {
		m = m.add(b.sample[i].last)
	}
	n := float64(max(len(b.sample), 1))
	m = m.times(1 / n)
	r := 0.0
	for i := range b.sample {
		d := b.sample[i].last.sub(m)
		r += math.Hypot(d[0], d[1])
	}
	return m, r / n
}

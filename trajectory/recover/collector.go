package recover

import (
	"fmt"
	"math"

	"sidelap/las"
)

// Options controls a Collector. Start from DefaultOptions. Collectors that merge
// have equal options.
type Options struct {
	BinS          float64 // length of a time bin in seconds; default 0.25
	PulsesPerBin  int     // pulses kept of each source and bin, a fair sample; default 48
	RaysPerSector int     // widest rays kept of each source, bin and sector of direction; default 3
}

// DefaultOptions returns the defaults named in Options: about 4 kB for each source
// and bin, 1 MB for each minute of flight.
func DefaultOptions() Options { return Options{BinS: 0.25, PulsesPerBin: 48, RaysPerSector: 3} }

// Validate names the first option that cannot be used.
func (o Options) Validate() error {
	switch {
	case !(o.BinS >= 0.01 && o.BinS <= 10):
		return fmt.Errorf("time bin of %g s is outside 0.01 to 10 s", o.BinS)
	case o.PulsesPerBin < 4 || o.PulsesPerBin > 10000:
		return fmt.Errorf("%d pulses for a bin are outside 4 to 10000", o.PulsesPerBin)
	case o.RaysPerSector < 1 || o.RaysPerSector > 1000:
		return fmt.Errorf("%d rays for a sector are outside 1 to 1000", o.RaysPerSector)
	}
	return nil
}

// Columns are the columns that Add reads.
const Columns = las.ColReturn | las.ColChannel | las.ColScanAngle | las.ColSource | las.ColGPSTime

// Collector gathers the evidence for a path in one reading of the points.
//
// What it keeps is a function of the set of points alone: any order, any split into
// chunks of a file's points, any number of collectors merged in any order give the
// same path. (The returns of a pulse are looked for next to each other in file order,
// also across the border of two chunks; where a file stores them apart, as tiles and
// octree files do, the fair sample still brings them together.)
//
// A Collector is for one goroutine.
type Collector struct {
	o      Options
	perBin float64 // bins in a second
	bins   map[binKey]*bin
	edge   map[pulseKey]*pulse // groups that touch the border of a chunk
	counts counts

	last    *bin // bin of lastKey
	lastKey binKey
}

// counts is what Add saw.
type counts struct {
	points, untimed int64
	resM            float64 // coarsest coordinate step of the files, m
}

type binKey struct {
	source uint16
	bin    int64
}

// NewCollector returns an empty collector.
func NewCollector(o Options) (*Collector, error) {
	if err := o.Validate(); err != nil {
		return nil, err
	}
	return &Collector{o: o, perBin: 1 / o.BinS, bins: map[binKey]*bin{}, edge: map[pulseKey]*pulse{}}, nil
}

// maxTimeS bounds GPS times that are taken for real: adjusted standard time reaches
// 1e9 in 2043.
const maxTimeS = 1e10

// Add takes the points of a chunk. Points without a GPS time (absent, not finite or
// exactly zero) are counted and left out. The chunk needs Columns. The index of the
// file is not used: one aircraft is in one place at a time, whatever the file.
func (c *Collector) Add(ch *las.Chunk, file int) {
	c.counts.points += int64(ch.N)
	if len(ch.GPSTime) < ch.N || len(ch.Source) < ch.N || len(ch.NumReturns) < ch.N || len(ch.ReturnNumber) < ch.N {
		c.counts.untimed += int64(ch.N)
		return
	}
	f := ch.Frame
	c.counts.resM = max(c.counts.resM, math.Abs(f.Scale[0])*f.HorizontalM, math.Abs(f.Scale[1])*f.HorizontalM, math.Abs(f.Scale[2])*f.VerticalM)
	for i := 0; i < ch.N; {
		j := i + 1
		t := ch.GPSTime[i]
		for j < ch.N && sameTime(ch, i, j) {
			j++
		}
		if t == 0 || !(math.Abs(t) < maxTimeS) {
			c.counts.untimed += int64(j - i)
		} else {
			c.group(ch, i, j)
		}
		i = j
	}
}

// sameTime reports whether points i and j are of one pulse.
func sameTime(ch *las.Chunk, i, j int) bool {
	return ch.GPSTime[j] == ch.GPSTime[i] && ch.Source[j] == ch.Source[i] && channel(ch, j) == channel(ch, i)
}

func channel(ch *las.Chunk, i int) uint8 {
	if i < len(ch.Channel) {
		return ch.Channel[i]
	}
	return 0
}

// group takes points i to j of a chunk, which have one time, source and channel.
func (c *Collector) group(ch *las.Chunk, i, j int) {
	k := pulseKey{math.Float64bits(ch.GPSTime[i]), ch.Source[i], channel(ch, i)}
	b := c.bin(binKey{k.source, int64(math.Floor(ch.GPSTime[i] * c.perBin))})
	atEdge := i == 0 || j == ch.N
	h := k.hash()
	sampled := len(b.sample) < c.o.PulsesPerBin || h <= b.limit
	several := j-i > 1 || ch.NumReturns[i] > 1
	if !sampled && !several {
		return
	}
	if !atEdge && !sampled && j-i < 2 {
		return
	}
	p := pulseOf(ch, i, j)
	if sampled {
		b.keep(h, k, p, c.o.PulsesPerBin)
	}
	switch {
	case !several:
	case atEdge:
		if q := c.edge[k]; q != nil {
			q.merge(&p)
		} else {
			c.edge[k] = &p
		}
	default:
		b.offer(&p, c.o.RaysPerSector)
	}
}

func (c *Collector) bin(k binKey) *bin {
	if c.last != nil && k == c.lastKey {
		return c.last
	}
	b := c.bins[k]
	if b == nil {
		b = &bin{}
		c.bins[k] = b
	}
	c.last, c.lastKey = b, k
	return b
}

// Merge adds what b gathered. b is not changed. Both must have equal options.
func (c *Collector) Merge(b *Collector) {
	if c.o != b.o {
		panic("recover: collectors of different options merged")
	}
	c.counts.points += b.counts.points
	c.counts.untimed += b.counts.untimed
	c.counts.resM = max(c.counts.resM, b.counts.resM)
	for k, from := range b.bins {
		to := c.bins[k]
		if to == nil {
			to = &bin{}
			c.bins[k] = to
		}
		to.merge(from, c.o)
	}
	for k, p := range b.edge {
		if q := c.edge[k]; q != nil {
			q.merge(p)
		} else {
			q := *p
			c.edge[k] = &q
		}
	}
	c.last = nil
}

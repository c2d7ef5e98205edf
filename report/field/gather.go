package field

import (
	"context"
	"slices"
	"strings"
	"sync"
	"sync/atomic"

	"golang.org/x/sync/errgroup"

	"sidelap/control"
	"sidelap/las"
	"sidelap/overlap"
	"sidelap/report/assess"
	"sidelap/trajectory"
)

// gathered is what one worker takes from the points.
type gathered struct {
	strips *overlap.Accumulator
	bins   *timeBins
	water  *waterCells
	pulses pulses
	sample *trajectory.Sampler // nil without a path
	spots  *control.Collector  // check points and the place of take-off; nil without any
	times  []las.TimeRange
}

const columns = overlap.Columns

// spanPoints is how many consecutive points one worker takes at a time.
const spanPoints = 2_000_000

// read reads every point once. Damage inside a file ends up in its problem, never in the error.
func (c *cloud) read(ctx context.Context, o *Options, spots []control.Point, withPath bool) error {
	if c.points() == 0 {
		return nil
	}
	if err := c.choose(ctx); err != nil {
		return err
	}
	make1 := func() (*gathered, error) {
		g := &gathered{bins: newTimeBins(), water: newWaterCells(c.probe.CellM), times: make([]las.TimeRange, len(c.files))}
		var err error
		g.strips, err = overlap.NewAccumulator(c.probe)
		if len(spots) > 0 {
			g.spots = control.NewCollector(spots, standRadiusM)
		}
		if withPath {
			g.sample = trajectory.NewSampler(c.points())
		}
		return g, err
	}
	parts, err := c.readAll(ctx, o, make1)
	if err != nil {
		return err
	}
	for _, p := range parts[1:] {
		if err := parts[0].merge(p); err != nil {
			return err
		}
	}
	c.got = parts[0]
	c.settleFiles()
	return nil
}

// The sample that decides the grid: about probeChunks chunks, at most a few of each file.
const (
	probeChunks  = 48
	probePerFile = 8
)

// choose decides the grid from a sample of the points.
func (c *cloud) choose(ctx context.Context) error {
	var open []*source
	for _, s := range c.files {
		if s.f != nil && s.f.Header().Points > 0 {
			open = append(open, s)
		}
	}
	p := &overlap.Probe{}
	each := min(probePerFile, max(1, probeChunks/max(1, len(open))))
	for i := 0; i < len(open); i += max(1, len(open)/probeChunks) {
		spans := open[i].f.Spans(las.MaxChunk)
		for k := 0; k < len(spans); k += max(1, len(spans)/each) {
			for ch, err := range open[i].f.Read(ctx, spans[k], columns) {
				if err == nil {
					p.Add(ch)
				}
				break
			}
		}
	}
	c.probe, _ = p.Options()
	return ctx.Err()
}

type task struct {
	file int
	span las.Span
}

// readAll spreads the spans of all files over the workers.
func (c *cloud) readAll(ctx context.Context, o *Options, make1 func() (*gathered, error)) ([]*gathered, error) {
	var queue []task
	for i, s := range c.files {
		if s.f == nil {
			continue
		}
		for _, sp := range s.f.Spans(spanPoints) {
			queue = append(queue, task{i, sp})
		}
	}
	total := c.points()
	var next, done atomic.Int64
	var mu sync.Mutex
	group, ctx := errgroup.WithContext(ctx)
	var parts []*gathered
	for range max(1, min(o.Workers, len(queue))) {
		g, err := make1()
		if err != nil {
			return nil, err
		}
		parts = append(parts, g)
		group.Go(func() error {
			for k := next.Add(1) - 1; k < int64(len(queue)); k = next.Add(1) - 1 {
				t := queue[k]
				s := c.files[t.file]
				for ch, err := range s.f.Read(ctx, t.span, columns) {
					if ctx.Err() != nil {
						return ctx.Err()
					}
					if err != nil {
						mu.Lock()
						s.add(withoutPath(err, s.path))
						mu.Unlock()
						break
					}
					g.add(ch, t.file)
					s.present.Add(int64(ch.N))
					if n := done.Add(int64(ch.N)); o.Progress != nil {
						mu.Lock()
						o.Progress(assess.Progress{Stage: "read", Done: n, Total: total})
						mu.Unlock()
					}
				}
			}
			return nil
		})
	}
	if err := group.Wait(); err != nil {
		return nil, err
	}
	for _, s := range c.files {
		if s.f == nil {
			continue
		}
		if err := s.f.Unchanged(); err != nil {
			return nil, err
		}
	}
	return parts, nil
}

func (g *gathered) add(ch *las.Chunk, file int) {
	g.strips.Add(ch, file)
	g.bins.Add(ch, file)
	g.water.Add(ch)
	g.pulses.add(ch)
	if len(ch.GPSTime) >= ch.N {
		g.times[file].Add(ch.GPSTime)
	}
	if g.sample != nil {
		g.sample.Add(ch, file)
	}
	if g.spots != nil {
		g.spots.Add(ch, file)
	}
}

func (g *gathered) merge(o *gathered) error {
	if err := g.strips.Merge(o.strips); err != nil {
		return err
	}
	g.bins.merge(o.bins)
	g.water.merge(o.water)
	g.pulses.merge(&o.pulses)
	for i := range g.times {
		g.times[i].Merge(o.times[i])
	}
	if g.sample != nil {
		g.sample.Merge(o.sample)
	}
	if g.spots != nil {
		g.spots.Merge(o.spots)
	}
	return nil
}

// add appends to what is wrong with a file.
func (s *source) add(what string) {
	if s.problem != "" && !strings.Contains(s.problem, what) {
		what = s.problem + "; " + what
	}
	s.problem = what
}

// settleFiles sums up each file after the reading: damage met, points present, the base of its times.
func (c *cloud) settleFiles() {
	for i, s := range c.files {
		if s.f == nil {
			continue
		}
		if w := s.f.Warnings(); len(w) > s.opened {
			lost := slices.Clone(w[s.opened:])
			more := ""
			if len(lost) > 2 {
				lost, more = lost[:2], "; and "+counted(len(w)-s.opened-2, "more place", "more places")
			}
			s.add(strings.Join(lost, "; ") + more)
		}
		s.times = c.got.times[i]
		s.audit = las.AuditTime(s.f.Header(), s.times)
	}
}

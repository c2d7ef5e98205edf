package field

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"
	"sync/atomic"

	"golang.org/x/sync/errgroup"

	"sidelap/control"
	"sidelap/las"
	"sidelap/las/crs"
	"sidelap/overlap"
	"sidelap/report/assess"
)

// source is one file of the cloud, open or not.
type source struct {
	path    string
	f       *las.File // nil when it cannot be opened
	problem string    // why it is not whole
	opened  int       // warnings that it had when opened
	present atomic.Int64
	audit   las.TimeAudit
	times   las.TimeRange
}

// cloud is the raw or quick cloud: files, and what the one reading of them left.
type cloud struct {
	files  []*source
	crs    *crs.CRS // of the best file; Kind is unknown when none says
	unitM  float64
	vertM  float64
	extent control.Box
	probe  overlap.Options
	got    *gathered // nil when no points were read
}

// openCloud opens the files. Those that cannot be opened stay in the list with their problem.
func openCloud(o *Options) (*cloud, error) {
	paths, err := assess.Expand(o.Inputs)
	if err != nil {
		return nil, err
	}
	c := &cloud{crs: crs.Unknown(), unitM: 1, vertM: 1}
	for _, p := range paths {
		s := &source{path: p}
		c.files = append(c.files, s)
		f, err := las.OpenWith(p, las.OpenOptions{Salvage: true})
		if err != nil {
			s.problem = withoutPath(err, p)
			continue
		}
		s.f, s.opened = f, len(f.Warnings())
		h := f.Header()
		if h.StatedPoints == 0 && h.Points > 0 {
			s.problem = fmt.Sprintf("the header says no points, %d were found: the recorder was probably stopped", h.Points)
		}
	}
	if err := c.settleCRS(o); err != nil {
		c.close()
		return nil, err
	}
	c.extent = c.headerExtent()
	return c, nil
}

// withoutPath returns an error's text without the path at its front: a row of a table has it already.
func withoutPath(err error, path string) string {
	return strings.TrimPrefix(err.Error(), path+": ")
}

func (c *cloud) close() {
	for _, s := range c.files {
		if s.f != nil {
			s.f.Close()
		}
	}
}

// settleCRS takes the coordinate system of the file that says most, and one unit for all.
func (c *cloud) settleCRS(o *Options) error {
	first := true
	for _, s := range c.files {
		if s.f == nil {
			continue
		}
		k := s.f.CRS()
		if k.Kind == crs.KindGeographic || k.Kind == crs.KindGeocentric {
			return &assess.InputError{Path: s.path, Err: fmt.Errorf("the coordinates are %s (%s), not projected", k.Kind, k.Horizontal.Name),
				Remedy: "project the cloud to a grid first, or check without it"}
		}
		if e := k.Horizontal.EPSG; e != 0 && c.crs.Horizontal.EPSG != 0 && e != c.crs.Horizontal.EPSG {
			return &assess.InputError{Path: s.path, Err: fmt.Errorf("EPSG:%d, but other files are in EPSG:%d", e, c.crs.Horizontal.EPSG), Remedy: "check the files of one coordinate system at a time"}
		}
		if first || k.Projection != nil && c.crs.Projection == nil || k.Horizontal.Unit.Stated && !c.crs.Horizontal.Unit.Stated {
			c.crs, first = k, false
		}
	}
	if c.crs.Projection == nil && o.EPSG != 0 {
		k, err := gridByCode(o.EPSG)
		if err != nil {
			return err
		}
		c.crs = k
	}
	c.unitM, c.vertM = c.crs.Horizontal.Unit.M, c.crs.Vertical.Unit.M
	if o.HorizontalM > 0 {
		c.unitM = o.HorizontalM
	}
	if o.VerticalM > 0 {
		c.vertM = o.VerticalM
	}
	if !(c.unitM > 0) {
		c.unitM = 1
	}
	if !(c.vertM > 0) {
		c.vertM = c.unitM
	}
	for _, s := range c.files {
		if s.f != nil {
			fr := *s.f.Frame()
			fr.HorizontalM, fr.VerticalM = c.unitM, c.vertM
			s.f.SetFrame(fr)
		}
	}
	return nil
}

// headerExtent is the outline of the files by their headers, in metres.
func (c *cloud) headerExtent() control.Box {
	b := control.Box{MinEM: math.Inf(1), MinNM: math.Inf(1), MaxEM: math.Inf(-1), MaxNM: math.Inf(-1)}
	for _, s := range c.files {
		if s.f == nil {
			continue
		}
		h := s.f.Header()
		if h.Points == 0 || !(h.Max[0] >= h.Min[0]) || !(h.Max[1] >= h.Min[1]) || math.Abs(h.Min[0]) > 1e9 || math.Abs(h.Max[0]) > 1e9 {
			continue
		}
		b.MinEM, b.MinNM = min(b.MinEM, h.Min[0]*c.unitM), min(b.MinNM, h.Min[1]*c.unitM)
		b.MaxEM, b.MaxNM = max(b.MaxEM, h.Max[0]*c.unitM), max(b.MaxNM, h.Max[1]*c.unitM)
	}
	if b.MinEM > b.MaxEM {
		return control.Box{}
	}
	return b
}

func (c *cloud) points() (n int64) {
	for _, s := range c.files {
		if s.f != nil {
			n += s.f.Header().Points
		}
	}
	return n
}

// gathered is what one worker takes from the points.
type gathered struct {
	strips *overlap.Accumulator
	bins   *timeBins
	water  *waterCells
	sample *sampler           // nil without a path
	spots  *control.Collector // check points and the place of take-off; nil without any
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
			g.sample = newSampler(c.points())
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
	return parts, group.Wait()
}

func (g *gathered) add(ch *las.Chunk, file int) {
	g.strips.Add(ch, file)
	g.bins.Add(ch, file)
	g.water.Add(ch)
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
	for i := range g.times {
		g.times[i].Merge(o.times[i])
	}
	if g.sample != nil {
		g.sample.merge(o.sample)
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
				lost, more = lost[:2], fmt.Sprintf("; and %d more places", len(w)-s.opened-2)
			}
			s.add(strings.Join(lost, "; ") + more)
		}
		s.times = c.got.times[i]
		s.audit = las.AuditTime(s.f.Header(), s.times)
	}
}

// gridByCode returns a projected system by its EPSG code.
func gridByCode(code int) (*crs.CRS, error) {
	k, err := crs.FromEPSG(code)
	if err != nil {
		return nil, &assess.SettingsError{Flag: "crs", Err: err}
	}
	if k.Projection == nil {
		return nil, &assess.SettingsError{Flag: "crs", Err: errors.New("EPSG:" + fmt.Sprint(code) + " is not a projected system that can be computed"), Remedy: "name a UTM zone or another projected system"}
	}
	return k, nil
}

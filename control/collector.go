package control

import (
	"cmp"
	"math"
	"slices"

	"sidelap/las"
	"sidelap/las/rank"
)

// CollectorColumns are the columns that a Collector wants in the chunks it is given. It
// works without any of them, and the comparison says what it could not tell.
const CollectorColumns = las.ColIntensity | las.ColReturn | las.ColFlags | las.ColClass | las.ColSource | las.ColGPSTime

// DefaultKeep is the number of returns that a Collector keeps of each point: at 500 returns
// on a square metre all within 3 m. Beyond it the nearest are kept.
const DefaultKeep = 16384

// Return is one lidar return near a surveyed point.
type Return struct {
	EM, NM, ZM   float64
	TimeS        float64 // GPS time as stored, 0 without
	DistM2       float64 // squared horizontal distance from the point, square metres
	Source       uint16  // point source ID
	Intensity    uint16
	Class        uint8
	ReturnNumber uint8
	NumReturns   uint8
	Flags        uint8
	File         int32
}

// Last reports whether no later return of the pulse is known.
func (r *Return) Last() bool { return r.NumReturns == 0 || r.ReturnNumber >= r.NumReturns }

// Collector keeps the returns near surveyed points while a cloud is read once.
//
// Each point keeps at most a fixed number of returns, the nearest ones. The order of all
// returns is total (distance, then every field), so what is kept depends neither on the order of reading nor
// on how the work was split. One goroutine at a time; give each worker a collector of its own
// and Merge them.
type Collector struct {
	points  []Point
	radiusM float64
	keep    int
	sites   []site
	frames  map[las.Frame]*index
	last    *index
	frame   *las.Frame
	columns las.Columns // columns that were present in every chunk so far
	seen    int64
}

// site holds the returns near one point.
type site struct {
	returns []Return
	limitM2 float64 // returns farther than this cannot be among the kept
	dropped int64   // returns inside the radius that were not kept
	sorted  bool    // returns are in canonical order
}

// NewCollector returns a collector for the returns within radiusM of each point,
// horizontally. points is copied.
func NewCollector(points []Point, radiusM float64) *Collector {
	c := &Collector{points: slices.Clone(points), radiusM: radiusM, keep: DefaultKeep,
		sites: make([]site, len(points)), frames: map[las.Frame]*index{}, columns: CollectorColumns}
	for i := range c.sites {
		c.sites[i].limitM2 = radiusM * radiusM
	}
	return c
}

// SearchRadiusM is a radius that holds a surface at a point for a cloud of the density: 3 m, or five spacings
// where the cloud is thin.
func SearchRadiusM(densityPPM2 float64) float64 {
	if !(densityPPM2 > 0) {
		return 3
	}
	return min(max(3, 5/math.Sqrt(densityPPM2)), 100)
}

// Points returns the points that the collector was made for.
func (c *Collector) Points() []Point { return c.points }

// RadiusM returns the search radius.
func (c *Collector) RadiusM() float64 { return c.radiusM }

// Part returns a view of the points from lo up to hi: lists of several purposes share one reading of the cloud. It shares
// what was kept; it is for reading results, not for Add or Merge.
func (c *Collector) Part(lo, hi int) *Collector {
	return &Collector{points: c.points[lo:hi:hi], radiusM: c.radiusM, keep: c.keep, sites: c.sites[lo:hi:hi], columns: c.columns, seen: c.seen}
}

// SetKeep sets the number of returns kept of each point; call it before the first Add.
// Collectors that merge need the same number.
func (c *Collector) SetKeep(n int) { c.keep = max(n, 1) }

// Add offers the points of a chunk. Withheld and noise points (class 7 and 18) are not
// kept. file is the number of the file among the inputs.
func (c *Collector) Add(ch *las.Chunk, file int) {
	if len(c.points) == 0 || ch.N == 0 {
		return
	}
	c.seen += int64(ch.N)
	c.columns &= present(ch)
	if ch.Frame != c.frame || c.last == nil {
		c.frame = ch.Frame
		c.last = c.indexFor(*ch.Frame)
	}
	ix := c.last
	// The loop below runs for every point of the cloud. Nearly all points fail the test of
	// one bit; unsigned differences make one comparison of a lower and an upper bound.
	x0, y0, shift := uint32(ix.x0), uint32(ix.y0), ix.shift
	cols, rows, bits := ix.cols, ix.rows, ix.bits
	xs, ys := ch.X[:ch.N], ch.Y[:ch.N]
	for i, y := range ys {
		row := (uint32(y) - y0) >> shift
		if row >= rows {
			continue
		}
		col := (uint32(xs[i]) - x0) >> shift
		if col >= cols {
			continue
		}
		cell := row*cols + col
		if bits[cell>>6]&(1<<(cell&63)) == 0 {
			continue
		}
		c.offer(ch, i, ix.near[cell], file)
	}
}

// offer tests point i of the chunk against the surveyed points near its cell.
func (c *Collector) offer(ch *las.Chunk, i int, near []int32, file int) {
	var r Return
	made := false
	eM, nM := ch.Frame.XM(ch.X[i]), ch.Frame.YM(ch.Y[i])
	for _, k := range near {
		p, s := &c.points[k], &c.sites[k]
		de, dn := eM-p.EM, nM-p.NM
		d2 := de*de + dn*dn
		if d2 > s.limitM2 {
			if d2 <= c.radiusM*c.radiusM && !rejected(ch, i) {
				s.dropped++
			}
			continue
		}
		if rejected(ch, i) {
			return
		}
		if !made {
			r, made = newReturn(ch, i, eM, nM, file), true
		}
		r.DistM2 = d2
		if len(s.returns) == cap(s.returns) {
			s.returns = slices.Grow(s.returns, max(64, len(s.returns))) // append alone grows by a quarter
		}
		s.returns, s.sorted = append(s.returns, r), false
		if len(s.returns) >= c.keep+c.keep/2 { // a pass over all is paid by a third of them
			s.trim(c.keep)
		}
	}
}

// rejected reports whether the point is withheld or noise.
func rejected(ch *las.Chunk, i int) bool {
	if len(ch.Flags) > i && ch.Flags[i]&las.FlagWithheld != 0 {
		return true
	}
	return len(ch.Class) > i && (ch.Class[i] == 7 || ch.Class[i] == 18)
}

func newReturn(ch *las.Chunk, i int, eM, nM float64, file int) Return {
	r := Return{EM: eM, NM: nM, ZM: ch.Frame.ZM(ch.Z[i]), File: int32(file)}
	if len(ch.GPSTime) > i {
		r.TimeS = ch.GPSTime[i]
	}
	if len(ch.Source) > i {
		r.Source = ch.Source[i]
	}
	if len(ch.Intensity) > i {
		r.Intensity = ch.Intensity[i]
	}
	if len(ch.Class) > i {
		r.Class = ch.Class[i]
	}
	if len(ch.ReturnNumber) > i && len(ch.NumReturns) > i {
		r.ReturnNumber, r.NumReturns = ch.ReturnNumber[i], ch.NumReturns[i]
	}
	if len(ch.Flags) > i {
		r.Flags = ch.Flags[i]
	}
	return r
}

// present tells which of the collector's columns the chunk has.
func present(ch *las.Chunk) las.Columns {
	var has las.Columns
	if len(ch.Intensity) > 0 {
		has |= las.ColIntensity
	}
	if len(ch.ReturnNumber) > 0 && len(ch.NumReturns) > 0 {
		has |= las.ColReturn
	}
	if len(ch.Flags) > 0 {
		has |= las.ColFlags
	}
	if len(ch.Class) > 0 {
		has |= las.ColClass
	}
	if len(ch.Source) > 0 {
		has |= las.ColSource
	}
	if len(ch.GPSTime) > 0 {
		has |= las.ColGPSTime
	}
	return has
}

// trim keeps the first returns in canonical order, in any order. Only the distances are searched for the last one
// kept; those as far as it are sorted by every field.
func (s *site) trim(keep int) {
	r := s.returns
	if len(r) <= keep {
		return
	}
	d := make([]float64, len(r))
	for i := range r {
		d[i] = r[i].DistM2
	}
	limit := rank.Select(d, keep-1)
	near := 0
	var ties []Return
	for i := range r {
		switch {
		case r[i].DistM2 < limit:
			r[near] = r[i]
			near++
		case r[i].DistM2 == limit:
			ties = append(ties, r[i])
		}
	}
	slices.SortFunc(ties, compareReturns)
	copy(r[near:keep], ties)
	s.dropped += int64(len(r) - keep)
	s.returns, s.sorted = r[:keep], false
	s.limitM2 = min(s.limitM2, limit)
}

// join adds returns, but those that cannot be among the first: a second list need not fit beside the first.
func (s *site) join(more []Return, keep int) {
	limit := math.Inf(1)
	if n := len(s.returns) + len(more); n > keep {
		d := make([]float64, 0, n)
		for _, list := range [2][]Return{s.returns, more} {
			for i := range list {
				d = append(d, list[i].DistM2)
			}
		}
		limit = rank.Select(d, keep-1)
	}
	all := len(s.returns) + len(more)
	beyond := func(r Return) bool { return r.DistM2 > limit }
	s.returns, s.sorted = slices.DeleteFunc(s.returns, beyond), false
	for i := range more {
		if !beyond(more[i]) {
			s.returns = append(s.returns, more[i])
		}
	}
	s.dropped += int64(all - len(s.returns))
}

// sort puts the returns in canonical order: by distance first, with what is equally far by every field after that.
func (s *site) sort() {
	if s.sorted {
		return
	}
	type key struct {
		d float64
		i int32
	}
	keys := make([]key, len(s.returns))
	for i := range s.returns {
		keys[i] = key{s.returns[i].DistM2, int32(i)}
	}
	slices.SortFunc(keys, func(a, b key) int {
		switch {
		case a.d < b.d:
			return -1
		case a.d > b.d:
			return 1
		}
		return compareReturns(s.returns[a.i], s.returns[b.i])
	})
	out := make([]Return, len(keys))
	for k := range keys {
		out[k] = s.returns[keys[k].i]
	}
	s.returns, s.sorted = out, true
}

// compareReturns is the canonical order: nearest first, then every other field.
func compareReturns(a, b Return) int {
	if a.DistM2 != b.DistM2 {
		return cmp.Compare(a.DistM2, b.DistM2)
	}
	return cmp.Or(cmp.Compare(a.EM, b.EM), cmp.Compare(a.NM, b.NM),
		cmp.Compare(a.ZM, b.ZM), cmp.Compare(a.TimeS, b.TimeS), cmp.Compare(a.Source, b.Source),
		cmp.Compare(a.ReturnNumber, b.ReturnNumber), cmp.Compare(a.NumReturns, b.NumReturns),
		cmp.Compare(a.Class, b.Class), cmp.Compare(a.Flags, b.Flags), cmp.Compare(a.Intensity, b.Intensity),
		cmp.Compare(a.File, b.File))
}

// Merge adds what another collector of the same points kept. The result is the same for any
// split and order of the points.
func (c *Collector) Merge(b *Collector) {
	if b == nil || b == c {
		return
	}
	c.seen += b.seen
	if b.seen > 0 {
		c.columns &= b.columns
	}
	for i := range min(len(c.sites), len(b.sites)) {
		s := &c.sites[i]
		s.join(b.sites[i].returns, c.keep)
		s.dropped += b.sites[i].dropped
		s.limitM2 = min(s.limitM2, b.sites[i].limitM2)
		s.trim(c.keep)
	}
}

// Returns returns the returns kept near point i, nearest first, and the number of returns within the
// radius that were not kept. The slice is valid until the next Add or Merge.
func (c *Collector) Returns(i int) (returns []Return, dropped int64) {
	s := &c.sites[i]
	s.trim(c.keep)
	s.sort()
	return s.returns, s.dropped
}

// reachM returns the distance to which all returns near point i are known.
func (c *Collector) reachM(i int) float64 {
	r, dropped := c.Returns(i)
	if dropped == 0 || len(r) == 0 {
		return c.radiusM
	}
	return math.Sqrt(r[len(r)-1].DistM2)
}

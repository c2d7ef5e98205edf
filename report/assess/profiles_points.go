package assess

import (
	"cmp"
	"context"
	"math"
	"slices"

	"sidelap/las"
	"sidelap/overlap"
	"sidelap/report"
)

// The profiles show returns. Where they lie is known only after the reading, so the few runs of points over which a
// profile runs are read once more; outlines tells which.

// Bounds of that second look.
const (
	blockPoints     = 1 << 16 // points whose outline is kept together
	sampleStep      = 16      // every so many points make the outline
	outlineMarginM  = 3.0     // what the sample may have missed
	mostProfileRead = 12_000_000
	mostProfileDots = 2400 // in one profile
	leastDots       = 12   // of each strip
)

// outlines keeps the rectangle around each run of points of each file.
type outlines struct{ files [][]rect }

type rect struct{ minE, minN, maxE, maxN float64 }

var noRect = rect{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}

func (r *rect) add(o rect) {
	r.minE, r.minN, r.maxE, r.maxN = math.Min(r.minE, o.minE), math.Min(r.minN, o.minN), math.Max(r.maxE, o.maxE), math.Max(r.maxN, o.maxN)
}

func newOutlines(files int) *outlines { return &outlines{make([][]rect, files)} }

// Add implements sink.
func (a *outlines) Add(c *las.Chunk, file int) {
	x0, y0, x1, y1 := c.X[0], c.Y[0], c.X[0], c.Y[0]
	for i := 0; i < c.N; i += sampleStep {
		x0, x1 = min(x0, c.X[i]), max(x1, c.X[i])
		y0, y1 = min(y0, c.Y[i]), max(y1, c.Y[i])
	}
	f := c.Frame
	e0, e1, n0, n1 := f.XM(x0), f.XM(x1), f.YM(y0), f.YM(y1)
	r := rect{math.Min(e0, e1), math.Min(n0, n1), math.Max(e0, e1), math.Max(n0, n1)}
	last := (c.First + int64(c.N) - 1) / blockPoints
	for b := c.First / blockPoints; b <= last; b++ {
		a.grow(file, b)
		a.files[file][b].add(r)
	}
}

func (a *outlines) grow(file int, block int64) {
	for int64(len(a.files[file])) <= block {
		a.files[file] = append(a.files[file], noRect)
	}
}

func (a *outlines) merge(o *outlines) {
	for f := range o.files {
		for b, r := range o.files[f] {
			a.grow(f, int64(b))
			a.files[f][b].add(r)
		}
	}
}

// cutLine is a profile on the ground with the strips it shows.
type cutLine struct {
	p          *report.Profile
	a, b       int // strips of the survey
	box        rect
	ue, un     float64 // along
	lengthM    float64
	dots       []report.ProfilePoint
	perStrip   [2]int
	halfWidthM float64
}

func newCutLine(s *overlap.Survey, p *report.Profile, widthM float64) *cutLine {
	at := func(id string) int {
		return slices.IndexFunc(s.Strips, func(st overlap.Strip) bool { return st.ID == id })
	}
	l := &cutLine{p: p, a: at(p.Strips[0]), b: at(p.Strips[1]), halfWidthM: widthM / 2}
	de, dn := p.To[0]-p.From[0], p.To[1]-p.From[1]
	if l.lengthM = math.Hypot(de, dn); !(l.lengthM > 0) || l.a < 0 || l.b < 0 {
		return nil
	}
	l.ue, l.un = de/l.lengthM, dn/l.lengthM
	m := l.halfWidthM + outlineMarginM
	l.box = rect{math.Min(p.From[0], p.To[0]) - m, math.Min(p.From[1], p.To[1]) - m, math.Max(p.From[0], p.To[0]) + m, math.Max(p.From[1], p.To[1]) + m}
	return l
}

// take adds the returns of a chunk on the line.
func (l *cutLine) take(c *las.Chunk, strips []int32) {
	for i := range c.N {
		k := 0
		switch int(strips[i]) {
		case l.a:
		case l.b:
			k = 1
		default:
			continue
		}
		e, n := c.Frame.XM(c.X[i])-l.p.From[0], c.Frame.YM(c.Y[i])-l.p.From[1]
		along, across := e*l.ue+n*l.un, n*l.ue-e*l.un
		if along >= 0 && along <= l.lengthM && math.Abs(across) <= l.halfWidthM {
			l.dots = append(l.dots, report.ProfilePoint{DistM: along, ZM: c.Frame.ZM(c.Z[i]), Strip: k})
			l.perStrip[k]++
		}
	}
}

// finish puts the returns into the profile when both strips have some; the planes stay otherwise.
func (l *cutLine) finish() {
	if min(l.perStrip[0], l.perStrip[1]) < leastDots {
		return
	}
	slices.SortFunc(l.dots, func(a, b report.ProfilePoint) int { // no trace of the order of files
		return cmp.Or(cmp.Compare(a.DistM, b.DistM), cmp.Compare(a.ZM, b.ZM), cmp.Compare(a.Strip, b.Strip))
	})
	step := (len(l.dots) + mostProfileDots - 1) / mostProfileDots
	l.p.Points = l.p.Points[:0]
	for i := 0; i < len(l.dots); i += step {
		l.p.Points = append(l.p.Points, l.dots[i])
	}
	l.p.Title, l.p.WidthM = l.p.Title[:len(l.p.Title)-len(ofPlanes)]+ofReturns, 2*l.halfWidthM
}

// profileReturns replaces the planes of the profiles by the returns on them. A cloud whose points lie in no order of
// place or time, so that too much would have to be read, keeps the planes.
func (j *job) profileReturns(ctx context.Context, o *outlines) error {
	width := math.Max(0.4, math.Min(2, j.survey.Options.CellM/2))
	var lines []*cutLine
	for i := range j.layers.Profiles {
		if l := newCutLine(j.survey, &j.layers.Profiles[i], width); l != nil {
			lines = append(lines, l)
		}
	}
	spans, total := make([][]las.Span, len(j.files)), int64(0)
	for f := range j.files {
		for _, s := range j.files[f].Spans(blockPoints) {
			if slices.ContainsFunc(lines, func(l *cutLine) bool { return o.meets(f, s, l.box) }) {
				spans[f] = append(spans[f], s)
				total += s.N
			}
		}
	}
	if total == 0 || total > mostProfileRead {
		return nil
	}
	cols := las.ColGPSTime | las.ColClass | las.ColFlags | las.ColSource | las.ColChannel
	var strips []int32
	for f := range spans {
		for _, s := range spans[f] {
			for c, err := range j.files[f].Read(ctx, s, cols) {
				if err != nil {
					return err
				}
				strips = j.survey.Assign(strips[:0], c, f)
				for _, l := range lines {
					l.take(c, strips)
				}
			}
		}
	}
	for _, l := range lines {
		l.finish()
	}
	return nil
}

// meets reports whether points of a span may lie in a rectangle.
func (a *outlines) meets(file int, s las.Span, r rect) bool {
	for b := s.First / blockPoints; b <= (s.First+s.N-1)/blockPoints && b < int64(len(a.files[file])); b++ {
		if q := &a.files[file][b]; q.minE <= r.maxE && q.maxE >= r.minE && q.minN <= r.maxN && q.maxN >= r.minN {
			return true
		}
	}
	return false
}

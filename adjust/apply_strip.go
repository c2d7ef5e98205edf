package adjust

import (
	"math"
	"slices"
	"sort"

	"sidelap/overlap"
)

// NewStripCorrections returns a correction that moves nothing, with an entry for each strip of the survey in its order: which
// points belong to it, and how it saw them.
func NewStripCorrections(s *overlap.Survey) []StripCorrection {
	out := make([]StripCorrection, len(s.Strips))
	for i := range s.Strips {
		st := &s.Strips[i]
		out[i] = StripCorrection{ID: st.ID, Line: st.Kind == overlap.Line, Files: st.Files, Sources: st.Sources, Channels: st.Channels,
			StartS: orNil(st.StartGPSS), EndS: orNil(st.EndGPSS), Sight: SightNone}
		if out[i].StartS == nil || out[i].EndS == nil {
			out[i].StartS, out[i].EndS = nil, nil
		}
		if st.Kind == overlap.Line {
			out[i].see(st)
		}
	}
	return out
}

// see decides how the strip saw its points when there is no pose.
func (c *StripCorrection) see(st *overlap.Strip) {
	var n, e, no, z float64
	for i := range st.Facets {
		f := &st.Facets[i]
		if f.N > 0 {
			n++
			e, no, z = e+f.EM, no+f.NM, z+f.ZM
		}
	}
	if n == 0 {
		return
	}
	c.CentreEM, c.CentreNM = e/n, no/n
	if !math.IsNaN(st.HeadingRad) {
		c.HeadingRad = st.HeadingRad
		if !math.IsNaN(st.SpeedMPS) {
			c.SpeedMPS = st.SpeedMPS
		}
		if c.Sight = SightAcross; st.HeightAGLM > 1 {
			c.Sight, c.SensorM = SightAngle, st.HeightAGLM+z/n
		}
		return
	}
	if axis, ok := longAxis(st.Facets, c.CentreEM, c.CentreNM); ok {
		c.Sight, c.HeadingRad = SightAcross, axis
	}
}

// longAxis is the direction in which the ground of a strip extends, when it is at least one and a half times as long as wide.
func longAxis(facets []overlap.Facet, eM, nM float64) (rad float64, ok bool) {
	var ee, en, nn float64
	for i := range facets {
		if f := &facets[i]; f.N > 0 {
			ee += (f.EM - eM) * (f.EM - eM)
			en += (f.EM - eM) * (f.NM - nM)
			nn += (f.NM - nM) * (f.NM - nM)
		}
	}
	half, off := (ee+nn)/2, math.Hypot((ee-nn)/2, en)
	if !(half+off > 2.25*(half-off)) {
		return 0, false
	}
	return 0.5 * math.Atan2(2*en, nn-ee), true
}

// memberKey names what a strip's points have in common.
type memberKey struct {
	source  int32
	channel int32
}

// members finds the strip of a point: the same rule by which overlap gathers facets, by file, point source ID, channel and time.
// A point that falls between (noise, say, that makes no facet) goes with the strip that is next in time, up to graceS away.
type members struct {
	lists map[memberKey][]member
	clash map[memberKey]bool // lines that overlap in time: the answer must not depend on the point before
	last  *member
	lastK memberKey
}

type member struct {
	strip      int
	start, end float64 // -Inf, Inf: no time
	line       bool
}

// graceS is how far in time from its strip's first and last usable point a point may lie. A time segment of overlap is as long.
const graceS = 1.0

func newMembers(strips []StripCorrection, file int) *members {
	m := &members{lists: map[memberKey][]member{}, clash: map[memberKey]bool{}}
	for i := range strips {
		s := &strips[i]
		if s.Files != nil && !slices.Contains(s.Files, file) {
			continue
		}
		e := member{strip: i, start: math.Inf(-1), end: math.Inf(1), line: s.Line}
		if s.StartS != nil {
			e.start, e.end = *s.StartS, *s.EndS
		}
		for _, src := range s.Sources {
			for _, ch := range s.Channels {
				k := memberKey{int32(src), int32(ch)}
				m.lists[k] = append(m.lists[k], e)
			}
		}
	}
	for k, l := range m.lists {
		// lines first: the turns' span of time holds the lines'
		sort.SliceStable(l, func(i, j int) bool {
			if l[i].line != l[j].line {
				return l[i].line
			}
			return l[i].start < l[j].start
		})
		for i := 1; i < len(l) && l[i].line; i++ {
			m.clash[k] = m.clash[k] || l[i].start <= l[i-1].end
		}
	}
	return m
}

// of returns the strip of a point, -1 for none.
func (m *members) of(source uint16, channel uint8, tS float64) int {
	k := memberKey{int32(source), int32(channel)}
	if l := m.last; l != nil && k == m.lastK && l.line && tS >= l.start && tS <= l.end {
		return l.strip
	}
	list := m.lists[k]
	best, bestGap := -1, graceS
	for i := range list {
		e := &list[i]
		gap := math.Max(e.start-tS, tS-e.end)
		if math.IsInf(e.start, -1) {
			gap = 0
		}
		if gap <= 0 {
			m.last = nil
			if !m.clash[k] {
				m.last, m.lastK = e, k
			}
			return e.strip
		}
		if gap < bestGap {
			best, bestGap = e.strip, gap
		}
	}
	return best
}

package overlap

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
)

// ErrNoPoints says that no point was left to make strips of.
var ErrNoPoints = errors.New("no usable points: all are withheld, noise, or without usable coordinates; check the input files")

// Survey tells the strips apart and joins their segments to facets. The
// accumulator stays as it was. With Options.AutoCell the cells may become wider;
// Survey.Options has the side in force.
func (a *Accumulator) Survey(o SurveyOptions) (*Survey, error) {
	s, err := a.survey(o)
	for err == nil && a.o.AutoCell && a.o.CellM < maxCellM && s.cellReturns() < minCellReturns {
		s = nil // its memory is wanted
		if a, err = a.coarsen(); err != nil {
			return nil, err
		}
		defer a.Close()
		s, err = a.survey(o)
	}
	return s, err
}

// cellReturns is the number of first returns of one strip in a cell, the first quartile
// over the lines.
func (s *Survey) cellReturns() float64 {
	var n []float64
	for _, st := range s.Lines() {
		if !math.IsNaN(st.DensityPerM2) {
			n = append(n, st.DensityPerM2*s.Options.CellM*s.Options.CellM)
		}
	}
	return quantile(n, 0.25)
}

func (a *Accumulator) survey(o SurveyOptions) (*Survey, error) {
	if a.err != nil {
		return nil, a.err
	}
	refs := a.refs()
	if len(refs) == 0 {
		return nil, ErrNoPoints
	}
	switch o.Mode {
	case StripsAuto, StripsByID, StripsByFile, StripsByTime:
	default:
		return nil, fmt.Errorf("strips by %q: want auto, id, file or time", string(o.Mode))
	}
	r := &passRules{o: o, tiles: map[int32][]tileKey{}}
	for i := range refs {
		t := &refs[i]
		r.tiles[t.segment] = append(r.tiles[t.segment], tileKey{0, t.col, t.row})
	}
	segments, unwrapped := a.unwrapWeek(a.sortedSegments())
	s := &Survey{Options: a.o, Counts: a.counts}
	if unwrapped {
		s.Notes = append(s.Notes, "the flight goes over the end of a GPS week: 604800 s are added to the times after it")
	}
	passes := s.choose(r, segments)
	passes = markStrays(passes, o)
	s.strips(passes)
	if err := a.facets(s, passes, segments, refs); err != nil {
		return nil, err
	}
	s.finish(a)
	return s, nil
}

// choose applies the rule asked for, or the one that fits the points.
func (s *Survey) choose(r *passRules, segments []*segment) []pass {
	mode := r.o.Mode
	e := examine(r, segments)
	if mode == StripsAuto {
		mode, s.Why = e.choose()
	} else {
		s.Why = "as asked for"
	}
	s.Mode = mode
	s.Notes = append(s.Notes, e.notes...)
	switch mode {
	case StripsByTime:
		if !e.hasTime {
			s.Notes = append(s.Notes, "strips by time were asked for, but the points have no usable GPS time: all points without time are one strip")
		}
		return e.timePasses
	case StripsByFile:
		return byFile(r, segments)
	}
	return byID(r, segments)
}

// byID makes the passes of each point source ID.
func byID(r *passRules, segments []*segment) []pass {
	type key struct {
		id      uint16
		channel int
	}
	groups := map[key][]*segment{}
	var keys []key
	for _, s := range segments {
		k := key{s.key.id, -1}
		if r.o.SplitChannels {
			k.channel = int(s.key.channel)
		}
		if groups[k] == nil {
			keys = append(keys, k)
		}
		groups[k] = append(groups[k], s)
	}
	slices.SortFunc(keys, func(x, y key) int {
		if x.id != y.id {
			return int(x.id) - int(y.id)
		}
		return x.channel - y.channel
	})
	var out []pass
	for _, k := range keys {
		ps := r.split(beats(groups[k]), true)
		for i := range ps {
			ps[i].name = strconv.Itoa(int(k.id))
			if k.channel >= 0 {
				ps[i].name += "/" + strconv.Itoa(k.channel)
			}
			if i > 0 {
				ps[i].name += "." + strconv.Itoa(i+1)
			}
		}
		out = append(out, ps...)
	}
	return out
}

// byFile makes one pass of each file.
func byFile(r *passRules, segments []*segment) []pass {
	groups := map[int32][]*segment{}
	var files []int32
	for _, s := range segments {
		if groups[s.key.file] == nil {
			files = append(files, s.key.file)
		}
		groups[s.key.file] = append(groups[s.key.file], s)
	}
	slices.Sort(files)
	var out []pass
	for _, f := range files {
		p := pass{beats: beats(groups[f])}
		if names := r.o.FileNames; int(f) < len(names) {
			p.name = names[f]
		}
		out = append(out, p)
	}
	return out
}

// byTime makes the passes from GPS time, whatever the IDs and files. Points
// without time make one pass of their own for each point source ID.
func byTime(r *passRules, segments []*segment) []pass {
	var timed, untimed []*segment
	for _, s := range segments {
		if s.key.index == noTime {
			untimed = append(untimed, s)
		} else {
			timed = append(timed, s)
		}
	}
	var out []pass
	for _, p := range r.split(beats(timed), false) {
		out = append(out, r.cutTurns(p)...)
	}
	if len(untimed) > 0 {
		out = append(out, pass{beats: []beat{newBeat(untimed)}, notes: []string{"no GPS time"}})
	}
	return out
}

// markStrays marks passes of a handful of points, and puts lines first in time
// order, then the turns as one, then the strays.
func markStrays(passes []pass, o SurveyOptions) []pass {
	var sizes []float64
	for i := range passes {
		if n := passes[i].points(); passes[i].kind == Line && n >= o.MinPoints {
			sizes = append(sizes, float64(n))
		}
	}
	limit := float64(o.MinPoints)
	if len(sizes) > 0 {
		limit = max(limit, o.MinShare*median(sizes))
	} else {
		limit = 0 // a tiny cloud: nothing to compare with
	}
	var lines, strays []pass
	turns := pass{kind: Turn, name: "turns"}
	for _, p := range passes {
		switch {
		case p.kind == Turn:
			turns.beats = append(turns.beats, p.beats...)
		case float64(p.points()) < limit:
			p.kind = Stray
			p.notes = append(slices.Clip(p.notes), fmt.Sprintf("%d points only: not compared with other strips", p.points()))
			strays = append(strays, p)
		default:
			lines = append(lines, p)
		}
	}
	sortPasses(lines)
	sortPasses(strays)
	if len(turns.beats) > 0 {
		turns.notes = []string{fmt.Sprintf("%d points flown in turns, in hover or beside a line: counted in the coverage, not compared", turns.points())}
		lines = append(lines, turns)
	}
	return append(lines, strays...)
}

// sortPasses puts passes in order of their first second, then ID and channel.
func sortPasses(ps []pass) {
	slices.SortStableFunc(ps, func(x, y pass) int {
		a, b := x.first(), y.first()
		ka, kb := a.segments[0].key, b.segments[0].key
		return cmp.Or(
			cmp.Compare(x.firstTimed(), y.firstTimed()), // those without time first
			cmp.Compare(ka.id, kb.id), cmp.Compare(ka.channel, kb.channel),
			cmp.Compare(a.tMin, b.tMin), cmp.Compare(a.eM, b.eM), cmp.Compare(a.nM, b.nM),
		)
	})
}

// strips fills what the passes tell; facets come later.
func (s *Survey) strips(passes []pass) {
	s.Strips = make([]Strip, len(passes))
	used := map[string]bool{}
	strays := 0
	for i := range passes {
		p := &passes[i]
		st := &s.Strips[i]
		*st = Strip{Index: i, ID: p.name, Kind: p.kind, Source: -1, Notes: p.notes, Looks: 1, LookGapS: math.NaN()}
		if st.ID == "" && p.kind == Stray {
			strays++
			st.ID = fmt.Sprintf("stray %d", strays)
		}
		if st.ID == "" {
			st.ID = strconv.Itoa(i + 1)
		}
		for used[st.ID] {
			st.ID += "'"
		}
		used[st.ID] = true
		st.fill(p)
	}
}

func (st *Strip) fill(p *pass) {
	st.StartGPSS, st.EndGPSS = math.Inf(1), math.Inf(-1)
	for i := range p.beats {
		b := &p.beats[i]
		if b.index != noTime {
			st.StartGPSS, st.EndGPSS = min(st.StartGPSS, b.tMin), max(st.EndGPSS, b.tMax)
		}
		for _, g := range b.segments {
			st.Points += g.points
			st.FirstReturns += g.first
			st.Sources = append(st.Sources, int(g.key.id))
			st.Files = append(st.Files, int(g.key.file))
			st.Channels = append(st.Channels, int(g.key.channel))
		}
	}
	if st.StartGPSS == 0 && st.EndGPSS == 0 { // point formats without time, and writers that leave it out
		st.StartGPSS, st.EndGPSS = math.NaN(), math.NaN()
		st.Notes = append(slices.Clip(st.Notes), "no GPS time")
	}
	if st.StartGPSS > st.EndGPSS {
		st.StartGPSS, st.EndGPSS = math.NaN(), math.NaN()
	}
	if st.StartGPSS == st.EndGPSS && st.Points > 100 {
		st.Notes = append(st.Notes, fmt.Sprintf("all its %d points have the same GPS time: the times are damaged, and tell strips apart but not where the scanner was", st.Points))
	}
	for _, v := range []*[]int{&st.Sources, &st.Files, &st.Channels} {
		slices.Sort(*v)
		*v = slices.Compact(*v)
	}
	if n := len(st.Channels); n > 1 && p.kind == Line {
		st.Notes = append(slices.Clip(st.Notes), fmt.Sprintf("points of %d scanner channels are joined", n))
	}
	if len(st.Sources) == 1 {
		st.Source = st.Sources[0]
	}
	st.HeadingRad, st.SpeedMPS, st.HeightAGLM = math.NaN(), math.NaN(), math.NaN()
	if p.kind == Turn {
		return
	}
	m, beats := p.motion()
	st.HeadingRad, st.SpeedMPS = m.heading(beats), m.speed()
	if m.heightM > 0 && m.hasRight {
		st.HeightAGLM = m.heightM
	}
	if inner := m.inner(p.beats); beats >= 4 && inner > 1 && !(st.SpeedMPS > inner/2 && st.SpeedMPS < 2*inner) {
		st.Notes = append(slices.Clip(st.Notes), "its ground does not move on at the speed of its scan lines: a conical or two-direction scan, or a cut-out of one; heading and speed are not known")
		st.HeadingRad, st.SpeedMPS, st.HeightAGLM = math.NaN(), math.NaN(), math.NaN()
	}
}

// motion is the movement over the whole pass, or over its largest part when its
// parts saw the same ground.
func (p *pass) motion() (motion, int) {
	bs := p.beats
	if p.looks {
		var most int64
		for rest := p.beats; len(rest) > 0; {
			part := untilGap(rest, 1)
			if n := (&pass{beats: part}).points(); n > most {
				most, bs = n, part
			}
			rest = rest[len(part):]
		}
	}
	return motionOf(bs), len(bs)
}

// inner is the speed inside the beats.
func (motion) inner(bs []beat) float64 {
	var m motion
	m.innerSpeed(bs)
	return m.speed()
}

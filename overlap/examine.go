package overlap

import (
	"fmt"
	"math"
	"slices"
)

// evidence is what the points say about how their strips can be told apart.
type evidence struct {
	hasTime    bool
	timePasses []pass // lines, turns and fragments by GPS time
	ids        []int  // point source IDs with points in numbers, ascending
	few        int    // point source IDs with fewer
	zeroShare  float64
	files      int
	lines      int     // lines by time
	turns      int     // turns by time
	idsPerLine float64 // median number of IDs in one line by time
	linesPerID float64 // median number of lines by time that one ID takes part in, with a turn between them
	notes      []string
}

// sizeable is the share of a cloud's points per ID below which an ID is not
// counted as one of a strip.
const sizeable = 0.05

func examine(r *passRules, segments []*segment) *evidence {
	e := &evidence{}
	points := map[int]int64{}
	files := map[int32]bool{}
	var all, timed int64
	tMin, tMax := math.Inf(1), math.Inf(-1)
	for _, s := range segments {
		points[int(s.key.id)] += s.points
		files[s.key.file] = true
		all += s.points
		if s.key.index != noTime {
			timed += s.points
			tMin, tMax = min(tMin, s.tMin), max(tMax, s.tMax)
		}
	}
	e.files = len(files)
	e.hasTime = 10*timed >= 9*all && tMax > tMin
	if e.hasTime && timed < all {
		e.notes = append(e.notes, fmt.Sprintf("%d points have no usable GPS time", all-timed))
	}
	for id, n := range points {
		if float64(n) >= sizeable*float64(all)/float64(len(points)) && n >= min(r.o.MinPoints, all/2) {
			e.ids = append(e.ids, id)
		}
	}
	slices.Sort(e.ids)
	e.few = len(points) - len(e.ids)
	e.zeroShare = float64(points[0]) / float64(all)
	e.timePasses = byTime(r, segments)
	e.count(r.o.MinPoints)
	return e
}

// count fills the figures that compare IDs with passes by time.
func (e *evidence) count(minPoints int64) {
	linesOf := map[int][]int{} // by ID: the lines it takes part in, with its points there in numbers
	var perLine []float64
	for i := range e.timePasses {
		p := &e.timePasses[i]
		if p.kind == Turn {
			e.turns++
			continue
		}
		if p.points() < minPoints {
			continue
		}
		e.lines++
		in := map[int]int64{}
		for _, b := range p.beats {
			for _, s := range b.segments {
				in[int(s.key.id)] += s.points
			}
		}
		var n float64
		for id, k := range in {
			if 50*k >= p.points()/int64(len(in)) {
				n++
				linesOf[id] = append(linesOf[id], i)
			}
		}
		perLine = append(perLine, n)
	}
	if len(perLine) > 0 {
		e.idsPerLine = median(perLine)
	}
	var perID []float64
	for _, id := range e.ids {
		n := 1.0
		if l := linesOf[id]; len(l) > 0 {
			n = 1
			for k := 1; k < len(l); k++ {
				if slices.ContainsFunc(e.timePasses[l[k-1]:l[k]], func(p pass) bool { return p.kind == Turn }) {
					n++
				}
			}
		}
		perID = append(perID, n)
	}
	if len(perID) > 0 {
		e.linesPerID = median(perID)
	}
}

// choose picks the rule and says why.
func (e *evidence) choose() (StripMode, string) {
	one := len(e.ids) == 1
	switch {
	case !e.hasTime && len(e.ids) > 1:
		return StripsByID, fmt.Sprintf("no usable GPS time, and %d point source IDs", len(e.ids))
	case !e.hasTime && e.files > 1:
		return StripsByFile, fmt.Sprintf("no usable GPS time and a single point source ID in %d files: each file is taken as one strip", e.files)
	case !e.hasTime:
		return StripsByID, "no usable GPS time, a single point source ID and a single file: the points cannot be told apart"
	case len(e.ids) == 0:
		return StripsByTime, "no point source ID has points in numbers"
	case one && e.lines > 1 && e.ids[0] == 0:
		return StripsByTime, fmt.Sprintf("all points have point source ID 0; GPS time shows %d passes", e.lines)
	case one && e.lines > 1 && e.turns > 0:
		return StripsByTime, fmt.Sprintf("all points have point source ID %d; GPS time shows %d passes with turns between them", e.ids[0], e.lines)
	case one && e.ids[0] == 0 && len(e.timePasses) > 1:
		return StripsByTime, fmt.Sprintf("all points have point source ID 0; GPS time shows %d pieces, fewer than two of them a pass with points in numbers", len(e.timePasses))
	case one && e.ids[0] == 0:
		return StripsByTime, "all points have point source ID 0; GPS time shows one pass"
	case one && e.few > 0:
		return StripsByID, fmt.Sprintf("one point source ID with points in numbers, %d; others with few points: %d", e.ids[0], e.few)
	case one:
		return StripsByID, fmt.Sprintf("one point source ID, %d", e.ids[0])
	case e.idsPerLine >= 3:
		return StripsByTime, fmt.Sprintf("%d point source IDs, about %.0f of them in each of the %d passes that GPS time shows: they name parts of a pass", len(e.ids), e.idsPerLine, e.lines)
	case e.linesPerID >= 2:
		return StripsByTime, fmt.Sprintf("the points of the %d point source IDs run on through turns, about %.0f straight passes each", len(e.ids), e.linesPerID)
	}
	why := fmt.Sprintf("%d point source IDs, each a pass of its own by GPS time", len(e.ids))
	if e.lines > len(e.ids)+len(e.ids)/2 {
		why = fmt.Sprintf("%d point source IDs, some used for several passes: GPS time shows %d", len(e.ids), e.lines)
	}
	if e.zeroShare > 0.01 {
		e.notes = append(e.notes, fmt.Sprintf("%.0f %% of the points have point source ID 0, which is reserved: they are taken as one more strip", 100*e.zeroShare))
	}
	return StripsByID, why
}

package recover

import (
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"sidelap/trajectory"
)

// Level says what the path of a leg rests on; see the package comment.
type Level string

// The levels of knowledge.
const (
	LevelRays   Level = "a" // rays
	LevelAngles Level = "b" // scan angles and time
	LevelNadir  Level = "d" // points near nadir only
	LevelNone   Level = "e" // nothing
)

// Text says in words what the level means.
func (l Level) Text() string {
	switch l {
	case LevelRays:
		return "path recovered from pulses with several returns"
	case LevelAngles:
		return "path recovered from scan angles and time"
	case LevelNadir:
		return "scan angles without a usable path: directions and rough heights of the strips only"
	}
	return "no path: strips can only be compared with each other"
}

// Leg is what was found for one run of time.
type Leg struct {
	Sources          []uint16 // point source IDs in ascending order
	StartS, EndS     float64
	Level            Level
	HeadingFromLines bool // heading comes from the scan lines (c); otherwise it is the course
	Pulses           int  // sampled pulses at hand
	Rays             int  // rays that took part
	SigmaAlongM      float64
	SigmaAcrossM     float64 // standard deviations of the position, medians over the leg, along and across the course
	SigmaUpM         float64
	HeightM          float64 // above the points, median
	SpeedMPS         float64 // mean over the leg, horizontal
	PitchRad         float64 // mean lean of the beam plane, nose up positive; 0 when not known
	PitchSigmaRad    float64 // NaN when not known
	Reason           string  // why there is no path, or no better one
}

// Result is what Recover found.
type Result struct {
	Path  *trajectory.Path // all legs with a path, in time order; nil without any
	Legs  []Leg            // in time order
	Level Level            // the poorest level of the legs that make up 90 % of the time; e without any
	Notes []string
}

// legGapS is the longest pause inside a leg. A spline bridges it; the path does not
// say more about it than its sigma tells.
const legGapS = 3.0

// Recover fits a path to what was gathered. The collector is not changed.
func (c *Collector) Recover() *Result {
	r := &Result{Level: LevelNone}
	if c.counts.points > 0 && c.counts.untimed == c.counts.points {
		r.Notes = append(r.Notes, "the points carry no GPS time: no path can be recovered")
		return r
	}
	if share := float64(c.counts.untimed) / float64(max(c.counts.points, 1)); share > 0.01 {
		r.Notes = append(r.Notes, fmt.Sprintf("%.0f %% of the points carry no GPS time and did not take part", 100*share))
	}
	var out pathBuilder
	legs := c.legs(&r.Notes)
	fits := make([]*fitted, len(legs))
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(legs)) {
		wg.Go(func() {
			for i := next.Add(1) - 1; int(i) < len(legs); i = next.Add(1) - 1 {
				fits[i] = legs[i].fit(c.counts.resM)
			}
		})
	}
	wg.Wait()
	for _, f := range fits {
		r.Legs = append(r.Legs, f.leg)
		if f.solved {
			out.add(f)
		}
	}
	r.Path = out.path()
	r.Level = overall(r.Legs)
	r.describe()
	return r
}

// overall returns the level that at least 90 % of the time reaches.
func overall(legs []Leg) Level {
	byLevel := map[Level]float64{}
	total := 0.0
	for _, l := range legs {
		byLevel[l.Level] += l.EndS - l.StartS
		total += l.EndS - l.StartS
	}
	sum := 0.0
	for _, l := range []Level{LevelRays, LevelAngles, LevelNadir} {
		if sum += byLevel[l]; total > 0 && sum >= 0.9*total {
			return l
		}
	}
	return LevelNone
}

func (r *Result) describe() {
	n := map[Level]int{}
	for _, l := range r.Legs {
		n[l.Level]++
	}
	if len(r.Legs) == 0 {
		r.Notes = append(r.Notes, "no points with GPS time")
		return
	}
	r.Notes = append(r.Notes, fmt.Sprintf("level of knowledge %s: %d legs from pulses with several returns (a), %d from scan angles and time (b), %d with nadir only (d), %d with nothing (e)",
		r.Level, n[LevelRays], n[LevelAngles], n[LevelNadir], n[LevelNone]))
	if r.Path != nil {
		r.Path.Notes = slices.Clone(r.Notes)
	}
}

// Median returns the middle value of v, which it sorts; NaN without any.
func median(v []float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	slices.Sort(v)
	if n := len(v); n%2 == 0 {
		return (v[n/2-1] + v[n/2]) / 2
	}
	return v[len(v)/2]
}

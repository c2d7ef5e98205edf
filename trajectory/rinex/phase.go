package rinex

import (
	"math"
	"slices"
	"strconv"
	"strings"
)

// Phases of carriers tell whether an antenna was touched, without orbits and
// without a position: over a few seconds the range to a satellite runs smoothly,
// so third differences over four epochs leave noise, what all satellites share
// (the receiver's clock), and, when the antenna jumps by d, -e·d of every
// satellite in its own direction e. The shared part is taken off as the median;
// of what is left, the median of the amounts is Epoch.JumpM. A slip of cycles
// concerns single satellites and does not move a median; a slow sinking is not seen.
//
// Source: differencing in time and between satellites is textbook (Hofmann-
// Wellenhof and others, GNSS, 2008, chapter 5, from memory); the rule is a proposal.
const (
	phaseStepS   = 2.0    // longer steps leave the satellites' own motion in third differences
	phaseLeast   = 6      // satellites
	phaseSharedM = 1000.0 // a clock that jumps by so much shifts the instants too: not judged
	waveL1M      = 299792458 / 1575.42e6
)

// phaseSystems have the carrier of 1575.42 MHz as band 1: GPS, Galileo, QZSS.
const phaseSystems = "GEJ"

// phaseWatch keeps the last phases of each satellite.
type phaseWatch struct {
	now   map[uint16]float64    // of the epoch under way, metres
	past  [3]map[uint16]float64 // of the epochs before it, latest first
	times [3]float64
	n     int // epochs in past
}

// phaseCode is the place of the first phase of band 1 among the codes, -1 without.
func phaseCode(sys byte, codes []string) int {
	if sys != 0 && strings.IndexByte(phaseSystems, sys) < 0 {
		return -1
	}
	return slices.IndexFunc(codes, func(c string) bool { return strings.HasPrefix(c, "L1") })
}

// note takes the phase of a satellite, 14 columns from 0-based at of a line.
func (w *phaseWatch) note(sys byte, number string, s string, at int) {
	if strings.IndexByte(phaseSystems, sys) < 0 || len(s) < at+4 {
		return
	}
	k, ok := atoi(number)
	if !ok || k < 0 || k > 99 {
		return
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(s[at:min(at+14, len(s))]), 64)
	if err != nil || v == 0 || math.Abs(v) > 1e12 {
		return
	}
	if w.now == nil {
		w.now = map[uint16]float64{}
	}
	w.now[uint16(sys)<<8|uint16(k)] = v * waveL1M
}

// step ends an epoch and returns its JumpM.
func (w *phaseWatch) step(t float64) float32 {
	jump := 0.0
	d := t - w.times[0]
	even := w.n == 3 && d > 0 && d <= phaseStepS && math.Abs(w.times[0]-w.times[1]-d) < 1e-4 && math.Abs(w.times[1]-w.times[2]-d) < 1e-4
	if even {
		jump = w.jump()
	}
	if w.n > 0 && !(d > 0 && d <= phaseStepS) {
		w.n = 0
	}
	oldest := w.past[2]
	clear(oldest)
	w.past[2], w.past[1], w.past[0] = w.past[1], w.past[0], w.now
	w.times[2], w.times[1], w.times[0] = w.times[1], w.times[0], t
	w.now, w.n = oldest, min(w.n+1, 3)
	return float32(jump)
}

func (w *phaseWatch) jump() float64 {
	var v []float64
	for k, a := range w.now {
		b, ok1 := w.past[0][k]
		c, ok2 := w.past[1][k]
		d, ok3 := w.past[2][k]
		if ok1 && ok2 && ok3 {
			v = append(v, a-3*b+3*c-d)
		}
	}
	if len(v) < phaseLeast {
		return 0
	}
	slices.Sort(v)
	shared := (v[(len(v)-1)/2] + v[len(v)/2]) / 2
	if math.Abs(shared) > phaseSharedM {
		return 0
	}
	for i := range v {
		v[i] = math.Abs(v[i] - shared)
	}
	slices.Sort(v)
	return max(v[len(v)/2], 1e-6)
}

// Jump is a moment in which the phases of most satellites jump together.
type Jump struct {
	GPSS  float64
	SizeM float64 // half of the satellites jump by more, in third differences: of the size of the move
}

// Jumps returns the jumps from startS to endS that are larger than leastM and
// than six times the usual, and the share of the epochs that could be watched:
// 0 for logs with steps above two seconds or without phases.
func (l *Log) Jumps(startS, endS, leastM float64) (jumps []Jump, watched float64) {
	e := l.Within(startS, endS)
	var v []float64
	for _, x := range e {
		if x.JumpM > 0 {
			v = append(v, float64(x.JumpM))
		}
	}
	if len(v) == 0 {
		return nil, 0
	}
	slices.Sort(v)
	least := max(leastM, 6*v[len(v)/2])
	for _, x := range e {
		if size := float64(x.JumpM); size > least {
			if n := len(jumps); n > 0 && x.GPSS-jumps[n-1].GPSS <= 4*l.IntervalS { // one jump is in three differences
				jumps[n-1].SizeM = max(jumps[n-1].SizeM, size)
				continue
			}
			jumps = append(jumps, Jump{x.GPSS, size})
		}
	}
	return jumps, float64(len(v)) / float64(len(e))
}

package trajectory

import (
	"fmt"
	"math"
	"sort"
)

// DefaultGapS is the longest step between two samples of a path that At still
// bridges when Path.GapS is zero. Common practice, not a published figure: at
// 8 m/s and 2 m/s² of gusts a cubic over 2 s is wrong by about a metre.
const DefaultGapS = 2.0

// Path is the sensor (or reference point) position and attitude in time.
//
// TimeS is strictly increasing and in the time base of the cloud. EM, NM and
// HM are metres in the grid of the cloud. RollRad, PitchRad and HeadingRad are
// radians, heading clockwise from grid north; the three are nil together when
// the attitude is unknown. All slices that are not nil have one length.
type Path struct {
	TimeS, EM, NM, HM             []float64
	RollRad, PitchRad, HeadingRad []float64
	Sigma                         *PathSigma // nil when nothing is known
	GapS                          float64    // a longer step is a gap; 0 = DefaultGapS
	Source                        string     // file name, or "recovered"
	Notes                         []string   // what was decided, one clause each
}

// PathSigma holds standard deviations, one for each sample of the path they
// belong to. A column is nil when it is not known.
type PathSigma struct {
	EastM, NorthM, UpM            []float64
	RollRad, PitchRad, HeadingRad []float64
}

// Pose is a path at one time.
//
// Without attitude in the path, roll and pitch are zero, heading is the
// course, and HasAttitude is false. SpeedMPS is horizontal; CourseRad is the
// direction of motion from grid north, in [0, 2π). The rates are body rates,
// right-handed about forward, right and down.
type Pose struct {
	TimeS, EM, NM, HM             float64
	RollRad, PitchRad, HeadingRad float64
	SpeedMPS, CourseRad           float64
	ClimbMPS                      float64
	RollRateRadPS, PitchRateRadPS float64
	YawRateRadPS                  float64
	HasAttitude                   bool
}

// PoseSigma is the accuracy of a path at one time; NaN where not known.
type PoseSigma struct {
	EastM, NorthM, UpM            float64
	RollRad, PitchRad, HeadingRad float64
}

// Validate reports the first broken rule of the type's comment.
func (p *Path) Validate() error {
	n := len(p.TimeS)
	if n == 0 {
		return fmt.Errorf("path %s: no samples", p.Source)
	}
	if len(p.EM) != n || len(p.NM) != n || len(p.HM) != n {
		return fmt.Errorf("path %s: %d times but %d, %d, %d coordinates", p.Source, n, len(p.EM), len(p.NM), len(p.HM))
	}
	att := len(p.RollRad) + len(p.PitchRad) + len(p.HeadingRad)
	if att != 0 && (len(p.RollRad) != n || len(p.PitchRad) != n || len(p.HeadingRad) != n) {
		return fmt.Errorf("path %s: %d times but %d rolls, %d pitches, %d headings", p.Source, n, len(p.RollRad), len(p.PitchRad), len(p.HeadingRad))
	}
	for i, t := range p.TimeS {
		if !finite(t) || !finite(p.EM[i]) || !finite(p.NM[i]) || !finite(p.HM[i]) {
			return fmt.Errorf("path %s: sample %d is not a finite number", p.Source, i)
		}
		if i > 0 && t <= p.TimeS[i-1] {
			return fmt.Errorf("path %s: time %.6f s of sample %d does not follow %.6f s", p.Source, t, i, p.TimeS[i-1])
		}
	}
	return nil
}

// Len returns the number of samples.
func (p *Path) Len() int { return len(p.TimeS) }

// HasAttitude reports whether the path knows roll, pitch and heading.
func (p *Path) HasAttitude() bool { return len(p.HeadingRad) == len(p.TimeS) && len(p.TimeS) > 0 }

// Gap returns the longest step in seconds that At bridges.
func (p *Path) Gap() float64 {
	if p.GapS > 0 {
		return p.GapS
	}
	return DefaultGapS
}

// At returns the pose at tS: position by a cubic through the samples on both
// sides, attitude by the shortest rotation between them (slerp). It returns
// false outside the path and inside a gap. For many times in order use a Cursor.
func (p *Path) At(tS float64) (Pose, bool) {
	c := Cursor{p: p, i: -1}
	return c.At(tS)
}

// SigmaAt returns the accuracy at tS, linear between the samples. It returns
// false where At does, and when the path has no sigmas.
func (p *Path) SigmaAt(tS float64) (PoseSigma, bool) {
	i, ok := p.segment(tS)
	if !ok || p.Sigma == nil {
		return PoseSigma{}, false
	}
	u := 0.0
	if i+1 < len(p.TimeS) {
		u = (tS - p.TimeS[i]) / (p.TimeS[i+1] - p.TimeS[i])
	}
	col := func(v []float64) float64 {
		if i >= len(v) {
			return math.NaN()
		}
		if u == 0 || i+1 >= len(v) {
			return v[i]
		}
		return v[i] + u*(v[i+1]-v[i])
	}
	s := p.Sigma
	return PoseSigma{col(s.EastM), col(s.NorthM), col(s.UpM), col(s.RollRad), col(s.PitchRad), col(s.HeadingRad)}, true
}

// segment returns i with TimeS[i] <= tS <= TimeS[i+1] and no gap between (or
// a sample hit exactly beside one).
func (p *Path) segment(tS float64) (int, bool) {
	n := len(p.TimeS)
	if n == 0 || !(tS >= p.TimeS[0] && tS <= p.TimeS[n-1]) {
		return 0, false
	}
	i := sort.Search(n, func(k int) bool { return p.TimeS[k] > tS }) - 1
	if i == n-1 {
		if n > 1 && p.TimeS[n-1]-p.TimeS[n-2] <= p.Gap() {
			return n - 2, true
		}
		return n - 1, true // a last sample that stands alone
	}
	if p.TimeS[i+1]-p.TimeS[i] <= p.Gap() {
		return i, true
	}
	if tS != p.TimeS[i] {
		return 0, false
	}
	if i > 0 && tS-p.TimeS[i-1] <= p.Gap() {
		return i - 1, true
	}
	return i, true // a sample between two gaps
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

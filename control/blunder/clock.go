package blunder

import (
	"math"
	"slices"

	"sidelap/control"
	"sidelap/las"
)

// clockStep is which share of the points a Clock looks at: one in so many, by their number in the file.
const clockStep = 32

// maxClockBins bounds a Clock: a day of seconds for each of ten flights. More are no times of a flight: the clock then
// knows their range only.
const maxClockBins = 864000

// Clock collects where the cloud lies at each second, to test its time against a trajectory (B16) and its header (B17).
// It wants las.ColGPSTime. Sums are whole millimetres: Merge is exact for any order.
type Clock struct {
	bins       map[int64]*clockBin
	minS, maxS float64
	any        bool
}

type clockBin struct{ n, e, nn, z int64 }

// NewClock returns an empty clock.
func NewClock() *Clock { return &Clock{bins: map[int64]*clockBin{}} }

// Add takes the points of a chunk; the number of the file is not used.
func (c *Clock) Add(ch *las.Chunk, _ int) {
	if len(ch.GPSTime) < ch.N {
		return
	}
	first := int((clockStep - ch.First%clockStep) % clockStep)
	for i := first; i < ch.N; i += clockStep {
		t := ch.GPSTime[i]
		if math.IsNaN(t) || math.Abs(t) > 1e11 {
			continue
		}
		if !c.any || t < c.minS {
			c.minS = t
		}
		if !c.any || t > c.maxS {
			c.maxS = t
		}
		c.any = true
		k := int64(math.Floor(t))
		b := c.bins[k]
		if b == nil {
			if len(c.bins) > maxClockBins {
				continue
			}
			b = &clockBin{}
			c.bins[k] = b
		}
		b.n++
		b.e += millimetres(ch.Frame.XM(ch.X[i]))
		b.nn += millimetres(ch.Frame.YM(ch.Y[i]))
		b.z += millimetres(ch.Frame.ZM(ch.Z[i]))
	}
}

func millimetres(m float64) int64 { return int64(math.Round(m * 1000)) }

// Merge adds another clock.
func (c *Clock) Merge(o *Clock) {
	for k, b := range o.bins {
		a := c.bins[k]
		if a == nil {
			c.bins[k] = &clockBin{b.n, b.e, b.nn, b.z}
			continue
		}
		a.n, a.e, a.nn, a.z = a.n+b.n, a.e+b.e, a.nn+b.nn, a.z+b.z
	}
	if o.any && (!c.any || o.minS < c.minS) {
		c.minS = o.minS
	}
	if o.any && (!c.any || o.maxS > c.maxS) {
		c.maxS = o.maxS
	}
	c.any = c.any || o.any
}

// seconds lists the seconds that hold points in order; none when there are too many to be a flight's.
func (c *Clock) seconds() []int64 {
	if len(c.bins) > maxClockBins {
		return nil
	}
	return sortedKeys(c.bins)
}

// Runs are the stretches of time that hold points, in order; pauses of up to two seconds do not part them.
func (c *Clock) Runs() [][2]float64 {
	var out [][2]float64
	for _, k := range c.seconds() {
		a, b := max(float64(k), c.minS), min(float64(k+1), c.maxS)
		if n := len(out); n > 0 && a-out[n-1][1] <= 2 {
			out[n-1][1] = b
			continue
		}
		out = append(out, [2]float64{a, b})
	}
	return out
}

// PathAt is a trajectory at a time of the points' time base: place, height, speed and course from grid north, clockwise; false outside.
type PathAt func(tS float64) (eM, nM, hM, speedMPS, courseRad float64, ok bool)

// Evidence compares the cloud's time with a path; at may be nil. adjusted is bit 0 of the global encoding.
func (c *Clock) Evidence(adjusted bool, at PathAt, pathMinS, pathMaxS float64) *TimeEvidence {
	if !c.any {
		return nil
	}
	t := &TimeEvidence{Adjusted: adjusted, MinS: c.minS, MaxS: c.maxS, PathMinS: pathMinS, PathMaxS: pathMaxS}
	if at == nil {
		return t
	}
	// A pitched sensor looks ahead or back by h tan(pitch): a tilt of 6 degrees must not pass for time.
	const tiltRad = 6 * math.Pi / 180
	var along, tolerance []float64
	for _, k := range c.seconds() {
		b := c.bins[k]
		e, n, h, speed, course, ok := at(float64(k) + 0.5)
		if !ok || b.n < 5 || speed < 2 {
			continue
		}
		sin, cos := math.Sincos(course)
		de, dn := float64(b.e)/float64(b.n)/1000-e, float64(b.nn)/float64(b.n)/1000-n
		along = append(along, -(de*sin+dn*cos)/speed)
		tolerance = append(tolerance, math.Abs(h-float64(b.z)/float64(b.n)/1000)*math.Tan(tiltRad)/speed)
	}
	c.findShift(t, at)
	if len(along) >= 5 {
		t.AlongS, t.AlongKnown = control.Median(along), true
		t.AlongTolS = max(0.5, control.Median(tolerance))
	}
	return t
}

// findShift looks for the usual shift with which the cloud lies closest to under the path.
func (c *Clock) findShift(t *TimeEvidence, at PathAt) {
	keys := c.seconds()
	distance := func(shift float64) (float64, bool) {
		var d []float64
		for _, k := range keys {
			b := c.bins[k]
			if e, n, _, _, _, ok := at(float64(k) + 0.5 + shift); ok && b.n > 0 {
				d = append(d, math.Hypot(float64(b.e)/float64(b.n)/1000-e, float64(b.nn)/float64(b.n)/1000-n))
			}
		}
		return control.Median(d), 10*len(d) >= 9*len(keys) && len(d) >= 5
	}
	none, ok := distance(0)
	if !ok {
		return
	}
	t.ShiftS, t.ShiftM, t.NoShiftM, t.ShiftKnown = 0, none, none, true
	for _, s := range timeShifts(t.leap()) {
		if d, ok := distance(s.s); ok && d < t.ShiftM {
			t.ShiftS, t.ShiftM = s.s, d
		}
	}
}

func sortedKeys(m map[int64]*clockBin) []int64 {
	keys := make([]int64, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// FromComparison starts an Evidence from a comparison: points, hard-ground noise.
func FromComparison(cmp *control.Comparison) Evidence {
	e := Evidence{Points: cmp.Points}
	if cmp.NoiseM > 0 {
		e.NoiseM = cmp.NoiseM
	}
	return e
}

package control

import (
	"math"
	"slices"
)

// Arrow is a residual on the map of check points: straight up for positive dz.
type Arrow struct {
	ID          string
	EM, NM      float64
	DzM         float64
	DEM, DNM    float64 // horizontal residual, NaN without a target
	Used        bool
	Cover       Cover
	BeyondClass bool // |dz| above 1.96 times the class
}

// Histogram counts differences in equal bins, with the normal curve of the same mean and standard deviation.
type Histogram struct {
	LowM, WidthM float64 // lower edge of the first bin, width of each
	Counts       []int
	MeanM, StdM  float64
	CurveM       []float64 // places
	CurveCount   []float64 // expected count in a bin there, on the scale of Counts
	LimitM       float64   // class, 0 without
}

// Scatter is dz against another quantity, with a least squares line.
type Scatter struct {
	XName      string // with unit
	X, DzM     []float64
	ID         []string
	Slope      float64 // metres in one unit of X
	InterceptM float64
	SlopeSigma float64
	OK         bool // the line is determined
}

// Figures is the data of the pictures in a report; drawing is the report's.
type Figures struct {
	Arrows      []Arrow
	Histogram   *Histogram // nil for fewer than two differences
	ByElevation Scatter
	BySlope     Scatter
}

// Figures returns the data of the pictures for a class, 0 for none.
func (c *Comparison) Figures(classM float64) Figures {
	var f Figures
	f.ByElevation.XName, f.BySlope.XName = "height (m)", "slope (%)"
	var dz []float64
	for i := range c.Points {
		p := &c.Points[i]
		if !finite(p.DzM) {
			continue
		}
		f.Arrows = append(f.Arrows, Arrow{ID: p.ID, EM: p.EM, NM: p.NM, DzM: p.DzM, DEM: math.NaN(), DNM: math.NaN(),
			Used: p.Used, Cover: p.Cover, BeyondClass: classM > 0 && math.Abs(p.DzM) > Vertical95*classM})
		if !p.Used {
			continue
		}
		dz = append(dz, p.DzM)
		f.ByElevation.add(p.ID, p.ZM, p.DzM)
		if finite(p.SlopePct) {
			f.BySlope.add(p.ID, p.SlopePct, p.DzM)
		}
	}
	f.ByElevation.line()
	f.BySlope.line()
	f.Histogram = NewHistogram(dz, classM)
	return f
}

func (s *Scatter) add(id string, x, dz float64) {
	s.ID, s.X, s.DzM = append(s.ID, id), append(s.X, x), append(s.DzM, dz)
}

// line fits DzM = InterceptM + Slope X.
func (s *Scatter) line() {
	n := float64(len(s.X))
	if n < 3 {
		return
	}
	var mx, my, xx, xy, ss float64
	for i := range s.X {
		mx, my = mx+s.X[i]/n, my+s.DzM[i]/n
	}
	for i := range s.X {
		xx += (s.X[i] - mx) * (s.X[i] - mx)
		xy += (s.X[i] - mx) * (s.DzM[i] - my)
	}
	if xx < 1e-12 {
		return
	}
	s.Slope = xy / xx
	s.InterceptM = my - s.Slope*mx
	for i := range s.X {
		r := s.DzM[i] - s.InterceptM - s.Slope*s.X[i]
		ss += r * r
	}
	s.SlopeSigma = math.Sqrt(ss / (n - 2) / xx)
	s.OK = true
}

// NewHistogram bins differences by the rule of Freedman and Diaconis, rounded to 1, 2 or 5; at most 60
// bins. Nil for fewer than two.
func NewHistogram(dzM []float64, classM float64) *Histogram {
	a, err := Summarize(dzM)
	if err != nil || a.N < 2 {
		return nil
	}
	h := &Histogram{MeanM: a.MeanM, StdM: *a.StdM, LimitM: classM}
	iqr := Quantile(dzM, 0.75) - Quantile(dzM, 0.25)
	h.WidthM = nice(max(2*iqr/math.Cbrt(float64(a.N)), (a.MaxM-a.MinM)/60, 0.001))
	first := math.Floor(a.MinM / h.WidthM)
	last := math.Floor(a.MaxM / h.WidthM)
	h.LowM = first * h.WidthM
	h.Counts = make([]int, min(int(last-first)+1, 200))
	for _, d := range dzM {
		k := int(math.Floor(d/h.WidthM) - first)
		h.Counts[min(max(k, 0), len(h.Counts)-1)]++
	}
	if h.StdM == 0 {
		return h
	}
	scale := float64(a.N) * h.WidthM / (h.StdM * math.Sqrt(2*math.Pi))
	for k := range 101 {
		z := -3.5 + 7*float64(k)/100
		h.CurveM = append(h.CurveM, h.MeanM+z*h.StdM)
		h.CurveCount = append(h.CurveCount, scale*math.Exp(-z*z/2))
	}
	return h
}

// nice rounds up to 1, 2 or 5 times a power of ten.
func nice(v float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(v)))
	steps := []float64{p, 2 * p, 5 * p, 10 * p}
	return steps[slices.IndexFunc(steps, func(s float64) bool { return s >= v*(1-1e-9) })]
}

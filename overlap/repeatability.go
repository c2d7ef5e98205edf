package overlap

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// LBSCellM is the side of the cell for smooth-surface precision:
// 2 ceil(ANPS), never below 2, in the units of anps.
//
// Source: USGS Lidar Base Specification 2025 rev. A, intraswath precision.
func LBSCellM(anpsM float64) float64 { return max(2*math.Ceil(anpsM), 2) }

// LBSPrecision is the slope-corrected range of a cell:
// range - slope * cell * 1.414, with 1.414 as printed. It may be negative.
//
// Source: USGS Lidar Base Specification 2025 rev. A, intraswath precision.
func LBSPrecision(rangeM, slope, cellM float64) float64 { return rangeM - slope*cellM*1.414 }

// PatchSideM is the side of the homogeneous patch around a check point: 5 ANPS.
//
// Source: USGS Lidar Base Specification 2025 rev. A, check points.
func PatchSideM(anpsM float64) float64 { return 5 * anpsM }

// PatchDeviationM is how far that patch may deviate from a plane: a third of the
// vertical accuracy asked for.
//
// Source: USGS Lidar Base Specification 2025 rev. A, check points.
func PatchDeviationM(rmseVM float64) float64 { return rmseVM / 3 }

// RepeatabilityOptions controls Survey.Repeatability. Start from DefaultRepeatabilityOptions.
type RepeatabilityOptions struct {
	ANPSM       float64 // for the cell of the LBS rule; 0: as found
	MaxSlopeRad float64 // default 10 deg
	RoughLimitM float64 // cells with a larger plane residual are not smooth; 0: see Survey.SmoothLimitM
	MinPoints   int     // last returns of a plane; default 6
	AreaCells   int     // smooth cells along the side of an LBS area; default 10
}

// DefaultRepeatabilityOptions returns the defaults named in RepeatabilityOptions.
func DefaultRepeatabilityOptions() RepeatabilityOptions {
	return RepeatabilityOptions{MaxSlopeRad: 10 * degree, MinPoints: 6, AreaCells: 10}
}

// LBSArea is a sample area of the LBS rule in one strip.
type LBSArea struct {
	Strip      int
	Part       string // "left", "centre" or "right" third of the swath
	Cells      int
	MinM, MaxM float64 // slope-corrected range
	RMSDM      float64
	Ring       [][2]float64
}

// StripRepeatability is the repeatability of one strip.
type StripRepeatability struct {
	Strip    int
	Cells    int     // smooth cells
	RMSM     float64 // plane residual, root mean square over cells
	MedianM  float64
	P95M     float64
	LBSCells int
	LBSRMSDM float64 // of the slope-corrected range
	LBSMinM  float64 // smallest slope-corrected range: below zero where the slope takes off more than the range
	LBSMaxM  float64 // largest slope-corrected range
	LBSP95M  float64 // 95th percentile of its absolute value
	// For strips with two looks: cells compared, and the median and NMAD of the
	// later look minus the earlier one.
	LookCells int
	LookM     float64
	LookNMADM float64
}

// Repeatability is how well each strip agrees with itself on smooth surfaces.
type Repeatability struct {
	Cells       int     // smooth cells of all lines
	RMSM        float64 // plane residual (n-3), root mean square over cells
	MedianM     float64
	P95M        float64
	NoiseM      float64 // standard deviation of single heights on smooth surfaces: RMSM, with what the limit cut off restored
	NoiseSigmaM float64 // its standard error
	RoughLimitM float64 // a cell with more is not smooth
	LBSCellM    float64
	LBSExact    bool // false when the survey's cells do not tile the LBS cell; LBSCellM is then the nearest that they do
	LBSCells    int
	LBSRMSDM    float64
	LBSMinM     float64
	LBSMaxM     float64
	LBSP95M     float64
	LBSBelow    int // cells whose slope takes off more than their range
	Areas       []LBSArea
	Strips      []StripRepeatability
	Roughness   *Grid // plane residual, mean over the strips in a cell, all cells with planes

	ss float64 // sum of squared residuals of the smooth cells
}

// Repeatability measures how well the lines agree with themselves on smooth
// surfaces: cells with a plane of at least MinPoints last returns, no steeper
// than MaxSlopeRad and no rougher than the limit.
func (s *Survey) Repeatability(o RepeatabilityOptions) *Repeatability {
	if o.RoughLimitM == 0 {
		o.RoughLimitM = s.smoothLimitM
	}
	if o.ANPSM == 0 {
		o.ANPSM = s.ANPSM
	}
	r := &Repeatability{RoughLimitM: o.RoughLimitM}
	k := r.setCell(o.ANPSM, s.Options.CellM)
	var all, ranges []float64
	freedom := map[int]int{} // smooth cells by degrees of freedom
	for i := range s.Lines() {
		st := &s.Strips[i]
		var rough []float64
		for j := range st.Facets {
			if f := &st.Facets[j]; o.smooth(f) {
				rough = append(rough, f.RoughM)
				freedom[int(f.N)-3]++
				r.ss += f.RoughM * f.RoughM * float64(f.N-3)
			}
		}
		cells := s.lbsCells(st, k, r.LBSCellM, o)
		sr := StripRepeatability{Strip: i, Cells: len(rough), LookCells: 0, LookM: math.NaN(), LookNMADM: math.NaN()}
		sr.RMSM, sr.MedianM, sr.P95M = rms(rough), median(rough), quantile(rough, 0.95)
		p := precisions(cells)
		sr.LBSCells, sr.LBSRMSDM, sr.LBSMinM, sr.LBSMaxM, sr.LBSP95M = lbsFigures(p)
		sr.looks(st)
		r.Strips = append(r.Strips, sr)
		r.Areas = append(r.Areas, st.lbsAreas(cells, r.LBSCellM, o.AreaCells)...)
		all, ranges = append(all, rough...), append(ranges, p...)
	}
	r.Cells, r.RMSM, r.MedianM, r.P95M = len(all), rms(all), median(all), quantile(all, 0.95)
	r.LBSCells, r.LBSRMSDM, r.LBSMinM, r.LBSMaxM, r.LBSP95M = lbsFigures(ranges)
	for _, p := range ranges {
		if p < 0 {
			r.LBSBelow++
		}
	}
	r.noise(freedom)
	r.Roughness = s.roughnessGrid()
	return r
}

// noise pools the residuals of the smooth cells. Cells are chosen by their own
// residual being below the limit L, which cuts the upper tail off: with v degrees
// of freedom E[s^2 | s < L] = sigma^2 F(v+2)/F(v), F the chi-square distribution
// at v L^2/sigma^2. Solved for sigma by iteration.
func (r *Repeatability) noise(freedom map[int]int) {
	r.NoiseM, r.NoiseSigmaM = math.NaN(), math.NaN()
	var vs []int
	total := 0
	for v, n := range freedom {
		if v > 0 {
			vs = append(vs, v)
			total += v * n
		}
	}
	if total == 0 {
		return
	}
	slices.Sort(vs)
	sigma2 := r.ss / float64(total)
	for range 50 {
		want := 0.0
		for _, v := range vs {
			c := float64(v) * r.RoughLimitM * r.RoughLimitM / sigma2
			ratio := distuv.ChiSquared{K: float64(v + 2)}.CDF(c) / distuv.ChiSquared{K: float64(v)}.CDF(c)
			want += float64(v*freedom[v]) * ratio
		}
		next := r.ss / want
		done := math.Abs(next-sigma2) < 1e-9*sigma2
		if sigma2 = next; done || sigma2 > 4*r.ss/float64(total) { // all cut off: the limit, not the noise, was measured
			break
		}
	}
	r.NoiseM = math.Sqrt(sigma2)
	r.NoiseSigmaM = r.NoiseM / math.Sqrt(2*float64(total))
}

// setCell chooses the LBS cell as a multiple of the survey's cell, and returns
// the factor.
func (r *Repeatability) setCell(anpsM, cellM float64) int {
	want := 2.0
	if !math.IsNaN(anpsM) {
		want = LBSCellM(anpsM)
	}
	k := max(1, int(math.Round(want/cellM)))
	r.LBSCellM = float64(k) * cellM
	r.LBSExact = math.Abs(r.LBSCellM-want) < 1e-9
	return k
}

func (o RepeatabilityOptions) smooth(f *Facet) bool {
	return f.Plane && f.N >= int32(o.MinPoints) && f.RoughM <= o.RoughLimitM && f.SlopeRad() <= o.MaxSlopeRad
}

// rms is NaN for no values.
func rms(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x * x
	}
	return math.Sqrt(s / float64(len(v)))
}

// lbsFigures are count, root mean square, smallest, largest and 95th percentile of the
// absolute value of slope-corrected ranges.
func lbsFigures(p []float64) (n int, rmsd, smallest, largest, p95 float64) {
	if len(p) == 0 {
		return 0, math.NaN(), math.NaN(), math.NaN(), math.NaN()
	}
	abs := make([]float64, len(p))
	for i := range p {
		abs[i] = math.Abs(p[i])
	}
	return len(p), rms(p), slices.Min(p), slices.Max(p), quantile(abs, 0.95)
}

func (sr *StripRepeatability) looks(st *Strip) {
	var dz []float64
	for _, l := range st.looks {
		if !math.IsNaN(l.dzM) {
			dz = append(dz, l.dzM)
		}
	}
	if len(dz) > 0 {
		sr.LookCells, sr.LookM, sr.LookNMADM = len(dz), median(dz), nmad(dz)
	}
}

func (s *Survey) roughnessGrid() *Grid {
	r := s.newRaster(0)
	if r == nil {
		return &Grid{CellM: s.Options.CellM}
	}
	m := newMeans(r)
	for i := range s.Lines() {
		for k := range s.Strips[i].Facets {
			if f := &s.Strips[i].Facets[k]; f.Plane {
				m.add(f.Col, f.Row, f.RoughM)
			}
		}
	}
	return m.grid()
}

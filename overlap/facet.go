package overlap

import "math"

// Facet is what one strip shows in one cell: the plane fitted to its last
// returns there, and its first returns for coverage.
//
// The plane is z(E,N) = ZM + SlopeE (E-EM) + SlopeN (N-NM) by least squares in z.
// Without a plane (too few points, or all on one line) Plane is false, slopes
// and RoughM are NaN, and EM, NM, ZM remain the mean of the points (NaN when N is 0).
type Facet struct {
	Col, Row       int32   // cell: floor(E/CellM), floor(N/CellM)
	N              int32   // last returns in the plane
	First          int32   // first returns, every class but noise
	EM, NM, ZM     float64 // mean of the last returns
	SlopeE, SlopeN float64 // gradient of the plane
	RoughM         float64 // plane residual: sqrt(sum v^2 / (N-3)); NaN when N < 4
	VarE, CovEN    float64 // second moments of the last returns' places about
	VarN           float64 // their mean, m^2, divisor N
	TimeS          float64 // mean GPS time of the last returns, NaN when unknown
	AngleRad       float64 // mean scan angle, positive to the right of flight
	Single         int32   // single returns among N
	Multi          int32   // returns of pulses with several returns, every class but noise
	SingleLowM     float64 // lowest and highest of the single returns, NaN without
	SingleHighM    float64
	Occupied       uint64 // sub-cells with a first return, bit row*SubCells+col from the south-west
	Plane          bool
}

// minSpread is the smallest standard deviation of the points' places across
// their best line, as a share of the cell's side, that carries a plane. Points
// spread evenly over a cell have 0.289; along one scan line they have nearly 0.
const minSpread = 0.08

// SlopeRad is the angle of the plane to the horizontal.
func (f *Facet) SlopeRad() float64 { return math.Atan(math.Hypot(f.SlopeE, f.SlopeN)) }

// At returns the height of the plane at a place in metres.
func (f *Facet) At(eM, nM float64) float64 {
	return f.ZM + f.SlopeE*(eM-f.EM) + f.SlopeN*(nM-f.NM)
}

// Leverage returns 1/N + d'C^-1 d/N for the place d off the mean of the points:
// the variance of the plane's height there in units of the residual variance.
// NaN without a plane.
func (f *Facet) Leverage(eM, nM float64) float64 {
	return (1 + f.mahalanobis2(eM, nM)) / float64(f.N)
}

// mahalanobis2 is d'C^-1 d, the squared distance from the points' mean in
// standard deviations of their places.
func (f *Facet) mahalanobis2(eM, nM float64) float64 {
	if !f.Plane {
		return math.NaN()
	}
	dE, dN := eM-f.EM, nM-f.NM
	det := f.VarE*f.VarN - f.CovEN*f.CovEN
	return (f.VarN*dE*dE - 2*f.CovEN*dE*dN + f.VarE*dN*dN) / det
}

// facet turns the sums of a cell into a Facet. originS is the time to which the
// ticks refer, NaN when unknown.
func (o Options) facetOf(m *moments, col, row int32, timeS float64) Facet {
	nan := math.NaN()
	f := Facet{
		Col: col, Row: row, N: int32(m.n), First: int32(m.first), Single: int32(m.single), Multi: int32(m.multi),
		EM: nan, NM: nan, ZM: nan, SlopeE: nan, SlopeN: nan, RoughM: nan, TimeS: nan, AngleRad: nan,
		SingleLowM: nan, SingleHighM: nan, Occupied: m.occupied,
	}
	if m.single > 0 {
		f.SingleLowM, f.SingleHighM = float64(m.zmin)*unitM, float64(m.zmax)*unitM
	}
	if m.n == 0 {
		return f
	}
	n := int64(m.n)
	fn := float64(n)
	f.EM = (float64(col)+0.5)*o.CellM + float64(m.sx)/fn*unitM
	f.NM = (float64(row)+0.5)*o.CellM + float64(m.sy)/fn*unitM
	f.ZM = float64(m.sz) / fn * unitM
	f.TimeS = timeS
	f.AngleRad = float64(m.angle) / fn * angleStepRad
	const u2 = unitM * unitM
	xx, xy := central(m.sxx, m.sx, m.sx, n)*u2, central(m.sxy, m.sx, m.sy, n)*u2
	yy := central(m.syy, m.sy, m.sy, n) * u2
	f.VarE, f.CovEN, f.VarN = xx/fn, xy/fn, yy/fn
	half := (f.VarE + f.VarN) / 2
	small := half - math.Hypot((f.VarE-f.VarN)/2, f.CovEN)
	if n < 3 || !(small > minSpread*minSpread*o.CellM*o.CellM) {
		return f
	}
	xz, yz := central(m.sxz, m.sx, m.sz, n)*u2, central(m.syz, m.sy, m.sz, n)*u2
	det := xx*yy - xy*xy
	f.SlopeE = (xz*yy - yz*xy) / det
	f.SlopeN = (yz*xx - xz*xy) / det
	f.Plane = true
	if n > 3 {
		v := central(m.szz, m.sz, m.sz, n)*u2 - f.SlopeE*xz - f.SlopeN*yz
		f.RoughM = math.Sqrt(max(v, 0) / float64(n-3))
	}
	return f
}

const angleStepRad = 0.006 * math.Pi / 180

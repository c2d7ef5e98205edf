package control

import "math"

// plane is a least squares plane z = a x + b y + c through vertices, x and y from the
// surveyed point.
type plane struct {
	a, b, c float64 // gradient east, gradient north, height at the origin
	rmsM    float64 // residual, n-3
	sigmaM  float64 // standard deviation of c
	n       int
	ok      bool
}

// fitPlane fits the vertices within radiusM of the origin. ok is false for fewer than four
// of them or when they lie in a line.
func fitPlane(v []vertex, radiusM float64) plane {
	var p plane
	var n, sx, sy, sz float64
	for _, q := range v {
		if lift(q) <= radiusM*radiusM {
			n, sx, sy, sz = n+1, sx+q.x, sy+q.y, sz+q.z
		}
	}
	p.n = int(n)
	if p.n < 4 {
		return p
	}
	mx, my, mz := sx/n, sy/n, sz/n
	var xx, xy, yy, xz, yz float64
	for _, q := range v {
		if lift(q) <= radiusM*radiusM {
			x, y, z := q.x-mx, q.y-my, q.z-mz
			xx, xy, yy, xz, yz = xx+x*x, xy+x*y, yy+y*y, xz+x*z, yz+y*z
		}
	}
	det := xx*yy - xy*xy
	if det <= 1e-6*(xx+yy)*(xx+yy) {
		return p
	}
	p.a = (xz*yy - yz*xy) / det
	p.b = (yz*xx - xz*xy) / det
	p.c = mz - p.a*mx - p.b*my
	ss := 0.0
	for _, q := range v {
		if lift(q) <= radiusM*radiusM {
			r := p.residual(q)
			ss += r * r
		}
	}
	p.rmsM = math.Sqrt(ss / (n - 3))
	p.sigmaM = p.rmsM * math.Sqrt(1/n+(mx*mx*yy-2*mx*my*xy+my*my*xx)/det)
	p.ok = true
	return p
}

// residual is the height of q over the plane.
func (p *plane) residual(q vertex) float64 { return q.z - (p.a*q.x + p.b*q.y + p.c) }

// slopePct is the steepest slope of the plane, per cent.
func (p *plane) slopePct() float64 { return 100 * math.Hypot(p.a, p.b) }

// edge is a vertical step in a sloping plane: z = a x + b y + c + h [ x cos t + y sin t > d ].
type edge struct {
	heightM float64 // h, positive
	shareOf float64 // share of the plane's residual variance that the step explains
}

// findEdge looks for a step within radiusM of the origin: the direction and offset, of a
// fixed set, that explain most. It needs 12 points, 4 on each side.
func findEdge(v []vertex, radiusM float64) (best edge) {
	p := fitPlane(v, radiusM)
	if !p.ok || p.rmsM == 0 || p.n < 12 {
		return best
	}
	steps := newStepFit(v, radiusM, &p)
	total := p.rmsM * p.rmsM * float64(p.n-3)
	angle, offset := 0.0, 0.0
	try := func(a, d, stepM float64, n int) { // offsets d-n*stepM ... d+n*stepM
		sin, cos := math.Sincos(a)
		var sides [maxOffsets + 1]side
		steps.project(sides[:2*n+2], cos, sin, d-float64(n)*stepM, stepM)
		var beyond side
		for j := 2 * n; j >= 0; j-- {
			beyond.add(sides[j+1])
			h, gain, ok := steps.gain(beyond)
			if ok && gain/total > best.shareOf {
				best, angle, offset = edge{math.Abs(h), gain / total}, a, d+float64(j-n)*stepM
			}
		}
	}
	for k := range 12 {
		try(float64(k)*math.Pi/12, 0, radiusM/5, 3)
	}
	if best.shareOf < 0.3 {
		return best
	}
	a, d := angle, offset // an offset a tenth of the radius off flattens the step: refine
	for k := -2; k <= 2; k++ {
		try(a+float64(k)*math.Pi/60, d, radiusM/40, 4)
	}
	return best
}

// stepFit fits steps to the residuals of a plane fit. What does not depend on the step is summed once.
type stepFit struct {
	v          []vertex // z is the residual
	mx, my     float64  // mean place
	xx, xy, yy float64  // second moments about it, sums
}

func newStepFit(v []vertex, radiusM float64, p *plane) *stepFit {
	f := &stepFit{v: make([]vertex, 0, p.n)}
	for _, q := range v {
		if lift(q) <= radiusM*radiusM {
			f.v = append(f.v, vertex{q.x, q.y, p.residual(q)})
			f.mx, f.my = f.mx+q.x, f.my+q.y
		}
	}
	n := float64(len(f.v))
	f.mx, f.my = f.mx/n, f.my/n
	for _, q := range f.v {
		x, y := q.x-f.mx, q.y-f.my
		f.xx, f.xy, f.yy = f.xx+x*x, f.xy+x*y, f.yy+y*y
	}
	return f
}

// maxOffsets is the largest number of offsets that findEdge tries at a time.
const maxOffsets = 9

// side holds sums over the points on one side of a line: their number, places about the mean, residuals.
type side struct{ n, x, y, r float64 }

func (s *side) add(o side) { s.n, s.x, s.y, s.r = s.n+o.n, s.x+o.x, s.y+o.y, s.r+o.r }

// project adds the points to sides, by how far they lie along a direction: sides[k] has those between the k-th offset of
// firstM, firstM+stepM, ... and the one before it, the last those beyond all.
func (f *stepFit) project(sides []side, cos, sin, firstM, stepM float64) {
	last := float64(len(sides) - 1)
	for _, q := range f.v {
		k := (q.x*cos + q.y*sin - firstM) / stepM
		at := &sides[int(min(max(math.Ceil(k), 0), last))]
		at.n++
		at.x += q.x - f.mx
		at.y += q.y - f.my
		at.r += q.z
	}
}

// gain fits the step h at the line that the points of s lie beyond, and returns by how much the sum of squares falls.
// The step's column is made orthogonal to the plane's; the residuals are so already.
func (f *stepFit) gain(s side) (h, gain float64, ok bool) {
	n := float64(len(f.v))
	up, sx, sy, ur := s.n, s.x, s.y, s.r
	det := f.xx*f.yy - f.xy*f.xy
	if up < 4 || n-up < 4 || det <= 1e-6*(f.xx+f.yy)*(f.xx+f.yy) {
		return 0, 0, false
	}
	a, b := (sx*f.yy-sy*f.xy)/det, (sy*f.xx-sx*f.xy)/det
	uu := up*(1-up/n) - a*sx - b*sy
	if uu <= 1e-9*n {
		return 0, 0, false
	}
	return ur / uu, ur * ur / uu, true
}

package control

import "math"

// vertex is a return relative to the surveyed point, in metres.
type vertex struct{ x, y, z float64 }

// facetAt returns the triangle of the Delaunay triangulation of v that holds the origin.
// ok is false when the points do not enclose the origin.
//
// The Delaunay triangulation is the lower hull of the points lifted to x^2+y^2. The triangle
// over the origin is therefore the one whose lifted plane is highest at the origin among planes
// with no point below them, and a walk finds it without the rest of the mesh: take any triangle around the
// origin, find the point farthest below its lifted plane, put it in the place of the corner that
// leaves the origin enclosed, repeat. The plane's height at the origin falls with each step.
// The caller keeps the origin off the points and off the lines between them (see offGridM).
func facetAt(v []vertex) (tri [3]int, ok bool) {
	tri, ok = enclosing(v)
	if !ok {
		return tri, false
	}
	for range 10*len(v) + 100 {
		a, b, c, solvable := plane3(v[tri[0]], v[tri[1]], v[tri[2]], lift)
		if !solvable {
			return tri, false
		}
		worst, below := -1, -1e-9*(1+math.Abs(c))
		for i, p := range v {
			if d := lift(p) - (a*p.x + b*p.y + c); d < below {
				worst, below = i, d
			}
		}
		if worst < 0 {
			return tri, true
		}
		if !replaceCorner(v, &tri, worst) {
			return tri, true
		}
	}
	return tri, true
}

// lift is the height of a point on the paraboloid.
func lift(p vertex) float64 { return p.x*p.x + p.y*p.y }

// plane3 solves h = a x + b y + c through three points; false when they are in line.
func plane3(p, q, r vertex, height func(vertex) float64) (a, b, c float64, ok bool) {
	x1, y1, x2, y2 := q.x-p.x, q.y-p.y, r.x-p.x, r.y-p.y
	h0, h1, h2 := height(p), height(q)-height(p), height(r)-height(p)
	det := x1*y2 - x2*y1
	if math.Abs(det) <= 1e-12*(math.Abs(x1*y2)+math.Abs(x2*y1)) || det == 0 {
		return 0, 0, 0, false
	}
	a = (h1*y2 - h2*y1) / det
	b = (x1*h2 - x2*h1) / det
	return a, b, h0 - a*p.x - b*p.y, true
}

// replaceCorner puts point p in the place of the corner that keeps the origin inside.
func replaceCorner(v []vertex, tri *[3]int, p int) bool {
	best, bestMargin := -1, math.Inf(-1)
	for k := range 3 {
		t := *tri
		t[k] = p
		if m := margin(v[t[0]], v[t[1]], v[t[2]]); m > bestMargin {
			best, bestMargin = k, m
		}
	}
	if best < 0 || bestMargin < -1e-12 {
		return false
	}
	tri[best] = p
	return true
}

// margin is the smallest barycentric coordinate of the origin: not negative when the triangle
// holds it, minus infinity for a triangle without area.
func margin(p, q, r vertex) float64 {
	d := cross(q, p, r)
	if d == 0 {
		return math.Inf(-1)
	}
	o := vertex{}
	return min(cross(q, o, r)/d, cross(r, o, p)/d, cross(p, o, q)/d)
}

// cross is twice the signed area of the triangle a, b, c, with b as its apex.
func cross(a, b, c vertex) float64 { return (a.x-b.x)*(c.y-b.y) - (a.y-b.y)*(c.x-b.x) }

// enclosing returns some triangle of points around the origin. The nearest point and the ray
// opposite to it split the others: the two that lie closest to that ray on its two sides close the triangle.
func enclosing(v []vertex) (tri [3]int, ok bool) {
	if len(v) < 3 {
		return tri, false
	}
	first := 0
	for i, p := range v {
		if lift(p) < lift(v[first]) {
			first = i
		}
	}
	ux, uy := v[first].x, v[first].y
	left, right := -1, -1
	leftAngle, rightAngle := math.Inf(1), math.Inf(1)
	for i, p := range v {
		if i == first {
			continue
		}
		// angle from the opposite ray, counter-clockwise positive
		angle := math.Atan2(-ux*p.y+uy*p.x, -ux*p.x-uy*p.y)
		if angle >= 0 && angle < leftAngle {
			left, leftAngle = i, angle
		}
		if angle <= 0 && -angle < rightAngle && i != left {
			right, rightAngle = i, -angle
		}
	}
	if left < 0 || right < 0 {
		return tri, false
	}
	tri = [3]int{first, left, right}
	return tri, margin(v[first], v[left], v[right]) >= -1e-12
}

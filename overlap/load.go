package overlap

import (
	"math"
	"slices"

	"sidelap/las"
)

// pointView is a chunk with its columns resolved: absent columns have their
// neutral values.
type pointView struct {
	c                   *las.Chunk
	hasRet, hasFlags    bool
	hasClass, hasSource bool
	hasChannel, hasTime bool
	hasAngle            bool
	ax, bx, ay, by      float64 // stored integer to units, with half a unit for rounding
	az, bz              float64
	sane                bool // no stored integer makes an absurd place, heights apart
}

func view(c *las.Chunk) pointView {
	f := c.Frame
	h, v := f.HorizontalM*unitsPerM, f.VerticalM*unitsPerM
	p := pointView{
		c:      c,
		hasRet: len(c.ReturnNumber) >= c.N && len(c.NumReturns) >= c.N, hasFlags: len(c.Flags) >= c.N,
		hasClass: len(c.Class) >= c.N, hasSource: len(c.Source) >= c.N,
		hasChannel: len(c.Channel) >= c.N, hasTime: len(c.GPSTime) >= c.N,
		hasAngle: len(c.ScanAngle) >= c.N,
		ax:       f.Scale[0] * h, bx: f.Offset[0]*h + 0.5,
		ay: f.Scale[1] * h, by: f.Offset[1]*h + 0.5,
		az: f.Scale[2] * v, bz: f.Offset[2]*v + 0.5,
	}
	most := func(a, b float64) float64 { return math.Abs(a)*(1<<31) + math.Abs(b) }
	p.sane = most(p.ax, p.bx) < maxCoordM*unitsPerM && most(p.ay, p.by) < maxCoordM*unitsPerM
	return p
}

// load fills the block with points lo..hi-1 of a chunk, but those that are left out.
func (a *Accumulator) load(v *pointView, lo, hi int) {
	b := &a.b
	b.n = hi - lo
	c := v.c
	b.columns(v, lo, hi)
	keep := a.kinds(v, lo, hi)
	if v.sane && v.saneHeights(c.Z[lo:hi]) {
		scaled(&b.e, c.X[lo:hi], v.ax, v.bx)
		scaled(&b.no, c.Y[lo:hi], v.ay, v.by)
		scaledHeights(&b.z, c.Z[lo:hi], v.az, v.bz)
	} else {
		keep = a.scaledWithCare(v, lo, hi) && keep
	}
	if !keep {
		b.squeeze()
	}
	b.uniform = uniform(b.source) && uniform(b.chans)
}

// uniform reports whether all values are the same: each is its neighbour's, by one comparison of memory.
func uniform[T uint8 | uint16](v []T) bool {
	return len(v) < 2 || slices.Equal(v[1:], v[:len(v)-1])
}

// saneHeights reports whether no height is absurd: neither the lowest nor the highest.
func (v *pointView) saneHeights(z []int32) bool {
	lo, hi := z[0], z[0]
	for _, h := range z {
		lo, hi = min(lo, h), max(hi, h)
	}
	return math.Abs(float64(lo)*v.az+v.bz) < (maxHeightM-1)*unitsPerM && math.Abs(float64(hi)*v.az+v.bz) < (maxHeightM-1)*unitsPerM
}

// kinds fills the kinds of the points and reports whether all are kept.
func (a *Accumulator) kinds(v *pointView, lo, hi int) bool {
	b, c := &a.b, v.c
	kind := b.kind[:hi-lo]
	if v.hasRet {
		rn, nr := c.ReturnNumber[lo:hi], c.NumReturns[lo:hi]
		rn, nr = rn[:len(kind)], nr[:len(kind)]
		for i := range kind {
			kind[i] = kindOfReturn[min(nr[i], 15)<<4|min(rn[i], 15)]
		}
	} else {
		for i := range kind {
			kind[i] = kindFirst | kindFacet | kindSingle | kindKeep
		}
	}
	all := uint8(kindKeep)
	if v.hasFlags {
		flags := c.Flags[lo:hi][:len(kind)]
		for i := range kind {
			if flags[i]&las.FlagWithheld != 0 {
				a.counts.Withheld++
				kind[i], all = 0, 0
			}
		}
	}
	if v.hasClass {
		class := c.Class[lo:hi][:len(kind)]
		for i := range kind {
			k := kind[i] & a.classKind[class[i]]
			all &= k
			kind[i] = k
		}
	} else if !a.facet[0] {
		for i := range kind {
			kind[i] &^= kindFacet
		}
	}
	if all != 0 {
		return true
	}
	if v.hasClass {
		for i, class := range c.Class[lo:hi] {
			if (class == 7 || class == 18) && !(v.hasFlags && c.Flags[lo+i]&las.FlagWithheld != 0) {
				a.counts.Noise++
			}
		}
	}
	return false
}

// classKinds is the mask of kinds that a class leaves.
func classKinds(facet *[256]bool) (t [256]uint8) {
	for c := range t {
		t[c] = kindKeep | kindFirst | kindSingle
		if facet[c] {
			t[c] |= kindFacet
		}
	}
	t[7], t[18] = 0, 0
	return t
}

// scaled turns stored integers into units.
func scaled(dst *[blockPoints]int64, src []int32, a, b float64) {
	out := dst[:len(src)]
	for i := range out {
		out[i] = floor(float64(float64(src[i])*a) + b)
	}
}

func scaledHeights(dst *[blockPoints]int32, src []int32, a, b float64) {
	out := dst[:len(src)]
	for i := range out {
		out[i] = int32(floor(float64(float64(src[i])*a) + b))
	}
}

func floor(f float64) int64 {
	q := int64(f)
	if f < float64(q) {
		q--
	}
	return q
}

// scaledWithCare is scaled for frames that may make absurd coordinates; points with such are not kept. It
// reports whether there were none.
func (a *Accumulator) scaledWithCare(v *pointView, lo, hi int) (keep bool) {
	b, c := &a.b, v.c
	keep = true
	for k := range hi - lo {
		if b.kind[k] == 0 {
			continue
		}
		i := lo + k
		e := float64(float64(c.X[i])*v.ax) + v.bx
		n := float64(float64(c.Y[i])*v.ay) + v.by
		z := float64(float64(c.Z[i])*v.az) + v.bz
		if !(math.Abs(e) < maxCoordM*unitsPerM && math.Abs(n) < maxCoordM*unitsPerM && math.Abs(z) < maxHeightM*unitsPerM) {
			a.counts.Absurd++
			b.kind[k], keep = 0, false
			continue
		}
		b.e[k], b.no[k], b.z[k] = floor(e), floor(n), int32(floor(z))
	}
	return keep
}

// columns points the other columns at the chunk's, or at neutral values.
func (b *batch) columns(v *pointView, lo, hi int) {
	c, n := v.c, hi-lo
	if v.hasTime {
		b.time = c.GPSTime[lo:hi]
	} else {
		b.time = b.own.time[:n]
		for i := range b.time {
			b.time[i] = math.NaN()
		}
	}
	b.angle = column(c.ScanAngle, b.own.angle[:n], v.hasAngle, lo)
	b.source = column(c.Source, b.own.source[:n], v.hasSource, lo)
	b.chans = column(c.Channel, b.own.chans[:n], v.hasChannel, lo)
}

func column[T any](from, own []T, has bool, lo int) []T {
	if has {
		return from[lo : lo+len(own)]
	}
	clear(own)
	return own
}

// squeeze moves the points that are kept together.
func (b *batch) squeeze() {
	n := 0
	for i := range b.n {
		if b.kind[i] == 0 {
			continue
		}
		b.e[n], b.no[n], b.z[n], b.kind[n] = b.e[i], b.no[i], b.z[i], b.kind[i]
		b.own.time[n], b.own.angle[n], b.own.source[n], b.own.chans[n] = b.time[i], b.angle[i], b.source[i], b.chans[i]
		n++
	}
	b.time, b.angle, b.source, b.chans = b.own.time[:n], b.own.angle[:n], b.own.source[:n], b.own.chans[:n]
	b.n = n
}

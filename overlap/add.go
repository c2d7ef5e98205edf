package overlap

import (
	"math"

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
}

func view(c *las.Chunk) pointView {
	f := c.Frame
	h, v := f.HorizontalM*unitsPerM, f.VerticalM*unitsPerM
	return pointView{
		c:      c,
		hasRet: len(c.ReturnNumber) >= c.N && len(c.NumReturns) >= c.N, hasFlags: len(c.Flags) >= c.N,
		hasClass: len(c.Class) >= c.N, hasSource: len(c.Source) >= c.N,
		hasChannel: len(c.Channel) >= c.N, hasTime: len(c.GPSTime) >= c.N,
		hasAngle: len(c.ScanAngle) >= c.N,
		ax:       f.Scale[0] * h, bx: f.Offset[0]*h + 0.5,
		ay: f.Scale[1] * h, by: f.Offset[1]*h + 0.5,
		az: f.Scale[2] * v, bz: f.Offset[2]*v + 0.5,
	}
}

// point is what Add needs of one point.
type point struct {
	e, n, z     int64
	src         source
	timeS       float64
	angle       int16
	first, last bool
	single      bool
}

// Add accumulates a chunk of file number file (any numbering that is the same
// for all accumulators to be merged). The chunk is not kept.
func (a *Accumulator) Add(c *las.Chunk, file int) {
	v := view(c)
	tan := tangents()
	src := source{file: int32(file)}
	a.counts.Points += int64(c.N)
	for i := range c.N {
		var class uint8
		if v.hasClass {
			class = c.Class[i]
		}
		if v.hasFlags && c.Flags[i]&las.FlagWithheld != 0 {
			a.counts.Withheld++
			continue
		}
		if class == 7 || class == 18 {
			a.counts.Noise++
			continue
		}
		e := float64(float64(c.X[i])*v.ax) + v.bx
		n := float64(float64(c.Y[i])*v.ay) + v.by
		z := float64(float64(c.Z[i])*v.az) + v.bz
		if !(math.Abs(e) < maxCoordM*unitsPerM && math.Abs(n) < maxCoordM*unitsPerM && math.Abs(z) < maxHeightM*unitsPerM) {
			a.counts.Absurd++
			continue
		}
		p := point{e: floor(e), n: floor(n), z: floor(z), first: true, last: true, single: true}
		if v.hasRet {
			r, of := c.ReturnNumber[i], c.NumReturns[i]
			p.first, p.last, p.single = r <= 1, r >= of, of <= 1 && r <= 1
		}
		p.last = p.last && a.facet[class]
		if v.hasSource {
			src.id = c.Source[i]
		}
		if v.hasChannel {
			src.channel = c.Channel[i]
		}
		if v.hasAngle {
			p.angle = c.ScanAngle[i]
		}
		p.src, p.timeS = src, math.NaN()
		if v.hasTime {
			p.timeS = c.GPSTime[i]
		}
		a.add(&p, tan)
	}
}

func floor(f float64) int64 {
	q := int64(f)
	if f < float64(q) {
		q--
	}
	return q
}

func (a *Accumulator) add(p *point, tan *[2*maxTanStep + 1]int32) {
	s := a.segmentOf(p)
	s.points++
	x, y := p.e-a.last.e, p.n-a.last.n
	m := a.last.m
	if s != a.last.s || uint64(x) >= uint64(a.cell) || uint64(y) >= uint64(a.cell) {
		var col, row int32
		col, row, x, y = a.cellOf(p)
		m = a.momentsOf(s, col, row)
		a.last = lastCell{s, m, p.e - x, p.n - y}
	}
	if !p.single {
		m.multi++
	}
	if !p.first && !p.last {
		return
	}
	s.extend(p.e, p.n, p.z)
	if p.first {
		a.counts.First++
		s.first++
		m.first++
		m.occupied |= 1 << a.subCell(x, y)
	}
	if p.last {
		a.counts.Facet++
		a.addFacetPoint(s, m, p, x-a.cell/2, y-a.cell/2, tan)
	}
}

// cellOf returns the cell of a point and its place in the cell, from the
// cell's south-west corner.
func (a *Accumulator) cellOf(p *point) (col, row int32, x, y int64) {
	if a.pow2 {
		mask := a.cell - 1
		return int32(p.e >> a.shift), int32(p.n >> a.shift), p.e & mask, p.n & mask
	}
	c, r := floorDiv(p.e, a.cell), floorDiv(p.n, a.cell)
	return int32(c), int32(r), p.e - c*a.cell, p.n - r*a.cell
}

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

func (a *Accumulator) subCell(x, y int64) uint {
	k := int64(a.o.SubCells)
	if a.pow2 {
		return uint((y*k)>>a.shift*k + (x*k)>>a.shift)
	}
	return uint(y*k/a.cell*k + x*k/a.cell)
}

func (a *Accumulator) addFacetPoint(s *segment, m *moments, p *point, x, y int64, tan *[2*maxTanStep + 1]int32) {
	m.n++
	m.sx += x
	m.sy += y
	m.sz += p.z
	m.sxx += uint64(x * x)
	m.sxy += uint64(x * y)
	m.syy += uint64(y * y)
	m.sxz += uint64(x * p.z)
	m.syz += uint64(y * p.z)
	m.szz += uint64(p.z * p.z)
	m.angle += int64(p.angle)
	if p.single {
		m.single++
		if z := int32(p.z); z < m.zmin {
			m.zmin = z
		}
		if z := int32(p.z); z > m.zmax {
			m.zmax = z
		}
	}
	s.last++
	s.sE += uint64(p.e)
	s.sN += uint64(p.n)
	s.sA += int64(p.angle)
	i := max(min(int(p.angle), maxTanStep), -maxTanStep) + maxTanStep
	t := int64(tan[i])
	s.sT += t
	s.sTT += uint64(t * t)
	s.sET += uint64(t) * uint64(p.e)
	s.sNT += uint64(t) * uint64(p.n)
	if s.key.index != noTime {
		k := int64((p.timeS-s.startS)*1e4 + 0.5)
		m.ticks += k
		s.sS += k
		s.sSS += uint64(k * k)
		s.sST += uint64(k * t)
		s.sES += uint64(k) * uint64(p.e)
		s.sNS += uint64(k) * uint64(p.n)
	}
}

func (a *Accumulator) segmentOf(p *point) *segment {
	if s := a.last.s; s != nil && p.timeS > s.loS && p.timeS < s.hiS && s.key.source == p.src {
		if p.timeS < s.tMin {
			s.tMin = p.timeS
		}
		if p.timeS > s.tMax {
			s.tMax = p.timeS
		}
		return s
	}
	index := timeIndex(p.timeS, a.o.SegmentS)
	if index == noTime {
		a.counts.NoTime++
	}
	h := (uint64(index)*7 + uint64(p.src.id)*5 + uint64(p.src.channel)*11 + uint64(p.src.file)*13) & 63
	s := a.recent[h]
	if s == nil || s.key.index != index || s.key.source != p.src {
		s = a.segment(segmentKey{p.src, index})
		a.recent[h] = s
	}
	if index != noTime {
		s.tMin, s.tMax = min(s.tMin, p.timeS), max(s.tMax, p.timeS)
	}
	return s
}

// borderS is the distance from a segment's borders within which timeIndex decides
// by its own rounding: GPS times reach 4e9 s, where doubles are 5e-7 s apart.
const borderS = 1e-5

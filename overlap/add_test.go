package overlap

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"sidelap/las"
)

// addPlainly adds a chunk point by point, as the definitions of the sums read. It is what Add is compared with.
func (a *Accumulator) addPlainly(c *las.Chunk, file int) {
	f := c.Frame
	a.counts.Points += int64(c.N)
	units := func(v int32, scale, offset, m, limitM float64) (int64, bool) {
		u := float64(float64(v)*(scale*(m*unitsPerM))) + (offset*(m*unitsPerM) + 0.5)
		return int64(math.Floor(u)), math.Abs(u) < limitM*unitsPerM
	}
	for i := range c.N {
		var class uint8
		if len(c.Class) > 0 {
			class = c.Class[i]
		}
		if len(c.Flags) > 0 && c.Flags[i]&las.FlagWithheld != 0 {
			a.counts.Withheld++
			continue
		}
		if class == 7 || class == 18 {
			a.counts.Noise++
			continue
		}
		e, okE := units(c.X[i], f.Scale[0], f.Offset[0], f.HorizontalM, maxCoordM)
		n, okN := units(c.Y[i], f.Scale[1], f.Offset[1], f.HorizontalM, maxCoordM)
		z, okZ := units(c.Z[i], f.Scale[2], f.Offset[2], f.VerticalM, maxHeightM)
		if !okE || !okN || !okZ {
			a.counts.Absurd++
			continue
		}
		first, last, single := true, true, true
		if len(c.ReturnNumber) > 0 {
			r, of := c.ReturnNumber[i], c.NumReturns[i]
			first, last, single = r <= 1, r >= of, of <= 1 && r <= 1
		}
		src, timeS, angle := source{file: int32(file)}, math.NaN(), int16(0)
		if len(c.Source) > 0 {
			src.id = c.Source[i]
		}
		if len(c.Channel) > 0 {
			src.channel = c.Channel[i]
		}
		if len(c.ScanAngle) > 0 {
			angle = c.ScanAngle[i]
		}
		if len(c.GPSTime) > 0 {
			timeS = c.GPSTime[i]
		}
		s := a.segment(segmentKey{src, timeIndex(timeS, a.o.SegmentS)})
		s.points++
		if s.key.index == noTime {
			a.counts.NoTime++
		} else {
			s.tMin, s.tMax = min(s.tMin, timeS), max(s.tMax, timeS)
		}
		a.sumPlainly(s, e, n, z, angle, timeS, first, last && a.facet[class], single)
	}
}

func (a *Accumulator) sumPlainly(s *segment, e, n, z int64, angle int16, timeS float64, first, facet, single bool) {
	col, row := floorDiv(e, a.cell), floorDiv(n, a.cell)
	m := a.momentsOf(s, int32(col), int32(row))
	x, y := e-col*a.cell, n-row*a.cell
	if !single {
		m.multi++
	}
	if !first && !facet {
		return
	}
	s.eMin, s.eMax = min(s.eMin, e), max(s.eMax, e)
	s.nMin, s.nMax = min(s.nMin, n), max(s.nMax, n)
	s.zMin, s.zMax = min(s.zMin, z), max(s.zMax, z)
	if first {
		a.counts.First++
		s.first++
		m.first++
		k := int64(a.o.SubCells)
		m.occupied |= 1 << uint(y*k/a.cell*k+x*k/a.cell)
	}
	if !facet {
		return
	}
	a.counts.Facet++
	x, y = x-a.cell/2, y-a.cell/2
	m.n++
	m.sx, m.sy, m.sz = m.sx+x, m.sy+y, m.sz+z
	m.sxx, m.sxy, m.syy = m.sxx+uint64(x*x), m.sxy+uint64(x*y), m.syy+uint64(y*y)
	m.sxz, m.syz, m.szz = m.sxz+uint64(x*z), m.syz+uint64(y*z), m.szz+uint64(z*z)
	m.angle += int64(angle)
	if single {
		m.single++
		m.zmin, m.zmax = min(m.zmin, int32(z)), max(m.zmax, int32(z))
	}
	s.last++
	t := int64(math.Round(math.Tan(float64(max(min(int(angle), maxTanStep), -maxTanStep))*0.006*math.Pi/180) * unitsPerM))
	s.sE, s.sN, s.sA = s.sE+uint64(e), s.sN+uint64(n), s.sA+int64(angle)
	s.sT, s.sTT, s.sET, s.sNT = s.sT+t, s.sTT+uint64(t*t), s.sET+uint64(t*e), s.sNT+uint64(t*n)
	if s.key.index != noTime {
		k := int64((timeS-s.startS)*1e4 + 0.5)
		m.ticks += k
		s.sS, s.sSS, s.sST = s.sS+k, s.sSS+uint64(k*k), s.sST+uint64(k*t)
		s.sES, s.sNS = s.sES+uint64(k*e), s.sNS+uint64(k*n)
	}
}

// randomChunk returns points in runs of neighbours, with all that is odd in real files now and then.
func randomChunk(r *rand.Rand, n int, frame *las.Frame) *las.Chunk {
	c := &las.Chunk{Frame: frame, N: n}
	odd := func(one int) bool { return r.IntN(one) == 0 }
	x, y, t := int32(r.IntN(20000)), int32(r.IntN(20000)), 4e8+float64(r.IntN(3))
	source, channel := uint16(1), uint8(0)
	for range n {
		x, y, t = x+int32(r.IntN(200)), y+int32(r.IntN(60)-30), t+2e-4*r.Float64()
		switch {
		case odd(40):
			x = int32(r.IntN(20000))
		case odd(500):
			x = math.MaxInt32 - int32(r.IntN(2))
		case odd(500):
			source, channel = uint16(r.IntN(3)), uint8(r.IntN(2))
		}
		when := t
		switch {
		case odd(100):
			when = math.Floor(t)
		case odd(300):
			when = []float64{math.NaN(), math.Inf(1), 5e9, -1, 0}[r.IntN(5)]
		}
		of := uint8(1 + r.IntN(3)*r.IntN(2))
		flags := uint8(0)
		if odd(100) {
			flags = las.FlagWithheld
		}
		c.X, c.Y, c.Z = append(c.X, x), append(c.Y, y), append(c.Z, int32(r.IntN(5000)-1000))
		c.ReturnNumber, c.NumReturns = append(c.ReturnNumber, uint8(r.IntN(int(of)+1))), append(c.NumReturns, of)
		c.Flags, c.Channel, c.Class = append(c.Flags, flags), append(c.Channel, channel), append(c.Class, []uint8{2, 2, 2, 2, 1, 5, 7, 18, 6}[r.IntN(9)])
		c.ScanAngle, c.Source, c.GPSTime = append(c.ScanAngle, int16(r.IntN(65536)-32768)), append(c.Source, source), append(c.GPSTime, when)
	}
	return c
}

func takeTurns(c *las.Chunk, n int) {
	for i := range c.Source {
		c.Source[i] = uint16(i % n)
	}
}

// TestAddPlainly is a property: adding in blocks gives the very sums of adding point by point.
func TestAddPlainly(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 1))
	frames := []las.Frame{
		{Scale: [3]float64{0.001, 0.001, 0.001}, Offset: [3]float64{-10, 5e6, 100}, HorizontalM: 1, VerticalM: 1},
		{Scale: [3]float64{0.01, 0.01, 0.01}, Offset: [3]float64{2e6, -3, 0}, HorizontalM: 1200. / 3937, VerticalM: 0.3048},
		{Scale: [3]float64{0.1, 0.05, 0.01}, HorizontalM: 1, VerticalM: 1}, // the last millimetres are absurd
		{Scale: [3]float64{math.NaN(), 1, 1}, HorizontalM: 1, VerticalM: 1},
	}
	options := []Options{
		{CellM: 1, SegmentS: 1, SubCells: 4, Classified: true},
		{CellM: 0.7, SegmentS: 0.5, SubCells: 8},
		{CellM: 3, SegmentS: 1, SubCells: 1, Classes: []uint8{5, 7}},
	}
	drop := []func(c *las.Chunk){
		func(*las.Chunk) {},
		func(c *las.Chunk) { c.GPSTime = nil },
		func(c *las.Chunk) { clear(c.GPSTime) },
		func(c *las.Chunk) { c.ReturnNumber, c.NumReturns, c.Channel = nil, nil, nil },
		func(c *las.Chunk) { c.Class, c.Flags = nil, nil },
		func(c *las.Chunk) { c.Source, c.ScanAngle = nil, nil },
		func(c *las.Chunk) { takeTurns(c, 5) }, // as in files sorted by place
		func(c *las.Chunk) { takeTurns(c, 40) },
	}
	for i := range frames {
		for j, o := range options {
			for k := range drop {
				got, err := NewAccumulator(o)
				if err != nil {
					t.Fatal(err)
				}
				want, _ := NewAccumulator(o)
				for file := range 3 {
					c := randomChunk(r, 1+r.IntN(3000), &frames[i])
					drop[k](c)
					got.Add(c, file)
					want.addPlainly(c, file)
				}
				t.Run(fmt.Sprintf("frame=%d/options=%d/columns=%d", i, j, k), func(t *testing.T) { sameSums(t, got, want) })
			}
		}
	}
}

func sameSums(t *testing.T, got, want *Accumulator) {
	t.Helper()
	g, err := got.MarshalBinary()
	if err != nil {
		t.Fatal(err)
	}
	w, err := want.MarshalBinary()
	if err != nil {
		t.Fatal(err)
	}
	if got.counts != want.counts {
		t.Errorf("counts %+v, want %+v", got.counts, want.counts)
	}
	if !bytes.Equal(g, w) {
		t.Error("other sums than point by point")
	}
}

package overlap

import "math"

// tileSide is the number of cells along one side of a tile, the unit in which
// cells are looked up. 8 by 8 keeps a tile's slots in four cache lines.
const (
	tileBits = 3
	tileSide = 1 << tileBits
)

// moments are the sums of one cell in one time segment of one source.
//
// Coordinates are integers in units of 2^-14 m, x and y about the cell's centre,
// z absolute. All sums are integers modulo 2^64, so adding is exact and
// commutative. Second moments of absolute heights may wrap around; they become
// exact again when they are taken about the mean (central), because that value
// fits into 63 bits.
type moments struct {
	n                            uint32 // last returns that make the facet
	first                        uint32 // first returns, all classes but noise
	single                       uint32 // single returns among n
	multi                        uint32 // returns of pulses with several returns, all classes but noise
	zmin, zmax                   int32  // of the single returns among n
	sx, sy, sz                   int64
	sxx, sxy, syy, sxz, syz, szz uint64
	ticks                        int64  // sum of times since the segment's start, 0.1 ms
	angle                        int64  // sum of scan angles, las.ScanAngleStepDeg
	occupied                     uint64 // sub-cells with a first return, bit row*SubCells+col
}

func (m *moments) reset() { *m = moments{zmin: math.MaxInt32, zmax: math.MinInt32} }

func (m *moments) merge(b *moments) {
	m.n += b.n
	m.first += b.first
	m.single += b.single
	m.multi += b.multi
	m.zmin = min(m.zmin, b.zmin)
	m.zmax = max(m.zmax, b.zmax)
	m.sx += b.sx
	m.sy += b.sy
	m.sz += b.sz
	m.sxx += b.sxx
	m.sxy += b.sxy
	m.syy += b.syy
	m.sxz += b.sxz
	m.syz += b.syz
	m.szz += b.szz
	m.ticks += b.ticks
	m.angle += b.angle
	m.occupied |= b.occupied
}

// central returns sum (a-mean a)(b-mean b) from the sums of a, b and ab modulo
// 2^64, exactly up to the last conversion.
func central(sab uint64, sa, sb, n int64) float64 {
	ma, mb := divRound(sa, n), divRound(sb, n)
	c := int64(sab - uint64(ma)*uint64(sb) - uint64(mb)*uint64(sa) + uint64(n)*uint64(ma)*uint64(mb))
	ra, rb := sa-n*ma, sb-n*mb // |r| <= n/2
	return float64(c) - float64(ra)*float64(rb)/float64(n)
}

// divRound is a/n to the nearest integer, n > 0.
func divRound(a, n int64) int64 {
	q, r := a/n, a%n
	switch {
	case 2*r > n:
		q++
	case 2*r < -n:
		q--
	}
	return q
}

// tile holds the slots of 8 by 8 neighbouring cells of one segment; a slot is
// one more than the index of the cell's moments, 0 for an empty cell.
type tile struct {
	col, row int32 // of the tile: cell >> tileBits
	segment  int32
	slot     [tileSide * tileSide]uint32
}

// slab sizes: moments and tiles are allocated in blocks that never move.
const (
	momentSlabBits = 10
	tileSlabBits   = 7
)

type store struct {
	moments []*[1 << momentSlabBits]moments
	n       uint32 // moments in use
	tiles   []*[1 << tileSlabBits]tile
	nTiles  uint32
}

func (s *store) at(slot uint32) *moments {
	i := slot - 1
	return &s.moments[i>>momentSlabBits][i&(1<<momentSlabBits-1)]
}

func (s *store) newMoments() uint32 {
	if s.n>>momentSlabBits == uint32(len(s.moments)) {
		s.moments = append(s.moments, new([1 << momentSlabBits]moments))
	}
	s.n++
	s.at(s.n).reset()
	return s.n
}

func (s *store) tile(i uint32) *tile {
	return &s.tiles[i>>tileSlabBits][i&(1<<tileSlabBits-1)]
}

func (s *store) newTile(segment, col, row int32) *tile {
	if s.nTiles>>tileSlabBits == uint32(len(s.tiles)) {
		s.tiles = append(s.tiles, new([1 << tileSlabBits]tile))
	}
	t := s.tile(s.nTiles)
	s.nTiles++
	*t = tile{segment: segment, col: col, row: row}
	return t
}

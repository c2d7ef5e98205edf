package adjust

import (
	"math"
	"slices"

	"sidelap/overlap"
	"sidelap/trajectory"
)

// Options controls Diagnose. Start from DefaultOptions.
type Options struct {
	LeverM          Vec     // path's reference point to scanner, body axes; zero when the path is the scanner's
	BlockM          float64 // side of a block of ground; 0: from the extent of the overlaps
	MaxSlopeRad     float64 // steeper cells (walls, trunks) are left out; default 50 deg
	RelevantM       float64 // a cause that moves strips against each other by less is not named; twice as much for heights, drifts and roll of single strips, four times for their horizontal shifts; default 0.005
	MinExplainedPct float64 // a cause without which the squares on held-out ground grow by less is not named; default 0.3
	MinT            float64 // a cause whose estimate is less than this many standard deviations is not named; default 3.5
}

// DefaultOptions returns the defaults named in Options.
func DefaultOptions() Options {
	return Options{MaxSlopeRad: 50 * math.Pi / 180, RelevantM: 0.005, MinT: 3.5, MinExplainedPct: 0.3}
}

// Knowledge says what is known about where the sensor was and how it looked.
type Knowledge string

// The levels, best first. Levels a to e are those of docs/diagnosis.md.
const (
	FromPath     Knowledge = "path file with attitude"
	FromRays     Knowledge = "a: path recovered from pulses with several returns"
	FromAngles   Knowledge = "b: path recovered from scan angles and time"
	FromHeadings Knowledge = "d: strip headings, heights and scan angles"
	PairsOnly    Knowledge = "e: strips against each other only"
)

// doubt is the share by which the vector from the sensor to the ground may be wrong across and up: what was found with simulated flights (docs/path-from-points.md),
// on the safe side. Along the flight scan angles leave some 8 % of the height open, since nothing tells the pitch: that is the lean of the body, trimLeak.
func (k Knowledge) doubt() float64 {
	switch k {
	case FromPath:
		return 0
	case FromRays:
		return 0.02
	case FromAngles:
		return 0.05
	}
	return 0.1
}

// sighter tells how a strip saw a place.
type sighter struct {
	path   *trajectory.Path
	lever  Vec
	strips []overlap.Strip
	cellM  float64
	rates  bool       // the path knows how the body turns
	lines  []straight // without a path
}

// of returns the sight of a place by a strip, false when nothing is known about it.
func (s *sighter) of(strip int, timeS, eM, nM, zM, angleRad float64) (sight, bool) {
	if s.path != nil {
		if pose, ok := s.path.At(timeS); ok {
			v := sightFromPose(&pose, s.lever, Vec{eM, nM, zM})
			if pose.HasAttitude && s.rates {
				v.rates = s.meanRates(timeS, &pose)
			}
			return v, true
		}
	}
	st := &s.strips[strip]
	if !(st.HeightAGLM > 1) || math.IsNaN(st.HeadingRad) || math.Abs(angleRad) > 1.4 {
		return sight{}, false
	}
	speed := st.SpeedMPS
	if math.IsNaN(speed) {
		speed = 0
	}
	sin, cos := math.Sincos(st.HeadingRad)
	body := Vec{0, st.HeightAGLM * math.Tan(angleRad), st.HeightAGLM}
	if l := &s.lines[strip]; l.known {
		body[1], body[2] = eM*l.rightE+nM*l.rightN-l.acrossM, l.upM-zM
	}
	return sight{
		body:     body,
		toMap:    BodyToMap(0, 0, st.HeadingRad),
		velocity: Vec{speed * sin, speed * cos, 0},
	}, true
}

// meanRates returns the body rates averaged over the time that the strip takes to pass a cell: the plane of a cell
// averages the faster motion out.
func (s *sighter) meanRates(timeS float64, mid *trajectory.Pose) Vec {
	half := 0.5 * s.cellM / math.Max(mid.SpeedMPS, 1)
	a, okA := s.angles(timeS - half)
	b, okB := s.angles(timeS + half)
	if !okA || !okB {
		return Vec{mid.RollRateRadPS, mid.PitchRateRadPS, mid.YawRateRadPS}
	}
	roll := trajectory.WrapPi(b[0]-a[0]) / (2 * half)
	pitch := trajectory.WrapPi(b[1]-a[1]) / (2 * half)
	heading := trajectory.WrapPi(b[2]-a[2]) / (2 * half)
	// rates of the angles to rates about the body axes
	sr, cr := math.Sincos(mid.RollRad)
	sp, cp := math.Sincos(mid.PitchRad)
	return Vec{roll - sp*heading, cr*pitch + sr*cp*heading, -sr*pitch + cr*cp*heading}
}

// angles returns roll, pitch and heading of the path at a time, linear between its samples: enough for their change over a cell.
func (s *sighter) angles(timeS float64) (Vec, bool) {
	p := s.path
	i, found := slices.BinarySearch(p.TimeS, timeS)
	if found {
		return Vec{p.RollRad[i], p.PitchRad[i], p.HeadingRad[i]}, true
	}
	if i == 0 || i == len(p.TimeS) || p.TimeS[i]-p.TimeS[i-1] > p.Gap() {
		return Vec{}, false
	}
	u := (timeS - p.TimeS[i-1]) / (p.TimeS[i] - p.TimeS[i-1])
	between := func(v []float64) float64 { return v[i-1] + u*trajectory.WrapPi(v[i]-v[i-1]) }
	return Vec{between(p.RollRad), between(p.PitchRad), between(p.HeadingRad)}, true
}

func sightFromPose(p *trajectory.Pose, lever, ground Vec) sight {
	m := BodyToMap(p.RollRad, p.PitchRad, p.HeadingRad)
	sin, cos := math.Sincos(p.CourseRad)
	return sight{
		body:     m.MulT(ground.Sub(Vec{p.EM, p.NM, p.HM})).Sub(lever),
		toMap:    m,
		velocity: Vec{p.SpeedMPS * sin, p.SpeedMPS * cos, p.ClimbMPS},
		rates:    Vec{p.RollRateRadPS, p.PitchRateRadPS, p.YawRateRadPS},
	}
}

// usableCell reports whether a cell can be an equation: two sound planes; steep is welcome.
func usableCell(c *overlap.PairCell, maxSlope float64) bool {
	return c.Flag&^overlap.Steep == 0 && !math.IsNaN(c.DzM) && c.SigmaM > 0 && !math.IsInf(c.SigmaM, 0) &&
		math.Hypot(c.SlopeE, c.SlopeN) <= math.Tan(maxSlope)
}

// build turns the cells of all pairs into equations. It returns the weights that the planes
// themselves suggest, and for how many cells the sensor's place is not known; with a path these are left out.
func build(s *overlap.Survey, pairs []overlap.Pair, path *trajectory.Path, know Knowledge, o Options) (p *problem, base []float64, blind int) {
	rows := make([]row, 0, countCells(pairs))
	for pi := range pairs {
		for ci := range pairs[pi].Cells {
			if usableCell(&pairs[pi].Cells[ci], o.MaxSlopeRad) {
				rows = append(rows, row{pair: int32(pi), cell: int32(ci)})
			}
		}
	}
	look := &sighter{path, o.LeverM, s.Strips, s.Options.CellM, know == FromPath, straightLines(s.Strips, pairs, o.MaxSlopeRad)} // a recovered path holds no roll, and pitch as one number
	seen := make([]bool, len(rows))
	inParts(len(rows), func(_, from, to int) {
		for i := from; i < to; i++ {
			r := &rows[i]
			seen[i] = look.equation(r, &pairs[r.pair], &pairs[r.pair].Cells[r.cell])
		}
	})
	kept := rows[:0]
	for i := range rows {
		if !seen[i] {
			blind++
			if path != nil {
				continue
			}
		}
		kept = append(kept, rows[i])
	}
	base = make([]float64, len(kept))
	places := make([][2]float64, len(kept))
	for i := range kept {
		c := &pairs[kept[i].pair].Cells[kept[i].cell]
		places[i] = [2]float64{c.EM, c.NM}
		base[i] = 1 / (c.SigmaM*c.SigmaM + minSigmaM*minSigmaM)
	}
	blocks := assignBlocks(kept, places, o.BlockM, s.Options.CellM)
	p = newProblem(kept, len(s.Strips), blocks)
	p.level = path == nil || path.RollRad == nil || know == FromAngles
	p.doubt = know.doubt()
	return p, base, blind
}

// equation fills the row of a cell. It reports false when the sensor's place is not known: then only shifts of strips and their drift can
// explain the cell.
func (s *sighter) equation(r *row, pair *overlap.Pair, c *overlap.PairCell) bool {
	r.y, r.gE, r.gN, r.a, r.b = c.DzM, c.SlopeE, c.SlopeN, int32(pair.A), int32(pair.B)
	r.slopeVar = slopeVariance(c, s.cellM)
	r.timeA, r.timeB = within(&s.strips[pair.A], c.TimeAS), within(&s.strips[pair.B], c.TimeBS)
	nan := float32(math.NaN())
	r.acrossA, r.acrossB = nan, nan
	sa, okA := s.of(pair.A, c.TimeAS, c.EM, c.NM, c.ZAM, c.AngleA)
	sb, okB := s.of(pair.B, c.TimeBS, c.EM, c.NM, c.ZBM, c.AngleB)
	if !okA || !okB {
		return false
	}
	r.acrossA, r.acrossB = float32(sa.body[1]), float32(sb.body[1])
	for k := range globalKinds {
		r.global[k] = moveOf(sb.displacement(k).Sub(sa.displacement(k)))
	}
	r.rollA, r.rollB = moveOf(sa.displacement(BoresightRoll)), moveOf(sb.displacement(BoresightRoll))
	return true
}

// slopeVariance is the variance of the mean gradient of two planes through points spread evenly over a cell.
func slopeVariance(c *overlap.PairCell, cellM float64) float64 {
	spread := cellM * cellM / 12
	return (c.RoughAM*c.RoughAM/float64(c.NA) + c.RoughBM*c.RoughBM/float64(c.NB)) / (4 * spread)
}

// minSigmaM keeps single very smooth cells from ruling the fit.
const minSigmaM = 0.002

func countCells(pairs []overlap.Pair) int {
	n := 0
	for i := range pairs {
		n += len(pairs[i].Cells)
	}
	return n
}

// within maps a time to -1 at the start and 1 at the end of a strip.
func within(s *overlap.Strip, timeS float64) float64 {
	d := s.EndGPSS - s.StartGPSS
	if !(d > 0) || math.IsNaN(timeS) {
		return 0
	}
	return math.Max(-1, math.Min(1, 2*(timeS-s.StartGPSS)/d-1))
}

// assignBlocks deals the ground into square blocks. Neighbouring blocks fall into different folds.
// The side is at least ten cells, so that trajectory errors do not leak from one block into
// the next more than they must, and about a twelfth of the extent.
func assignBlocks(rows []row, places [][2]float64, sideM, cellM float64) int {
	if len(rows) == 0 {
		return 0
	}
	lo, hi := places[0], places[0]
	for _, p := range places {
		for d := range p {
			lo[d], hi[d] = math.Min(lo[d], p[d]), math.Max(hi[d], p[d])
		}
	}
	if sideM == 0 {
		sideM = math.Max(10*cellM, math.Max(hi[0]-lo[0], hi[1]-lo[1])/12)
	}
	type key struct{ c, r int }
	numbers := map[key]int32{}
	var count [folds]int32
	blocks := int32(0)
	for i, p := range places {
		k := key{int((p[0] - lo[0]) / sideM), int((p[1] - lo[1]) / sideM)}
		n, ok := numbers[k]
		if !ok {
			f := (k.c + 2*k.r) % folds
			n = folds*count[f] + int32(f)
			count[f]++
			numbers[k] = n
		}
		rows[i].block = n
		blocks = max(blocks, n+1)
	}
	return int(blocks)
}

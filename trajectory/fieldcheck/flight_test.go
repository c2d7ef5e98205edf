package fieldcheck

import (
	"bytes"
	"math"
	"slices"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"sidelap/trajectory"
	"sidelap/trajectory/geodesy"
	"sidelap/trajectory/internal/motion"
	"sidelap/trajectory/rinex"
)

// grid is a plane that touches the ellipsoid at 47.3 north, 11.2 east: enough for tests.
type grid struct{}

const (
	lat0, lon0 = 47.3 / deg, 11.2 / deg
	e0, n0     = 500_000.0, 5_300_000.0
	mPerLat    = 6_377_000.0
)

func (grid) Forward(lat, lon float64) (float64, float64, error) {
	return e0 + (lon-lon0)*mPerLat*math.Cos(lat0), n0 + (lat-lat0)*mPerLat, nil
}

func (grid) Inverse(e, n float64) (float64, float64, error) {
	return lat0 + (n-n0)/mPerLat, lon0 + (e-e0)/(mPerLat*math.Cos(lat0)), nil
}

func (grid) Convergence(_, _ float64) float64 { return 0 }

// script says how a test flight differs from a good one. The zero value is good.
type script struct {
	stillBefore, stillAfter   float64 // 0 = 45 s
	noEights, noRun, noReturn bool
	speeds                    map[int]float64 // speed of the second half of a strip, 1 = first
	skip                      map[int]bool    // strips not flown
	shift                     map[int]float64 // strip flown so far to the east of its line
	halfWidth                 float64         // of swaths; 0 = 32 m for lines 40 m apart: 37.5 % sidelap
	cloudSkip                 map[int]bool    // strips flown whose points are lost
	gaps                      map[int][]trajectory.Interval
	baseStart, baseEnd        float64 // seconds after the start and before the end of the recording; default -600
	baseStep                  float64
	noCross                   bool
}

const week = 2314 * trajectory.WeekS

// fly makes an input of five strips of 300 m, 40 m apart, and one across.
func fly(t testing.TB, s script, seed uint64) Input {
	t.Helper()
	or := func(v, d float64) float64 {
		if v == 0 {
			return d
		}
		return v
	}
	f := motion.New(345600, e0, n0, 400, seed)
	f.WindEMPS = 1
	if s.stillBefore >= 0 {
		f.Still(or(s.stillBefore, 45))
	}
	f.Climb(80, 3)
	if !s.noRun {
		f.Line(100, 7)
	}
	if !s.noEights {
		f.Eight(15, 6)
		f.Eight(15, 6)
	}
	var strips []Strip
	half := or(s.halfWidth, 32)
	line := func(id string, speed2 float64) {
		a := f.Now()
		e1, m1, _, course := f.Where()
		f.Line(150, 6)
		f.Line(150, or(speed2, 6))
		e2, m2, _, _ := f.Where()
		strips = append(strips, Strip{ID: id, StartS: a + 3.5, EndS: f.Now(), HeightAboveGroundM: 80, HeightSpreadM: 2, DensityPerM2: 120, GapsKnown: true, HeadingRad: course,
			Points: 500_000, Swath: band(e1, m1, e2, m2, half)})
	}
	for k := 1; k <= 5; k++ {
		if s.skip[k] {
			continue
		}
		e, n, course := e0+40*float64(k)+s.shift[k], n0+150.0, 0.0
		if k%2 == 0 {
			n, course = n+310, math.Pi
		}
		speed := 8.0
		if k == 1 && s.noRun { // slow enough to be no straight run
			speed = 4
		}
		f.Goto(e, n, speed)
		f.Yaw(course)
		line(string(rune('0'+k)), s.speeds[k])
	}
	if !s.noCross {
		f.Goto(e0-30, n0+300, 8)
		f.Yaw(math.Pi / 2)
		line("6", 0)
	}
	f.Stop()
	if !s.noReturn {
		f.Eight(15, 6)
		f.Goto(e0, n0, 6)
	} else {
		f.Goto(e0, n0, 3)
	}
	f.Climb(-80, 2)
	if s.stillAfter >= 0 {
		f.Still(or(s.stillAfter, 45))
	}
	in := Input{Grid: grid{}, Path: &trajectory.Path{TimeS: f.T, EM: f.E, NM: f.N, HM: f.H, RollRad: f.Roll, PitchRad: f.Pitch, HeadingRad: f.Head, Source: "invented"}}
	for _, x := range strips {
		if k := int(x.ID[0] - '0'); !s.cloudSkip[k] {
			x.Gaps = slices.Clone(s.gaps[k])
			for i := range x.Gaps { // given from the strip's start
				x.Gaps[i].StartS += x.StartS
				x.Gaps[i].EndS += x.StartS
			}
			in.Strips = append(in.Strips, x)
		}
	}
	in.Coverage = cover(in.Strips)
	in.Base = baseLog(t, week+f.T[0]+or(s.baseStart, -600), week+f.T[len(f.T)-1]-or(s.baseEnd, -600), or(s.baseStep, 1))
	return in
}

func band(e1, n1, e2, n2, half float64) orb.Polygon {
	l := math.Hypot(e2-e1, n2-n1)
	e, n := (n2-n1)/l*half, -(e2-e1)/l*half
	return orb.Polygon{{{e1 + e, n1 + n}, {e2 + e, n2 + n}, {e2 - e, n2 - n}, {e1 - e, n1 - n}, {e1 + e, n1 + n}}}
}

// cover rasters the swaths on cells of 1 m, 100 returns for each strip, without the pauses.
func cover(strips []Strip) *Coverage {
	b := strips[0].Swath.Bound()
	for _, s := range strips {
		b = b.Union(s.Swath.Bound())
	}
	c := &Coverage{CellM: 1, EM: math.Floor(b.Min[0]) - 2, NM: math.Floor(b.Min[1]) - 2}
	c.Cols, c.Rows = int(b.Max[0]-c.EM)+4, int(b.Max[1]-c.NM)+4
	c.First = make([]uint32, c.Cols*c.Rows)
	for _, s := range strips {
		x := s.Swath.Bound()
		for row := int(x.Min[1] - c.NM); row <= int(x.Max[1]-c.NM); row++ {
			for col := int(x.Min[0] - c.EM); col <= int(x.Max[0]-c.EM); col++ {
				k := row*c.Cols + col
				e, n := c.centre(k)
				if planar.PolygonContains(s.Swath, orb.Point{e, n}) {
					c.First[k] += 100
				}
			}
		}
	}
	return c
}

func baseLog(t testing.TB, start, end, step float64) *rinex.Log {
	t.Helper()
	x, y, z := geodesy.ToECEF(geodesy.WGS84, lat0, lon0, 450)
	xyz := [3]float64{x, y, z}
	var b bytes.Buffer
	h := rinex.Header{Marker: "FIELD", AntennaType: "INVENTED NONE", XYZM: xyz, DeltaHENM: [3]float64{1.55, 0, 0}, Types: rinex.InventedTypes()}
	if err := rinex.WriteObs(&b, h, rinex.Invent(xyz, math.Ceil(start), end, step, 5)); err != nil {
		t.Fatal(err)
	}
	f, err := rinex.Decode("base.rnx", bytes.NewReader(b.Bytes()), int64(b.Len()))
	if err != nil {
		t.Fatal(err)
	}
	l, err := rinex.Join(f)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

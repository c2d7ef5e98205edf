package simulate

import (
	"math"
	"math/rand/v2"
)

// SurveyPoint is a surveyed point: its truth and what the list says.
type SurveyPoint struct {
	ID                        string
	TrueEM, TrueNM, TrueHM    float64
	GivenEM, GivenNM, GivenHM float64
	Cover                     Cover // hard for open points; grass or vegetated
	Control                   bool
}

// survey chooses the points, measures them with noise and commits the blunders.
func (f *Flight) survey() {
	s := &f.Scenario
	rng := rand.New(rand.NewPCG(s.Seed, 0xc4ec))
	f.Points = append(f.Points, f.choose(rng, s.Survey.OpenPoints, "CP", 1, func(c Cover) bool { return c == CoverHard })...)
	soft := func(c Cover) bool { return c == CoverGrass || c == CoverVegetated }
	if s.Terrain.AllHard {
		soft = func(Cover) bool { return false }
	}
	f.Points = append(f.Points, f.choose(rng, s.Survey.VegetatedPoints, "VP", 1, soft)...)
	f.Control = f.choose(rng, s.Survey.ControlPoints, "GC", 1, func(c Cover) bool { return c == CoverHard })
	for i := range f.Control {
		f.Control[i].Control = true
	}
	if r := s.Survey.TargetRadiusM; r > 0 {
		for _, l := range [2][]SurveyPoint{f.Points, f.Control} {
			for i := range l {
				if p := &l[i]; p.Cover == CoverHard {
					f.targets = append(f.targets, disc{e: p.TrueEM - s.Site.CentreEM, n: p.TrueNM - s.Site.CentreNM, r: r})
				}
			}
		}
	}
	f.commit(s.Survey.Blunders)
}

// choose picks places of the wanted cover inside the covered block, apart from each other.
func (f *Flight) choose(rng *rand.Rand, n int, prefix string, from int, want func(Cover) bool) []SurveyPoint {
	s := &f.Scenario
	b := s.blockBox()
	sep := s.Survey.SeparationM
	width := float64(max(s.Plan.Strips, 1)-1)*s.Plan.SpacingM + 0.5*s.swathHalfM()
	var out []SurveyPoint
	for tries := 0; len(out) < n && tries < 40000; tries++ {
		if tries%8000 == 7999 {
			sep /= 2 // a small block: let points be nearer
		}
		e, no := b.toMap((rng.Float64()-0.5)*0.92*s.Plan.StripLengthM, (rng.Float64()-0.5)*width)
		e, no = e+s.Site.CentreEM, no+s.Site.CentreNM
		if !want(f.Surface.CoverAt(e, no)) || !f.uniform(e, no) || !f.apart(e, no, sep, out) {
			continue
		}
		p := SurveyPoint{ID: pointID(prefix, from+len(out)), TrueEM: e, TrueNM: no,
			TrueHM: f.Surface.GroundM(e, no), Cover: f.Surface.CoverAt(e, no)}
		p.GivenEM = e + s.Survey.SigmaHM*rng.NormFloat64()
		p.GivenNM = no + s.Survey.SigmaHM*rng.NormFloat64()
		p.GivenHM = p.TrueHM + s.Survey.SigmaVM*rng.NormFloat64()
		out = append(out, p)
	}
	return out
}

// uniform tells whether the cover is the same 1 m around, so that no kerb or edge is near.
func (f *Flight) uniform(e, n float64) bool {
	c := f.Surface.CoverAt(e, n)
	for _, d := range [4][2]float64{{1.2, 0}, {-1.2, 0}, {0, 1.2}, {0, -1.2}} {
		if o := f.Surface.CoverAt(e+d[0], n+d[1]); o != c && c == CoverHard || o == CoverRoof {
			return false
		}
	}
	return true
}

func (f *Flight) apart(e, n, sep float64, also []SurveyPoint) bool {
	for _, l := range [3][]SurveyPoint{f.Points, f.Control, also} {
		for i := range l {
			if math.Hypot(l[i].TrueEM-e, l[i].TrueNM-n) < sep {
				return false
			}
		}
	}
	return true
}

func pointID(prefix string, n int) string {
	return prefix + string([]byte{byte('0' + n/100%10), byte('0' + n/10%10), byte('0' + n%10)})
}

// onTarget tells whether a place (metres from the centre) lies on a painted target.
func (f *Flight) onTarget(e, n float64) bool {
	for i := range f.targets {
		t := &f.targets[i]
		if de, dn := e-t.e, n-t.n; de*de+dn*dn <= t.r*t.r {
			return true
		}
	}
	return false
}

// Station is the base station.
type Station struct {
	EM, NM, HM     float64 // the mark, map and height above the geoid
	LatRad, LonRad float64
	EllipsoidalM   float64 // height of the mark above the ellipsoid
}

func (f *Flight) station() Station {
	s := &f.Scenario
	a := s.Base.AzimuthDeg * math.Pi / 180
	st := Station{EM: s.Site.CentreEM + s.Base.DistanceM*math.Sin(a), NM: s.Site.CentreNM + s.Base.DistanceM*math.Cos(a)}
	st.HM = f.Surface.GroundM(st.EM, st.NM)
	st.LatRad, st.LonRad = f.utm.Inverse(st.EM, st.NM)
	st.EllipsoidalM = st.HM + f.GeoidM(st.EM, st.NM)
	return st
}

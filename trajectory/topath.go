package trajectory

import (
	"cmp"
	"fmt"
	"math"
	"runtime"
	"sort"
	"sync"
)

// Projector brings geodetic coordinates into the cloud's grid.
// *geodesy.Projector is one.
type Projector interface {
	Forward(latRad, lonRad float64) (eM, nM float64, err error)
	Inverse(eM, nM float64) (latRad, lonRad float64, err error)
	Convergence(latRad, lonRad float64) float64 // grid heading = true heading - convergence
}

// PathOptions says how a track becomes a path of the cloud.
type PathOptions struct {
	ShiftS        float64    // added to the times, from MatchTime
	HeightOffsetM float64    // added to the heights, in metres; minus the geoid separation for ellipsoidal heights
	UnitM         float64    // metres in a unit of grid coordinates, where the file does not state it; 0 = 1
	HeightUnitM   float64    // metres in a unit of height, where the file does not state it; 0 = 1
	HeadingFrom   HeadingRef // norths of a grid track's heading; HeadingUnknown = decide
	LevelMissing  bool       // take a roll or pitch that the file lacks as zero instead of dropping the attitude
	GapS          float64    // Path.GapS; 0 = from the sampling
}

// ToPath returns the track in the cloud's grid and time. A geodetic track needs
// p; for a grid track p may be nil, the coordinates are then taken to be in the
// cloud's grid as they are.
//
// Heading becomes grid heading: true heading less the convergence at each
// sample. A grid track does not say from which north its heading counts: with
// p the two are compared with the course on legs of several directions, and
// without a clear answer grid north is assumed and said so.
func (t *Track) ToPath(p Projector, o PathOptions) (*Path, error) {
	n := t.Len()
	if n == 0 {
		return nil, fmt.Errorf("%s: the track has no samples", t.Path)
	}
	out := &Path{Source: t.Path, GapS: o.GapS}
	out.TimeS = make([]float64, n)
	out.HM = make([]float64, n)
	hUnit := firstUnit(t.HeightUnitM, o.HeightUnitM)
	for i := range out.TimeS {
		out.TimeS[i] = t.TimeS[i] + o.ShiftS
		out.HM[i] = t.HM[i]*hUnit + o.HeightOffsetM
	}
	if out.GapS == 0 {
		out.GapS = max(DefaultGapS, 5*medianStep(t.TimeS))
	}
	if err := t.place(out, p, firstUnit(t.UnitM, o.UnitM)); err != nil {
		return nil, err
	}
	t.orient(out, p, o)
	out.Sigma = t.sigmaOn(t.TimeS)
	for _, d := range t.Decisions {
		out.Notes = append(out.Notes, d.String())
	}
	out.Notes = append(out.Notes, t.Warnings...)
	return out, out.Validate()
}

// firstUnit returns the first that is set, else one metre.
func firstUnit(units ...float64) float64 {
	for _, x := range units {
		if x != 0 {
			return x
		}
	}
	return 1
}

func (t *Track) place(out *Path, p Projector, unit float64) error {
	n := t.Len()
	out.EM, out.NM = make([]float64, n), make([]float64, n)
	if !t.Geodetic {
		for i := range out.EM {
			out.EM[i], out.NM[i] = t.EM[i]*unit, t.NM[i]*unit
		}
		return nil
	}
	if p == nil {
		return fmt.Errorf("%s: the path is in latitude and longitude and the cloud's coordinate system is not known; name it with --crs", t.Path)
	}
	return inParts(n, func(lo, hi int) (err error) {
		for i := lo; i < hi; i++ {
			if out.EM[i], out.NM[i], err = p.Forward(t.LatRad[i], t.LonRad[i]); err != nil {
				return fmt.Errorf("%s: sample %d at %.6f s (%.6f°, %.6f°): %w", t.Path, i, t.TimeS[i], t.LatRad[i]*toDeg, t.LonRad[i]*toDeg, err)
			}
		}
		return nil
	})
}

// inParts calls f for parts of 0..n-1, one for each core, and returns the error of the first part that has one.
func inParts(n int, f func(lo, hi int) error) error {
	parts := min(runtime.GOMAXPROCS(0), n/1000+1)
	errs := make([]error, parts)
	var wg sync.WaitGroup
	for k := range parts {
		wg.Go(func() { errs[k] = f(k*n/parts, (k+1)*n/parts) })
	}
	wg.Wait()
	return cmp.Or(errs...)
}

// orient fills the attitude of out.
func (t *Track) orient(out *Path, p Projector, o PathOptions) {
	n := t.Len()
	if len(t.HeadingRad) != n {
		out.Notes = append(out.Notes, "the file holds no heading: the path has no attitude")
		return
	}
	roll, pitch := t.RollRad, t.PitchRad
	for _, a := range []struct {
		v    *[]float64
		name string
	}{{&roll, "roll"}, {&pitch, "pitch"}} {
		if len(*a.v) == n {
			continue
		}
		if !o.LevelMissing {
			out.Notes = append(out.Notes, "the file holds no "+a.name+": the path has no attitude")
			return
		}
		*a.v = make([]float64, n)
		out.Notes = append(out.Notes, "the file holds no "+a.name+": taken as zero")
	}
	out.RollRad, out.PitchRad = append([]float64(nil), roll...), append([]float64(nil), pitch...)
	out.HeadingRad = make([]float64, n)
	conv := t.convergences(out, p)
	from := o.HeadingFrom
	if from == HeadingUnknown {
		from = t.HeadingFrom
	}
	if from == HeadingUnknown {
		var note string
		from, note = t.decideNorth(out, conv)
		out.Notes = append(out.Notes, note)
	}
	for i, h := range t.HeadingRad {
		if from == TrueNorth && conv != nil {
			h -= conv[i]
		}
		out.HeadingRad[i] = Wrap2Pi(h)
	}
}

// convergences returns the meridian convergence at every sample, nil if p is.
func (t *Track) convergences(out *Path, p Projector) []float64 {
	if p == nil {
		return nil
	}
	c := make([]float64, t.Len())
	if inParts(len(c), func(lo, hi int) (err error) {
		for i := lo; i < hi; i++ {
			var lat, lon float64
			if t.Geodetic {
				lat, lon = t.LatRad[i], t.LonRad[i]
			} else if lat, lon, err = p.Inverse(out.EM[i], out.NM[i]); err != nil {
				return err
			}
			c[i] = p.Convergence(lat, lon)
		}
		return nil
	}) != nil {
		return nil
	}
	return c
}

// decideNorth compares the heading of a grid track with its course: a heading
// from true north is off by the convergence on legs of every direction.
func (t *Track) decideNorth(out *Path, conv []float64) (HeadingRef, string) {
	if conv == nil {
		return GridNorth, "heading taken from grid north (assumed: the convergence is not known)"
	}
	g := median(conv)
	f := fitOffset(legs(out.TimeS, out.EM, out.NM), func(i int) float64 { return t.HeadingRad[i] })
	ev := fmt.Sprintf("heading - grid course is %+.2f° ± %.2f° on %d straight legs, wind apart; the convergence is %+.2f°", f.cRad*toDeg, f.sigmaRad*toDeg, f.legs, g*toDeg)
	switch grid, north := math.Abs(f.cRad), math.Abs(f.cRad-g); {
	case f.legs == 0:
		return GridNorth, fmt.Sprintf("heading taken from grid north (assumed: no straight leg; the convergence is %+.2f°)", g*toDeg)
	case math.Abs(g) > 4*f.sigmaRad && grid > 3*f.sigmaRad && north < 2*f.sigmaRad:
		return TrueNorth, "heading counts from true north (" + ev + ")"
	case math.Abs(g) > 4*f.sigmaRad && north > 3*f.sigmaRad && grid < 2*f.sigmaRad:
		return GridNorth, "heading counts from grid north (" + ev + ")"
	}
	return GridNorth, "heading taken from grid north (assumed: " + ev + ")"
}

// sigmaOn interpolates the accuracies to times of the track; outside the
// companion's time the nearest value holds for one minute, then NaN.
func (t *Track) sigmaOn(times []float64) *PathSigma {
	a := t.Sigma
	if a == nil || len(a.TimeS) == 0 {
		return nil
	}
	col := func(v []float64) []float64 {
		if len(v) != len(a.TimeS) {
			return nil
		}
		out := make([]float64, len(times))
		for i, x := range times {
			out[i] = holdInterp(a.TimeS, v, x, 60)
		}
		return out
	}
	return &PathSigma{EastM: col(a.EastM), NorthM: col(a.NorthM), UpM: col(a.DownM), RollRad: col(a.RollRad), PitchRad: col(a.PitchRad), HeadingRad: col(a.HeadingRad)}
}

// holdInterp interpolates linearly and holds the end values for holdS.
func holdInterp(ts, v []float64, t, holdS float64) float64 {
	n := len(ts)
	k := sort.SearchFloat64s(ts, t)
	switch {
	case k == 0:
		if ts[0]-t > holdS {
			return math.NaN()
		}
		return v[0]
	case k == n:
		if t-ts[n-1] > holdS {
			return math.NaN()
		}
		return v[n-1]
	}
	u := (t - ts[k-1]) / (ts[k] - ts[k-1])
	return v[k-1] + u*(v[k]-v[k-1])
}

// Shifted returns a copy of the path with its times moved by shiftS and its
// heights by upM. Columns that do not change are shared.
func (p *Path) Shifted(shiftS, upM float64) *Path {
	q := *p
	q.Notes = append([]string(nil), p.Notes...)
	if shiftS != 0 {
		q.TimeS = plus(p.TimeS, shiftS)
	}
	if upM != 0 {
		q.HM = plus(p.HM, upM)
	}
	return &q
}

func plus(v []float64, d float64) []float64 {
	o := make([]float64, len(v))
	for i, x := range v {
		o[i] = x + d
	}
	return o
}

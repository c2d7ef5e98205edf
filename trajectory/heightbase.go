package trajectory

import (
	"fmt"
	"math"
)

// HeightBase is the height of a path against the height of a cloud.
type HeightBase struct {
	OffsetM float64 // to add to the path's heights
	SigmaM  float64
	Returns int  // returns used, both sides
	Fault   bool // the offset is larger than geometry explains: another height system
	Text    string
}

// EstimateHeightBase finds by scan geometry what to add to the heights of a
// path so that they belong to the cloud's.
//
// A return at horizontal distance d across the heading, seen at the scan angle
// a from nadir, lies d/tan(a) below the sensor. The median of what the path's
// height lacks is taken over the returns of each side beyond 10 degrees, then
// the mean of both sides, in which a roll error and a shift across cancel.
// The sigma comes from the spread of 20 stretches of time. It returns
// false without returns on both sides. Pitch slants the beams: it is used when
// the path has it, else a bias of the height times (1 - cos pitch) is left,
// 0.4 % at 5 degrees, and the sigma is raised to that.
//
// Source: science reference, sections 1 (heights) and 9b.
//
// The reference point of the path is taken for the scanner: the vertical part
// of the lever arm, decimetres as a rule, is in the offset, and the sigma is
// not below 0.2 m. EstimateHeightBaseWithLever takes the lever arm out.
func EstimateHeightBase(p *Path, returns []Return) (HeightBase, bool) {
	return estimateHeightBase(p, [3]float64{}, 0.2, returns)
}

// EstimateHeightBaseWithLever is EstimateHeightBase for a known lever arm from
// the path's reference point to the scanner, metres forward, right, down.
func EstimateHeightBaseWithLever(p *Path, leverM [3]float64, returns []Return) (HeightBase, bool) {
	return estimateHeightBase(p, leverM, 0.01, returns)
}

func estimateHeightBase(p *Path, lever [3]float64, floor float64, returns []Return) (HeightBase, bool) {
	const minAngle = 10 * math.Pi / 180
	const stretches = 20
	c := p.NewCursor()
	t0, t1 := math.Inf(1), math.Inf(-1)
	for _, r := range returns {
		t0, t1 = min(t0, r.TimeS), max(t1, r.TimeS)
	}
	var side [2][stretches][]float64
	var above []float64
	n := 0
	for _, r := range returns {
		if math.IsNaN(r.AngleRad) || math.Abs(r.AngleRad) < minAngle || math.Abs(r.AngleRad) > 80*math.Pi/180 {
			continue
		}
		o, ok := c.At(r.TimeS)
		if !ok {
			continue
		}
		if lever != [3]float64{} {
			m := o.BodyToMap()
			o.EM += m[0][0]*lever[0] + m[0][1]*lever[1] + m[0][2]*lever[2]
			o.NM += m[1][0]*lever[0] + m[1][1]*lever[1] + m[1][2]*lever[2]
			o.HM += m[2][0]*lever[0] + m[2][1]*lever[1] + m[2][2]*lever[2]
		}
		s, cs := math.Sincos(o.HeadingRad)
		right := (r.EM-o.EM)*cs - (r.NM-o.NM)*s
		h := right / math.Tan(r.AngleRad) * math.Cos(o.PitchRad) // height of the sensor over the return
		k := min(stretches-1, int(float64(stretches)*(r.TimeS-t0)/max(t1-t0, 1e-9)))
		j := 0
		if r.AngleRad > 0 {
			j = 1
		}
		side[j][k] = append(side[j][k], r.HM+h-o.HM)
		above = append(above, h)
		n++
	}
	var per []float64
	for k := range stretches {
		if len(side[0][k]) >= 5 && len(side[1][k]) >= 5 {
			per = append(per, (median(side[0][k])+median(side[1][k]))/2)
		}
	}
	if len(per) < 2 {
		return HeightBase{}, false
	}
	m := median(per)
	if !p.HasAttitude() {
		floor = max(floor, 0.004*math.Abs(median(above)))
	}
	h := HeightBase{OffsetM: m, SigmaM: max(1.2533*nmad(per, m)/math.Sqrt(float64(len(per))), floor), Returns: n}
	// Scan angles of whole degrees, pitch and the lever arm explain a metre or two.
	h.Fault = math.Abs(m) > max(3, 4*h.SigmaM)
	h.Text = fmt.Sprintf("the scan geometry puts the sensor %+.2f ± %.2f m from the path's height (%d returns)", h.OffsetM, h.SigmaM, n)
	if h.Fault {
		h.Text += ": path and cloud are in different height systems, as an ellipsoidal path over a cloud above a geoid is"
	}
	return h, true
}

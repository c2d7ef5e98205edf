package trajectory

import (
	"fmt"
	"math"
)

// Placement says where the path lies against the returns of the same times.
type Placement struct {
	HorizontalM float64 // median horizontal distance from sensor to return
	AboveM      float64 // median height of the sensor over the return
	CoveredPct  float64 // returns whose time the path covers
	Fault       bool    // the path is not over this cloud
	Text        string
}

// CheckPlacement compares a path with returns of the cloud in the same grid
// and time: a path of another zone, with easting and northing exchanged, or
// under the ground cannot have measured them. It returns false when no return
// meets the path in time.
//
// The limit, three heights and 200 m, is a proposal: beams at 71 degrees from
// nadir reach three heights.
func CheckPlacement(p *Path, returns []Return) (Placement, bool) {
	c := p.NewCursor()
	var flat, above []float64
	for _, r := range returns {
		if o, ok := c.At(r.TimeS); ok {
			flat, above = append(flat, math.Hypot(r.EM-o.EM, r.NM-o.NM)), append(above, o.HM-r.HM)
		}
	}
	if len(flat) == 0 {
		return Placement{}, false
	}
	g := Placement{HorizontalM: median(flat), AboveM: median(above), CoveredPct: 100 * float64(len(flat)) / float64(len(returns))}
	g.Text = fmt.Sprintf("the path lies %.0f m above the returns of the same times and %.0f m beside them (medians)", g.AboveM, g.HorizontalM)
	switch {
	case g.HorizontalM > max(200, 3*math.Abs(g.AboveM)):
		g.Fault = true
		g.Text += ": it is not over this cloud; another coordinate system or zone, easting and northing exchanged, or another flight"
	case g.AboveM < 0:
		g.Fault = true
		g.Text += ": it is below the ground; another height system, or heights in another unit"
	}
	return g, true
}

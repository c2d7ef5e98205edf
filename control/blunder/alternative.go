package blunder

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"sidelap/control"
)

// Alternative is the comparison at places where the points would lie if a blunder were undone: collect returns around
// Moved points beside the listed ones, in the same reading of the cloud.
type Alternative struct {
	ID     string // rule
	Name   string
	Points []control.PointResult
}

// Moved is a list of points at the places of an alternative.
type Moved struct {
	ID, Name string
	Points   []control.Point
}

// FootPlaces returns the points at the places they would have if the list had been converted with the
// other foot: coordinates times 1 +- 2 millionths. For lists or clouds in feet.
func FootPlaces(points []control.Point) []Moved {
	scaled := func(f float64) []control.Point {
		out := make([]control.Point, len(points))
		for i, p := range points {
			p.EM, p.NM, p.ZM = p.EM*f, p.NM*f, p.ZM*f
			out[i] = p
		}
		return out
	}
	return []Moved{
		{"B5", "the list was converted with the international foot in place of the US survey foot", scaled(1 + footPPM)},
		{"B5", "the list was converted with the US survey foot in place of the international foot", scaled(1 / (1 + footPPM))},
	}
}

// alternatives tests whether the surface fits much better where a blunder would have moved the points from.
func (r *run) alternatives() {
	s := &r.series
	for _, a := range r.e.Alternatives {
		if s.n() < 6 || len(a.Points) != len(r.e.Points) {
			continue
		}
		r.ran(a.ID)
		moved := make([]float64, 0, s.n())
		for _, i := range s.index {
			if d := a.Points[i].DzM; finite(d) {
				moved = append(moved, d)
			}
		}
		if 10*len(moved) < 8*s.n() {
			continue
		}
		spread, was := max(control.NMAD(moved), 0.002), s.sr
		f := (was / spread) * (was / spread)
		p := distuv.F{D1: float64(s.n() - 1), D2: float64(len(moved) - 1)}.Survival(f)
		if p > 1e-3 || spread > 0.5*was || math.Abs(control.Median(moved)) > math.Abs(s.med)+3*was {
			continue
		}
		med, rmse := control.Median(moved), control.RMS(moved)
		r.constant, r.moved = true, true
		r.report.Findings = append(r.report.Findings, Finding{ID: a.ID, Title: "US survey and international foot mixed", Severity: Serious,
			Text:      fmt.Sprintf("%s: moved back, the points fit the cloud's surface with a spread of %.3f m, as read with %.3f m", a.Name, spread, was),
			Observed:  fmt.Sprintf("spread %.3f m as read, n %d", was, s.n()),
			Predicted: fmt.Sprintf("spread %.3f m where the points would lie", spread), LeftMedianM: med, LeftRMSEM: rmse,
			ExplainedShare: 1 - (rmse/s.rms)*(rmse/s.rms), ChancePct: 100 * p * float64(len(r.e.Alternatives)),
			DecideBy: "the unit of both sides in writing: international or US survey foot"})
	}
}

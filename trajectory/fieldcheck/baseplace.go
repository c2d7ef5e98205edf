package fieldcheck

import (
	"errors"
	"math"
)

// Proposals: an antenna height is measured to millimetres; the header holds what
// the receiver averaged, metres off at most.
const (
	antennaTolM = 0.005
	headerFarM  = 50
)

var errNoPlace = errors.New("the place of the base is not known")

// basePlace returns where the base stood in the grid: its mark, else the
// position in the header of its log.
func (r *runner) basePlace() (e, n float64, from string, err error) {
	if m := r.in.BaseMark; m != nil {
		return m[0], m[1], "the base mark", nil
	}
	e, n, err = r.headerPlace()
	return e, n, "the position in the base log's header", err
}

func (r *runner) headerPlace() (e, n float64, err error) {
	lat, lon, _, ok := r.in.Base.Position()
	if !ok || r.in.Grid == nil {
		return 0, 0, errNoPlace
	}
	return r.in.Grid.Forward(lat, lon)
}

// headerFromMark is the distance of the header's position from the mark.
func (r *runner) headerFromMark() (float64, bool) {
	e, n, err := r.headerPlace()
	if err != nil || r.in.BaseMark == nil {
		return 0, false
	}
	return math.Hypot(e-r.in.BaseMark[0], n-r.in.BaseMark[1]), true
}

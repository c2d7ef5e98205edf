package adjust

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
)

// CorrectionVersion is the version of the form in which a Correction is stored.
const CorrectionVersion = 1

// Correction is an error of a cloud, "used minus true", that Mover takes off it. It holds all that
// the taking off and its undoing need, besides the path.
//
// Lengths are metres in the grid of the cloud, times the GPS seconds stored in it.
type Correction struct {
	Version   int       `json:"version"`
	Knowledge Knowledge `json:"knowledge"`
	UsesPath  bool      `json:"uses_path"` // poses come from a path
	LeverM    Vec       `json:"lever_m"`   // path's reference point to scanner, body axes, as assumed: a0 of equation (8)

	BoresightRollRad    float64 `json:"boresight_roll_rad"`
	BoresightPitchRad   float64 `json:"boresight_pitch_rad"`
	BoresightHeadingRad float64 `json:"boresight_heading_rad"`
	ScanAngleScale      float64 `json:"scan_angle_scale"`
	RangeOffsetM        float64 `json:"range_offset_m"`
	LeverErrorM         Vec     `json:"lever_error_m"`
	TimeOffsetS         float64 `json:"time_offset_s"`
	Datum               Datum   `json:"datum"`

	Strips []StripCorrection `json:"strips"`
}

// Datum is the height of the cloud over the control points, UpM at the place EM, NM, growing by the two tilts.
type Datum struct {
	UpM   float64 `json:"up_m"`
	TiltE float64 `json:"tilt_e"` // metres per metre
	TiltN float64 `json:"tilt_n"`
	EM    float64 `json:"e_m"`
	NM    float64 `json:"n_m"`
}

// Sight says from what the vector from the scanner to a point of a strip is known.
type Sight string

// The sights, best first.
const (
	SightPose   Sight = "path"    // pose at the point's time
	SightAngle  Sight = "angle"   // scan angle, heading and height of the strip
	SightAcross Sight = "across"  // place across the strip: roll and affine yaw only
	SightNone   Sight = "nothing" // shifts only
)

// StripCorrection is what one strip needs besides what all strips have in common: which points are its own, how it saw them
// when there is no path, and its own errors.
type StripCorrection struct {
	ID       string   `json:"id"`
	Line     bool     `json:"line"`    // false: turns and strays
	Files    []int    `json:"files"`   // numbers of the inputs, ascending
	Sources  []int    `json:"sources"` // point source IDs
	Channels []int    `json:"channels"`
	StartS   *float64 `json:"start_s"` // nil: no time
	EndS     *float64 `json:"end_s"`

	Sight      Sight   `json:"sight"` // without a pose
	HeadingRad float64 `json:"heading_rad"`
	SpeedMPS   float64 `json:"speed_mps"`
	SensorM    float64 `json:"sensor_m"` // height of the scanner, SightAngle
	CentreEM   float64 `json:"centre_e_m"`
	CentreNM   float64 `json:"centre_n_m"`

	EastM      Curve   `json:"east_m"`
	NorthM     Curve   `json:"north_m"`
	UpM        Curve   `json:"up_m"`
	UpStepsM   []Curve `json:"up_steps_m,omitempty"` // added to it: each 0 before, its value after
	RollRad    Curve   `json:"roll_rad"`
	HeadingErr Curve   `json:"heading_error_rad"`
}

// moved reports whether the strip has errors of its own.
func (s *StripCorrection) moved() bool {
	return !s.EastM.zero() || !s.NorthM.zero() || !s.UpM.zero() || len(s.UpStepsM) > 0 || s.turned()
}

func (s *StripCorrection) turned() bool { return !s.RollRad.zero() || !s.HeadingErr.zero() }

// Global returns the value of a kind that all strips have in common.
func (c *Correction) Global(k Kind) float64 {
	if p := c.global(k); p != nil {
		return *p
	}
	return 0
}

func (c *Correction) global(k Kind) *float64 {
	switch k {
	case BoresightRoll:
		return &c.BoresightRollRad
	case BoresightPitch:
		return &c.BoresightPitchRad
	case BoresightHeading:
		return &c.BoresightHeadingRad
	case ScanAngleScale:
		return &c.ScanAngleScale
	case RangeOffset:
		return &c.RangeOffsetM
	case LeverX:
		return &c.LeverErrorM[0]
	case LeverY:
		return &c.LeverErrorM[1]
	case LeverZ:
		return &c.LeverErrorM[2]
	case TimeOffset:
		return &c.TimeOffsetS
	}
	return nil
}

// Zero reports whether the correction moves nothing.
func (c *Correction) Zero() bool {
	for k := range globalKinds {
		if c.Global(k) != 0 {
			return false
		}
	}
	if c.Datum.UpM != 0 || c.Datum.TiltE != 0 || c.Datum.TiltN != 0 {
		return false
	}
	return !slices.ContainsFunc(c.Strips, func(s StripCorrection) bool { return s.moved() })
}

// ForAnyFile returns the correction with strips that are told by point source ID, channel and time alone, as another copy of the flight needs them: its
// files are others. ok is false when strips cannot be told apart without the files that they came in.
func (c *Correction) ForAnyFile() (d *Correction, ok bool) {
	k := *c
	k.Strips = slices.Clone(c.Strips)
	for i := range k.Strips {
		k.Strips[i].Files = nil
	}
	for _, clash := range newMembers(k.Strips, 0).clash {
		if clash {
			return nil, false
		}
	}
	return &k, true
}

// ForFile returns the correction with the strips that have points in a file only.
func (c *Correction) ForFile(file int) *Correction {
	d := *c
	d.Strips = nil
	for _, s := range c.Strips {
		if s.Files == nil || slices.Contains(s.Files, file) {
			s.Files = nil
			d.Strips = append(d.Strips, s)
		}
	}
	return &d
}

// Plus returns the correction that takes off c and then d, for the same strips: to first order the sum. The product of two
// corrections, which it leaves out, is below a micrometre where d is what a second round finds.
func (c *Correction) Plus(d *Correction) (*Correction, error) {
	if len(c.Strips) != len(d.Strips) {
		return nil, fmt.Errorf("corrections of %d and %d strips cannot be added", len(c.Strips), len(d.Strips))
	}
	sum := *c
	for k := range globalKinds {
		if p := sum.global(k); p != nil {
			*p += d.Global(k)
		}
	}
	sum.Datum = c.Datum.plus(d.Datum)
	sum.Strips = slices.Clone(c.Strips)
	for i := range sum.Strips {
		s, o := &sum.Strips[i], &d.Strips[i]
		if s.ID != o.ID {
			return nil, fmt.Errorf("strips %s and %s cannot be added", s.ID, o.ID)
		}
		s.EastM, s.NorthM, s.UpM = s.EastM.plus(o.EastM), s.NorthM.plus(o.NorthM), s.UpM.plus(o.UpM)
		s.UpStepsM = append(slices.Clone(s.UpStepsM), o.UpStepsM...)
		s.RollRad, s.HeadingErr = s.RollRad.plus(o.RollRad), s.HeadingErr.plus(o.HeadingErr)
	}
	return &sum, nil
}

func (d Datum) plus(o Datum) Datum {
	if d == (Datum{}) {
		return o
	}
	d.UpM += o.at(d.EM, d.NM)
	d.TiltE += o.TiltE
	d.TiltN += o.TiltN
	return d
}

func (d Datum) at(eM, nM float64) float64 { return d.UpM + d.TiltE*(eM-d.EM) + d.TiltN*(nM-d.NM) }

// ParseCorrection reads the stored form.
func ParseCorrection(b []byte) (*Correction, error) {
	var c Correction
	if err := json.Unmarshal(b, &c); err != nil {
		return nil, fmt.Errorf("correction: %w", err)
	}
	if c.Version != CorrectionVersion {
		return nil, fmt.Errorf("correction: version %d; this program reads version %d", c.Version, CorrectionVersion)
	}
	for i := range c.Strips {
		s := &c.Strips[i]
		curves := []*Curve{&s.EastM, &s.NorthM, &s.UpM, &s.RollRad, &s.HeadingErr}
		for j := range s.UpStepsM {
			curves = append(curves, &s.UpStepsM[j])
		}
		for _, v := range curves {
			if err := v.validate(); err != nil {
				return nil, fmt.Errorf("correction: strip %s: %w", s.ID, err)
			}
		}
	}
	return &c, nil
}

func orNil(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

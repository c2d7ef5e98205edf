package fieldcheck

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"unicode"
)

// Limits are the numbers of the checks. Start from DefaultLimits: its comments
// say where each number comes from (docs/field-checks.md has the sources).
type Limits struct {
	BaseMarginS      float64 // base before and after the recording; proposal 300 s
	BaseStepS        float64 // interval for go; 1 s, knowledge base of a positioning kit and users' forums
	BaseStepReflyS   float64 // interval from which the flight is at risk; proposal 5 s
	BaseGapS         float64 // longest gap for go; proposal 2 s
	BaseGapStripS    float64 // gap during a strip for refly; proposal 10 s
	BaselineM        float64 // go; 10 km, same knowledge base
	BaselineMaxM     float64 // 25 km, same
	BaseSats         int     // hard limit of common satellites; 5, Florida DOT mobile lidar guideline
	BaseSatsGo       int     // proposal 10
	BaseJumpM        float64 // jump of the carrier phases of most satellites together; proposal 0.03
	StillS           float64 // before take-off and after landing; common practice 30 s (a payload maker's checklist: 15 s)
	StillMinS        float64 // below this it is as good as none; the same checklist 15 s
	RunMPS           float64 // straight run: speed, checklist 5 m/s
	RunS             float64 // and duration, checklist 6 s
	Eights           int     // before the first strip, checklist 2
	SwapS            float64 // on the ground between flights of one recording; checklist 120 s
	BankStripDeg     float64 // proposal 10
	BankTurnDeg      float64 // multirotor, proposal 30
	LongStripS       float64 // without a turn; 15 min, manual of an airborne system
	SpeedSpreadPct   float64 // (max-min)/median in a strip; proposal 15
	SpeedPlanPct     float64 // proposal 10
	HeightPlanPct    float64 // proposal 10
	HeightSpreadPct  float64 // above ground, or level if that changes less; proposal 20
	HeightReliefPct  float64 // above ground, of strips flown level; proposal 50
	CrabDeg          float64 // proposal 10
	SigmaHorizontalM float64 // stated accuracy of the path on strips; proposals 0.02, 0.05 m, 0.02, 0.08 degrees
	SigmaHeightM     float64
	SigmaLevelDeg    float64
	SigmaHeadingDeg  float64
	FixedPct         float64 // epochs with a fixed solution on strips; proposal 99
	SidelapPct       float64 // 5th percentile along the strip; 30, knowledge base of a UAV lidar maker
	SidelapAsked     bool    // that number is of the plan or contract: below it a repeat is advised
	SidelapReflyPct  float64 // below this a repeat is advised; 0 = where ground is open or a repeat on the line would mend it (proposal)
	CoveragePct      float64 // cells of the area with a return; proposal 99.5
	HoleCells        float64 // largest hole in cells of the coverage raster; proposal 4
	HoleReflyM2      float64 // from this area on a repeat is advised; proposal 25
	HoleWidthM       float64 // holes that are nowhere as wide are taken as shadows; proposal 3.5
	HoleReflyWidthM  float64 // a repeat is advised for holes as wide; proposal 5
	HeightAlikePct   float64 // height of a strip against the median of all, when no height is planned; proposal 20
	DensityPerM2     float64 // limit of the contract; 0 = none given
	TimeGapS         float64 // pause of points in a strip; proposal 0.5
	TimeGapReflyS    float64 // proposal 2
	PathGapS         float64 // gap of the path in a strip for refly; proposal 2
	StorageFactor    float64 // free over needed; proposal 1.5
	PointReturns     int     // returns within 0.5 m of a check point; proposal 5
	PointStrips      int     // strips that see it; proposal 2
	TurnMinutes      float64 // estimate of a turn and approach for one item of the list; proposal 0.5
	StartMinutes     float64 // estimate of stills, climb, manoeuvres and landing; proposal 6
	LeadS            float64 // a stretch is repeated from this long before to this long after its fault; proposal 10
}

// DefaultLimits returns the numbers named in Limits.
func DefaultLimits() Limits {
	return Limits{
		BaseMarginS: 300, BaseStepS: 1, BaseStepReflyS: 5, BaseGapS: 2, BaseGapStripS: 10,
		BaselineM: 10_000, BaselineMaxM: 25_000, BaseSats: 5, BaseSatsGo: 10, BaseJumpM: 0.03,
		StillS: 30, StillMinS: 15, RunMPS: 5, RunS: 6, Eights: 2, SwapS: 120,
		BankStripDeg: 10, BankTurnDeg: 30, LongStripS: 900, SpeedSpreadPct: 15, SpeedPlanPct: 10,
		HeightPlanPct: 10, HeightSpreadPct: 20, HeightReliefPct: 50, CrabDeg: 10,
		SigmaHorizontalM: 0.02, SigmaHeightM: 0.05, SigmaLevelDeg: 0.02, SigmaHeadingDeg: 0.08,
		FixedPct: 99, SidelapPct: 30, CoveragePct: 99.5, HoleCells: 4, HoleReflyM2: 25, HoleWidthM: 3.5, HoleReflyWidthM: 5, HeightAlikePct: 20,
		TimeGapS: 0.5, TimeGapReflyS: 2, PathGapS: 2, StorageFactor: 1.5, PointReturns: 5, PointStrips: 2,
		TurnMinutes: 0.5, StartMinutes: 6, LeadS: 10,
	}
}

// limitName writes a field name of Limits as flags do: BaseMarginS is base-margin-s.
func limitName(field string) string {
	var b strings.Builder
	c := []rune(field)
	for i, x := range c {
		if i > 0 && unicode.IsUpper(x) && (!unicode.IsUpper(c[i-1]) || i+1 < len(c) && unicode.IsLower(c[i+1])) && !strings.HasPrefix(field[i-1:], "M2") {
			b.WriteByte('-')
		}
		b.WriteRune(unicode.ToLower(x))
	}
	return strings.ReplaceAll(b.String(), "-m-p-s", "-mps")
}

// LimitNames lists the names that Set knows, with their numbers.
func (l Limits) LimitNames() (names []string, values []float64) {
	v := reflect.ValueOf(l)
	for i := range v.NumField() {
		switch f := v.Field(i); f.Kind() {
		case reflect.Float64:
			names, values = append(names, limitName(v.Type().Field(i).Name)), append(values, f.Float())
		case reflect.Int:
			names, values = append(names, limitName(v.Type().Field(i).Name)), append(values, float64(f.Int()))
		}
	}
	return names, values
}

// Set changes the number of a limit, named as LimitNames does. It must be above
// zero; where the default is zero, zero too.
func (l *Limits) Set(name string, value float64) error {
	v := reflect.ValueOf(l).Elem()
	for i := range v.NumField() {
		f := v.Field(i)
		if f.Kind() == reflect.Bool || limitName(v.Type().Field(i).Name) != name {
			continue
		}
		if value < 0 || math.IsNaN(value) || math.IsInf(value, 0) || value == 0 && !reflect.ValueOf(DefaultLimits()).Field(i).IsZero() {
			return fmt.Errorf("limit %s: %g must be above zero", name, value)
		}
		if f.Kind() == reflect.Int {
			if value != math.Trunc(value) || value > 1e6 {
				return fmt.Errorf("limit %s: %g must be a whole number", name, value)
			}
			f.SetInt(int64(value))
			return nil
		}
		f.SetFloat(value)
		return nil
	}
	names, _ := l.LimitNames()
	return fmt.Errorf("no limit %q; known are %s", name, strings.Join(names, ", "))
}

// Validate names the first number that cannot be a limit.
func (l Limits) Validate() error {
	for _, c := range []struct {
		name string
		v    float64
	}{
		{"still time", l.StillS}, {"base interval", l.BaseStepS}, {"baseline", l.BaselineM}, {"sidelap", l.SidelapPct},
		{"time gap", l.TimeGapS}, {"coverage", l.CoveragePct}, {"storage factor", l.StorageFactor}, {"bank", l.BankStripDeg},
	} {
		if !(c.v > 0) {
			return fmt.Errorf("limit of %s is %v: it must be above zero; start from DefaultLimits", c.name, c.v)
		}
	}
	return nil
}

// Words for where a limit comes from.
const (
	practice = "common practice"
	proposal = "proposal"
)

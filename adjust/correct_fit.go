package adjust

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"sidelap/overlap"
	"sidelap/trajectory"
)

// CorrectOptions controls EstimateCorrection. Start from DefaultCorrectOptions.
type CorrectOptions struct {
	LeverM          Vec            // path's reference point to scanner, body axes
	Control         []ControlPoint // heights to fit to; nil: the heights stay where the strips agree
	ApplyConfounded bool           // apply also what these data cannot tell from its rivals
	Again           []Kind         // kinds of the whole flight that the first of two rounds applied: rivals do not hold their rest back
	ApplyBeyond     bool           // apply also what is larger than the path's own accuracy allows
	Splines         bool           // let splines in time compete; default true
	MinSegmentS     float64        // shortest segment of a spline; default 5
	MinSegmentCells int            // cells that a segment needs; default 30
	MaxCells        int            // cells that take part; default 60 000
	MaxSlopeRad     float64        // steeper cells are left out; default 50 deg
	RelevantM       float64        // what moves no point of its strip by this much is left alone; default 0.004
	MinZ            float64        // standard errors by which held-out ground must improve; default 3
	MaxShiftM       float64        // larger shifts to control are held back unless ApplyBeyond; default 0.5
	CheckMeanM      float64        // mean of cloud minus check points that are not fitted to, as the cloud is
	CheckSEM        float64        // its standard error; 0: no check points
}

// DefaultCorrectOptions returns the defaults named in CorrectOptions. MinSegmentS and MinSegmentCells are common practice (georeferencing
// reference, section 6), the others our proposals.
func DefaultCorrectOptions() CorrectOptions {
	return CorrectOptions{Splines: true, MinSegmentS: 5, MinSegmentCells: 30, MaxCells: 60_000, MaxSlopeRad: 50 * math.Pi / 180, RelevantM: 0.004, MinZ: 3, MaxShiftM: 0.5}
}

// Fitted is one estimated parameter, "used minus true", in the inner unit of its kind.
type Fitted struct {
	Kind     Kind
	Strip    int // index into Survey.Strips, -1 for the whole flight
	Value    float64
	Sigma    float64 // from clusters of ground, the path's own slow errors and what the model cannot follow; docs/correction.md
	EffectM  float64 // 95th percentile of the move that it causes
	Detail   string
	Reliable bool // larger than twice its standard deviation
}

// Refused is what could be corrected and is not.
type Refused struct {
	Kind   Kind
	Strip  int
	Reason string // one clause for a reader
}

// CorrectionFit is what EstimateCorrection found.
type CorrectionFit struct {
	Correction *Correction
	Judged     bool   // false: too little overlap
	Why        string // why not
	Fitted     []Fitted
	Refused    []Refused
	Notes      []string

	Cells         int
	Blocks        int
	BeforeRMSM    float64 // of separations as they are, robustly weighted
	TrainRMSM     float64 // of what the fit leaves in its own cells
	HoldoutRMSM   float64 // in cells that it was not fitted to
	FloorRMSM     float64 // what the planes' own noise alone would leave
	OverlapRMSM   float64 // in overlaps of two strips none of whose cells took part; NaN with less than three pairs, or when nothing was fitted to strips
	OverlapBefore float64 // in the same overlaps before
	Improved      bool    // held-out ground agrees better by more than MinZ standard errors
	ControlUsed   int
	ControlRMSM   float64 // cloud minus control after the strips were fitted, before the shift; NaN without control
	ControlAfter  float64 // and after it

	middle [compRoll][]int // strips from which shifts east, north and up are counted; none: from zero
}

// EstimateCorrection estimates what the diagnosis says is worth estimating, and, where strips still disagree after that, errors of
// single strips: the smallest set of parameters that ground outside the fit asks for. It moves nothing.
//
// path may be nil. Nothing that follows is fitted to check points.
func EstimateCorrection(s *overlap.Survey, pairs []overlap.Pair, path *trajectory.Path, d *Diagnosis, o CorrectOptions) *CorrectionFit {
	fit, _ := EstimateCorrectionContext(context.Background(), s, pairs, path, d, o)
	return fit
}

// EstimateCorrectionContext is EstimateCorrection that ends with the error of ctx soon after that is done.
func EstimateCorrectionContext(ctx context.Context, s *overlap.Survey, pairs []overlap.Pair, path *trajectory.Path, d *Diagnosis, o CorrectOptions) (fit *CorrectionFit, err error) {
	defer untilDone(&err)
	return estimateCorrection(ctx, s, pairs, path, d, o), nil
}

func estimateCorrection(ctx context.Context, s *overlap.Survey, pairs []overlap.Pair, path *trajectory.Path, d *Diagnosis, o CorrectOptions) *CorrectionFit {
	fit := &CorrectionFit{OverlapRMSM: math.NaN(), OverlapBefore: math.NaN(), ControlRMSM: math.NaN(), ControlAfter: math.NaN()}
	fit.Correction = &Correction{Version: CorrectionVersion, Knowledge: d.Knowledge, UsesPath: path != nil, LeverM: o.LeverM, Strips: NewStripCorrections(s)}
	if path != nil {
		for i := range fit.Correction.Strips {
			fit.Correction.Strips[i].Sight = SightNone // a pose or nothing
		}
	}
	refs := chooseCells(pairs, o.MaxSlopeRad, o.MaxCells)
	e := &estimation{s: s, pairs: pairs, path: path, d: d, o: o, fit: fit}
	e.look = newLook(fit.Correction.Strips, path, o.LeverM, s.Options.CellM)
	cols, ofStrip, groups := columnsFor(fit.Correction.Strips, pairs, refs, path, o)
	e.p = newFitProblem(ctx, fit.Correction.Strips, pairs, refs, e.look, s.Options.CellM, cols, ofStrip)
	e.p.groups = groups
	fit.Cells, fit.Blocks = len(e.p.rows), e.p.blocks
	if fit.Cells < minRows || fit.Blocks < minBlocks {
		fit.Why = fmt.Sprintf("%d smooth overlap cells in %d blocks of ground; at least %d in %d are needed", fit.Cells, fit.Blocks, minRows, minBlocks)
		e.fitControl(nil)
		return fit
	}
	fit.Judged = true
	e.p.regularise(groups)
	e.p.reweigh(e.rich())
	if o.Splines {
		e.addSteps(refs)
	}
	var model groupSet
	if !e.atFloor() {
		model = e.dropConfounded(e.decide(e.admit()))
	}
	e.finish(e.dropInsignificant(e.guard(model)))
	return fit
}

// decide chooses a model of what these data can decide. When errors of strips have to be held back, the choice is made again without them; what it finds counts only
// if it explains as much: another cause then stands behind what was held. Otherwise it would only imitate that.
func (e *estimation) decide(named groupSet) groupSet {
	var first groupSet
	var was *fitScore
	var said []Refused
	base := len(e.fit.Refused)
	for range mostChoices {
		seen := e.dropUnseen(e.choose(named))
		m := e.dropTilts(seen)
		if was == nil {
			was, first, said = e.p.score(e.p.columnsOf(seen)), m, slices.Clone(e.fit.Refused[base:])
		}
		if len(m) == len(seen) {
			if s := e.p.score(e.p.columnsOf(m)); s.ok && (s.squares <= (1+alikeSquares)*was.squares || clearness(e.p.blockSquares(s), e.p.blockSquares(was)) <= 1) {
				return m
			}
			break
		}
		e.fit.Refused = e.fit.Refused[:base]
		e.ban(slices.DeleteFunc(seen, func(g int) bool { return slices.Contains(m, g) }))
	}
	e.fit.Refused = append(e.fit.Refused[:base], said...)
	return first
}

// mostChoices bounds how often a model is chosen.
const mostChoices = 3

// ban takes groups, and others of their strips that hold a roll or a drift of the height as they do, out of all further models.
func (e *estimation) ban(groups groupSet) {
	turns := func(c int) component { // compGlobal: neither
		switch col := &e.p.columns[c]; {
		case col.comp == compRoll || col.comp == compUp && !col.step && len(col.curve.TimeS) > 1:
			return col.comp
		}
		return compGlobal
	}
	for _, b := range groups {
		for g := range e.p.groups {
			if e.p.groups[g].strip == e.p.groups[b].strip && slices.ContainsFunc(e.p.groups[g].cols, func(c int) bool {
				return turns(c) != compGlobal && slices.ContainsFunc(e.p.groups[b].cols, func(d int) bool { return turns(d) == turns(c) })
			}) {
				e.p.groups[g].banned = true
			}
		}
	}
}

// estimation is one estimation under way.
type estimation struct {
	s     *overlap.Survey
	pairs []overlap.Pair
	path  *trajectory.Path
	d     *Diagnosis
	o     CorrectOptions
	look  *look
	p     *fitProblem
	fit   *CorrectionFit
}

// groupSet is a model: places in fitProblem.groups.
type groupSet []int

func (p *fitProblem) columnsOf(m groupSet) []int {
	var out []int
	for _, g := range m {
		out = append(out, p.groups[g].cols...)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// rich holds everything but splines and the kinds that overlaps cannot see, as far as the number of cells bears: what it leaves is noise.
func (e *estimation) rich() []int {
	var out []int
	for i := range e.p.columns {
		c := &e.p.columns[i]
		if c.comp == compGlobal && (c.kind == RangeOffset || c.kind == LeverZ || c.kind == TimeOffset) || len(c.curve.TimeS) > 2 {
			continue
		}
		out = append(out, i)
	}
	if 10*len(out) > len(e.p.rows) {
		out = slices.DeleteFunc(out, func(i int) bool { return e.p.columns[i].comp != compUp && e.p.columns[i].comp != compGlobal })
	}
	return out
}

// admit takes the causes of the whole flight that the diagnosis names and that may be applied.
func (e *estimation) admit() groupSet {
	var m groupSet
	for _, c := range e.d.Causes {
		if c.Strip >= 0 || c.Kind >= globalKinds || slices.Contains(m, int(c.Kind)) {
			continue
		}
		switch {
		case c.Kind == RangeOffset && len(e.o.Control) == 0:
			e.refuse(c.Kind, -1, "it shifts all heights, which only control points can show: give some with --control")
		case c.Kind == LeverZ:
			e.refuse(c.Kind, -1, "strips against each other cannot show it")
		default:
			m = append(m, int(c.Kind)) // groups of global kinds come first, in their order
		}
	}
	return m
}

func (e *estimation) refuse(k Kind, strip int, why string) {
	e.fit.Refused = append(e.fit.Refused, Refused{k, strip, why})
}

// alikeM and alikeShare are how far two corrections may move a point apart, or by which share of the move itself, and still count as the same
// correction. Our proposal: below the resolution of what is delivered; and a correction that leaves a quarter of an error, should the rival be the
// cause, is better than none, as long as it is no more than half of what the strips lie apart.
const (
	alikeM     = 0.006
	alikeShare = 0.25
)

// dropConfounded leaves out kinds of the whole flight with rivals that explain held-out ground as well and would move the points elsewhere. A rival
// that moves them alike, such as a lever arm beside a pitch at one flying height, leaves the cause open but not the correction.
func (e *estimation) dropConfounded(m groupSet) groupSet {
	cur := e.p.score(e.p.columnsOf(m))
	var keep groupSet
	for _, g := range m {
		k := e.p.groups[g].kind
		if e.p.groups[g].strip >= 0 {
			keep = append(keep, g)
			continue
		}
		rivals := e.rivals(m, cur, k)
		var apart []string
		limit, most := math.Max(alikeM, math.Min(alikeShare*e.effect(m, k), 0.5*math.Sqrt(e.p.yy/e.p.w))), 0.0
		for _, q := range rivals {
			d := e.apart(m, k, q)
			if d > limit {
				apart = append(apart, fmt.Sprintf("%s, %.0f mm", q.Plain(), 1000*d))
			} else {
				most = math.Max(most, d)
			}
		}
		switch {
		case len(rivals) > 0 && len(apart) == 0:
			e.note("The cause of what is corrected as %s stays open (%s would explain it as well), but the correction does not: it moves points alike to %.0f mm.",
				k.Plain(), kindList(rivals), math.Ceil(1000*most))
		case len(apart) > 0 && slices.Contains(e.o.Again, k): // the first round has said what it had to say
		case len(apart) > 0 && e.o.ApplyConfounded:
			e.note("%s was applied as asked for, although these data cannot tell it from a rival that moves points elsewhere (%s).", sentence(k.Plain()), joinList(apart))
		case len(apart) > 0:
			e.refuse(k, -1, fmt.Sprintf("these data cannot tell it from a rival that moves points elsewhere (%s); --apply-confounded applies it all the same", joinList(apart)))
			continue
		}
		keep = append(keep, g)
	}
	return keep
}

// rivals lists the kinds that explain held-out ground as well as k does in its place: those of the diagnosis, and those that show here.
func (e *estimation) rivals(m groupSet, cur *fitScore, k Kind) []Kind {
	var out []Kind
	without := slices.DeleteFunc(e.p.columnsOf(m), func(c int) bool { return c == int(k) })
	for q := range DatumHeight {
		if q == k || q == LeverZ || q == StripDrift || q == globalKinds || q < globalKinds && slices.Contains(m, int(q)) || q == RangeOffset && len(e.o.Control) == 0 {
			continue
		}
		if k == BoresightRoll && q == AttitudeDrift || k == BoresightHeading && q == AttitudeDrift {
			continue // an angle for each strip always holds one angle for all
		}
		s := e.p.score(slices.Compact(sorted(append(slices.Clone(without), e.columnsOfKind(q)...))))
		if !s.ok {
			continue
		}
		if s.squares <= 1.01*cur.squares || clearness(e.p.blockSquares(s), e.p.blockSquares(cur)) <= 1 {
			out = append(out, q)
		}
	}
	return out
}

func sorted(v []int) []int {
	slices.Sort(v)
	return v
}

func sentence(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

func (e *estimation) note(format string, args ...any) {
	e.fit.Notes = append(e.fit.Notes, fmt.Sprintf(format, args...))
}

func kindList(k []Kind) string {
	var names []string
	for _, q := range k {
		names = append(names, q.Plain())
	}
	return joinList(names)
}

func joinList(v []string) string {
	s := ""
	for i, x := range v {
		switch {
		case i == 0:
		case i == len(v)-1:
			s += " or "
		default:
			s += ", "
		}
		s += x
	}
	return s
}

// effect is the 95th percentile of the moves that a kind of the whole flight causes in a model.
func (e *estimation) effect(m groupSet, k Kind) float64 {
	x, _, ok := e.p.solve(e.p.columnsOf(m), -1)
	if !ok {
		return 0
	}
	only := make([]float64, len(x))
	only[k] = x[k]
	return quantile(e.moves(only, -1), 0.95)
}

// apart is how far the corrections with kind k and with rival q in its place move points apart: the 95th percentile over the whole
// cloud, overlaps or not, less what all points have in common.
func (e *estimation) apart(m groupSet, k, q Kind) float64 {
	own := e.p.columnsOf(m)
	without := slices.DeleteFunc(slices.Clone(own), func(c int) bool { return c == int(k) })
	rival := append(without, e.columnsOfKind(q)...)
	slices.Sort(rival)
	x, _, ok1 := e.p.solve(own, -1)
	y, _, ok2 := e.p.solve(slices.Compact(rival), -1)
	if !ok1 || !ok2 {
		return math.Inf(1)
	}
	for i := range x {
		x[i] -= y[i]
	}
	return quantile(e.movesApart(x), 0.95)
}

// columnsOfKind lists the columns that a kind of the diagnosis has.
func (e *estimation) columnsOfKind(k Kind) []int {
	if k < globalKinds {
		return []int{int(k)}
	}
	var out []int
	for i := range e.p.columns {
		c := &e.p.columns[i]
		switch {
		case c.comp == compGlobal || len(c.curve.TimeS) > 2:
		case k == StripHeight && c.kind == StripHeight, k == StripHorizontal && c.kind == StripHorizontal,
			k == AttitudeDrift && c.comp == compRoll, k == StripDrift && c.comp == compUp:
			out = append(out, i)
		}
	}
	return out
}

// movesApart is like moves, less the mean move of the cloud, which overlaps cannot show.
func (e *estimation) movesApart(x []float64) []float64 {
	var all []Vec
	var mean Vec
	for s := range e.s.Lines() {
		f := e.s.Strips[s].Facets
		step := max(1, len(f)/150)
		for i := 0; i < len(f); i += step {
			if f[i].N > 0 {
				v := e.move(x, s, &f[i])
				all, mean = append(all, v), mean.Add(v)
			}
		}
	}
	mean = mean.Times(1 / math.Max(float64(len(all)), 1))
	out := make([]float64, len(all))
	for i := range all {
		out[i] = all[i].Sub(mean).Norm()
	}
	return out
}

// moves returns the lengths of the moves that parameters cause at facets of all strips, or of one.
func (e *estimation) moves(x []float64, strip int) []float64 {
	var out []float64
	for s := range e.s.Lines() {
		if strip >= 0 && s != strip {
			continue
		}
		f := e.s.Strips[s].Facets
		step := max(1, len(f)/150)
		for i := 0; i < len(f); i += step {
			if f[i].N > 0 {
				out = append(out, e.move(x, s, &f[i]).Norm())
			}
		}
	}
	return out
}

// move is the move that parameters cause at a facet, used minus true.
func (e *estimation) move(x []float64, strip int, f *overlap.Facet) Vec {
	v := e.look.seen(strip, f.TimeS, Vec{f.EM, f.NM, f.ZM}, f.AngleRad)
	var d Vec
	if v.known {
		for k := range globalKinds {
			d = d.Add(v.global[k].Times(x[k]))
		}
	}
	for _, c := range e.p.ofStrip[strip] {
		if x[c] == 0 {
			continue
		}
		col := &e.p.columns[c]
		q := x[c]
		if len(col.curve.TimeS) > 0 {
			q *= col.curve.At(f.TimeS)
		}
		switch col.comp {
		case compEast:
			d[0] += q
		case compNorth:
			d[1] += q
		case compUp:
			d[2] += q
		case compRoll:
			d = d.Add(v.roll.Times(q))
		case compHeading:
			d = d.Add(v.heading.Times(q))
		}
	}
	return d
}

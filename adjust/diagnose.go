package adjust

import (
	"context"
	"fmt"
	"math"

	"sidelap/overlap"
	"sidelap/trajectory"
)

// Cause is an error source with its estimate, "used minus true", in the kind's inner unit.
type Cause struct {
	Kind           Kind
	Strip          int     // index into Survey.Strips, -1 for the whole flight
	Estimate       float64 // radians, metres, seconds or 1, see Kind.Unit
	Sigma          float64 // from clusters of ground
	Significant    bool    // |Estimate| is at least twice Sigma; false: only the set of this kind with ConfoundedWith is clear of noise
	ExplainedPct   float64 // share of the separations' squares that is lost when this kind is left out
	EffectM        float64 // 95th percentile of the height change between strips that it causes
	ConfoundedWith []Kind  // kinds that explain these data as well in its place
	Detail         string  // direction or course of per-strip causes
}

// Observability says how well a parameter could be determined here, before any fit.
type Observability struct {
	Kind       Kind
	Sigma      float64 // predicted standard deviation, alone
	SigmaJoint float64 // together with the three boresight angles
	Observable bool
}

// Diagnosis is what Diagnose found.
type Diagnosis struct {
	Knowledge   Knowledge
	Cells       int // equations
	Blind       int // cells for which the sensor's place is not known
	Blocks      int
	Judged      bool   // false: too little overlap to say anything
	Why         string // why not judged
	Model       string
	BeforeRMSM  float64 // separations as they are, robustly weighted
	HoldoutRMSM float64 // what the model leaves on ground it was not fitted to
	FloorRMSM   float64 // what the richest model leaves there
	Causes      []Cause
	Observable  []Observability
	Alike       [][2]Kind // pairs that these data cannot tell apart
	Residuals   []Residual
	Standings   []Standing // how high strips lie against each other, whatever the cause
}

// Residual is one cell before and after the chosen model.
type Residual struct {
	Pair, Cell       int
	EM, NM           float64
	AcrossA, AcrossB float64 // metres right of the paths
	TimeAS, TimeBS   float64
	BeforeM, AfterM  float64
	Weight           float64 // 0: left out as an outlier
}

// minRows and minBlocks are what a diagnosis needs. Our proposal, no source: with fewer
// blocks, four folds of hold-out say nothing.
const (
	minRows   = 40
	minBlocks = 8
)

// Diagnose explains the separations of the pairs. path may be nil.
func Diagnose(s *overlap.Survey, pairs []overlap.Pair, path *trajectory.Path, know Knowledge, o Options) *Diagnosis {
	d, _ := DiagnoseContext(context.Background(), s, pairs, path, know, o)
	return d
}

// DiagnoseContext is Diagnose that ends with the error of ctx soon after that is done.
func DiagnoseContext(ctx context.Context, s *overlap.Survey, pairs []overlap.Pair, path *trajectory.Path, know Knowledge, o Options) (d *Diagnosis, err error) {
	defer untilDone(&err)
	return diagnose(ctx, s, pairs, path, know, o), nil
}

func diagnose(ctx context.Context, s *overlap.Survey, pairs []overlap.Pair, path *trajectory.Path, know Knowledge, o Options) *Diagnosis {
	goOn(ctx)
	p, base, blind := build(s, pairs, path, know, o)
	p.ctx = ctx
	d := &Diagnosis{Knowledge: know, Cells: len(p.rows), Blind: blind, Blocks: countBlocks(p.rows), Standings: standings(len(s.Strips), pairs)}
	if d.Cells < minRows || d.Blocks < minBlocks {
		d.Why = fmt.Sprintf("%d smooth overlap cells in %d blocks of ground; at least %d in %d are needed",
			d.Cells, d.Blocks, minRows, minBlocks)
		return d
	}
	d.Judged = true
	if path == nil && 2*blind > d.Cells {
		d.Knowledge = PairsOnly
	}
	p.reweigh(p.richModel(), base)
	p.findSteps(base)
	d.Observable = p.observability()
	d.Alike = p.alike(d.Observable)
	chosen, best := p.search(d.Alike)
	causes, chosen, e := p.causes(s, chosen, d.Alike, o)
	d.Causes = causes
	d.Model = chosen.model.String()
	d.BeforeRMSM = math.Sqrt(p.total.yy / p.total.w)
	d.HoldoutRMSM = p.ownRMS(&chosen)
	d.FloorRMSM = math.Sqrt(best.squares / p.total.w)
	d.Residuals = p.residualList(pairs, e)
	return d
}

// richModel holds every kind that the number of rows can bear: what it leaves is noise, so that no fault is taken for outliers.
func (p *problem) richModel() model {
	var m model
	for k := range LeverZ {
		m = append(m, k)
	}
	for _, k := range []Kind{StripHeight, StripHorizontal, AttitudeDrift, StripDrift} {
		if bigger := m.with(k); 10*len(bigger.columns(p.layout)) < len(p.rows) {
			m = bigger
		}
	}
	return m
}

func countBlocks(rows []row) int {
	seen := map[int32]bool{}
	for i := range rows {
		seen[rows[i].block] = true
	}
	return len(seen)
}

// residuals lists the cells before and after a fit.
func (p *problem) residualList(pairs []overlap.Pair, e *estimate) []Residual {
	out := make([]Residual, len(p.rows))
	after := p.residuals(e.full)
	for i := range p.rows {
		r := &p.rows[i]
		c := &pairs[r.pair].Cells[r.cell]
		out[i] = Residual{Pair: int(r.pair), Cell: int(r.cell), EM: c.EM, NM: c.NM, AcrossA: float64(r.acrossA), AcrossB: float64(r.acrossB),
			TimeAS: c.TimeAS, TimeBS: c.TimeBS, BeforeM: r.y, AfterM: after[i], Weight: r.weight}
	}
	return out
}

// ownRMS is what a model leaves on held-out ground, without the quiet errors that its fit allows for.
func (p *problem) ownRMS(s *score) float64 {
	sum := 0.0
	for _, v := range p.blockSquares(s, true) {
		sum += v
	}
	return math.Sqrt(math.Max(0, sum) / p.total.w)
}

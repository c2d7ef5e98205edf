package correct

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"sidelap/adjust"
	"sidelap/las"
	"sidelap/las/disk"
	"sidelap/report"
	"sidelap/report/assess"
)

// run is one correction under way.
type run struct {
	a     assess.Options
	o     Options
	p     *assess.Prepared
	fit   *adjust.CorrectionFit
	first *adjust.CorrectionFit // of the first round, when there were two
	names []string
	stage string // folder in which everything is made before it gets its name
	files []fileRow
}

// secondRound is the share of a cell by which points must move before the overlaps are measured again with the points moved and the
// rest is estimated. Our proposal: smaller moves leave the facets on the ground that they were fitted to.
const secondRound = 0.25

// Run assesses the cloud, estimates, applies, assesses again, and writes the results folder. Inputs are not changed. On error, or when ctx is done, the
// results folder is as it was.
func Run(ctx context.Context, a assess.Options, o Options) (*Result, error) {
	if err := o.validate(); err != nil {
		return nil, err
	}
	if err := a.Validate(); err != nil {
		return nil, err
	}
	if err := replaceable(filepath.Clean(o.Out), o.Force); err != nil { // before anything is read
		return nil, err
	}
	if err := disk.CheckFolder(o.Out); err != nil {
		return nil, err
	}
	p, err := assess.Prepare(ctx, a)
	if err != nil {
		return nil, err
	}
	defer p.Close()
	r := &run{a: a, o: o, p: p}
	var inputs []string
	for _, f := range p.Files {
		inputs = append(inputs, f.Path())
	}
	if r.names, err = outputNames(inputs, o.Format); err != nil {
		return nil, err
	}
	if err := r.estimate(ctx); err != nil {
		return nil, err
	}
	return r.write(ctx)
}

// progress tells how far the work is.
func (r *run) progress(stage string, done, total int64) {
	if r.a.Progress != nil {
		r.a.Progress(assess.Progress{Stage: stage, Done: done, Total: total})
	}
}

// estimate fits, in a second round with the points moved when they move far.
func (r *run) estimate(ctx context.Context) error {
	r.progress("estimate", 0, 0)
	o := r.options()
	var err error
	if r.fit, err = adjust.EstimateCorrectionContext(ctx, r.p.Survey, r.p.Pairs, r.p.Path, r.p.Diagnosis, o); err != nil {
		return err
	}
	if r.fit.Correction.Zero() || r.largestMove() < secondRound*r.p.Survey.Options.CellM {
		return ctx.Err()
	}
	var failed error
	survey, pairs, err := r.p.Remeasure(ctx, func() func(*las.Chunk, int) {
		movers := make([]*adjust.Mover, len(r.p.Files))
		return func(c *las.Chunk, file int) {
			if movers[file] == nil {
				m, err := adjust.NewMover(r.fit.Correction, r.p.Path, file)
				if err != nil {
					failed = err
					return
				}
				movers[file] = m
			}
			movers[file].Add(c, file)
		}
	})
	if err == nil {
		err = failed
	}
	if err != nil {
		return err
	}
	// the moved cloud: what the diagnosis named stays admitted, the rest must be asked for by the ground again
	r.progress("estimate again", 0, 0)
	rest, err := adjust.DiagnoseContext(ctx, survey, pairs, r.p.Path, r.p.Knowledge, adjust.DefaultOptions())
	if err != nil {
		return err
	}
	for _, f := range r.fit.Fitted {
		if f.Strip < 0 {
			o.Again = append(o.Again, f.Kind)
		}
	}
	o.CheckMeanM -= r.fit.Correction.Datum.UpM
	second, err := adjust.EstimateCorrectionContext(ctx, survey, pairs, r.p.Path, rest, o)
	if err != nil {
		return err
	}
	if !second.Judged || second.Correction.Zero() {
		return nil
	}
	sum, err := r.fit.Correction.Plus(second.Correction)
	if err != nil {
		return err
	}
	r.first = r.fit
	r.fit = mergeFits(r.first, second, sum)
	return nil
}

// mergeFits joins two rounds: before is the first one's, what remains the second one's.
func mergeFits(a, b *adjust.CorrectionFit, sum *adjust.Correction) *adjust.CorrectionFit {
	m := *b
	m.Correction, m.BeforeRMSM, m.OverlapBefore, m.Improved = sum, a.BeforeRMSM, a.OverlapBefore, a.Improved || b.Improved
	if math.IsNaN(b.OverlapRMSM) { // the second round left the strips alone
		m.OverlapRMSM = a.OverlapRMSM
	}
	m.ControlRMSM = a.ControlRMSM
	m.Notes = append(append([]string{"Points move by more than a quarter of a cell: the overlaps were measured again with the points moved, and the rest was estimated."}, a.Notes...), b.Notes...)
	m.Refused = refusals(a, b)
	m.Fitted = append([]adjust.Fitted{}, a.Fitted...)
	for _, f := range b.Fitted {
		found := false
		for i := range m.Fitted {
			if g := &m.Fitted[i]; g.Kind == f.Kind && g.Strip == f.Strip {
				g.Value, g.Sigma, found = g.Value+f.Value, f.Sigma, true
				g.EffectM += f.EffectM
				break
			}
		}
		if !found {
			m.Fitted = append(m.Fitted, f)
		}
	}
	return &m
}

// refusals joins what two rounds refused: the second one's word counts on what both refused, the first one's on what it applied.
func refusals(a, b *adjust.CorrectionFit) []adjust.Refused {
	var out []adjust.Refused
	for _, x := range a.Refused {
		if !slices.ContainsFunc(b.Refused, func(y adjust.Refused) bool { return y.Kind == x.Kind && y.Strip == x.Strip }) {
			out = append(out, x)
		}
	}
	for _, y := range b.Refused {
		if !slices.ContainsFunc(a.Fitted, func(f adjust.Fitted) bool { return f.Kind == y.Kind && f.Strip == y.Strip }) {
			out = append(out, y)
		}
	}
	return out
}

// limitShift tells the estimate which shift to control is beyond belief: three times the vertical limit in force, and half a metre at least.
func (r *run) limitShift(o *adjust.CorrectOptions) {
	for _, c := range r.p.Record.Verdict.Criteria {
		if c.Group == "absolute" && c.Unit == "m" && c.Sense == "max" && c.Limit != nil {
			o.MaxShiftM = math.Max(o.MaxShiftM, 3**c.Limit)
		}
	}
	if c := r.p.Record.Checkpoints; c != nil && c.NVA != nil && c.NVA.N >= 3 && c.NVA.MeanM != nil && c.NVA.StdM != nil {
		o.CheckMeanM, o.CheckSEM = *c.NVA.MeanM, *c.NVA.StdM/math.Sqrt(float64(c.NVA.N))
	}
}

func (r *run) options() adjust.CorrectOptions {
	o := adjust.DefaultCorrectOptions()
	o.ApplyConfounded, o.ApplyBeyond, o.Splines = r.o.ApplyConfounded, r.o.ApplyBeyond, !r.o.NoSplines
	if r.p.Knowledge == adjust.FromPath {
		o.LeverM = adjust.Vec(r.a.LeverM)
	}
	r.limitShift(&o)
	for i := range r.p.Control {
		c := &r.p.Control[i]
		if c.HasZ() {
			o.Control = append(o.Control, adjust.ControlPoint{ID: c.ID, EM: c.EM, NM: c.NM, ZM: c.ZM, SigmaM: c.SDVerticalM})
		}
	}
	return o
}

func (r *run) largestMove() float64 {
	most := 0.0
	for _, f := range r.fit.Fitted {
		if f.Kind != adjust.DatumHeight {
			most = math.Max(most, f.EffectM)
		}
	}
	return most
}

// write makes the results folder under a temporary name and gives it its own.
func (r *run) write(ctx context.Context) (res *Result, err error) {
	out := filepath.Clean(r.o.Out)
	if err := replaceable(out, r.o.Force); err != nil {
		return nil, err
	}
	if err := noneBelow(out, r.inputs()); err != nil {
		return nil, err
	}
	folder, err := disk.NewFolder(out, "cloud", "before")
	if err != nil {
		return nil, err
	}
	defer func() {
		err = folder.Named(err, out)
		folder.Close()
	}()
	tmp := folder.Path
	r.stage = filepath.Join(tmp, "results")
	res = &Result{Outcome: r.outcome(), Before: r.p.Record}
	if res.Outcome == Applied {
		err = r.applied(ctx, tmp, out, res)
	} else {
		res.Record = r.p.Record
		r.p.Record.Correction = r.record(res.Outcome, r.p.Record, nil)
		err = report.RenderContext(ctx, r.stage, r.p.Record, r.p.Layers, report.RenderOptions{})
	}
	if err == nil {
		err = ctx.Err()
	}
	if err != nil {
		return nil, err
	}
	if err := unpack(r.stage, tmp); err != nil {
		return nil, err
	}
	return res, folder.Replace()
}

// unpack moves what lies in a folder one up, and removes the folder.
func unpack(dir, up string) error {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	for _, e := range entries {
		if err := os.Rename(filepath.Join(dir, e.Name()), filepath.Join(up, e.Name())); err != nil {
			return err
		}
	}
	return os.Remove(dir)
}

// outcome decides what is done.
func (r *run) outcome() Outcome {
	moves := !r.fit.Correction.Zero()
	switch {
	case r.o.DryRun && moves:
		return Shown
	case moves || r.o.Force && !r.o.DryRun && r.fit.Judged && len(r.fit.Refused) == 0:
		return Applied
	case !r.fit.Judged:
		return NotJudged
	case len(r.fit.Refused) > 0:
		return Held
	}
	return Nothing
}

// applied writes and assesses the corrected cloud, and renders both assessments.
func (r *run) applied(ctx context.Context, tmp, out string, res *Result) error {
	cloud := filepath.Join(tmp, "moved")
	paths, err := r.apply(ctx, cloud)
	if err != nil {
		return err
	}
	after := r.a
	after.Inputs = paths
	if after.Progress != nil {
		after.Progress = func(p assess.Progress) { p.Stage += " again"; r.a.Progress(p) }
	}
	rec, layers, err := assess.Run(ctx, after)
	if err != nil {
		return err
	}
	final := filepath.Join(out, "cloud")
	rename(rec, cloud, final)
	for _, p := range paths {
		res.Files = append(res.Files, strings.Replace(p, cloud, final, 1))
	}
	layers.Before, layers.BeforeUsed = report.Combine(r.p.Layers.Pairs)
	rec.Correction = r.record(Applied, r.p.Record, rec)
	res.Record = rec
	if err := report.RenderContext(ctx, r.stage, rec, layers, report.RenderOptions{}); err != nil {
		return err
	}
	if err := report.RenderContext(ctx, filepath.Join(r.stage, "before"), r.p.Record, r.p.Layers, report.RenderOptions{}); err != nil {
		return err
	}
	if err := r.writeCorrection(cloud, rec.Correction); err != nil {
		return err
	}
	return os.Rename(cloud, filepath.Join(r.stage, "cloud"))
}

// rename puts the final folder for the temporary one where the record names files.
func rename(rec *report.Record, from, to string) {
	from, to = filepath.ToSlash(from), filepath.ToSlash(to)
	for i := range rec.Inputs {
		rec.Inputs[i].Path = strings.Replace(rec.Inputs[i].Path, from, to, 1)
	}
	for i := range rec.Warnings {
		rec.Warnings[i] = strings.ReplaceAll(rec.Warnings[i], from, to)
	}
}

// inputs lists every file that the correction reads.
func (r *run) inputs() []string {
	var paths []string
	for _, f := range r.p.Files {
		paths = append(paths, f.Path())
	}
	for _, p := range []string{r.a.Trajectory, r.a.Accuracy, r.a.CheckPoints, r.a.Control, r.a.Base} {
		if p != "" {
			paths = append(paths, p)
		}
	}
	return paths
}

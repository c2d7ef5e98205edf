package assess

import (
	"cmp"
	"context"
	"errors"
	"math"
	"sync"

	"sidelap/adjust"
	"sidelap/control"
	"sidelap/control/blunder"
	"sidelap/control/geoid"
	"sidelap/las"
	"sidelap/las/crs"
	"sidelap/overlap"
	"sidelap/report"
	"sidelap/report/limits"
	"sidelap/trajectory"
	"sidelap/trajectory/recover"
	"sidelap/trajectory/rinex"
)

// job is one assessment under way.
type job struct {
	o      Options
	files  []*las.File
	paths  []string
	crs    *crs.CRS
	extent control.Box
	limits *limits.Set
	track  *trajectory.Track
	checks *control.List
	ground *control.List // control points

	geoid      *geoid.Grid
	mark       *control.Point // base mark, nil when unknown
	spots      []control.Point
	targets    []control.Point // looked for in plan
	ridges     []control.Point
	moved      []blunder.Moved
	unmeasured int // targets marked in the list, of unknown shape
	expected   *expected

	base   *rinex.Log
	probe  overlap.Options
	why    string // why this cell size
	rec    *report.Record
	layers *report.Layers

	compared   *control.Comparison
	surfaced   chan struct{}  // closed when compared is there
	background sync.WaitGroup // surfaces at check points, path, hashes and figures, made while strips are compared

	survey  *overlap.Survey
	pairs   []overlap.Pair
	grid    *trajectory.Path // see inGrid
	gridErr error
	path    *trajectory.Path
	audits  []las.TimeAudit

	keepFacets bool // for a correction; else they go when what needs them is done

	timesMatched bool // the path's times were compared with those of the points

	know      adjust.Knowledge  // of the sensor's place, for Prepare
	diagnosis *adjust.Diagnosis // nil when causes were not asked for
}

// Run assesses a survey. It changes no input and writes nothing. Errors name the file or
// the option at fault; a result outside the limits is no error.
func Run(ctx context.Context, o Options) (*report.Record, *report.Layers, error) {
	j, err := newJob(ctx, o)
	if err != nil {
		return nil, nil, err
	}
	defer closeAll(j.files)
	if err := j.run(ctx); err != nil {
		return nil, nil, err
	}
	return j.rec, j.layers, nil
}

// run does what comes after newJob.
func (j *job) run(ctx context.Context) error {
	g, err := j.read(ctx)
	if err != nil {
		return err
	}
	j.audits = fillInputs(j.rec, j.files, g.times)
	j.rec.Warnings = append(j.rec.Warnings, inputWarnings(j.rec.Inputs)...)
	fillDamage(j.rec, j.files)
	ctx, cancel := context.WithCancel(ctx)
	defer j.background.Wait()
	defer cancel()
	hashed := j.hash(ctx)
	if g.checks != nil {
		j.surfaced = make(chan struct{})
		j.background.Go(func() {
			defer close(j.surfaced)
			j.compared = j.surfaces(g)
		})
	}
	if g.strips != nil {
		if err := j.measure(ctx, g); err != nil {
			return err
		}
	}
	if g.clock != nil && j.track != nil {
		if err := j.pathOfChecks(g); err != nil {
			return err
		}
	}
	if g.checks != nil {
		<-j.surfaced
		j.compare(g)
	}
	j.judge()
	err = hashed()
	j.background.Wait()
	return cmp.Or(err, ctx.Err())
}

// hash starts to complete the hashes of the files and returns what waits for them and puts them into the record.
func (j *job) hash(ctx context.Context) (wait func() error) {
	if j.o.OnlyStrips {
		return func() error { return nil }
	}
	var sums []string
	var err error
	done := make(chan struct{})
	j.background.Go(func() {
		defer close(done)
		sums, err = hashFiles(ctx, j.files)
	})
	return func() error {
		<-done
		for i, s := range sums {
			j.rec.Inputs[i].SHA256 = report.Text(s)
		}
		return cmp.Or(err, unchanged(j.files)) // what was hashed is what was read
	}
}

// newJob reads everything but the points: headers, lists, limits, path file. What is wrong there is
// said before the long reading.
func newJob(ctx context.Context, o Options) (j *job, err error) {
	if err := o.Validate(); err != nil {
		return nil, err
	}
	if o.Limits == "" {
		o.Limits = DefaultLimits
	}
	j = &job{o: o, rec: newRecord(&o), layers: &report.Layers{}}
	if j.limits, err = limits.Resolve(o.Limits); err != nil {
		return nil, &SettingsError{Flag: "limits", Err: err}
	}
	if j.track, err = readTrack(&o); err != nil {
		return nil, err
	}
	if j.base, err = readBase(&o); err != nil {
		return nil, err
	}
	fillBase(j.rec, j.base)
	if j.paths, err = Expand(o.Inputs); err != nil {
		return nil, err
	}
	if j.files, err = openAll(j.paths, las.OpenOptions{Salvage: o.Salvage, Digest: !o.OnlyStrips}); err != nil {
		return nil, err
	}
	files := j.files
	defer func() {
		if err != nil {
			closeAll(files)
		}
	}()
	var warnings []string
	if j.crs, warnings, err = chooseCRS(j.files, &o); err != nil {
		return nil, err
	}
	j.rec.Warnings = append(j.rec.Warnings, warnings...)
	fillCRS(j.rec, j.crs, j.files[0].Frame(), &j.o)
	j.rec.Warnings = append(append(j.rec.Warnings, unitCautions(&j.rec.CRS, &o)...), settingCautions(&o)...)
	if warnings, err = apart(j.files); err != nil {
		return nil, err
	}
	j.rec.Warnings = append(j.rec.Warnings, warnings...)
	if err = sameTwice(ctx, j.files); err != nil {
		return nil, err
	}
	j.extent = headerExtent(j.files)
	if err = j.lists(); err != nil {
		return nil, err
	}
	if err = j.plan(); err != nil {
		return nil, err
	}
	return j, j.chooseCells(ctx)
}

// lists reads the lists of surveyed points.
func (j *job) lists() (err error) {
	fr := j.files[0].Frame()
	if j.o.CheckPoints != "" {
		if j.checks, err = readList(j.o.CheckPoints, &j.o, j.crs, fr, j.extent); err != nil {
			return err
		}
	}
	if j.o.Control != "" {
		if j.ground, err = readList(j.o.Control, &j.o, j.crs, fr, j.extent); err != nil {
			return err
		}
	}
	return nil
}

// chooseCells decides the grid from a sample of the points.
func (j *job) chooseCells(ctx context.Context) error {
	probe := &overlap.Probe{}
	for _, f := range j.files {
		h, u := f.Header(), f.Frame().HorizontalM
		if area := (h.Max[0] - h.Min[0]) * (h.Max[1] - h.Min[1]) * u * u; area > 0 {
			probe.File(h.Points, area)
		}
		if err := probeFile(ctx, probe, f); err != nil {
			return err
		}
	}
	j.probe, j.why = probe.Options()
	j.probe.Classes = j.o.Classes
	if j.o.CellM > 0 {
		j.probe.AutoCell, j.why = false, "given"
		j.probe.SubCells = max(1, min(8, int(math.Round(float64(j.probe.SubCells)*j.o.CellM/j.probe.CellM))))
		j.probe.CellM = j.o.CellM
	}
	return nil
}

// newGathered makes one worker's part of the reading.
func (j *job) newGathered() *gathered {
	g := &gathered{times: newTimes(len(j.files))}
	if !j.o.OnlyChecks {
		var err error
		if g.strips, err = j.newSums(); err != nil {
			panic(err) // the probe's options are valid by construction
		}
	}
	if j.checks != nil {
		g.checks = control.NewCollector(j.places(), j.checkRadiusM())
	}
	g.extra = j.newExtra()
	if j.track != nil && j.o.OnlyChecks {
		g.clock = newClock()
	}
	if j.track != nil {
		var points int64
		for _, f := range j.files {
			points += f.Header().Points
		}
		g.sample = trajectory.NewSampler(points)
	} else if !j.o.OnlyChecks && !j.o.OnlyStrips && !j.o.SkipCauses {
		var err error
		if g.rays, err = recover.NewCollector(recover.DefaultOptions()); err != nil {
			panic(err) // the default options are valid
		}
	}
	if !j.o.OnlyChecks && !j.o.OnlyStrips {
		g.places = newOutlines(len(j.files))
	}
	if j.o.Intensity && !j.o.OnlyChecks && !j.o.OnlyStrips {
		g.light = newIntensity(j.probe.CellM)
	}
	return g
}

// checkRadiusM is how far around a surveyed point returns are kept: three cells, which hold about ten pulse
// spacings, at least 1.5 m for the step and the slope at the point. Our proposal.
func (j *job) checkRadiusM() float64 { return math.Max(1.5, math.Min(10, 3*j.probe.CellM)) }

// read reads the points once.
func (j *job) read(ctx context.Context) (*gathered, error) {
	var mu sync.Mutex
	var parts []*gathered
	var sums []*overlap.Accumulator
	defer func() { closeSums(sums) }()
	cols := overlap.Columns | las.ColGPSTime | las.ColClass | las.ColReturn | las.ColFlags | las.ColSource | las.ColScanAngle
	if len(j.targets) > 0 || j.o.Intensity {
		cols |= las.ColIntensity
	}
	err := readAll(ctx, j.files, cols, j.o.Workers, func() []sink {
		g := j.newGathered()
		mu.Lock()
		parts = append(parts, g)
		if g.strips != nil {
			sums = append(sums, g.strips)
		}
		mu.Unlock()
		return g.sinks()
	}, j.o.Progress)
	if err != nil {
		return nil, err
	}
	if len(parts) == 0 { // no points at all
		parts = append(parts, j.newGathered())
	}
	all := parts[0]
	if len(sums) > 0 {
		if all.strips, err = j.joinSums(sums); err != nil {
			return nil, err
		}
		sums = nil // the caller's to close
	}
	for _, p := range parts[1:] {
		all.merge(p)
	}
	return all, nil
}

// measure finds strips, pairs and coverage, and looks for causes.
func (j *job) measure(ctx context.Context, g *gathered) (err error) {
	j.stage("strips")
	so := overlap.DefaultSurveyOptions()
	so.Mode = overlap.StripMode(j.o.StripsBy)
	j.survey, err = g.strips.Survey(so)
	g.strips.Close()
	g.strips = nil // its memory is wanted
	if errors.Is(err, overlap.ErrNoPoints) {
		return noPoints(j.files, err)
	}
	if err != nil {
		return err
	}
	j.rec.Options.CellM, j.rec.Options.CellWhy = report.F(j.survey.Options.CellM), report.Text(j.why)
	fillStrips(j.rec, j.survey)
	if j.o.OnlyStrips || ctx.Err() != nil {
		return ctx.Err()
	}
	j.stage("pairs")
	po := overlap.DefaultPairOptions()
	if l, ok := j.limits.SeparationLimitM(); ok {
		po.LimitM = l
	}
	foundPath := j.findPath(g)
	j.pairs = j.survey.Pairs(po)
	j.rec.Options.MinPoints, j.rec.Options.MaxSlopeDeg, j.rec.Options.MaxRoughM = report.I(po.MinPoints), report.F(po.MaxSlopeRad*degrees), report.F(j.survey.RoughLimitM())
	fillPairs(j.rec, j.survey, j.pairs, overlap.Separation(j.pairs, po.LimitM, false), overlap.Loops(j.pairs))
	j.stage("coverage")
	cov := j.survey.Coverage(overlap.DefaultCoverageOptions())
	fillCoverage(j.rec, j.survey, cov)
	rep := j.survey.Repeatability(overlap.DefaultRepeatabilityOptions())
	fillRepeatability(j.rec, j.survey, rep)
	fillLayers(j.layers, j.survey, j.pairs, cov)
	if g.light != nil {
		j.layers.Intensity = g.light.grid(j.layers.Relief)
	}
	if err := j.profileReturns(ctx, g.places); err != nil {
		return err
	}
	if !j.keepFacets {
		for i := range j.survey.Strips {
			j.survey.Strips[i].Facets = nil // causes are found in the cells of pairs
		}
	}
	return j.explain(ctx, foundPath)
}

// findPath starts to look for the path and returns what waits for it and puts what it says into the record.
func (j *job) findPath(g *gathered) (wait func() error) {
	rec, know, err := &report.Record{}, adjust.FromHeadings, error(nil)
	var path *trajectory.Path
	times := stripTimes(j.survey)
	j.timesMatched = j.track != nil && len(times) > 0
	done := make(chan struct{})
	j.background.Go(func() {
		defer close(done)
		switch {
		case j.track != nil:
			if path, err = pathFromFile(rec, j.track, j.inGrid, times, g.sample.List(), j.audits, &j.o); path != nil {
				know = adjust.FromPath
			}
		case g.rays != nil:
			path, know = pathFromPoints(rec, g.rays)
		}
	})
	return func() error {
		<-done
		j.path, j.know, j.rec.Path = path, know, rec.Path
		j.rec.Findings = append(j.rec.Findings, rec.Findings...)
		j.rec.Warnings = append(j.rec.Warnings, rec.Warnings...)
		return err
	}
}

// explain waits for the path and finds the causes.
func (j *job) explain(ctx context.Context, foundPath func() error) error {
	if ctx.Err() != nil {
		return ctx.Err()
	}
	j.stage("path")
	if err := foundPath(); err != nil {
		return err
	}
	know := j.know
	if know == adjust.FromPath {
		fillPathLayer(j.layers, j.path)
	}
	if !j.o.SkipCauses {
		j.stage("causes")
		var err error
		if j.diagnosis, err = diagnose(ctx, j.rec, j.survey, j.pairs, j.path, know, &j.o); err != nil {
			return err
		}
		j.background.Go(func() { j.layers.Diagnosis = j.diagnosis.Figures(j.survey, j.pairs) })
	}
	return nil
}

// judge compares the record with the limits.
func (j *job) judge() {
	if j.o.OnlyStrips {
		j.rec.Verdict = report.Verdict{Result: report.NotJudged, Criteria: []report.Criterion{}}
		return
	}
	if j.rec.Checkpoints != nil {
		j.rec.Checkpoints.Statement = limits.Statement(j.rec, j.limits)
	}
	set := j.limits
	if j.o.OnlyChecks { // strips and coverage were not looked at: they are no part of this verdict
		set = set.Only(limits.Absolute)
	}
	j.rec.Verdict = limits.Judge(j.rec, set)
	for _, w := range unitCautions(&j.rec.CRS, &j.o) {
		j.rec.Verdict.Notes = append(j.rec.Verdict.Notes, "the verdict rests on this: "+w)
	}
	if j.o.OnlyChecks {
		j.rec.Verdict.Notes = append(j.rec.Verdict.Notes, "only the check points were judged: strips and coverage are judged by 'sidelap assess'")
	}
	if j.o.Limits == DefaultLimits {
		j.rec.Verdict.Notes = append(j.rec.Verdict.Notes, "no limits were named: "+DefaultLimits+" is the program's default, not your contract's figure")
	}
}

func (j *job) stage(name string) {
	if j.o.Progress != nil {
		j.o.Progress(Progress{Stage: name})
	}
}

// headerExtent is the outline of the files by their headers, in metres.
func headerExtent(files []*las.File) control.Box {
	b := control.Box{MinEM: math.Inf(1), MinNM: math.Inf(1), MaxEM: math.Inf(-1), MaxNM: math.Inf(-1)}
	for _, f := range files {
		h, u := f.Header(), f.Frame().HorizontalM
		if h.Points == 0 || !(h.Max[0] >= h.Min[0]) || !(h.Max[1] >= h.Min[1]) {
			continue
		}
		b.MinEM, b.MinNM = math.Min(b.MinEM, h.Min[0]*u), math.Min(b.MinNM, h.Min[1]*u)
		b.MaxEM, b.MaxNM = math.Max(b.MaxEM, h.Max[0]*u), math.Max(b.MaxNM, h.Max[1]*u)
	}
	if b.MinEM > b.MaxEM {
		return control.Box{}
	}
	return b
}

// probeFile shows the probe a few chunks spread over the file.
func probeFile(ctx context.Context, p *overlap.Probe, f *las.File) error {
	spans := f.Spans(las.MaxChunk)
	step := max(1, len(spans)/probeChunks)
	for i := 0; i < len(spans); i += step {
		for c, err := range f.Read(ctx, spans[i], overlap.Columns) {
			if err != nil {
				return err
			}
			p.Add(c)
			break
		}
	}
	return nil
}

// probeChunks is about how many chunks of a file decide the cell size.
const probeChunks = 12

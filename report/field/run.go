package field

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"sidelap/control"
	"sidelap/overlap"
	"sidelap/report"
	"sidelap/report/assess"
	"sidelap/trajectory"
	"sidelap/trajectory/fieldcheck"
	"sidelap/trajectory/rinex"
)

// Report is the answer of a field check.
//
// Times of the embedded report, in its items, events and notes, are seconds since EpochS; EpochS is in the
// time of the cloud, or of the path file without a cloud.
type Report struct {
	*fieldcheck.Report
	Record  *report.Record
	Missing []Missing // inputs that were not given
	Map     Map       // what is drawn

	EpochS float64
	clock  clock
	grid   *grid
	path   *trajectory.Path // times from EpochS
	strips int              // strips that were judged
	read   []string         // what was read beside cloud and path
}

// Missing is an input that was not given, and the flag that gives it.
type Missing struct{ What, Flag string }

// job is one field check under way.
type job struct {
	o     Options
	lim   fieldcheck.Limits
	cloud *cloud // nil without one
	track *trajectory.Track
	log   *rinex.Log
	grid  *grid
	plan  *fieldcheck.Plan
	list  *control.List
	water *fieldcheck.Plan
	mark  *control.Point // of the base, nil when it is not known
	stand int            // index of the place of take-off among the spots, -1
	base  int            // index of the base mark among them, -1

	survey *overlap.Survey
	cov    *overlap.Coverage
	in     fieldcheck.Input
	notes  []string
	placed *placed
	clock  clock
	epochS float64
}

// Run checks what there is. It changes no input and writes nothing. Errors name the file or the option at
// fault; a bad answer is no error.
func Run(ctx context.Context, o Options) (*Report, error) {
	if err := o.Validate(); err != nil {
		return nil, err
	}
	j := &job{o: o, lim: fieldcheck.DefaultLimits(), stand: -1, base: -1}
	if err := o.setLimits(&j.lim); err != nil {
		return nil, err
	}
	defer func() {
		if j.cloud != nil {
			j.cloud.close()
		}
	}()
	for _, step := range []func(context.Context) error{j.readSmall, j.readCloud, j.measure, j.place} {
		if err := step(ctx); err != nil {
			return nil, err
		}
		if err := ctx.Err(); err != nil {
			return nil, err
		}
	}
	j.fill()
	j.in.Clock = (&Report{EpochS: j.epochS, clock: j.clock}).Clock
	rep, err := fieldcheck.Run(j.in, j.lim)
	if err != nil {
		return nil, err
	}
	out := &Report{Report: rep, EpochS: j.epochS, clock: j.clock, grid: j.grid, path: j.in.Path, Missing: j.missing()}
	out.read = j.read()
	out.Record = j.record(out)
	out.Map = j.drawing(out)
	return out, nil
}

// readSmall reads path, base logs, headers, plan and list: what is wrong there is said before the points are read.
func (j *job) readSmall(context.Context) (err error) {
	o := &j.o
	if err := o.present(); err != nil {
		return err
	}
	if o.Trajectory != "" {
		if j.track, err = trajectory.Read(o.Trajectory, trajectory.ReadOptions{Accuracy: o.Accuracy}); err != nil {
			return err
		}
	}
	if len(o.Base) > 0 {
		if j.log, err = rinex.Read(o.Base...); err != nil {
			return err
		}
	}
	if len(o.Inputs) > 0 {
		if j.cloud, err = openCloud(o); err != nil {
			return err
		}
	}
	if j.grid, err = settleGrid(o, j.cloud, j.track); err != nil {
		return err
	}
	if c := j.cloud; c != nil && o.EPSG != 0 && j.grid.crs != nil && j.grid.crs.Horizontal.EPSG != o.EPSG {
		j.notes = append(j.notes, fmt.Sprintf("--crs EPSG:%d is not used: the cloud says that it is in %s", o.EPSG, j.grid.crs.Horizontal.Name))
	}
	unitM := 1.0
	if j.cloud != nil {
		unitM = j.cloud.unitM
	}
	if j.plan, err = readPlan(o, j.grid, unitM); err != nil {
		return err
	}
	if o.Water != "" {
		if j.water, err = readOutline(o.Water, j.grid, unitM); err != nil {
			return err
		}
	}
	if o.CheckPoints != "" && j.cloud != nil {
		if j.list, err = readPoints(o, j.cloud, j.grid); err != nil {
			return err
		}
	}
	j.mark, err = baseMark(o, j.cloud, j.list)
	return err
}

// readCloud reads the points, once.
func (j *job) readCloud(ctx context.Context) error {
	if j.cloud == nil || j.o.HeadersOnly {
		return nil
	}
	var spots []control.Point
	if j.list != nil {
		spots = slices.Clone(j.list.Points)
	}
	if p, ok := standing(j.track, j.grid, j.cloud); ok {
		j.stand = len(spots)
		spots = append(spots, p)
	}
	if j.mark != nil {
		j.base = len(spots)
		spots = append(spots, *j.mark)
	}
	return j.cloud.read(ctx, &j.o, spots, j.track != nil)
}

// measure finds strips and coverage.
func (j *job) measure(context.Context) (err error) {
	if j.cloud == nil || j.cloud.got == nil {
		return nil
	}
	so := overlap.DefaultSurveyOptions()
	so.Mode = overlap.StripMode(j.o.StripsBy)
	for _, s := range j.cloud.files {
		so.FileNames = append(so.FileNames, stem(s.path))
	}
	j.survey, err = j.cloud.got.strips.Survey(so)
	switch {
	case errors.Is(err, overlap.ErrNoPoints):
		j.notes = append(j.notes, "the cloud has no usable points")
		j.survey = nil
		return nil
	case err != nil:
		return &assess.SettingsError{Flag: "strips-by", Err: err}
	}
	j.notes = append(j.notes, j.survey.Notes...)
	j.cov = j.survey.Coverage(overlap.DefaultCoverageOptions())
	j.in.Coverage = raster(j.cov.Density, j.cloud.got.water, j.survey)
	if j.in.Coverage == nil && j.cov.Density != nil {
		j.notes = append(j.notes, fmt.Sprintf("the points spread over %d by %d cells: coverage is not judged; a file of another site among them?", j.cov.Density.Cols, j.cov.Density.Rows))
	}
	var without int
	j.in.Strips, without = j.cloud.summary(j.survey, j.cov)
	if without > 0 {
		j.notes = append(j.notes, counted(without, "strip of the cloud has", "strips of the cloud have")+" no GPS time: not compared with path and base")
	}
	if j.cloud.got.bins.overflow {
		j.notes = append(j.notes, "the times of the points spread over more than a flight: pauses are not known")
	}
	return nil
}

// place brings the path to the cloud, and all times to seconds since the recording began.
func (j *job) place(context.Context) (err error) {
	var cloudTimes []trajectory.Interval
	for _, s := range j.in.Strips {
		cloudTimes = append(cloudTimes, trajectory.Interval{StartS: s.StartS, EndS: s.EndS})
	}
	start, end := math.Inf(1), math.Inf(-1)
	shift := 0.0
	if j.track != nil {
		if j.placed, err = placePath(j.track, j.grid, j.cloud, cloudTimes); err != nil {
			return err
		}
		j.notes = append(j.notes, j.placed.notes...)
		p := j.placed.path
		start, end, shift = p.TimeS[0], p.TimeS[len(p.TimeS)-1], j.placed.shiftS
	}
	for _, t := range cloudTimes {
		start, end = min(start, t.StartS), max(end, t.EndS)
	}
	j.clock = settleClock(j.cloud, j.track, shift, j.log, start, end)
	if j.clock.note != "" {
		j.notes = append(j.notes, j.clock.note)
	}
	if math.IsInf(start, 1) {
		return nil
	}
	j.epochS = math.Floor(start)
	if j.track != nil {
		j.heights()
		j.in.Path = j.placed.path.Shifted(-j.epochS, 0)
	}
	for i := range j.in.Strips {
		s := &j.in.Strips[i]
		s.StartS, s.EndS = s.StartS-j.epochS, s.EndS-j.epochS
		for k := range s.Gaps {
			s.Gaps[k].StartS, s.Gaps[k].EndS = s.Gaps[k].StartS-j.epochS, s.Gaps[k].EndS-j.epochS
		}
	}
	if j.clock.absolute {
		j.in.HasOffset, j.in.GPSOffsetS = true, j.clock.offsetS+j.epochS
		j.askDate()
	}
	j.settleLines()
	return nil
}

// heights measures the height above ground of the strips by the path; times are still the cloud's.
func (j *job) heights() {
	if j.survey == nil {
		return
	}
	if !j.placed.heightsFit {
		for i := range j.in.Strips { // what the take-off tells is better than a guess
			j.in.Strips[i].HeightAboveGroundM = 0
		}
		return
	}
	k := 0
	for _, st := range j.survey.Lines() {
		if k < len(j.in.Strips) && j.in.Strips[k].ID == st.ID {
			heightsOver(&j.in.Strips[k], &st, j.placed.path, j.survey.Options.CellM)
			k++
		}
	}
}

package correct

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"time"

	"sidelap/adjust"
	"sidelap/las"
	"sidelap/las/disk"
	"sidelap/report"
	"sidelap/report/assess"
	"sidelap/trajectory"
)

// AgainOptions says what is corrected once more with a correction found before, and where it goes.
type AgainOptions struct {
	Correction  string   // correction.json, or the folder that holds it
	Inputs      []string // files and folders: other copies of the same flight
	Out         string   // folder to write
	Format      string   // "las", "laz"; "" as the inputs are
	Force       bool     // replace an existing folder, and apply in spite of doubt whether the files belong to the flight
	Workers     int
	HorizontalM float64 // metres in one unit of the files, if they do not say; 0: as the corrected cloud
	VerticalM   float64
	Program     string
	CommandLine []string
	Now         time.Time
	Progress    func(assess.Progress)
}

// AgainResult is what Again or UndoFolder did.
type AgainResult struct {
	Statement string    `json:"statement"` // of the run that found the correction
	Files     []fileRow `json:"files"`
	Notes     []string  `json:"notes"`
}

// maxStored is the size that a correction.json can have at most.
const maxStored = 1 << 30

// Again applies a correction that Run found to other copies of the same flight, such as other tiles or a denser export. Files that do not belong to the flight, by
// coordinate system, times or place, are refused before anything is written.
func Again(ctx context.Context, o AgainOptions) (*AgainResult, error) {
	a := &again{o: o}
	if err := a.load(); err != nil {
		return nil, err
	}
	out := filepath.Clean(o.Out)
	if err := replaceableCloud(out, o.Force); err != nil {
		return nil, err
	}
	paths, err := assess.Expand(o.Inputs)
	if err != nil {
		return nil, err
	}
	if a.names, err = outputNames(paths, o.Format); err != nil {
		return nil, err
	}
	if err := noneBelow(out, append(paths, a.file)); err != nil {
		return nil, err
	}
	for _, p := range paths {
		f, err := las.Open(p)
		if err != nil {
			return nil, err
		}
		defer f.Close()
		a.files = append(a.files, f)
		if err := a.belongs(ctx, f); err != nil {
			return nil, err
		}
	}
	return a.write(ctx, out)
}

// again is one such run under way.
type again struct {
	o     AgainOptions
	file  string // correction.json
	s     stored
	any   *adjust.Correction // strips told without files; nil when they cannot be
	path  *trajectory.Path
	files []*las.File
	names []string
	notes []string
}

// load reads correction.json and the path beside it.
func (a *again) load() error {
	a.file = a.o.Correction
	if info, err := os.Stat(a.file); err == nil && info.IsDir() {
		a.file = filepath.Join(a.file, correctionName)
	}
	b, err := disk.Read(a.file, maxStored)
	if err != nil {
		return err
	}
	bad := func(err error) error {
		return &disk.Error{Path: a.file, Err: err, Remedy: "name the " + correctionName + " that sidelap correct wrote into the folder of the corrected cloud"}
	}
	if err := json.Unmarshal(b, &a.s); err != nil {
		return bad(fmt.Errorf("this is no correction: %w", err))
	}
	if a.s.SchemaVersion != 1 || a.s.Correction == nil || a.s.Extent == nil {
		return bad(errors.New("this is no correction that this program can read"))
	}
	enc, err := json.Marshal(a.s.Correction)
	if err != nil {
		return err
	}
	if a.s.Correction, err = adjust.ParseCorrection(enc); err != nil {
		return bad(err)
	}
	if a.s.Correction.Zero() {
		return bad(errors.New("this correction moves nothing"))
	}
	if a.any, _ = a.s.Correction.ForAnyFile(); a.any == nil && len(a.s.Files) == 0 {
		return bad(errors.New("its strips are told apart by their files, and it names none"))
	}
	if !a.s.Correction.UsesPath {
		return nil
	}
	path := filepath.Join(filepath.Dir(a.file), pathName)
	a.path, err = adjust.ReadPath(path)
	if errors.Is(err, fs.ErrNotExist) {
		return &disk.Error{Path: path, Err: errors.New("the correction was estimated with a path, which lay here beside it, and is gone"), Remedy: "put it there again, or run sidelap correct once more"}
	}
	return err
}

// of returns the correction for a file, and the number by which it knows the file: of those of its name the one with most of its folders.
func (a *again) of(file string) (*adjust.Correction, int, error) {
	if a.any != nil {
		return a.any, 0, nil
	}
	unknown := func(format string, args ...any) error {
		return &assess.InputError{Path: file, Err: fmt.Errorf("the strips of this correction are told apart by their files, and "+format, args...),
			Remedy: "name the file, with its folders, as it was named when the correction was found (" + a.s.Files[0].Input + ", ...)"}
	}
	path, err := filepath.Abs(file)
	if err != nil {
		return nil, 0, err
	}
	number, most, twice := 0, 0, false
	for i, r := range a.s.Files {
		n := max(trailing(path, r.Input), trailing(path, r.Output))
		if n > most {
			number, most, twice = i, n, false
		} else if n == most {
			twice = true
		}
	}
	switch {
	case most == 0:
		return nil, 0, unknown("none of these has this name")
	case twice:
		return nil, 0, unknown("more than one of these may be this one")
	}
	return a.s.Correction, number, nil
}

// trailing counts the names at the end of a path that another, stored with slashes, has too.
func trailing(path, stored string) int {
	p, q := strings.Split(filepath.ToSlash(path), "/"), strings.Split(filepath.ToSlash(filepath.Clean(filepath.FromSlash(stored))), "/")
	n := 0
	for n < min(len(p), len(q)) && p[len(p)-1-n] == q[len(q)-1-n] {
		n++
	}
	return n
}

// outside says that a file does not seem to belong to the flight.
func (a *again) outside(f *las.File, remedy, format string, args ...any) error {
	err := fmt.Errorf(format, args...)
	if a.o.Force {
		a.notes = append(a.notes, fmt.Sprintf("%s: %v; corrected all the same, as asked for.", filepath.Base(f.Path()), err))
		return nil
	}
	return &assess.InputError{Path: f.Path(), Err: err, Remedy: remedy + "; nothing was written (--force corrects it all the same)"}
}

// belongs checks whether a file is a copy of the flight, and sets its units.
func (a *again) belongs(ctx context.Context, f *las.File) error {
	if rec, err := adjust.RecordOf(f); err == nil {
		if rec.Correction != nil && a.same(rec) {
			return &assess.InputError{Path: f.Path(), Err: fmt.Errorf("this very correction was taken off the file before (from %s)", rec.Source),
				Remedy: "name the files as they came; nothing was written"}
		}
		if err := a.outside(f, "undo that first (sidelap correct --undo), or name the file as it came", "the file has been corrected before (from %s)", rec.Source); err != nil {
			return err
		}
	} else if !errors.Is(err, adjust.ErrNotCorrected) {
		return err
	}
	if a.s.OfCorrected {
		if err := a.outside(f, "run sidelap correct on the files as they came (sidelap correct --undo leads back to them) and apply that",
			"the correction was estimated on files that had been corrected before: it is only the rest of one"); err != nil {
			return err
		}
	}
	c := f.CRS()
	is := report.CRSFrom(c)
	for _, x := range []struct {
		what      string
		was, is   *int64
		name, now report.Text
	}{{"horizontal", a.s.CRS.HorizontalEPSG, is.HorizontalEPSG, a.s.CRS.Horizontal, is.Horizontal}, {"vertical", a.s.CRS.VerticalEPSG, is.VerticalEPSG, a.s.CRS.Vertical, is.Vertical}} {
		if x.was != nil && x.is != nil && *x.was != *x.is {
			if err := a.outside(f, "bring it into the coordinate system of the cloud that was corrected", "its %s coordinate system is %s (EPSG:%d), that of the corrected cloud %s (EPSG:%d)", x.what, x.now, *x.is, x.name, *x.was); err != nil {
				return err
			}
		}
	}
	fr := *f.Frame()
	fr.HorizontalM = unitOf(a.o.HorizontalM, c.Horizontal.Unit.Stated, c.Horizontal.Unit.M, a.s.CRS.HorizontalUnitM)
	fr.VerticalM = unitOf(a.o.VerticalM, c.Vertical.Unit.Stated, c.Vertical.Unit.M, a.s.CRS.VerticalUnitM)
	f.SetFrame(fr)
	return a.sampled(ctx, f)
}

// same tells whether the correction that a file carries is the one to be applied.
func (a *again) same(rec *adjust.FileRecord) bool {
	bare := func(c *adjust.Correction) adjust.Correction {
		b := *c
		b.Strips = nil
		return b
	}
	own := bare(rec.Correction)
	if !reflect.DeepEqual(own, bare(a.s.Correction)) {
		return false
	}
	if rec.Partial { // the strips are not in the record
		return !own.Zero()
	}
	for _, s := range rec.Correction.Strips {
		if !slices.ContainsFunc(a.s.Correction.Strips, func(t adjust.StripCorrection) bool {
			s.Files, t.Files = nil, nil
			return reflect.DeepEqual(s, t)
		}) {
			return false
		}
	}
	return true
}

// unitOf decides the metres in a unit: what was asked for, what the file states, what the corrected cloud had.
func unitOf(asked float64, stated bool, own float64, was *float64) float64 {
	switch {
	case asked > 0:
		return asked
	case !stated && was != nil && *was > 0:
		return *was
	}
	return own
}

// Sampling of a file before it is corrected, and what it may show. Our proposals: within ten metres of where the surfaces of the corrected cloud lay (trees stand
// higher), and no more points without strip or pose than in the corrected cloud and one in fifty.
const (
	sampleSpans  = 32
	sampleSpan   = 1 << 14
	placeSlackM  = 10
	treesM       = 80
	withoutSlack = 0.02
)

// sampled reads a part of a file, evenly spread, and checks place and times of its points.
func (a *again) sampled(ctx context.Context, f *las.File) error {
	c, number, err := a.of(f.Path())
	if err != nil {
		return err
	}
	m, err := adjust.NewMover(c, a.path, number)
	if err != nil {
		return err
	}
	spans := f.Spans(sampleSpan)
	var points, off int64
	lo, hi := a.s.Extent.Min, a.s.Extent.Max
	far := 0.0
	for i := range min(sampleSpans, len(spans)) {
		for k, err := range f.Read(ctx, spans[i*len(spans)/min(sampleSpans, len(spans))], adjust.MoveColumns) {
			if err != nil {
				return err
			}
			for j := range k.N {
				v := [3]float64{k.Frame.XM(k.X[j]), k.Frame.YM(k.Y[j]), k.Frame.ZM(k.Z[j])}
				by := math.Max(math.Max(lo[0]-v[0], v[0]-hi[0]), math.Max(lo[1]-v[1], v[1]-hi[1]))
				by = math.Max(by, math.Max(lo[2]-v[2], v[2]-hi[2]-treesM+placeSlackM))
				if by > placeSlackM {
					off++
					far = math.Max(far, by)
				}
			}
			points += int64(k.N)
			if err := m.Move(k, nil); err != nil {
				return fmt.Errorf("%s: %w", f.Path(), err)
			}
		}
	}
	if points == 0 {
		return nil
	}
	share := func(n int64) float64 { return float64(n) / float64(points) }
	if share(off) > withoutSlack {
		return a.outside(f, "correct only copies of the same flight, in the same coordinates", "%.0f %% of its points lie outside the cloud that was corrected, by up to %.0f m", 100*share(off), far)
	}
	n := m.Counts()
	var all, lone, blind int64
	for _, r := range a.s.Files {
		all, lone, blind = all+r.Points, lone+r.NoStrip, blind+r.NotTurned+r.Far
	}
	was := func(k int64) float64 { return float64(k) / math.Max(float64(all), 1) }
	if s := share(n.NoStrip); s > was(lone)+withoutSlack {
		return a.outside(f, "the GPS times and point source IDs must be those that the correction was found with", "%.0f %% of its points belong to no strip of the correction, by their times and point source IDs", 100*s)
	}
	if s := share(n.NoPose + n.Far); s > was(blind)+withoutSlack {
		return a.outside(f, "the GPS times must be those that the correction was found with", "for %.0f %% of its points the path says nothing, by their times and places", 100*s)
	}
	return nil
}

// write makes the folder under a temporary name and gives it its own.
func (a *again) write(ctx context.Context, out string) (res *AgainResult, err error) {
	folder, err := disk.NewFolder(out, "cloud", "before")
	if err != nil {
		return nil, err
	}
	defer func() {
		err = folder.Named(err, out)
		folder.Close()
	}()
	var total, done int64
	for _, f := range a.files {
		total += f.Header().Points
	}
	s := a.s
	s.Program, s.CommandLine, s.AppliedFrom, s.Files, s.CreatedUTC = "sidelap "+a.o.Program, a.o.CommandLine, filepath.ToSlash(a.file), nil, ""
	if !a.o.Now.IsZero() {
		s.CreatedUTC = a.o.Now.UTC().Format("2006-01-02T15:04:05Z")
	}
	if a.any != nil {
		s.Correction = a.any
	}
	for i, f := range a.files {
		c, number, err := a.of(f.Path())
		if err != nil {
			return nil, err
		}
		path := filepath.Join(folder.Path, a.names[i])
		if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
			return nil, err
		}
		x, err := adjust.ApplyFile(ctx, f, number, path, c, a.path, adjust.ApplyOptions{Workers: a.o.Workers, Format: a.o.Format, Program: "sidelap " + a.o.Program,
			Progress: func(n int64) { done += n; a.progress("write", done, total) }})
		if err != nil {
			return nil, err
		}
		s.Files = append(s.Files, rowOf(f.Path(), a.names[i], x))
	}
	if a.path != nil {
		if err := adjust.WritePath(filepath.Join(folder.Path, pathName), a.path); err != nil {
			return nil, err
		}
	}
	if err := s.write(filepath.Join(folder.Path, correctionName)); err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	res = &AgainResult{Files: s.Files, Notes: a.notes}
	if s.Summary != nil {
		res.Statement = string(s.Summary.Statement)
	}
	return res, folder.Replace()
}

func (a *again) progress(stage string, done, total int64) {
	if a.o.Progress != nil {
		a.o.Progress(assess.Progress{Stage: stage, Done: done, Total: total})
	}
}

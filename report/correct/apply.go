package correct

import (
	"context"
	"encoding/json"
	"io"
	"math"
	"os"
	"path/filepath"

	"sidelap/adjust"
	"sidelap/las/disk"
	"sidelap/overlap"
	"sidelap/report"
)

// fileRow is a corrected file in correction.json.
type fileRow struct {
	Input       string  `json:"input"`
	Output      string  `json:"output"` // below cloud/
	Undo        string  `json:"undo"`
	Points      int64   `json:"points"`
	Moved       int64   `json:"moved"`
	NotTurned   int64   `json:"without_pose"` // nothing is known of the sensor at their times
	NoStrip     int64   `json:"without_strip"`
	Far         int64   `json:"too_far"`
	RMSM        float64 `json:"rms_move_m"`
	MaxM        float64 `json:"max_move_m"`
	Exceptions  int64   `json:"exceptions"`
	OriginalSum string  `json:"original_sum"`
	MovedSum    string  `json:"moved_sum"`
}

// apply writes the corrected files into a folder, one after the other; each is moved in parallel.
func (r *run) apply(ctx context.Context, dir string) ([]string, error) {
	var total, done int64
	for _, f := range r.p.Files {
		total += f.Header().Points
	}
	var paths []string
	for i, f := range r.p.Files {
		path := filepath.Join(dir, r.names[i])
		if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
			return nil, err
		}
		a, err := adjust.ApplyFile(ctx, f, i, path, r.fit.Correction, r.p.Path, adjust.ApplyOptions{
			Workers: r.a.Workers, Format: r.o.Format, Program: "sidelap " + r.a.Program,
			Progress: func(n int64) { done += n; r.progress("write", done, total) },
		})
		if err != nil {
			return nil, err
		}
		r.files = append(r.files, rowOf(f.Path(), r.names[i], a))
		paths = append(paths, path)
	}
	return paths, nil
}

// rowOf describes a file that was written.
func rowOf(input, name string, a *adjust.Applied) fileRow {
	c := a.Counts
	return fileRow{Input: filepath.ToSlash(input), Output: filepath.ToSlash(name), Undo: filepath.ToSlash(name) + adjust.UndoSuffix, Points: c.Points,
		Moved: c.Moved, NotTurned: c.NoPose, NoStrip: c.NoStrip, Far: c.Far, RMSM: c.RMSM(), MaxM: c.MaxM, Exceptions: a.Exceptions, OriginalSum: a.OriginalSum, MovedSum: a.MovedSum}
}

// stored is the form of correction.json.
type stored struct {
	SchemaVersion int                `json:"schema_version"`
	Program       string             `json:"program"`
	CommandLine   []string           `json:"command_line"`
	CreatedUTC    string             `json:"created_utc,omitempty"`
	Correction    *adjust.Correction `json:"correction"`
	Summary       *report.Correction `json:"summary"`
	CRS           report.CRS         `json:"crs"`                          // of the cloud that was corrected
	Extent        *extent            `json:"extent"`                       // of that cloud
	OfCorrected   bool               `json:"of_corrected_files,omitempty"` // estimated on files that had been corrected before: only the rest
	Path          string             `json:"path,omitempty"`
	AppliedFrom   string             `json:"applied_from,omitempty"` // the correction.json that was applied again
	Trajectory    string             `json:"trajectory,omitempty"`
	Control       string             `json:"control,omitempty"`
	Files         []fileRow          `json:"files"`
}

// extent is the place of the smooth surfaces of a cloud, metres.
type extent struct {
	Min [3]float64 `json:"min_m"` // easting, northing, height
	Max [3]float64 `json:"max_m"`
}

// extentOf is the extent of the facets of a survey.
func extentOf(s *overlap.Survey) *extent {
	x := &extent{[3]float64{math.Inf(1), math.Inf(1), math.Inf(1)}, [3]float64{math.Inf(-1), math.Inf(-1), math.Inf(-1)}}
	for i := range s.Strips {
		for j := range s.Strips[i].Facets {
			f := &s.Strips[i].Facets[j]
			if f.N == 0 {
				continue
			}
			for k, v := range [3]float64{f.EM, f.NM, f.ZM} {
				x.Min[k], x.Max[k] = math.Min(x.Min[k], v), math.Max(x.Max[k], v)
			}
		}
	}
	if !(x.Max[0] >= x.Min[0]) {
		return nil
	}
	return x
}

// Names of what lies beside corrected files.
const (
	correctionName = "correction.json"
	pathName       = "correction.path" // the path that the correction rests on
)

// writeCorrection writes correction.json into the folder of the corrected cloud, and beside it the path that the correction rests on.
func (r *run) writeCorrection(dir string, summary *report.Correction) error {
	s := stored{SchemaVersion: 1, CRS: r.p.Record.CRS, Extent: extentOf(r.p.Survey), Program: "sidelap " + r.a.Program, CommandLine: r.a.CommandLine, Correction: r.fit.Correction, Summary: summary,
		Trajectory: filepath.ToSlash(r.a.Trajectory), Control: filepath.ToSlash(r.a.Control), Files: r.files}
	s.OfCorrected = r.ofCorrected() > 0
	if !r.a.Now.IsZero() {
		s.CreatedUTC = r.a.Now.UTC().Format("2006-01-02T15:04:05Z")
	}
	if r.fit.Correction.UsesPath && r.p.Path != nil {
		s.Path = pathName
		if err := adjust.WritePath(filepath.Join(dir, pathName), r.p.Path); err != nil {
			return err
		}
	}
	return s.write(filepath.Join(dir, correctionName))
}

// ofCorrected counts the inputs that had been corrected before.
func (r *run) ofCorrected() int {
	n := 0
	for _, f := range r.p.Files {
		if _, err := adjust.RecordOf(f); err == nil {
			n++
		}
	}
	return n
}

func (s *stored) write(path string) error {
	for i := range s.Files {
		s.Files[i].RMSM, s.Files[i].MaxM = round(s.Files[i].RMSM), round(s.Files[i].MaxM)
	}
	return disk.Write(path, func(w io.Writer) error {
		e := json.NewEncoder(w)
		e.SetIndent("", " ")
		return e.Encode(s)
	})
}

func round(v float64) float64 { return math.Round(v*1e6) / 1e6 }

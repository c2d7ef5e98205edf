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
		c := a.Counts
		r.files = append(r.files, fileRow{Input: filepath.ToSlash(f.Path()), Output: filepath.ToSlash(r.names[i]), Undo: filepath.ToSlash(r.names[i]) + adjust.UndoSuffix, Points: c.Points,
			Moved: c.Moved, NotTurned: c.NoPose, NoStrip: c.NoStrip, Far: c.Far, RMSM: c.RMSM(), MaxM: c.MaxM, Exceptions: a.Exceptions, OriginalSum: a.OriginalSum, MovedSum: a.MovedSum})
		paths = append(paths, path)
	}
	return paths, nil
}

// stored is the form of correction.json.
type stored struct {
	SchemaVersion int                `json:"schema_version"`
	Program       string             `json:"program"`
	CommandLine   []string           `json:"command_line"`
	CreatedUTC    string             `json:"created_utc,omitempty"`
	Correction    *adjust.Correction `json:"correction"`
	Summary       *report.Correction `json:"summary"`
	Trajectory    string             `json:"trajectory,omitempty"`
	Control       string             `json:"control,omitempty"`
	Files         []fileRow          `json:"files"`
}

// writeJSON writes correction.json.
func (r *run) writeJSON(path string, summary *report.Correction) error {
	s := stored{SchemaVersion: 1, Program: "sidelap " + r.a.Program, CommandLine: r.a.CommandLine, Correction: r.fit.Correction, Summary: summary,
		Trajectory: filepath.ToSlash(r.a.Trajectory), Control: filepath.ToSlash(r.a.Control), Files: r.files}
	if !r.a.Now.IsZero() {
		s.CreatedUTC = r.a.Now.UTC().Format("2006-01-02T15:04:05Z")
	}
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

// Package correct does the job of `sidelap correct`: it assesses a survey, estimates what is worth taking off the
// points, writes corrected copies of the files, assesses these, and puts before and after into one record.
//
// The estimate and the moving of points are package adjust's, the assessments report/assess's. This package decides their order, names the
// files, and sees to it that nothing half-written ever bears a final name.
//
// Not in scope: judging a correction a surveyor should sign; the record says what was found and proves it on ground that the fit did not see.
package correct

import (
	"fmt"
	"path/filepath"
	"strings"

	"sidelap/report"
	"sidelap/report/assess"
)

// Options says what is written where, and what is applied beyond what the data vouch for. Start from DefaultOptions.
type Options struct {
	Out             string // results folder: the corrected cloud in cloud/, the assessment before in before/
	Format          string // "las", "laz"; "" as the inputs are
	Force           bool   // replace an existing results folder, and write a cloud also when there is nothing to correct
	DryRun          bool   // estimate and show; write no cloud
	ApplyConfounded bool   // see adjust.CorrectOptions
	ApplyBeyond     bool
	NoSplines       bool
}

// DefaultOptions returns the options that the command line starts from.
func DefaultOptions() Options { return Options{Out: "sidelap-corrected"} }

// Outcome says what came of a correction.
type Outcome string

// The outcomes.
const (
	Applied   Outcome = "applied"    // the corrected cloud was written
	Nothing   Outcome = "nothing"    // the strips agree: nothing to correct
	Shown     Outcome = "shown"      // estimated, not written: DryRun
	Held      Outcome = "held"       // something is wrong that these data cannot correct safely; nothing was applied
	NotJudged Outcome = "not_judged" // too little overlap to say
)

// Result is what Run did.
type Result struct {
	Outcome Outcome
	Record  *report.Record // of the corrected cloud when one was written, of the cloud as it came otherwise
	Before  *report.Record // of the cloud as it came
	Files   []string       // corrected files
}

// validate checks what can be checked without reading.
func (o *Options) validate() error {
	if o.Out == "" {
		return &assess.SettingsError{Flag: "out", Err: fmt.Errorf("the results folder has no name")}
	}
	switch o.Format {
	case "", "las", "laz":
	default:
		return &assess.SettingsError{Flag: "format", Err: fmt.Errorf("%q is not known", o.Format), Remedy: "use las or laz, or leave it out to keep each file's own"}
	}
	return nil
}

// outputNames gives each input its name below cloud/: the input's own, with its folders below the deepest common one where two inputs have the same. format changes the
// ending.
func outputNames(inputs []string, format string) ([]string, error) {
	rename := func(name string) string {
		if format == "" {
			return name
		}
		return strings.TrimSuffix(name, filepath.Ext(name)) + "." + format
	}
	names := make([]string, len(inputs))
	seen := map[string]bool{}
	unique := true
	for i, in := range inputs {
		names[i] = rename(filepath.Base(in))
		unique = unique && !seen[strings.ToLower(names[i])]
		seen[strings.ToLower(names[i])] = true
	}
	if unique {
		return names, nil
	}
	abs := make([]string, len(inputs))
	for i, in := range inputs {
		a, err := filepath.Abs(in)
		if err != nil {
			return nil, err
		}
		abs[i] = a
	}
	root := filepath.Dir(abs[0])
	for _, a := range abs {
		for !strings.HasPrefix(a, strings.TrimSuffix(root, string(filepath.Separator))+string(filepath.Separator)) {
			up := filepath.Dir(root)
			if up == root { // another drive or share
				return nil, &assess.SettingsError{Flag: "out", Err: fmt.Errorf("%s and %s have one name and lie on different drives", abs[0], a), Remedy: "correct them apart"}
			}
			root = up
		}
	}
	seen = map[string]bool{}
	for i, a := range abs {
		rel, err := filepath.Rel(root, a)
		if err != nil {
			return nil, err
		}
		names[i] = rename(rel)
		if seen[strings.ToLower(names[i])] {
			return nil, &assess.SettingsError{Flag: "format", Err: fmt.Errorf("two inputs would both become %s", names[i]), Remedy: "correct them apart"}
		}
		seen[strings.ToLower(names[i])] = true
	}
	return names, nil
}

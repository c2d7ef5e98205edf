package assess

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sidelap/las"
	"sidelap/report"
)

// openData returns a folder of the open data beside the checkout, or skips; with CI=true it fails.
func openData(t *testing.T, parts ...string) string {
	t.Helper()
	dir := filepath.Join(append([]string{"..", "..", "..", "shared", "data"}, parts...)...)
	if _, err := os.Stat(dir); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("open data: %v", err)
		}
		t.Skipf("open data: %v", err)
	}
	return dir
}

// TestOddFilesEndToEnd runs the whole job on every odd file of the open data: a record that is valid and not passed
// without data, or an error of a kind that names the fault.
func TestOddFilesEndToEnd(t *testing.T) {
	if testing.Short() {
		t.Skip("whole job on a hundred files")
	}
	files, err := os.ReadDir(openData(t, "real", "odd"))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		o := DefaultOptions()
		o.Inputs = []string{filepath.Join(openData(t, "real", "odd"), f.Name())}
		rec, _, err := Run(context.Background(), o)
		var format *las.FormatError
		var input *InputError
		var empty *NoDataError
		switch {
		case err == nil:
			if rec.Verdict.Result == report.Pass {
				t.Errorf("%s: passed, though no check points were given", f.Name())
			}
			if _, err := report.Marshal(rec); err != nil {
				t.Errorf("%s: %v", f.Name(), err)
			}
		case errors.As(err, &empty) && !strings.Contains(err.Error(), f.Name()):
			t.Errorf("%s: the error does not name it: %v", f.Name(), err)
		case !errors.As(err, &format) && !errors.As(err, &input) && !errors.As(err, &empty):
			t.Errorf("%s: error of no kind: %v", f.Name(), err)
		}
	}
}

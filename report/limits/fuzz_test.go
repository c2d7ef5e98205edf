package limits

import (
	"errors"
	"testing"

	"sidelap/report"
)

// FuzzParse: a set of limits is refused as a *FileError, or judges a record without data as not judged or better reasoned, never as a pass
// of nothing.
func FuzzParse(f *testing.F) {
	f.Add([]byte("title = \"Own\"\nunits = \"metres\"\nrules = \"own\"\n[[criterion]]\nid = \"interswath_rmsd\"\nmax = 0.08\n"))
	f.Add([]byte("units = \"survey feet\"\nrules = \"asprs-ed2\"\nclass = 0.16\n[[criterion]]\nid = \"nva_rmse\"\nmax = 0.16\noptional = true\n"))
	f.Add([]byte("units = \"metres\"\n[[criterion]]\nid = \"x\"\nmax = nan\nmin = inf\n"))
	f.Add([]byte("a.b.c.d.e.f = [[1],[2,[3]]]"))
	f.Fuzz(func(t *testing.T, b []byte) {
		s, err := Parse("own.toml", b)
		if err != nil {
			var fe *FileError
			if !errors.As(err, &fe) {
				t.Errorf("%T: %v", err, err)
			}
			return
		}
		v := Judge(&report.Record{}, s)
		if v.Result == "pass" {
			t.Errorf("a record without data passes %q", b)
		}
	})
}

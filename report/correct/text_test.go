package correct

import (
	"strings"
	"testing"

	"sidelap/report"
)

// TestWriteText: parameters bear the names of the trade, a ratio has no unit, and there is no head without rows.
func TestWriteText(t *testing.T) {
	rec := &report.Record{Correction: &report.Correction{Statement: "Corrected.", Parameters: []report.Parameter{
		{Kind: "scan_angle_scale", Value: report.F(0.000312), Sigma: report.F(0.00001), Unit: "1"},
		{Kind: "boresight_roll", Value: report.F(0.08), Sigma: report.F(0.001), Unit: "deg"},
		{Kind: "strip_drift", Strip: "102", Value: report.F(0.1), Sigma: report.F(0.01), Unit: "m"}},
		Before: &report.Level{}, Notes: []string{"A note."}}}
	var b strings.Builder
	if err := WriteText(&b, rec, 80); err != nil {
		t.Fatal(err)
	}
	const want = `Corrected.

Parameters (used minus true)
  scan angle scale                      0.000312 +- 0.000010
  boresight, roll                         0.0800 +- 0.0010 deg
  drift of strip 102                      0.1000 +- 0.0100 m

- A note.

`
	if b.String() != want {
		t.Errorf("%s\nwant\n%s", b.String(), want)
	}
	b.Reset()
	rec.Correction.Before.RMSDM = report.F(0.05)
	if err := WriteText(&b, rec, 80); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(b.String(), "\n                       before     after\n  RMSD                 0.0500         - m\n\n- A note.") {
		t.Errorf("%s", b.String())
	}
}

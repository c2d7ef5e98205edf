package assess

import (
	"context"
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"sidelap/report"
	"sidelap/trajectory/simulate"
)

// TestWrongPaths is known truth: what is wrong with a path file is a finding, and a path that is not
// that of the cloud is not used. A record of an SBET has 17 doubles: time, latitude, longitude, height, ...,
// heading in the tenth.
func TestWrongPaths(t *testing.T) {
	s := simulate.SmallScenario()
	s.Seed = 5
	_, o := survey(t, s, simulate.CloudOptions{})
	sbet, err := os.ReadFile(o.Trajectory)
	if err != nil {
		t.Fatal(err)
	}
	const record = 17 * 8
	add := func(field int, d float64) []byte {
		b := slices.Clone(sbet)
		for i := 0; i+record <= len(b); i += record {
			p := b[i+8*field:]
			binary.LittleEndian.PutUint64(p, math.Float64bits(math.Float64frombits(binary.LittleEndian.Uint64(p))+d))
		}
		return b
	}
	for _, c := range []struct {
		name    string
		path    []byte
		finding string // "" = none of those of the path but the height above the ellipsoid
		used    bool
	}{
		{"as flown", sbet, "", true},
		{"30 m north", add(1, 30/6.37e6), "path-place", false},
		{"10 km north", add(1, 1e4/6.37e6), "path-place", false},
		{"heading turned", add(9, math.Pi/2), "path-heading", true},
		{"time tags 0.3 s late", add(0, 0.3), "path-time", true},
		{"UTC", add(0, -18), "path-time", true},
		{"300 m too high", add(3, 300), "path-height", false},
		{"the first half", sbet[:len(sbet)/record/2*record], "path-cover", true},
	} {
		q := o
		q.Trajectory = filepath.Join(t.TempDir(), "flight.sbet")
		if err := os.WriteFile(q.Trajectory, c.path, 0o644); err != nil {
			t.Fatal(err)
		}
		rec, _, err := Run(context.Background(), q)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		var ids []string
		for _, f := range rec.Findings {
			if len(f.ID) > 5 && f.ID[:5] == "path-" && f.Severity != report.SeverityNote {
				ids = append(ids, f.ID)
			}
		}
		want := []string{c.finding}
		if c.finding == "" {
			want = nil
		}
		if !slices.Equal(ids, want) {
			t.Errorf("%s: findings %v, want %v; %q", c.name, ids, want, rec.Path.Notes)
		}
		if k := rec.Checkpoints; k == nil || !slices.Contains(k.Rules.Run, "B16") { // the times were compared, whether or not the path is used
			t.Errorf("%s: rules run: %+v", c.name, rec.Checkpoints)
		}
		if used := rec.Path.CoveredPct != nil; used != c.used {
			t.Errorf("%s: path used: %v, want %v", c.name, used, c.used)
		}
	}
}

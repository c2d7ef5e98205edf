package assess

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"sidelap/las"
	"sidelap/report"
	"sidelap/trajectory/simulate"
)

// TestProfilesShowReturns compares the profiles with a plain search through all points of all files: the same returns,
// none missing, for LAS and LAZ and any number of workers; and the mean intensity of a cell with its plain mean.
func TestProfilesShowReturns(t *testing.T) {
	for _, packed := range []bool{false, true} {
		s := simulate.SmallScenario()
		s.Faults.Strips = []simulate.StripFault{{Strip: 2, HeightM: 0.05}}
		_, o := survey(t, s, simulate.CloudOptions{Compressed: packed})
		o.CheckPoints, o.SkipCauses, o.Intensity, o.Workers = "", true, true, 2
		_, layers, err := Run(context.Background(), o)
		if err != nil {
			t.Fatal(err)
		}
		if len(layers.Profiles) < 2 || layers.Intensity == nil {
			t.Fatalf("%d profiles, intensity %v", len(layers.Profiles), layers.Intensity != nil)
		}
		for i := range layers.Profiles {
			p := &layers.Profiles[i]
			if !strings.HasSuffix(p.Title, ofReturns) {
				t.Errorf("%s shows no returns", p.Title)
				continue
			}
			want := onLine(t, o.Inputs[0], p)
			if len(want) > mostProfileDots || !slices.Equal(p.Points, want) {
				t.Errorf("packed %v, %s: %d returns, a plain search finds %d", packed, p.Title, len(p.Points), len(want))
			}
		}
		g := layers.Intensity
		at := len(g.Values)/2 + g.Cols/2
		if want := plainIntensity(t, o.Inputs[0], g, at); !(math.Abs(float64(g.Values[at])-want) <= 1e-3*want) {
			t.Errorf("packed %v: intensity %g in the middle, plainly %g", packed, g.Values[at], want)
		}
	}
}

// each calls visit with every chunk of every file of a folder, in the order of their names.
func each(t *testing.T, dir string, visit func(*las.Chunk)) {
	t.Helper()
	names, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range names {
		f, err := las.Open(filepath.Join(dir, n.Name()))
		if err != nil {
			t.Fatal(err)
		}
		for c, err := range f.Read(context.Background(), f.Spans(0)[0], las.ColAll) {
			if err != nil {
				t.Fatal(err)
			}
			visit(c)
		}
		f.Close()
	}
}

func onLine(t *testing.T, dir string, p *report.Profile) (out []report.ProfilePoint) {
	length := math.Hypot(p.To[0]-p.From[0], p.To[1]-p.From[1])
	ue, un := (p.To[0]-p.From[0])/length, (p.To[1]-p.From[1])/length
	each(t, dir, func(c *las.Chunk) {
		for i := range c.N {
			k := slices.Index(p.Strips, fmt.Sprint(c.Source[i]))
			e, n := c.Frame.XM(c.X[i])-p.From[0], c.Frame.YM(c.Y[i])-p.From[1]
			d, x := e*ue+n*un, n*ue-e*un
			if k >= 0 && c.Class[i] != 7 && c.Class[i] != 18 && c.Flags[i]&las.FlagWithheld == 0 && d >= 0 && d <= length && math.Abs(x) <= p.WidthM/2 {
				out = append(out, report.ProfilePoint{DistM: d, ZM: c.Frame.ZM(c.Z[i]), Strip: k})
			}
		}
	})
	slices.SortFunc(out, func(a, b report.ProfilePoint) int {
		switch {
		case a.DistM != b.DistM:
			return int(math.Copysign(1, a.DistM-b.DistM))
		case a.ZM != b.ZM:
			return int(math.Copysign(1, a.ZM-b.ZM))
		}
		return a.Strip - b.Strip
	})
	return out
}

func plainIntensity(t *testing.T, dir string, g *report.Grid, at int) float64 {
	e0, n0 := g.Origin()
	e0, n0 = e0+float64(at%g.Cols)*g.CellM, n0+float64(at/g.Cols)*g.CellM
	sum, n := 0.0, 0.0
	each(t, dir, func(c *las.Chunk) {
		for i := range c.N {
			e, no := c.Frame.XM(c.X[i])-e0, c.Frame.YM(c.Y[i])-n0
			if c.ReturnNumber[i] >= c.NumReturns[i] && c.Class[i] != 7 && c.Class[i] != 18 && c.Flags[i]&las.FlagWithheld == 0 && e >= 0 && e < g.CellM && no >= 0 && no < g.CellM {
				sum += float64(c.Intensity[i])
				n++
			}
		}
	})
	return sum / n
}

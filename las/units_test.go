package las

import (
	"fmt"
	"math"
	"path/filepath"
	"testing"

	"sidelap/las/crs"
)

// Metres in the two feet (NIST Special Publication 811, 2008, appendix B.6).
const (
	internationalFootM = 0.3048
	surveyFootM        = 1200.0 / 3937.0
)

// TestFeetSameMetres: one place written in metres, in each kind of foot and in mixed units, by WKT and
// by GeoTIFF keys, is read as the same metres, to half a step of the stored integers. EPSG gives the
// units: 2992 international feet, 2903 US survey feet, 5703 metres, 6360 US survey feet, 8228
// international feet.
func TestFeetSameMetres(t *testing.T) {
	place := [3]float64{467_123.456, 512_345.678, 1_234.567}
	for _, c := range []struct {
		name                 string
		horizontal, height   int
		horizontalM, upM     float64
		wantNameH, wantNameV string
	}{
		{"metres", 25832, 5703, 1, 1, "metre", "metre"},
		{"international feet", 2992, 8228, internationalFootM, internationalFootM, "foot", "foot"},
		{"US survey feet", 2903, 6360, surveyFootM, surveyFootM, "US survey foot", "US survey foot"},
		{"metres and US survey feet", 2991, 6360, 1, surveyFootM, "metre", "US survey foot"},
		{"international feet and metres", 2992, 5703, internationalFootM, 1, "foot", "metre"},
	} {
		for _, form := range []string{"WKT", "GeoTIFF keys"} {
			t.Run(fmt.Sprintf("%s by %s", c.name, form), func(t *testing.T) {
				o := WriterOptions{Format: 1, Scale: [3]float64{0.001, 0.001, 0.001}}
				system := compound(t, c.horizontal, c.height)
				if form == "WKT" {
					o.Format, o.WKT = 6, system.ToWKT1()
				} else {
					o.VLRs = NewGeoKeys(system.GeoKeys())
				}
				unit := [3]float64{c.horizontalM, c.horizontalM, c.upM}
				var p Chunk
				p.resize(1, 0, 0)
				for k, col := range [3][]int32{p.X, p.Y, p.Z} {
					col[0] = int32(math.Round(place[k] / unit[k] / 0.001))
				}
				path := filepath.Join(t.TempDir(), "a.las")
				w, err := Create(path, o)
				if err != nil {
					t.Fatal(err)
				}
				if err := w.Write(&p); err != nil {
					t.Fatal(err)
				}
				if err := w.Close(); err != nil {
					t.Fatal(err)
				}
				f := mustOpen(t, path, OpenOptions{})
				got := gather(t, f, 0)
				fr := f.Frame()
				for k, m := range [3]float64{fr.XM(got.X[0]), fr.YM(got.Y[0]), fr.ZM(got.Z[0])} {
					if math.Abs(m-place[k]) > 0.0005*unit[k]+1e-9 {
						t.Errorf("axis %d: %.6f m, want %.6f", k, m, place[k])
					}
				}
				if h, v := f.CRS().Horizontal.Unit, f.CRS().Vertical.Unit; h.Name != c.wantNameH || v.Name != c.wantNameV || !h.Stated || !v.Stated {
					t.Errorf("units %+v and %+v, want %s and %s", h, v, c.wantNameH, c.wantNameV)
				}
			})
		}
	}
}

// compound joins a horizontal and a vertical system of the EPSG dataset.
func compound(t *testing.T, horizontal, height int) *crs.CRS {
	t.Helper()
	h, err := crs.FromEPSG(horizontal)
	if err != nil {
		t.Fatal(err)
	}
	v, err := crs.FromEPSG(height)
	if err != nil {
		t.Fatal(err)
	}
	h.Vertical, h.VertDatum, h.Heights = v.Vertical, v.VertDatum, v.Heights
	return h
}

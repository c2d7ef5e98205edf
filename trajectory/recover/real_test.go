package recover

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"sidelap/las"
)

func TestRealDump(t *testing.T) {
	dir := filepath.Join("..", "..", "..", "shared", "data", "real", "lidar")
	for _, set := range [][]string{{"nl-ahn3-delft-1.laz", "nl-ahn3-delft-2.laz"}, {"ca-bc-forest-1.laz"}, {"fr-ign-block-77050_627755.laz", "fr-ign-block-77050_627760.laz", "fr-ign-block-77055_627755.laz", "fr-ign-block-77055_627760.laz", "fr-ign-block-77060_627755.laz", "fr-ign-block-77060_627760.laz"}, {"fr-ign-decimated-0382_6565.laz"}, {"fr-reunion-utm40s.laz"}, {"no-coast-nn2000.laz"}, {"us-or-autzen-thin-feet.las"}, {"us-ms-mvk-thin-usft-navd88.las"}, {"us-nm-4_6-crop-usft.las"}, {"fi-sotkamo-1line.laz"}, {"us-or-autzen-2023-mixed-units.las"}, {"fr-alps-7lines-crop.laz"}, {"fr-ign-4lines-pdrf8-wkt2.laz"}, {"ch-8lines-10k.las"}, {"us-ca-mobile-usft-navd88.las"}, {"us-ne-wkt-and-geokeys-usft.las"}, {"unknown-4lines-oblique.las"}, {"../odd/laszip4j-500m_IM2023_subset.laz"}, {"../odd/laspy-fullwave.laz"}} {
		c := collector(t)
		for i, name := range set {
			f, err := las.Open(filepath.Join(dir, name))
			if os.IsNotExist(err) {
				t.Skip(err)
			}
			if err != nil {
				t.Fatal(err)
			}
			for _, s := range f.Spans(1 << 20) {
				for ch, err := range f.Read(context.Background(), s, Columns) {
					if err != nil {
						t.Fatal(err)
					}
					c.Add(ch, i)
				}
			}
			f.Close()
		}
		r := c.Recover()
		t.Log("====", set[0], r.Notes)
		for i, l := range r.Legs {
			if i > 12 {
				break
			}
			t.Logf("  %v %.2f..%.2f L%s pulses %d rays %d sig %.2f %.2f %.2f H %.1f v %.1f pitch %.3f±%.3f %s", l.Sources, l.StartS, l.EndS, l.Level, l.Pulses, l.Rays, l.SigmaAlongM, l.SigmaAcrossM, l.SigmaUpM, l.HeightM, l.SpeedMPS, l.PitchRad, l.PitchSigmaRad, l.Reason)
		}
	}
}

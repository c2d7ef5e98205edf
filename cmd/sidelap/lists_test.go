package main

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"sidelap/las"
	"sidelap/report"
)

// controlList opens a list of open data, skips without it, and fails where CI promises it.
func controlList(t *testing.T, name string) string {
	t.Helper()
	path := filepath.Join("..", "..", "..", "shared", "data", "real", "control", name)
	if _, err := os.Stat(path); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal(err)
		}
		t.Skip("open data not here: ", err)
	}
	return path
}

// patch writes a cloud of level ground of 6 m around a place, in the units of its coordinates, with an EPSG code unless 0.
func patch(t *testing.T, e, n, z float64, epsg int) string {
	t.Helper()
	o := las.WriterOptions{Format: 1, Offset: [3]float64{math.Round(e), math.Round(n), 0}, Scale: [3]float64{0.001, 0.001, 0.001}}
	if epsg > 0 {
		o.VLRs = las.NewGeoKeys([]uint16{1, 1, 0, 3, 1024, 0, 1, 1, 3072, 0, 1, uint16(epsg), 3076, 0, 1, 9001}, nil, nil)
	}
	c := &las.Chunk{}
	put := func(v, offset float64) int32 { return int32(math.Round((v - offset) / 0.001)) }
	for i := range 61 {
		for k := range 61 {
			c.X, c.Y = append(c.X, put(e-3+0.1*float64(i), o.Offset[0])), append(c.Y, put(n-3+0.1*float64(k), o.Offset[1]))
			c.Z, c.N = append(c.Z, put(z, 0)), c.N+1
			c.Class, c.ReturnNumber, c.NumReturns = append(c.Class, 2), append(c.ReturnNumber, 1), append(c.NumReturns, 1)
			c.Intensity, c.Flags, c.Channel, c.ScanAngle = append(c.Intensity, 0), append(c.Flags, 0), append(c.Channel, 0), append(c.ScanAngle, 0)
			c.UserData, c.Source, c.GPSTime = append(c.UserData, 0), append(c.Source, 1), append(c.GPSTime, 1)
		}
	}
	path := filepath.Join(t.TempDir(), "patch.las")
	w, err := las.Create(path, o)
	if err != nil {
		t.Fatal(err)
	}
	c.Frame = &las.Frame{Scale: o.Scale, Offset: o.Offset, HorizontalM: 1, VerticalM: 1}
	if err := w.Write(c); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

// TestRealLists puts level ground of 20 mm above its first point under every list of the open data, at the place that
// a person reads there (geodetic lists: placed with PROJ's cs2cs). The command has to find the 20 mm at that point,
// or to say why it has no height.
func TestRealLists(t *testing.T) {
	for _, c := range []struct {
		name    string
		e, n, z float64
		epsg    int
		points  int64 // in the list
		reason  string
		flags   []string
	}{
		{"br-odm_br-gcp_list.txt", 658528.361, 7167002.098, 890.636, 32722, 6, "", nil},
		{"odm-gcp_extras.txt", 609924.818, 4950688.772, 171.663, 32616, 1, "", nil},
		{"odm-gcp_latlon_south.txt", 503885.150, 9421613.199, 20, 32748, 1, "", nil},
		{"odm-gcp_latlon_valid.txt", 609865.708, 4950688.362, 150.5, 32616, 2, "", nil},
		{"odm-gcp_michigan_feet_valid.txt", 26607594.755, -26813.882, 563.199, 0, 1, "", []string{"--horizontal-unit", "ift", "--vertical-unit", "ift"}},
		{"odm-gcp_utm_north_valid.txt", 609925.818, 4950688.772, 171.663, 32616, 1, "", nil},
		{"pl-ochota-gcp_list.txt", 634676, 485344, 112, 0, 3, "", nil},
		{"us-ca-copr-gcp_list.txt", 235269.88, 3811198.11, 2, 32611, 10, "no surveyed height", nil},
		{"us-ca-copr-points-latlon.csv", 235277.613, 3811190.359, 2, 32611, 10, "no surveyed height", nil},
		{"us-mn-cedar-creek-ace-gcps.csv", 484924.134, 5027891.529, 252.490, 26915, 3, "", nil},
		{"us-mn-cedar-creek-all-gcps.csv", 484839.537, 5028169.731, 251.279, 26915, 13, "", nil},
		{"us-mn-cedar-creek-all-gcps.gpkg", 484839.537, 5028169.731, 251.279, 26915, 13, "", nil},
		{"us-mn-cedar-creek-fab1-gcps.csv", 485154.341, 5027922.912, 252.095, 26915, 4, "", nil},
		{"us-mn-cloquet-gcps.csv", 536805.847, 5169636.348, 353.860, 26915, 13, "", nil},
		{"us-nc-lakewheeler-gcp_list.txt", 637194.845, 219378.379, 111.888, 32119, 4, "", nil},
		{"us-oh-bellus-gcp_list.txt", 441024.157, 4564001.875, 345.169, 32617, 4, "", nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			list := controlList(t, c.name)
			unit := 1.0
			if len(c.flags) > 0 {
				unit = 0.3048
			}
			cloud := patch(t, c.e, c.n, c.z+0.02/unit, c.epsg)
			var out, errs bytes.Buffer
			code := run(context.Background(), append([]string{"checkpoints", "--json", "--quiet", "--checkpoints", list, cloud}, c.flags...), &out, &errs)
			if code != exitWithin && code != exitNotJudged {
				t.Fatalf("exit %d: %s", code, errs.String())
			}
			var rec report.Record
			if err := json.Unmarshal(out.Bytes(), &rec); err != nil {
				t.Fatal(err)
			}
			k := rec.Checkpoints
			if k.NRead != c.points {
				t.Errorf("%d points, want %d: %s", k.NRead, c.points, k.List.Choice)
			}
			found := false
			for _, p := range k.Points {
				if math.Hypot(p.EM-c.e*unit, p.NM-c.n*unit) > 0.01 {
					continue
				}
				found = true
				switch {
				case c.reason != "" && string(p.Reason) != c.reason:
					t.Errorf("reason %q, want %q", p.Reason, c.reason)
				case c.reason == "" && (p.DzM == nil || math.Abs(*p.DzM-0.02) > 0.0012):
					t.Errorf("dz %s, want 0.020 m; used %v, reason %s", number(p.DzM), p.Used, p.Reason)
				}
			}
			if !found {
				t.Errorf("no point at E %.3f, N %.3f: %s", c.e*unit, c.n*unit, k.List.Choice)
			}
		})
	}
}

func number(v *float64) string {
	if v == nil {
		return "none"
	}
	return strconv.FormatFloat(*v, 'f', 4, 64)
}

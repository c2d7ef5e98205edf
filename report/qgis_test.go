package report_test

import (
	"encoding/xml"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"sidelap/report"
	"sidelap/report/internal/sample"
)

// styleItems parses a style and returns the items of its colour ramp; every style
// must be well-formed with the root that QGIS looks for.
func styleItems(t *testing.T, name, doc string) (items []struct{ Value, Color, Label string }) {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(doc))
	for depth := 0; ; {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			return items
		}
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		switch e := tok.(type) {
		case xml.StartElement:
			if depth == 0 && e.Name.Local != "qgis" {
				t.Fatalf("%s: root %s", name, e.Name.Local)
			}
			depth++
			if e.Name.Local == "item" {
				var x struct{ Value, Color, Label string }
				for _, a := range e.Attr {
					switch a.Name.Local {
					case "value":
						x.Value = a.Value
					case "color":
						x.Color = a.Value
					case "label":
						x.Label = a.Value
					}
				}
				items = append(items, x)
			}
		case xml.EndElement:
			depth--
		}
	}
}

// Every raster has a style beside it; that of separations grows from loss to
// gain, names both limits of the verdict and has two colours at each step.
func TestRasterStyles(t *testing.T) {
	for name, s := range surveys() {
		dir := folder(t, s)
		for _, r := range s.Record.Rasters {
			path := strings.TrimSuffix(filepath.Join(dir, filepath.FromSlash(r.Path)), ".tif") + ".qml"
			b, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			items := styleItems(t, path, string(b))
			if r.Kind != "separation" && r.Kind != "separation_pair" {
				continue
			}
			last, steps := -1e9, 0
			for i, x := range items {
				v, err := strconv.ParseFloat(x.Value, 64)
				if err != nil || v <= last {
					t.Fatalf("%s: value %q behind %g: %v", r.Path, x.Value, last, err)
				}
				if i > 0 && v-last < 1e-6 && x.Color != items[i-1].Color {
					steps++
				}
				last = v
			}
			if steps != 4 {
				t.Errorf("%s %s: %d steps, want one at each limit and at twice each limit", name, r.Path, steps)
			}
			for _, want := range []string{"-0.080 m: twice the limit", "-0.040 m: limit", "0 m: the strips agree", "0.040 m: limit", "0.080 m: twice the limit"} {
				if !slices.ContainsFunc(items, func(x struct{ Value, Color, Label string }) bool { return x.Label == want }) {
					t.Errorf("%s: no item %q", r.Path, want)
				}
			}
		}
	}
}

// The GeoPackage has a style for each layer of features, which GDAL reads as a
// table; without a limit the styles speak of a percentile.
func TestVectorStyles(t *testing.T) {
	s := sample.Failing()
	path := filepath.Join(t.TempDir(), "map.gpkg")
	if err := report.WriteGPKG(path, s.Record, s.Layers, nil); err != nil {
		t.Fatal(err)
	}
	rows := run(t, "ogr2ogr", "-f", "CSV", "/vsistdout/", path, "layer_styles", "-select", "f_table_name,f_geometry_column,useAsDefault")
	for _, layer := range []string{"strips", "strip_lines", "overlaps", "voids", "checkpoints", "findings"} {
		if !strings.Contains(rows, layer+`,geom,"1"`) {
			t.Errorf("no style for %s:\n%s", layer, rows)
		}
		doc := run(t, "ogrinfo", "-q", path, "-sql", "SELECT styleQML FROM layer_styles WHERE f_table_name='"+layer+"'")
		at := strings.Index(doc, "<qgis")
		if at < 0 {
			t.Fatalf("%s: %s", layer, doc)
		}
		doc = strings.TrimSpace(doc[at:])
		styleItems(t, layer, doc)
		if layer == "overlaps" && !strings.Contains(doc, "twice the limit") || layer == "checkpoints" && !strings.Contains(doc, "the limit, 0.050 m") {
			t.Errorf("%s: the limit is not named", layer)
		}
	}
	if out := run(t, "ogrinfo", "-al", "-so", path); strings.Contains(out, "Warning") || strings.Contains(out, "ERROR") {
		t.Errorf("GDAL complains:\n%s", out)
	}
}

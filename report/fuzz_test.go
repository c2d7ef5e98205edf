package report_test

import (
	"bytes"
	"strings"
	"testing"

	"sidelap/report"
	"sidelap/report/internal/sample"
)

// FuzzLetterhead: a letterhead is refused with its path, or put on a record whose page shows none of it as markup.
func FuzzLetterhead(f *testing.F) {
	f.Add([]byte("logo = \"logo.png\"\n[project]\nname = \"Meadow\"\nclient = \"<b>\"\n[reference]\nvertical_datum = \"DHHN2016\"\nantenna_height_m = 1.5\n"))
	f.Add([]byte("[project]\nname = 3\n"))
	f.Add([]byte("a = [[[[[[[[[["))
	f.Fuzz(func(t *testing.T, b []byte) {
		h, _, err := report.ParseLetterhead("firm.toml", b)
		if err != nil {
			if !strings.HasPrefix(err.Error(), "firm.toml: ") {
				t.Errorf("%v", err)
			}
			return
		}
		rec, l := &report.Record{}, &report.Layers{}
		h.Apply(rec, l)
		if _, err := report.Marshal(rec); err != nil {
			t.Fatal(err)
		}
	})
}

// beyond are layers with numbers that no survey has.
var beyond = []string{
	`{"version":1,"separations":{"low_m":-1e308,"step_m":1e307,"counts":[1,2,3]}}`,
	`{"version":1,"separations":{"low_m":0,"step_m":1e8,"counts":[1,2,3,4,5,6,7,8,9,10,11]}}`,
	`{"version":1,"diagnosis":{"pairs":[{"a":"1","b":"2","across":[[-1e308,9,0,0,0,0,0,0],[1e308,9,0,1,0,0,0,0]]}]}}`,
	`{"version":1,"diagnosis":{"pairs":[{"a":"1","b":"2","across":[[0,9,1e308,-1e308,1e308,0,0,0],[1,9,0,0,0,0,1e308,0]]}]}}`,
	`{"version":1,"diagnosis":{"strips":[{"strip":"1","time":[[0,9,0,0,0,1e308,0,0],[1,1e308,0,0,0,0,0,0]]}]}}`,
	`{"version":1,"diagnosis":{"map_m":1e308,"map":[[0,0,1,1,1]]}}`,
	`{"version":1,"diagnosis":{"map_m":1,"map":[[0,-1e308,1,1e308,1]]}}`,
}

// TestLayersBeyond: they are refused with their place and the remedy, not drawn without end.
func TestLayersBeyond(t *testing.T) {
	for _, s := range beyond {
		if _, err := report.ParseLayers([]byte(s)); err == nil || !strings.Contains(err.Error(), "is beyond 1e+09") || !strings.HasSuffix(err.Error(), "assess again to make it anew") {
			t.Errorf("%s: %v", s, err)
		}
	}
}

// FuzzLayers: a layers.json is refused with its place, or drawn; and what is written again reads the same.
func FuzzLayers(f *testing.F) {
	s := sample.Failing()
	b, err := report.WriteLayers(s.Layers)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(b)
	f.Add([]byte(`{"version":1,"strips":[{"id":"1","area":{"type":"MultiPolygon","coordinates":[[[[0,0],[1e308,0],[0,-1e308]]]]},"line":null}],"profiles":[{"strips":["a"],"points":[[1e300,-1e300,0],[0,0,7]]}]}`))
	f.Add([]byte(`{"version":1,"boundary":{"type":"MultiPolygon","coordinates":[[],[[]]]},"path":{"type":"Point","coordinates":[1,2]}}`))
	for _, s := range beyond {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		l, err := report.ParseLayers(b)
		if err != nil {
			if !strings.HasPrefix(err.Error(), "layers.json: ") {
				t.Errorf("%v", err)
			}
			return
		}
		again, err := report.WriteLayers(l)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := report.ParseLayers(again); err != nil {
			t.Fatalf("%v in what was written:\n%s", err, again)
		}
		rec := &report.Record{SchemaVersion: report.SchemaVersion}
		var out bytes.Buffer
		if err := report.WriteHTML(&out, rec, l); err != nil {
			t.Fatal(err)
		}
	})
}

package report_test

import (
	"bytes"
	"io"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"sidelap/report"
	"sidelap/report/internal/sample"
)

// One golden for each kind of output of the failing survey: read the difference
// before taking a new one with -update. The page is kept as its text, figures apart.
func TestGolden(t *testing.T) {
	s := sample.Failing()
	files := tree(t, folder(t, s))
	for _, name := range []string{"results.json", "tables/criteria.csv", "tables/pairs.csv", "tables/causes.csv", "tables/findings.csv", "tables/voids.csv", "tables/tables.md"} {
		golden(t, "folder/"+filepath.Base(name), []byte(withoutHashes(files[name])))
	}
	page := visible(files["report.html"])
	page = regexp.MustCompile(`[ \t]*\n\s*`).ReplaceAllString(regexp.MustCompile(`[ \t]+`).ReplaceAllString(page, " "), "\n")
	golden(t, "folder/report.txt", []byte(withoutHashes(strings.TrimSpace(page)+"\n")))
}

// withoutHashes leaves the hashes of rasters out: the compressor's bytes may
// change with the toolchain.
func withoutHashes(s string) string {
	return regexp.MustCompile(`"sha256": "[0-9a-f]{64}"\}`).ReplaceAllString(s, `"sha256": "…"}`)
}

// go test ./report -run '^$' -bench . -count 5
func BenchmarkGeoTIFF(b *testing.B) {
	g := ramp(1000, 1000, false)
	path := filepath.Join(b.TempDir(), "g.tif")
	b.ReportAllocs()
	for b.Loop() {
		if err := report.WriteGeoTIFF(path, g, report.RasterOptions{}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N)*1e6/b.Elapsed().Seconds(), "cells/s")
}

func BenchmarkRender(b *testing.B) {
	for name, write := range map[string]func(*sample.Survey) error{
		"json": func(s *sample.Survey) error { _, err := report.Marshal(s.Record); return err },
		"html": func(s *sample.Survey) error { return report.WriteHTML(io.Discard, s.Record, s.Layers) },
		"pdf": func(s *sample.Survey) error {
			return report.WritePDF(io.Discard, s.Record, s.Layers, report.PDFOptions{})
		},
		"text": func(s *sample.Survey) error {
			return report.WriteText(new(bytes.Buffer), s.Record, report.TextOptions{})
		},
	} {
		b.Run("form="+name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if err := write(sample.Failing()); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

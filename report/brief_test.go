package report_test

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sidelap/report"
	"sidelap/report/internal/sample"
)

// TestBriefFaults: the summary prints every fault, before warnings and notes, and names job and base mark. Outside the project: poppler reads the text.
func TestBriefFaults(t *testing.T) {
	s := sample.Failing()
	s.Record.Project.Number, s.Record.Project.Client, s.Record.Reference.BaseMark = "2026-117", "Water board", "HM01"
	s.Record.Findings = nil
	for i := range 9 {
		s.Record.Findings = append(s.Record.Findings, report.Finding{Severity: report.SeverityNote, Text: fmt.Sprintf("remark %d", i)})
	}
	for i := range 7 {
		s.Record.Findings = append(s.Record.Findings, report.Finding{Severity: report.SeverityFault, Text: fmt.Sprintf("blunder %d", i)})
	}
	var b bytes.Buffer
	if err := report.WritePDF(&b, s.Record, s.Layers, report.PDFOptions{Brief: true}); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "brief.pdf")
	if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	text := run(t, "pdftotext", "-layout", path, "-")
	for i := range 7 {
		if !strings.Contains(text, fmt.Sprintf("fault: blunder %d", i)) {
			t.Errorf("fault %d is not in the summary", i)
		}
	}
	for _, w := range []string{"number 2026-117; client Water board", "HM01", "9 more findings, none of them a fault"} {
		if !strings.Contains(text, w) {
			t.Errorf("no %q in the summary:\n%s", w, text)
		}
	}
}

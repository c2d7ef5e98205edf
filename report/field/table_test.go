package field

import (
	"bytes"
	"encoding/csv"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// The table has a row for each item, with the ends of its line and its time.
func TestTable(t *testing.T) {
	r := badReport(t)
	var b bytes.Buffer
	if err := r.WriteTable(&b); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil || len(rows) != len(r.Refly)+1 || len(rows) < 3 {
		t.Fatalf("%d rows for %d items, %v", len(rows), len(r.Refly), err)
	}
	for i, row := range rows[1:] {
		it := &r.Refly[i]
		if row[0] != strconv.Itoa(i+1) || row[2] != it.Strip || row[7] != "UTC" || row[16] != strings.Join(it.Reasons, "; ") {
			t.Errorf("row %q of %+v", row, it)
		}
		for k, p := range [2]int{0, len(it.Line) - 1} {
			lon, _ := strconv.ParseFloat(row[12+2*k], 64)
			lat, _ := strconv.ParseFloat(row[13+2*k], 64)
			e, n, err := r.grid.proj.Forward(lat/toDeg, lon/toDeg)
			if err != nil || math.Hypot(e-it.Line[p][0], n-it.Line[p][1]) > 0.02 {
				t.Errorf("row %d: %g, %g is %.3f m from its place", i+1, lon, lat, math.Hypot(e-it.Line[p][0], n-it.Line[p][1]))
			}
		}
	}
}

// Text that a spreadsheet would run as a formula is text; numbers, of either sign, and names stay as they are.
func TestNoFormulaInTheTable(t *testing.T) {
	for s, want := range map[string]string{"=1+1": "'=1+1", "+cmd|x": "'+cmd|x", "-2+3": "'-2+3", "@SUM(1)": "'@SUM(1)", "\t=1": "'\t=1", "\r=1": "'\r=1", "\n=1": "'\n=1",
		"-12.9750000": "-12.9750000", "+7": "+7", "-3": "-3", "": "", "L1": "L1", "a=b": "a=b", "-": "'-", "-1e5": "'-1e5"} {
		if got := noFormula(s); got != want {
			t.Errorf("%q becomes %q, want %q", s, got, want)
		}
	}
	r := badReport(t)
	r.Refly[0].Strip, r.Refly[0].Reasons = "@x", []string{"+y"}
	var b bytes.Buffer
	if err := r.WriteTable(&b); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil || rows[1][2] != "'@x" || rows[1][16] != "'+y" || !strings.Contains(rows[1][12], ".") || rows[1][12][0] == '\'' {
		t.Errorf("%q, %v", rows, err)
	}
}

// luminance is the relative luminance of a colour #rgb or #rrggbb.
// Source: WCAG 2.1, definition of relative luminance.
func luminance(t *testing.T, c string) float64 {
	t.Helper()
	if len(c) == 4 {
		c = "#" + strings.Repeat(c[1:2], 2) + strings.Repeat(c[2:3], 2) + strings.Repeat(c[3:4], 2)
	}
	v, err := strconv.ParseUint(c[1:], 16, 32)
	if err != nil {
		t.Fatal(err)
	}
	sum := 0.0
	for k, w := range []float64{0.0722, 0.7152, 0.2126} {
		x := float64(v>>(8*k)&255) / 255
		if x <= 0.04045 {
			x /= 12.92
		} else {
			x = math.Pow((x+0.055)/1.055, 2.4)
		}
		sum += w * x
	}
	return sum
}

// Outside the project: words can be read in the sun. WCAG 2.1, success criterion 1.4.6 (enhanced), asks for 7 to 1;
// small print of the page keeps to 4.5 to 1 (1.4.3).
func TestContrast(t *testing.T) {
	for _, root := range regexp.MustCompile(`:root\{[^}]*--paper[^}]*\}`).FindAllString(pageText, -1) {
		c := map[string]string{}
		for _, m := range regexp.MustCompile(`--([a-z]+):(#[0-9a-f]+)`).FindAllStringSubmatch(root, -1) {
			c[m[1]] = m[2]
		}
		for name, least := range map[string]float64{"ink": 7, "bad": 7, "look": 7, "good": 7, "muted": 4.5} {
			for _, ground := range []string{"paper", "page"} {
				a, b := luminance(t, c[name]), luminance(t, c[ground])
				if k := (max(a, b) + 0.05) / (min(a, b) + 0.05); k < least {
					t.Errorf("%s on %s (%s on %s): %.1f to 1, want %g", name, ground, c[name], c[ground], k, least)
				}
			}
		}
	}
}

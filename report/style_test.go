package report

import (
	"image/color"
	"math"
	"os"
	"regexp"
	"strings"
	"testing"
)

// linear returns a colour channel as linear light.
func linear(v uint8) float64 {
	c := float64(v) / 255
	if c <= 0.04045 {
		return c / 12.92
	}
	return math.Pow((c+0.055)/1.055, 2.4)
}

func luminance(c color.RGBA) float64 {
	return 0.2126*linear(c.R) + 0.7152*linear(c.G) + 0.0722*linear(c.B)
}

// contrast is that of WCAG 2.1, success criterion 1.4.3.
func contrast(a, b color.RGBA) float64 {
	x, y := luminance(a), luminance(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// lab returns CIE L*a*b* (D65) of linear light.
func lab(r, g, b float64) [3]float64 {
	f := func(t float64) float64 {
		if t > 216./24389 {
			return math.Cbrt(t)
		}
		return (24389./27*t + 16) / 116
	}
	x, y, z := f((0.4124*r+0.3576*g+0.1805*b)/0.95047), f(0.2126*r+0.7152*g+0.0722*b), f((0.0193*r+0.1192*g+0.9505*b)/1.08883)
	return [3]float64{116*y - 16, 500 * (x - y), 200 * (y - z)}
}

// seen is what a viewer sees. Matrices for full protanopia, deuteranopia and
// tritanopia from Machado, Oliveira and Fernandes 2009, IEEE TVCG 15(6), table 1 (from memory).
var seen = map[string][9]float64{
	"all colours":  {1, 0, 0, 0, 1, 0, 0, 0, 1},
	"protanopia":   {0.152286, 1.052583, -0.204868, 0.114503, 0.786281, 0.099216, -0.003882, -0.048116, 1.051998},
	"deuteranopia": {0.367322, 0.860646, -0.227968, 0.280085, 0.672501, 0.047413, -0.011820, 0.042940, 0.968881},
	"tritanopia":   {1.255528, -0.076749, -0.178779, -0.078411, 0.930809, 0.147602, 0.004733, 0.691367, 0.303900},
}

func difference(a, b color.RGBA, m [9]float64) float64 {
	see := func(c color.RGBA) [3]float64 {
		r, g, b := linear(c.R), linear(c.G), linear(c.B)
		at := func(i int) float64 { return min(max(m[i]*r+m[i+1]*g+m[i+2]*b, 0), 1) }
		return lab(at(0), at(3), at(6))
	}
	x, y := see(a), see(b)
	return math.Sqrt((x[0]-y[0])*(x[0]-y[0]) + (x[1]-y[1])*(x[1]-y[1]) + (x[2]-y[2])*(x[2]-y[2]))
}

// The sign of a separation can be told at every size from half the limit, by
// every viewer; the steps at the limit can be told in grey too. 10 in L*a*b* is a clear difference.
func TestSeparationColours(t *testing.T) {
	const limit = 0.04
	for name, m := range seen {
		for _, k := range []float64{0.5, 1, 1.01, 2, 2.01, 4} {
			if d := difference(separationColor(-k*limit, limit), separationColor(k*limit, limit), m); d < 10 {
				t.Errorf("%s: signs at %g limits differ by %.1f", name, k, d)
			}
		}
	}
	grey := [9]float64{0.2126, 0.7152, 0.0722, 0.2126, 0.7152, 0.0722, 0.2126, 0.7152, 0.0722}
	for _, sign := range []float64{-1, 1} {
		for _, k := range []float64{1, 2} {
			if d := difference(separationColor(sign*k*limit, limit), separationColor(sign*(k+1e-6)*limit, limit), grey); d < 8 {
				t.Errorf("the step at %g limits is %.1f in grey", sign*k, d)
			}
		}
		last := 1.0
		for k := 0.0; k <= 4; k += 0.125 { // darker all the way: more is more
			if l := luminance(separationColor(sign*k*limit, limit)); l > last+1e-9 {
				t.Errorf("lighter at %g limits", sign*k)
			} else {
				last = l
			}
		}
	}
	if separationColor(0, limit) != separationColor(math.Copysign(0, -1), limit) {
		t.Error("zero has two colours")
	}
	// A value equal to the limit belongs to the level below (L-7).
	if separationColor(limit, limit) == separationColor(limit*1.0001, limit) {
		t.Error("no step at the limit")
	}
}

// Strips in profiles differ for every viewer, beside the shapes of their marks.
func TestStripColours(t *testing.T) {
	for name, m := range seen {
		for i := range stripColors {
			for k := range i {
				if d := difference(colorOf(stripColors[i]), colorOf(stripColors[k]), m); d < 10 {
					t.Errorf("%s: strips %d and %d differ by %.1f", name, i, k, d)
				}
			}
		}
	}
}

// Marks of strips stand out from the paper that profiles are drawn on, whatever the
// reader's theme: WCAG 2.1, success criterion 1.4.11, graphical objects.
func TestStripMarksOnPaper(t *testing.T) {
	for _, c := range stripColors {
		if k := contrast(colorOf(c), rgb(0xffffff)); k < 3 {
			t.Errorf("%s on paper: %.2f, want 3", c, k)
		}
	}
	b, err := os.ReadFile("assets/report.css")
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(b), ".figure.onpaper{background:#fff") {
		t.Error("figures on paper have no paper")
	}
}

// Texts and lines have the contrast of WCAG 2.1 AA on their ground, light and dark.
func TestContrast(t *testing.T) {
	css, err := os.ReadFile("assets/report.css")
	if err != nil {
		t.Fatal(err)
	}
	themes := regexp.MustCompile(`:root\{[^}]*\}`).FindAllString(string(css), -1)
	if len(themes) < 2 {
		t.Fatalf("%d themes", len(themes))
	}
	for i, block := range themes[:2] {
		get := func(name string) color.RGBA {
			m := regexp.MustCompile(`--` + name + `:(#[0-9a-f]+)`).FindStringSubmatch(block)
			if m == nil {
				t.Fatalf("theme %d has no %s", i, name)
			}
			h := m[1]
			if len(h) == 4 {
				h = "#" + strings.Repeat(h[1:2], 2) + strings.Repeat(h[2:3], 2) + strings.Repeat(h[3:4], 2)
			}
			return colorOf(h)
		}
		for _, text := range []string{"ink", "muted", "accent", "low", "high"} {
			for _, ground := range []string{"paper", "page"} {
				if c := contrast(get(text), get(ground)); c < 4.5 {
					t.Errorf("theme %d: %s on %s: %.2f, want 4.5", i, text, ground, c)
				}
			}
		}
	}
}

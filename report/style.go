package report

import (
	"fmt"
	"image/color"
	"math"
)

// The visual language of the reports, decided here once.
//
// Separation and differences have a sign that matters (which strip lies
// higher) and a limit that matters (the contract's). So: two hues that stay apart for
// every common kind of colour blindness, indigo for lower and ochre for higher,
// growing from paper at zero; a step in darkness at the limit, a second one with a
// hatch at twice the limit, so that the limits can be seen in a grey print. Zero,
// limits and signs are written at the scale. Results are words; where they have a
// mark it has a shape of its own.
//
// Amounts without a sign (density, number of strips) run from paper to petrol in
// one hue, dark is more.

// Names of the colours that follow the reader's theme.
const (
	inkColor   = "ink"   // text and axes
	mutedColor = "muted" // secondary text
	lineColor  = "line"  // grids and frames
	paperColor = "paper"
	lowColor   = "low"   // indigo: lower
	highColor  = "high"  // ochre: higher
	limitColor = "limit" // the limit's lines
	barColor   = "bar"   // bars of histograms
	markColor  = "mark"  // check points on the map
	haloColor  = "halo"  // behind texts on the map
)

// theme gives the colours on paper; report.css has the dark ones.
var theme = map[string]color.RGBA{
	inkColor: {0x1c, 0x22, 0x2b, 255}, mutedColor: {0x5a, 0x64, 0x70, 255}, lineColor: {0xcf, 0xd3, 0xd6, 255}, paperColor: {0xff, 0xff, 0xff, 255},
	lowColor: {0x34, 0x43, 0x9a, 255}, highColor: {0x9c, 0x52, 0x06, 255}, limitColor: {0x1c, 0x22, 0x2b, 255}, barColor: {0x7d, 0x8a, 0x99, 255},
	markColor: {0x12, 0x12, 0x12, 255}, haloColor: {0xff, 0xff, 0xff, 255},
}

// stripColors tell strips apart in profiles, together with the shape of the
// mark; they differ in lightness as well as in hue.
var stripColors = []string{"#34439a", "#c97a1f", "#1f7a70", "#7b2d63"}

// stop is a colour at a multiple of the limit.
type stop struct {
	at float64
	c  color.RGBA
}

var lowerStops = []stop{{0, rgb(0xf6f3ec)}, {0.5, rgb(0xd3d8ee)}, {1, rgb(0xa9b4e0)}, {1, rgb(0x6676c6)}, {2, rgb(0x3d4ea8)}, {2, rgb(0x232d74)}, {4, rgb(0x151b4b)}}
var higherStops = []stop{{0, rgb(0xf6f3ec)}, {0.5, rgb(0xf2dcbd)}, {1, rgb(0xe7bd85)}, {1, rgb(0xcf8433)}, {2, rgb(0xa85c10)}, {2, rgb(0x6e3700)}, {4, rgb(0x432100)}}
var amountStops = []stop{{0, rgb(0xf6f3ec)}, {0.25, rgb(0xc9dedb)}, {0.5, rgb(0x86b7b3)}, {0.75, rgb(0x3f8a86)}, {1, rgb(0x0f4f52)}}

func rgb(v uint32) color.RGBA {
	return color.RGBA{uint8(v >> 16), uint8(v >> 8), uint8(v), 255}
}

// between returns the colour at a place of the stops; places beyond are clamped.
// A doubled stop is a step; the value at it belongs to the lower side.
func between(s []stop, at float64) color.RGBA {
	if at <= s[0].at {
		return s[0].c
	}
	for i := 1; i < len(s); i++ {
		if at > s[i].at {
			continue
		}
		a, b := s[i-1], s[i]
		t := (at - a.at) / (b.at - a.at)
		mix := func(x, y uint8) uint8 { return uint8(math.Round(float64(x) + t*(float64(y)-float64(x)))) }
		return color.RGBA{mix(a.c.R, b.c.R), mix(a.c.G, b.c.G), mix(a.c.B, b.c.B), 255}
	}
	return s[len(s)-1].c
}

// separationColor returns the colour of a difference; limitM is where the first
// step lies.
func separationColor(dzM, limitM float64) color.RGBA {
	if dzM < 0 {
		return between(lowerStops, -dzM/limitM)
	}
	return between(higherStops, dzM/limitM)
}

// hatched tells whether a pixel of a cell beyond twice the limit is a light one
// of the hatch; the direction tells the sign.
func hatched(x, y int, lower bool) bool {
	if lower {
		return (x+y)%5 == 0
	}
	return ((x-y)%5+5)%5 == 0
}

func hexOf(c color.RGBA) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }

// colorOf resolves a colour name of the theme, or a hex colour, on paper.
func colorOf(name string) color.RGBA {
	if c, ok := theme[name]; ok {
		return c
	}
	var v uint32
	if _, err := fmt.Sscanf(name, "#%06x", &v); err != nil {
		return theme[inkColor]
	}
	return rgb(v)
}

// scaleLimit returns the limit that the colours are scaled to, and whether it is
// one of the verdict: that of the strips' RMSD, else the 95th percentile found.
func (v *view) scaleLimit() (limitM float64, judged bool) {
	for _, id := range []string{"swath_rmsd", "pair_rmsd", "pair_median", "swath_max"} {
		for _, c := range v.rec.Verdict.Criteria {
			if c.ID == id && c.Limit != nil && *c.Limit > 0 {
				return *c.Limit, true
			}
		}
	}
	if s := v.rec.Separation; s != nil && s.P95AbsM != nil && *s.P95AbsM > 0 {
		return *s.P95AbsM, false
	}
	return 0.05, false
}

package report

import (
	"encoding/base64"
	"fmt"
	"html"
	"math"
	"strconv"
	"strings"
)

// canvas is what figures are drawn on: SVG for the HTML report, pages for the
// PDF. Coordinates are points, y downwards.
type canvas interface {
	// path draws a line, closed and filled when the ink says so.
	path(points [][2]float64, closed bool, k ink)
	circle(x, y, r float64, k ink)
	// dots draws many small marks of one kind: square or round.
	dots(at [][2]float64, r float64, square bool, k ink)
	// write sets a text; anchor is start, middle or end; halo puts paper behind it.
	write(x, y float64, s string, size float64, anchor string, k ink)
	image(x, y, w, h float64, p *picture, k ink)
}

// ink is how something is drawn. Colours are names of the theme or hex.
type ink struct {
	stroke, fill string
	width        float64
	dash         string // "3 2"
	opacity      float64
	class        string // of the SVG element
	hint         string // shown when the pointer rests on it
	halo         bool
	bold         bool
}

// svg draws on an SVG element.
type svg struct {
	b    strings.Builder
	w, h float64
}

func num(x float64) string { return trimmed(x, 2) }

// paint returns a colour for CSS: names follow the theme of the page.
func paint(name string) string {
	switch {
	case name == "":
		return "none"
	case strings.HasPrefix(name, "#"):
		return name
	}
	return "var(--" + name + ")"
}

func (s *svg) attributes(k ink) string {
	var b strings.Builder
	if k.class != "" {
		fmt.Fprintf(&b, ` class="%s"`, k.class)
	}
	fmt.Fprintf(&b, ` fill="%s"`, paint(k.fill))
	if k.stroke != "" {
		w := k.width
		if w == 0 {
			w = 1
		}
		fmt.Fprintf(&b, ` stroke="%s" stroke-width="%s"`, paint(k.stroke), num(w))
		if k.dash != "" {
			fmt.Fprintf(&b, ` stroke-dasharray="%s"`, k.dash)
		}
	}
	if k.opacity != 0 {
		fmt.Fprintf(&b, ` opacity="%s"`, num(k.opacity))
	}
	return b.String()
}

// end closes an element, with its hint.
func (s *svg) end(name string, k ink) {
	if k.hint == "" {
		s.b.WriteString("/>")
		return
	}
	fmt.Fprintf(&s.b, "><title>%s</title></%s>", html.EscapeString(k.hint), name)
}

func (s *svg) path(p [][2]float64, closed bool, k ink) {
	if len(p) == 0 {
		return
	}
	s.b.WriteString(`<path d="`)
	for i, q := range p {
		c := byte('L')
		if i == 0 {
			c = 'M'
		}
		s.b.WriteByte(c)
		s.b.WriteString(num(q[0]) + " " + num(q[1]))
	}
	if closed {
		s.b.WriteByte('Z')
	}
	s.b.WriteString(`"` + s.attributes(k))
	s.end("path", k)
}

func (s *svg) circle(x, y, r float64, k ink) {
	fmt.Fprintf(&s.b, `<circle cx="%s" cy="%s" r="%s"%s`, num(x), num(y), num(r), s.attributes(k))
	s.end("circle", k)
}

// dots is one path of strokes without length, whose ends are the marks: few bytes for each.
func (s *svg) dots(at [][2]float64, r float64, square bool, k ink) {
	if len(at) == 0 {
		return
	}
	ends := "round"
	if square {
		ends = "square"
	}
	s.b.WriteString(`<path fill="none" stroke="` + paint(k.fill) + `" stroke-width="` + num(2*r) + `" stroke-linecap="` + ends + `" d="`)
	for _, q := range at {
		s.b.WriteString("M" + trimmed(q[0], 1) + " " + trimmed(q[1], 1) + "h0")
	}
	s.b.WriteString(`"/>`)
}

func (s *svg) write(x, y float64, text string, size float64, anchor string, k ink) {
	extra := ""
	if anchor != "" && anchor != "start" {
		extra += ` text-anchor="` + anchor + `"`
	}
	if k.bold {
		extra += ` font-weight="700"`
	}
	if k.halo {
		extra += ` stroke="` + paint(haloColor) + `" stroke-width="3" paint-order="stroke" stroke-linejoin="round"`
	}
	class := ""
	if k.class != "" {
		class = ` class="` + k.class + `"`
	}
	fmt.Fprintf(&s.b, `<text x="%s" y="%s" font-size="%s" fill="%s"%s%s>%s</text>`, num(x), num(y), num(size), paint(k.fill), extra, class, html.EscapeString(text))
}

func (s *svg) image(x, y, w, h float64, p *picture, k ink) {
	class := ""
	if k.class != "" {
		class = ` class="` + k.class + `"`
	}
	fmt.Fprintf(&s.b, `<image x="%s" y="%s" width="%s" height="%s" preserveAspectRatio="none"%s href="data:image/png;base64,%s"/>`,
		num(x), num(y), num(w), num(h), class, base64.StdEncoding.EncodeToString(p.png))
}

// element returns the SVG with its text for those who do not see it.
func (s *svg) element(id, label string) string {
	idAttr := ""
	if id != "" {
		idAttr = ` id="` + id + `"`
	}
	return `<svg` + idAttr + ` viewBox="0 0 ` + num(s.w) + ` ` + num(s.h) + `" role="img" aria-label="` + html.EscapeString(label) + `">` + s.b.String() + `</svg>`
}

// ticks returns round values from lo to hi, about n of them, and their decimals.
func ticks(lo, hi float64, n int) (at []float64, decimals int) {
	if !(hi > lo) || n < 1 {
		return nil, 0
	}
	step, decimals := roundStep((hi - lo) / float64(n))
	first, last := math.Ceil(lo/step-1e-9), math.Floor(hi/step+1e-9)
	if math.IsInf(step, 0) || !(math.Abs(first) <= 1<<52 && math.Abs(last) <= 1<<52) { // beyond what a number can count, or endless
		return nil, 0
	}
	for k := first; k <= last; k++ {
		at = append(at, k*step)
	}
	return at, decimals
}

// roundStep returns 1, 2 or 5 times a power of ten, at least x.
func roundStep(x float64) (step float64, decimals int) {
	for e := -9; e < 13; e++ {
		for _, m := range []string{"1", "2", "5"} {
			s, _ := strconv.ParseFloat(m+"e"+strconv.Itoa(e), 64)
			if s >= x*0.999999 {
				return s, max(-e, 0)
			}
		}
	}
	return x, 0
}

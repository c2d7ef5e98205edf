package report

import (
	"bytes"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"io"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"codeberg.org/go-pdf/fpdf"
	"github.com/go-fonts/liberation/liberationsansbold"
	"github.com/go-fonts/liberation/liberationsansregular"
)

// PDFOptions say how report.pdf is laid out.
type PDFOptions struct {
	Letter bool // US letter, A4 otherwise
	Brief  bool // a summary of two pages instead of the full report
}

// pdfDoc is the PDF being written. Lengths are points, y downwards.
type pdfDoc struct {
	f           *fpdf.Fpdf
	v           *view
	l           *Layers
	o           PDFOptions
	left, right float64
	top, bottom float64
	y           float64
	starts      []start // chapters of this pass
	contents    []start // chapters with their pages, from the pass before
	total       int     // pages, from the pass before
	images      int
	widths      map[int]bool // of the images in pixels; see uniqueWidth
}

// start is where a chapter begins.
type start struct {
	name string
	page int
	link int
}

const (
	pdfMargin = 48
	textSize  = 9.5
	lead      = 1.35 // line height over font size
)

// WritePDF writes report.pdf with embedded fonts and vector figures. The same
// record gives the same bytes; the date is the record's CreatedUTC.
func WritePDF(w io.Writer, rec *Record, l *Layers, o PDFOptions) error {
	if l == nil {
		l = &Layers{}
	}
	v := newView(rec)
	var d *pdfDoc
	var contents []start
	total := 0
	for range 3 { // a contents list of another length may move chapters: until they stay
		d = newPDF(v, l, o)
		d.contents, d.total = contents, total
		if err := d.build(); err != nil {
			return err
		}
		settled := total == d.f.PageNo() && samePages(contents, d.starts)
		contents, total = d.starts, d.f.PageNo()
		if settled {
			break
		}
	}
	return d.f.Output(w)
}

func samePages(a, b []start) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i].page != b[i].page {
			return false
		}
	}
	return true
}

func newPDF(v *view, l *Layers, o PDFOptions) *pdfDoc {
	size := "A4"
	if o.Letter {
		size = "Letter"
	}
	f := fpdf.New("P", "pt", size, "")
	f.SetCatalogSort(true)
	f.SetAutoPageBreak(false, 0)
	f.SetMargins(pdfMargin, pdfMargin, pdfMargin)
	f.SetCellMargin(0)
	f.AddUTF8FontFromBytes("text", "", liberationsansregular.TTF)
	f.AddUTF8FontFromBytes("text", "B", liberationsansbold.TTF)
	at, err := time.Parse(time.RFC3339, string(v.rec.CreatedUTC))
	if err != nil { // no date in the record: a fixed one, so that the bytes stay
		at = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)
	}
	f.SetCreationDate(at)
	f.SetModificationDate(at)
	f.SetTitle(v.title(), true)
	if p := v.rec.Project; p != nil && p.Firm != "" {
		f.SetAuthor(string(p.Firm), true)
	}
	f.SetSubject(v.verdictLines()[0], true)
	f.SetCreator(strings.TrimSpace(v.rec.Program.Name+" "+v.rec.Program.Version), true)
	f.SetProducer("sidelap", true)
	f.SetLang("en")
	w, h := f.GetPageSize()
	d := &pdfDoc{f: f, v: v, l: l, o: o, widths: map[int]bool{}, left: pdfMargin, right: w - pdfMargin, top: pdfMargin + 14, bottom: h - pdfMargin - 8}
	return d
}

func (d *pdfDoc) width() float64 { return d.right - d.left }

// page begins a page with its header and footer.
func (d *pdfDoc) page() {
	d.f.AddPage()
	d.y = d.top
	_, h := d.f.GetPageSize()
	d.font(8, false)
	d.color(mutedColor)
	if d.f.PageNo() > 1 {
		d.put(d.left, pdfMargin-10, d.clip(d.v.title(), d.width()), "start")
	}
	foot := d.v.footer()
	n := strconv.Itoa(d.f.PageNo())
	if d.total > 0 {
		n += " of " + strconv.Itoa(d.total)
	}
	d.put(d.left, h-pdfMargin+12, d.clip(foot, d.width()-60), "start")
	d.put(d.right, h-pdfMargin+12, n, "end")
	d.stroke(lineColor, 0.5)
	d.f.Line(d.left, h-pdfMargin+1, d.right, h-pdfMargin+1)
}

// need begins a page when h points do not fit any more.
func (d *pdfDoc) need(h float64) {
	if d.f.PageNo() == 0 || d.y+h > d.bottom {
		d.page()
	}
}

func (d *pdfDoc) font(size float64, bold bool) {
	style := ""
	if bold {
		style = "B"
	}
	d.f.SetFont("text", style, size)
}

func (d *pdfDoc) color(name string) {
	c := colorOf(name)
	d.f.SetTextColor(int(c.R), int(c.G), int(c.B))
}

func (d *pdfDoc) stroke(name string, width float64) {
	c := colorOf(name)
	d.f.SetDrawColor(int(c.R), int(c.G), int(c.B))
	d.f.SetLineWidth(width)
}

func (d *pdfDoc) fill(name string) {
	c := colorOf(name)
	d.f.SetFillColor(int(c.R), int(c.G), int(c.B))
}

// printable replaces what the font does not have.
func printable(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\u202f':
			return '\u00a0'
		case r == '\n' || r == '\t' || r == '\r':
			return ' '
		case r < ' ' || r > 0xffff:
			return '?'
		}
		return r
	}, s)
}

// put writes one line; anchor is start, middle or end.
func (d *pdfDoc) put(x, y float64, s, anchor string) {
	s = printable(s)
	switch anchor {
	case "middle":
		x -= d.f.GetStringWidth(s) / 2
	case "end":
		x -= d.f.GetStringWidth(s)
	}
	d.f.Text(x, y, s)
}

// clip shortens s to the width, with an ellipsis.
func (d *pdfDoc) clip(s string, width float64) string {
	s = printable(s)
	if d.f.GetStringWidth(s) <= width {
		return s
	}
	r := []rune(s)
	for len(r) > 0 && d.f.GetStringWidth(string(r)+"…") > width {
		r = r[:len(r)-1]
	}
	return string(r) + "…"
}

// lines breaks s to the width in the current font, at blanks where it can.
func (d *pdfDoc) lines(s string, width float64) []string {
	var out []string
	line := ""
	for _, w := range strings.FieldsFunc(printable(s), breaks) {
		next := w
		if line != "" {
			next = line + " " + w
		}
		if d.f.GetStringWidth(next) <= width {
			line = next
			continue
		}
		if line != "" {
			out = append(out, line)
		}
		for d.f.GetStringWidth(w) > width { // a word longer than the line
			n := utf8.RuneCountInString(w) - 1
			r := []rune(w)
			for n > 1 && d.f.GetStringWidth(string(r[:n])) > width {
				n--
			}
			out, w = append(out, string(r[:max(n, 1)])), string(r[max(n, 1):])
			if w == "" {
				break
			}
		}
		line = w
	}
	if line != "" || len(out) == 0 {
		out = append(out, line)
	}
	return out
}

// paragraph writes s, further lines behind the indent.
func (d *pdfDoc) paragraph(s string, size float64, bold bool, name string, indent float64) {
	d.font(size, bold)
	for i, l := range d.lines(s, d.width()-indent) {
		d.need(size * lead)
		d.font(size, bold)
		d.color(name)
		x := d.left
		if i > 0 || indent < 0 {
			x += math.Abs(indent)
		}
		d.y += size * lead
		d.put(x, d.y-size*0.3, l, "start")
	}
}

// bullet writes a line of a list.
func (d *pdfDoc) bullet(s string) {
	d.font(textSize, false)
	for i, l := range d.lines(s, d.width()-12) {
		d.need(textSize * lead)
		d.font(textSize, false)
		d.color(inkColor)
		d.y += textSize * lead
		if i == 0 {
			d.put(d.left+2, d.y-textSize*0.3, "•", "start")
		}
		d.put(d.left+12, d.y-textSize*0.3, l, "start")
	}
}

// chapter begins a chapter; it is listed in the contents.
func (d *pdfDoc) chapter(name string) {
	d.need(90)
	if d.y > d.top {
		d.y += 16
	}
	link := d.f.AddLink()
	d.f.SetLink(link, d.y, -1)
	d.f.Bookmark(name, 0, d.y)
	d.starts = append(d.starts, start{name, d.f.PageNo(), link})
	d.stroke("#0f4f52", 1.4)
	d.f.Line(d.left, d.y, d.right, d.y)
	d.y += 4
	d.paragraph(strconv.Itoa(len(d.starts))+"  "+name, 14, true, inkColor, 0)
	d.y += 4
}

func (d *pdfDoc) subtitle(s string) {
	d.need(60)
	d.y += 8
	d.paragraph(s, 10.5, true, inkColor, 0)
	d.y += 2
}

// drawing places a figure; draw gets a canvas whose corner is the figure's.
func (d *pdfDoc) drawing(h float64, caption string, draw func(canvas)) {
	d.font(8, false)
	text := d.lines(caption, d.width())
	d.need(h + float64(len(text))*8*lead + 8)
	d.y += 4
	draw(&pdfCanvas{d: d, x0: d.left, y0: d.y})
	d.f.SetAlpha(1, "Normal")
	d.f.SetDashPattern(nil, 0)
	d.y += h
	d.paragraph(caption, 8, false, mutedColor, 0)
	d.y += 4
}

// pdfCanvas draws figures on a page.
type pdfCanvas struct {
	d      *pdfDoc
	x0, y0 float64
}

func (c *pdfCanvas) ink(k ink) (style string) {
	f := c.d.f
	if k.opacity != 0 {
		f.SetAlpha(k.opacity, "Normal")
	} else {
		f.SetAlpha(1, "Normal")
	}
	if k.fill != "" {
		c.d.fill(k.fill)
		style += "F"
	}
	if k.stroke != "" {
		w := k.width
		if w == 0 {
			w = 1
		}
		c.d.stroke(k.stroke, w*0.75)
		var dash []float64
		for _, s := range strings.Fields(k.dash) {
			if x, err := strconv.ParseFloat(s, 64); err == nil {
				dash = append(dash, x*0.75)
			}
		}
		f.SetDashPattern(dash, 0)
		style += "D"
	}
	return style
}

func (c *pdfCanvas) path(p [][2]float64, closed bool, k ink) {
	style := c.ink(k)
	if style == "" || len(p) == 0 {
		return
	}
	if closed {
		points := make([]fpdf.PointType, len(p))
		for i, q := range p {
			points[i] = fpdf.PointType{X: c.x0 + q[0], Y: c.y0 + q[1]}
		}
		c.d.f.Polygon(points, style)
		return
	}
	c.d.f.MoveTo(c.x0+p[0][0], c.y0+p[0][1])
	for _, q := range p[1:] {
		c.d.f.LineTo(c.x0+q[0], c.y0+q[1])
	}
	c.d.f.DrawPath("D")
}

func (c *pdfCanvas) circle(x, y, r float64, k ink) {
	if style := c.ink(k); style != "" {
		c.d.f.Circle(c.x0+x, c.y0+y, r, style)
	}
}

func (c *pdfCanvas) dots(at [][2]float64, r float64, square bool, k ink) {
	for _, q := range at {
		if style := c.ink(k); square {
			c.d.f.Rect(c.x0+q[0]-r, c.y0+q[1]-r, 2*r, 2*r, style)
		} else {
			c.d.f.Circle(c.x0+q[0], c.y0+q[1], r, style)
		}
	}
}

func (c *pdfCanvas) write(x, y float64, s string, size float64, anchor string, k ink) {
	f := c.d.f
	f.SetAlpha(1, "Normal")
	c.d.font(size, k.bold)
	if k.halo {
		c.d.stroke(haloColor, 2.4)
		f.SetDashPattern(nil, 0)
		c.d.color(haloColor)
		f.SetTextRenderingMode(2)
		c.d.put(c.x0+x, c.y0+y, s, anchor)
		f.SetTextRenderingMode(0)
	}
	c.d.color(k.fill)
	c.d.put(c.x0+x, c.y0+y, s, anchor)
}

func (c *pdfCanvas) image(x, y, w, h float64, p *picture, k ink) {
	c.d.f.SetAlpha(1, "Normal")
	p, grown := c.d.uniqueWidth(p)
	w *= grown
	c.d.images++
	name := fmt.Sprintf("picture %d", c.d.images)
	o := fpdf.ImageOptions{ImageType: "PNG"}
	c.d.f.RegisterImageOptionsReader(name, o, bytes.NewReader(p.png))
	c.d.f.ImageOptions(name, c.x0+x, c.y0+y, w, h, false, o, 0, "")
}

// uniqueWidth gives every image of the document a width of its own, by white
// columns on its right side: fpdf orders images by their width, and those of one
// width by chance, which would change the bytes from run to run. grown is the new
// width over the old one.
func (d *pdfDoc) uniqueWidth(p *picture) (q *picture, grown float64) {
	im, err := png.Decode(bytes.NewReader(p.png))
	if err != nil {
		return p, 1
	}
	w, h := im.Bounds().Dx(), im.Bounds().Dy()
	n := w
	for d.widths[n] {
		n++
	}
	d.widths[n] = true
	if n == w {
		return p, 1
	}
	out := image.NewRGBA(image.Rect(0, 0, n, h))
	draw.Draw(out, out.Bounds(), image.White, image.Point{}, draw.Src)
	draw.Draw(out, im.Bounds(), im, image.Point{}, draw.Src)
	var b bytes.Buffer
	if err := png.Encode(&b, out); err != nil {
		return p, 1
	}
	return &picture{png: b.Bytes(), bounds: p.bounds}, float64(n) / float64(w)
}

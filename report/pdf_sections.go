package report

import (
	"bytes"
	"math"
	"strconv"
	"strings"

	"codeberg.org/go-pdf/fpdf"
)

// build writes the pages.
func (d *pdfDoc) build() error {
	d.page()
	d.cover()
	if d.o.Brief {
		return d.brief()
	}
	d.list()
	d.project()
	d.reference()
	d.acquisition()
	if err := d.relative(); err != nil {
		return err
	}
	d.absolute()
	if err := d.diagnosis(); err != nil {
		return err
	}
	if err := d.coverage(); err != nil {
		return err
	}
	d.cautions()
	d.statement()
	d.provenance()
	return d.f.Error()
}

// cover is the head of the first page: firm, title, verdict.
func (d *pdfDoc) cover() {
	if p := d.v.rec.Project; p != nil && p.Firm != "" {
		d.paragraph(string(p.Firm), 9.5, true, mutedColor, 0)
		for _, a := range p.Address {
			d.paragraph(string(a), 8.5, false, mutedColor, 0)
		}
	}
	if len(d.l.Logo) > 0 && (d.l.LogoType == "image/png" || d.l.LogoType == "image/jpeg") {
		o := fpdf.ImageOptions{ImageType: map[string]string{"image/png": "PNG", "image/jpeg": "JPG"}[d.l.LogoType]}
		if info := d.f.RegisterImageOptionsReader("logo", o, bytes.NewReader(d.l.Logo)); info != nil && d.f.Ok() && info.Height() > 0 {
			h := 44.0
			w := min(info.Width()/info.Height()*h, 150)
			d.f.ImageOptions("logo", d.right-w, d.top-8, w, w*info.Height()/info.Width(), false, o, 0, "")
			d.y = max(d.y, d.top+h)
		} else {
			d.f.ClearError() // a logo that cannot be read does not cost the report
		}
	}
	d.y += 6
	d.paragraph(d.v.title(), 17, true, inkColor, 0)
	d.y += 8
	top := d.y
	d.left += 16
	d.y += 6
	for i, l := range append(d.v.verdictLines(), d.v.correctionLines()...) {
		if i == 0 {
			d.paragraph(l, 14, true, inkColor, 0)
			continue
		}
		d.bullet(l)
	}
	if a := d.v.accuracyLines(); len(a) > 0 && d.v.worst() >= 0 {
		d.paragraph("Worst check point: "+strings.TrimPrefix(a[len(a)-1], "worst point: ")+".", textSize, false, inkColor, 0)
	}
	d.left -= 16
	d.y += 6
	c := map[string]string{Pass: "#0f4f52", Fail: highColor}[d.v.rec.Verdict.Result]
	if c == "" {
		c = mutedColor
	}
	d.stroke(c, 5)
	d.f.Line(d.left+3, top, d.left+3, d.y)
	if d.v.rec.Verdict.Result == Fail { // two bars: told without colour too
		d.stroke(c, 1.5)
		d.f.Line(d.left+9, top, d.left+9, d.y)
	}
	d.y += 8
}

// list is the contents list with page numbers.
func (d *pdfDoc) list() {
	if len(d.contents) == 0 { // the first pass: room for it
		d.y += 11 * 13
		return
	}
	d.paragraph("Contents", 10.5, true, inkColor, 0)
	for i, s := range d.contents {
		d.y += 13
		d.font(textSize, false)
		d.color(inkColor)
		d.put(d.left, d.y-3, strconv.Itoa(i+1)+"  "+s.name, "start")
		d.put(d.right, d.y-3, strconv.Itoa(s.page), "end")
		// fpdf numbers links in the order they are made; chapters come in the same order every pass.
		d.f.Link(d.left, d.y-12, d.width(), 13, s.link)
	}
	d.y += 6
}

func (d *pdfDoc) project() {
	d.chapter("Project")
	var rows [][2]string
	if p := d.v.rec.Project; p != nil {
		for _, x := range [][2]string{{"project", string(p.Name)}, {"number", string(p.Number)}, {"client", string(p.Client)}, {"site", string(p.Site)}, {"flown on", string(p.FlightDate)},
			{"sensor", string(p.Sensor)}, {"aircraft", string(p.Aircraft)}, {"conditions", string(p.Conditions)}} {
			if x[1] != "" {
				rows = append(rows, x)
			}
		}
		for _, n := range p.Notes {
			rows = append(rows, [2]string{"note", string(n)})
		}
	}
	rows = append(rows, [2]string{"input", d.v.inputPhrase()},
		[2]string{"strips by", strings.TrimSuffix(d.v.rec.StripsBy.Mode+": "+d.v.rec.StripsBy.Why, ": ")})
	d.factsTable("Job", rows)
	for i, w := range d.v.rec.Warnings {
		if i == 0 {
			d.subtitle("Warnings")
		}
		d.bullet(w)
	}
}

func (d *pdfDoc) reference() {
	d.chapter("Reference")
	where, base := d.v.referenceRows()
	d.factsTable("Coordinates and heights", where)
	d.factsTable("Base and check points", base)
}

func (d *pdfDoc) acquisition() {
	d.chapter("Acquisition")
	if f := d.v.rec.Field; f != nil {
		d.paragraph("Field check: "+resultText(f.Verdict), textSize, false, inkColor, 0)
		d.table(d.v.checksTable(), 0, func(i int) bool { return f.Checks[i].Result == Refly })
	} else {
		d.paragraph("No field check was run: base log, trajectory and manoeuvres were not tested.", textSize, false, inkColor, 0)
	}
	d.table(d.v.build(stripSpec), mostPrintedRows, nil)
}

func (d *pdfDoc) relative() error {
	v := d.v
	d.chapter("Strip against strip")
	if v.rec.Separation == nil || v.rec.Separation.Cells == 0 {
		d.paragraph("Not judged: "+NoSeparation(v.rec)+".", textSize, false, inkColor, 0)
		d.criteria("relative")
		d.smooth()
		return nil
	}
	limitM, judged := v.scaleLimit()
	d.paragraph(v.separationPhrase(), textSize, false, inkColor, 0)
	d.criteria("relative")
	if err := d.separationMap(d.l.Separation, 420, ""); err != nil {
		return err
	}
	if d.l.Separations != nil {
		d.drawing(190, "Separations of all pairs, "+group(histogramCount(d.l.Separations))+" cells.", func(c canvas) {
			drawHistogram(c, d.width(), 190, 8, d.l.Separations, limitM, judged, "separation [m]")
		})
	}
	pairs, caption := v.pairsShown()
	if h := v.drawPairs(&svg{}, pairs, d.width(), 8, limitM, judged); h > 0 {
		d.drawing(h, caption, func(c canvas) { v.drawPairs(c, pairs, d.width(), 8, limitM, judged) })
	}
	d.pairTable(mostPrintedRows)
	d.table(v.build(loopSpec), 20, nil)
	for i := range d.l.Profiles {
		p := &d.l.Profiles[i]
		if h := drawProfile(&svg{}, d.width(), 8, p); h > 0 {
			d.drawing(h, v.profileCaption(p), func(c canvas) { drawProfile(c, d.width(), 8, p) })
		}
	}
	d.smooth()
	return d.correction()
}

// separationPhrase tells the statistics of all pairs.
func (v *view) separationPhrase() string {
	k := "separation."
	return v.show(k+"cells", 0, 1) + " cells of " + v.withUnit(k+"cell_m") + " in " + v.show(k+"pairs", 0, 1) + " pairs: RMSD " + v.withUnit(k+"rmsd_m") + ", NMAD " + v.withUnit(k+"nmad_m") +
		", 95 % of the cells within " + v.withUnit(k+"p95_abs_m") + ", largest " + v.withUnit(k+"max_abs_m") + "."
}

func (d *pdfDoc) criteria(group string) {
	in := d.v.criteriaIn(group)
	d.table(d.v.criteriaOf(group), 0, func(i int) bool { return in[i].Result == Fail })
}

func (d *pdfDoc) separationMap(g *Grid, most float64, title string) error {
	b, ok := d.l.mapBounds()
	if g == nil || !ok {
		return nil
	}
	limitM, judged := d.v.scaleLimit()
	pic, err := separationPicture(d.l, g, d.l.faded(g), b, limitM, 1200)
	if err != nil {
		return err
	}
	o := mapOptions{strips: true, voids: true, checks: true, findings: true, exaggeration: 8 * 2.5 / (2 * limitM)}
	if room := d.bottom - d.y - 90; room > 260 { // rather a little smaller than a page half empty
		most = min(most, room)
	}
	h, _ := d.v.drawMap(&svg{}, d.l, pic, d.width(), most, 8, o)
	caption := title + "Separation in each cell where strips meet, over the shaded relief; where more than two meet, the largest in size. Pale: not compared, being steep, rough or thin. "
	if judged {
		caption += "Darker from the limit on, hatched from twice the limit on. "
	} else {
		caption += "No limit was given: the colours are scaled to the 95th percentile. "
	}
	caption += "Strips dashed with an arrow in flight direction, voids dotted." + d.v.marksPhrase()
	d.drawing(h+34, caption, func(c canvas) {
		d.v.drawMap(c, d.l, pic, d.width(), most, 8, o)
		d.v.drawScale(c, 20, h+14, d.width()-40, 8, limitM, judged)
	})
	return nil
}

func (d *pdfDoc) smooth() {
	v := d.v
	if v.rec.Repeatability == nil {
		d.paragraph("Within strips: not judged, no smooth surface was found.", textSize, false, inkColor, 0)
		return
	}
	rows := v.repeatabilityRows()
	for i := range rows {
		if k := rows[i][1]; strings.HasSuffix(k, "_m") {
			rows[i][1] = v.withUnit(k)
		} else {
			rows[i][1] = v.show(k, 0, 1)
		}
	}
	d.factsTable("Within strips, on smooth surfaces", rows)
}

// sideBySide draws two maps of one size beside each other; key draws what stands below each, h points down.
func (d *pdfDoc) sideBySide(pics []*picture, most float64, o mapOptions, caption string, key func(c canvas, i int, h, w float64)) {
	w := (d.width() - 16) / 2
	h, _ := d.v.drawMap(&svg{}, d.l, pics[0], w, most, 7, o)
	d.drawing(h+32, caption, func(canvas) {
		for i := range pics {
			side := &pdfCanvas{d: d, x0: d.left + float64(i)*(w+16), y0: d.y}
			d.v.drawMap(side, d.l, pics[i], w, most, 7, o)
			key(side, i, h, w)
		}
	})
}

func (d *pdfDoc) absolute() {
	v := d.v
	d.chapter("Against check points")
	if v.rec.Checkpoints == nil {
		d.paragraph("Not judged: no check points were given.", textSize, false, inkColor, 0)
		return
	}
	for _, l := range v.accuracyLines() {
		d.paragraph(sentenceText(l), textSize, false, inkColor, 0)
	}
	for _, l := range append(v.uncertaintyLines(), v.horizontalPhrase()...) {
		d.paragraph(sentenceText(l), textSize, false, inkColor, 0)
	}
	d.criteria("absolute")
	d.table(v.statistics(), 0, nil)
	for _, f := range v.checkFigures(d.l) {
		if h := f.draw(&svg{}, d.width(), 8); h > 0 {
			d.drawing(h, f.caption, func(c canvas) { f.draw(c, d.width(), 8) })
		}
	}
	d.table(v.build(subsetSpec), 0, nil)
	for i, t := range v.editionTables() {
		d.table(t, 0, func(k int) bool { return v.rec.Checkpoints.Editions[i].Measures[k].Result == Fail })
	}
	d.table(v.worstChecks(), 0, nil)
	worst := v.worst()
	d.table(v.build(checkSpec), 0, func(i int) bool { return i == worst })
	d.table(v.build(targetSpec), 0, nil)
	for _, n := range append(append(v.listLines(), v.rec.Checkpoints.Notes...), v.rulesPhrase()...) {
		d.paragraph(sentenceText(n), 8, false, mutedColor, 0)
	}
}

func (d *pdfDoc) coverage() error {
	v := d.v
	d.chapter("Coverage and density")
	if v.rec.Coverage == nil {
		d.paragraph("Not judged: the coverage was not measured.", textSize, false, inkColor, 0)
		return nil
	}
	d.factsTable("Coverage", v.coverageRows())
	d.criteria("coverage")
	var pics []*picture
	var labels []string
	var tops []float64
	var decimals []int
	for _, m := range []struct {
		g     *Grid
		label string
		whole bool
	}{{d.l.Density, "first returns per m²", false}, {d.l.StripCount, "strips with a return", true}} {
		if m.g == nil {
			continue
		}
		top, dec := amountTop(m.g, m.whole)
		if top == 0 {
			continue
		}
		p, err := amountPicture(d.l, m.g, d.l.boundsOr(m.g), top, 700)
		if err != nil {
			return err
		}
		pics, labels, tops, decimals = append(pics, p), append(labels, m.label), append(tops, top), append(decimals, dec)
	}
	if len(pics) > 0 {
		d.sideBySide(pics, 300, mapOptions{voids: true}, "Density of first returns and number of strips.", func(c canvas, i int, h, w float64) {
			drawAmountScale(c, 8, h+14, w-16, 7, tops[i], decimals[i], labels[i])
		})
	}
	d.table(v.build(voidSpec), 20, nil)
	return nil
}

// coverageRows are the figures of the coverage.
func (v *view) coverageRows() [][2]string {
	rows := [][2]string{{"area", v.show("coverage.area_m2", 0, 1) + " m² (" + unknown(string(v.rec.Coverage.AreaSource)) + ")"}}
	for _, x := range coverageFields {
		if k := "coverage." + x[1]; !math.IsNaN(v.num(k)) {
			rows = append(rows, [2]string{x[0], v.show(k, decimalsShown(k), 1) + x[2]})
		}
	}
	return rows
}

func (d *pdfDoc) cautions() {
	d.chapter("What these figures do not say")
	for _, c := range d.v.cautions() {
		d.bullet(c)
	}
}

func (d *pdfDoc) statement() {
	d.chapter("Fields of the accuracy statement and sign-off")
	if all := d.v.stated(); len(all) > 0 {
		for _, t := range all {
			d.factsTable(t.title, t.rows)
		}
		d.paragraph(statementNote, 8, false, mutedColor, 0)
	} else if c := d.v.rec.Checkpoints; c != nil && c.Statement != nil {
		d.factsTable("Fields", d.v.statementRows())
		d.paragraph(statementNote, 8, false, mutedColor, 0)
	} else {
		d.paragraph("No standard was chosen or no check points were given: there is no statement to fill.", textSize, false, inkColor, 0)
	}
	d.signOff()
}

// signOff is the block that a person fills.
func (d *pdfDoc) signOff() {
	d.need(110)
	d.y += 8
	d.paragraph("Only a person signs. Where the law asks for it, this is a licensed surveyor.", textSize, false, inkColor, 0)
	half := d.width()/2 - 10
	for i, n := range []string{"name", "licence number", "date", "signature"} {
		x, y := d.left+float64(i%2)*(half+20), d.y+34*float64(i/2+1)
		d.stroke(inkColor, 0.7)
		d.f.Line(x, y, x+half, y)
		d.font(7.5, false)
		d.color(mutedColor)
		d.put(x, y+9, n, "start")
	}
	d.y += 84
}

func (d *pdfDoc) provenance() {
	d.chapter("Provenance")
	d.factsTable("Settings", d.v.settingRows())
	d.subtitle("Command")
	d.paragraph(shellLine(d.v.rec.CommandLine), 8, false, inkColor, 0)
	d.table(d.v.build(inputSpec), 0, nil)
}

// mostPrintedRows is how many strips or pairs are printed; the others are in the CSV tables.
const mostPrintedRows = 80

// pairTable prints the pairs, those of largest RMSD when there are more than most.
func (d *pdfDoc) pairTable(most int) {
	t := d.v.build(pairSpec)
	if all := len(t.rows); all > most {
		var rows [][]cell
		for _, i := range d.v.worstPairs(most) {
			rows = append(rows, t.rows[i])
		}
		t.rows, t.title = rows, "Pairs with the largest RMSD"
		t.note = "The other " + group(int64(all-len(rows))) + " of " + group(int64(all)) + " pairs are in tables/pairs.csv. " + t.note
	}
	d.table(t, 0, nil)
}

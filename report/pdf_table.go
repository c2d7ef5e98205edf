package report

import (
	"slices"
	"strings"
)

// pdfColumns chooses the columns of a table that fit the page and their widths;
// columns of lower priority are left out, texts are wrapped.
func (d *pdfDoc) pdfColumns(t *table, size float64, rowBold func(int) bool) (keep []int, widths []float64) {
	const gap = 7
	natural, least := make([]float64, len(t.cols)), make([]float64, len(t.cols))
	for i, c := range t.cols {
		if c.prio == 0 || c.prio > 6 || t.empty(i) {
			continue
		}
		keep = append(keep, i)
		d.font(size, true)
		for _, w := range strings.FieldsFunc(c.header(), breaks) {
			least[i] = max(least[i], d.f.GetStringWidth(printable(w))+gap)
		}
		natural[i] = least[i]
		for r, row := range t.rows {
			d.font(size, rowBold != nil && rowBold(r))
			w := d.f.GetStringWidth(printable(row[i].shown())) + gap
			natural[i] = max(natural[i], w)
			if c.right || (c.code && w < 90) {
				least[i] = max(least[i], w)
			} else {
				least[i] = max(least[i], min(w, 74), min(d.longestWord(row[i].shown())+gap, 110))
			}
		}
	}
	total := func(w []float64) float64 {
		sum := 0.0
		for _, i := range keep {
			sum += w[i]
		}
		return sum
	}
	for total(least) > d.width() && len(keep) > 1 {
		drop, prio := len(keep)-1, 0
		for k, i := range keep {
			if t.cols[i].prio >= prio {
				drop, prio = k, t.cols[i].prio
			}
		}
		keep = slices.Delete(keep, drop, drop+1)
	}
	widths = slices.Clone(natural)
	for over := total(widths) - d.width(); over > 0; over = total(widths) - d.width() {
		widest := -1
		for _, i := range keep {
			if widths[i] > least[i]+0.01 && (widest < 0 || widths[i] > widths[widest]) {
				widest = i
			}
		}
		if widest < 0 {
			break
		}
		widths[widest] = max(least[widest], widths[widest]-min(over, 6))
	}
	return keep, widths
}

// longestWord is the width of the longest word in the current font.
func (d *pdfDoc) longestWord(s string) float64 {
	most := 0.0
	for _, w := range strings.FieldsFunc(printable(s), breaks) {
		most = max(most, d.f.GetStringWidth(w))
	}
	return most
}

// table writes a table; the heading is repeated on every page, rows are not torn.
func (d *pdfDoc) table(t *table, most int, rowBold func(int) bool) {
	if len(t.rows) == 0 {
		return
	}
	const size = 7.8
	line := size * 1.25
	keep, widths := d.pdfColumns(t, size, rowBold)
	head := make([][]string, len(t.cols))
	headLines := 1
	d.font(size, true)
	for _, i := range keep {
		head[i] = d.lines(t.cols[i].header(), widths[i]-5)
		headLines = max(headLines, len(head[i]))
	}
	heading := func() {
		x := d.left
		for _, i := range keep {
			d.font(size, true)
			d.color(inkColor)
			for k, l := range head[i] {
				d.cellLine(x, d.y+line*float64(headLines-len(head[i])+k+1), widths[i], l, t.cols[i].right)
			}
			x += widths[i]
		}
		d.y += line*float64(headLines) + 4
		d.stroke(inkColor, 0.8)
		d.f.Line(d.left, d.y, x, d.y)
	}
	d.need(line*float64(headLines+3) + 26)
	d.y += 6
	d.paragraph(t.title, 9.5, true, inkColor, 0)
	heading()
	for r, row := range t.rows {
		if most > 0 && r >= most {
			d.paragraph(group(int64(len(t.rows)-most))+" more in tables/"+t.name+".csv", 8, false, mutedColor, 0)
			break
		}
		bold := rowBold != nil && rowBold(r)
		cells, n := d.cellLines(row, keep, widths, size, bold)
		h := line*float64(n) + 4
		if r > 0 && r == len(t.rows)-2 { // the last row does not stand alone on a page
			_, last := d.cellLines(t.rows[r+1], keep, widths, size, rowBold != nil && rowBold(r+1))
			h += line*float64(last) + 4
		}
		if d.y+h > d.bottom {
			d.page()
			heading()
		}
		x := d.left
		d.font(size, bold)
		d.color(inkColor)
		for _, i := range keep {
			for k, l := range cells[i] {
				d.cellLine(x, d.y+line*float64(k+1)+1, widths[i], l, t.cols[i].right)
			}
			x += widths[i]
		}
		d.y += line*float64(n) + 4
		d.stroke(lineColor, 0.4)
		d.f.Line(d.left, d.y, x, d.y)
	}
	if hidden := t.hidden(keep); len(hidden) > 0 {
		d.paragraph("also in tables/"+t.name+".csv: "+strings.Join(hidden, ", "), 7.5, false, mutedColor, 0)
	}
	if t.note != "" {
		d.paragraph(t.note, 8, false, mutedColor, 0)
	}
	d.y += 4
}

// cellLines breaks the texts of a row to the widths of the columns; n is the most lines of a cell.
func (d *pdfDoc) cellLines(row []cell, keep []int, widths []float64, size float64, bold bool) (cells [][]string, n int) {
	d.font(size, bold)
	cells, n = make([][]string, len(row)), 1
	for _, i := range keep {
		cells[i] = d.lines(row[i].shown(), widths[i]-5)
		n = max(n, len(cells[i]))
	}
	return cells, n
}

func (d *pdfDoc) cellLine(x, y, w float64, s string, right bool) {
	if right {
		d.put(x+w-6, y, s, "end")
		return
	}
	d.put(x, y, s, "start")
}

// factsTable writes names and values in two columns.
func (d *pdfDoc) factsTable(title string, rows [][2]string) {
	const size = 8.6
	name := 150.0
	d.need(50)
	d.y += 6
	d.paragraph(title, 9.5, true, inkColor, 0)
	for _, r := range rows {
		d.font(size, false)
		left, right := d.lines(r[0], name-8), d.lines(r[1], d.width()-name)
		n := max(len(left), len(right))
		d.need(size*1.3*float64(n) + 4)
		d.font(size, false)
		d.color(mutedColor)
		for i, l := range left {
			d.put(d.left, d.y+size*1.3*float64(i+1), l, "start")
		}
		d.color(inkColor)
		for i, l := range right {
			d.put(d.left+name, d.y+size*1.3*float64(i+1), l, "start")
		}
		d.y += size*1.3*float64(n) + 4
		d.stroke(lineColor, 0.4)
		d.f.Line(d.left, d.y, d.right, d.y)
	}
}

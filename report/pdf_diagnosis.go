package report

func (d *pdfDoc) diagnosis() error {
	v := d.v
	d.chapter("Diagnosis")
	switch {
	case v.rec.Findings == nil:
		d.paragraph("The rules for blunders were not run.", textSize, false, inkColor, 0)
	case len(v.rec.Findings) == 0:
		d.paragraph("None of the rules that were run found anything.", textSize, false, inkColor, 0)
	}
	for _, f := range v.rec.Findings {
		d.subtitle(f.Severity + ": " + f.Text)
		if f.Evidence != "" {
			d.bullet("evidence: " + string(f.Evidence))
		}
		for _, r := range f.Rivals {
			d.bullet("rival: " + r)
		}
		if f.DecideBy != "" {
			d.bullet("decide by: " + string(f.DecideBy))
		}
	}
	switch {
	case v.rec.Causes == nil:
		d.paragraph("Causes were not estimated.", textSize, false, inkColor, 0)
	case len(v.rec.Causes) == 0:
		d.paragraph("No cause stands out of the noise.", textSize, false, inkColor, 0)
	}
	d.table(v.causes(), 0, nil)
	limitM, judged := v.scaleLimit()
	for _, p := range v.diagnosisPanels(d.l) {
		draw := func(c canvas) float64 {
			return drawPanels(c, d.width(), 7, 3, p, limitM, judged, len(v.rec.Causes) > 0)
		}
		if h := draw(&svg{}); h > 0 {
			d.drawing(h, p.caption, func(c canvas) { draw(c) })
		}
	}
	return d.residualMaps()
}

// residualMaps draws the separations on the map, as they are and with the causes taken out.
func (d *pdfDoc) residualMaps() error {
	before, after := residualGrids(d.l.Diagnosis)
	if before == nil || len(d.v.rec.Causes) == 0 {
		return nil
	}
	top, _ := amountTop(before, false)
	if top == 0 {
		return nil
	}
	var pics []*picture
	for _, g := range []*Grid{before, after} {
		p, err := amountPicture(d.l, g, d.l.boundsOr(g), top, 500)
		if err != nil {
			return err
		}
		pics = append(pics, p)
	}
	d.sideBySide(pics, 260, mapOptions{}, "RMS separation in squares of "+trimmed(before.CellM, 1)+" m, all pairs together: as it is (left), with the causes taken out (right).", func(c canvas, i int, h, w float64) {
		drawAmountScale(c, 8, h+14, w-16, 7, top, 3, [2]string{"as it is [m]", "causes taken out [m]"}[i])
	})
	return nil
}

func (d *pdfDoc) correction() error {
	c := d.v.rec.Correction
	if c == nil {
		return nil
	}
	d.subtitle("Correction")
	word := "Not applied: shown as it would be."
	if c.Applied {
		word = "Applied to the cloud that is assessed here."
	}
	d.paragraph(word, textSize, false, inkColor, 0)
	if c.Statement != "" {
		d.paragraph(sentenceText(string(c.Statement)), textSize, false, inkColor, 0)
	}
	k := "correction."
	arrow := func(x string) string { return d.v.withUnit(k+"before."+x) + " → " + d.v.withUnit(k+"after."+x) }
	rows := [][2]string{{"RMSD", arrow("rmsd_m")}, {"NMAD", arrow("nmad_m")}, {"95th percentile", arrow("p95_abs_m")}}
	if c.Holdout != nil {
		h := k + "holdout."
		rows = append(rows, [2]string{"on cells kept out of the fit", d.v.withUnit(h+"before_rms_m") + " → " + d.v.withUnit(h+"after_rms_m") + ", noise floor " + d.v.withUnit(h+"noise_floor_m") + ", " + d.v.show(h+"cells", 0, 1) + " cells"})
	}
	if c.Before != nil && c.Before.CheckM != nil {
		rows = append(rows, [2]string{"check points in the open, never fitted to, RMSE", arrow("checkpoint_rmse_m")}, [2]string{"their mean", arrow("checkpoint_mean_m")})
	}
	d.factsTable("Before and after", rows)
	d.table(d.v.parameters(), 0, nil)
	for _, n := range d.v.correctionRemarks() {
		d.bullet(n)
	}
	return d.beforeAfter()
}

// beforeAfter draws the separations before and after a correction beside each other.
func (d *pdfDoc) beforeAfter() error {
	b, ok := d.l.mapBounds()
	if d.l.Before == nil || d.l.Separation == nil || !ok {
		return nil
	}
	limitM, judged := d.v.scaleLimit()
	var pics []*picture
	for _, g := range []*Grid{d.l.Before, d.l.Separation} {
		p, err := separationPicture(d.l, g, d.l.faded(g), b, limitM, 700)
		if err != nil {
			return err
		}
		pics = append(pics, p)
	}
	o := mapOptions{strips: true}
	d.sideBySide(pics, 300, o, "Separation before the correction (left) and after it (right), in the same colours.", func(c canvas, i int, h, w float64) {
		d.v.drawScale(c, 12, h+14, w-24, 6.5, limitM, judged)
	})
	return nil
}

package trajectory

// decodeAccuracyText reads accuracies from text with a heading line: a time
// and at least one column of an accuracy.
func decodeAccuracyText(b []byte) (*Accuracy, error) {
	f, err := splitText(b)
	if err != nil {
		return nil, err
	}
	if f.heading == nil {
		return nil, textError(1, "", "name the columns in a heading line", "no heading line: accuracies cannot be told from one another by their ranges")
	}
	cols, clock, err := f.values()
	if err != nil {
		return nil, err
	}
	l := layoutFromHeading(f.heading, len(f.first))
	t := &Track{Format: FormatText}
	if err := t.fillTime(f, l, cols, clock); err != nil {
		return nil, err
	}
	get := func(r role) []float64 { return column(l, cols, r) }
	t.Sigma = &Accuracy{EastM: get(roleSE), NorthM: get(roleSN), DownM: get(roleSU), RollRad: get(roleSRoll), PitchRad: get(roleSPitch), HeadingRad: get(roleSHeading)}
	t.finishSigma(l)
	if t.Sigma == nil {
		return nil, textError(1, "", "give the accuracy file that belongs to the path", "the heading names no accuracy")
	}
	a := t.Sigma
	keep, _, bad := orderTimes(a.TimeS)
	if bad >= 0 {
		return nil, textError(0, "time", "export it again", "sample %d comes before the sample ahead of it", bad+1)
	}
	if len(keep) < len(a.TimeS) {
		a.take(keep)
	}
	return a, nil
}

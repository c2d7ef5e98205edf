package control

import (
	"fmt"
	"math"
)

// Uncertainty says how much a set of differences tells about the class that a cloud is sold as.
type Uncertainty struct {
	N               int
	Places          int     // clusters of points: what is independent in space
	ClassM          float64 // 0 = no class: the fields about it are nil
	RMSEM           float64
	LowM, HighM     *float64 // 95 % of the true RMSE by chi-square: normal, no bias
	BootLowM        *float64 // the same by bootstrap: no distribution assumed
	BootHighM       *float64
	UpperM          *float64  // one-sided 95 % upper bound by chi-square
	PlacesHighM     *float64  // upper end of the 95 % interval if only places counted as independent
	ClassConfidence *float64  // confidence that the true RMSE is within the class
	Power           []Power   // chance of passing for true errors of some multiples of the class
	Bias            *MeanTest // t test of the mean, nil for fewer than two points
	BiasAbove25     bool      // |mean| strictly above 25 % of the class
	Normality       *Normality
	Text            []string // the same in sentences
}

// Power is the chance that a sample of this size passes although the true RMSE is Ratio times the class.
type Power struct{ Ratio, PassChance float64 }

// Judge fills an Uncertainty for differences and a class; places is the number of clusters (see
// Places), 0 for unknown.
func Judge(dzM []float64, classM float64, places int) (Uncertainty, error) {
	a, err := Summarize(dzM)
	if err != nil {
		return Uncertainty{}, err
	}
	u := Uncertainty{N: a.N, Places: places, ClassM: classM, RMSEM: a.RMSEM, LowM: a.RMSELowM, HighM: a.RMSEHighM}
	if low, high, ok := BootstrapRMSE(dzM, 0.95); ok {
		u.BootLowM, u.BootHighM = &low, &high
	}
	if up, ok := RMSEUpper(a.RMSEM, a.N, 0.95); ok && a.N >= 2 {
		u.UpperM = &up
	}
	if places > 0 && places < a.N {
		if _, high, ok := RMSEInterval(a.RMSEM, places, 0.95); ok {
			u.PlacesHighM = &high
		}
	}
	if m, ok := TestMean(dzM); ok {
		u.Bias = &m
	}
	if t, ok := TestNormal(dzM); ok {
		u.Normality = &t
	}
	if classM > 0 {
		u.ClassConfidence = ref(ClassConfidence(a.RMSEM, a.N, classM))
		for _, r := range []float64{0.9, 1, 1.1, 1.25, 1.5} {
			u.Power = append(u.Power, Power{r, PassProbability(a.N, r)})
		}
		u.BiasAbove25 = BiasWarning(a.MeanM, classM)
	}
	u.describe()
	return u, nil
}

// describe writes the sentences.
func (u *Uncertainty) describe() {
	say := func(format string, a ...any) { u.Text = append(u.Text, fmt.Sprintf(format, a...)) }
	if u.LowM != nil {
		say("with %d points an RMSE of %.3f m means a true RMSE between %.3f and %.3f m (95 %%, normal errors without bias)", u.N, u.RMSEM, *u.LowM, *u.HighM)
	}
	if u.Places > 0 && u.Places < u.N {
		say("the %d points lie at %d places: points close together share their errors", u.N, u.Places)
	}
	for _, p := range u.Power {
		if p.Ratio == 1.25 {
			say("with %d points a cloud that is 25 %% out of class passes %s", u.N, oneIn(p.PassChance))
		}
	}
	if u.ClassConfidence != nil {
		say("confidence that the class of %.3f m is met: %.0f %%", u.ClassM, 100**u.ClassConfidence)
	}
	if u.Bias != nil && u.Bias.Significant {
		say("mean %+.3f m differs from zero (t %.2f, limit %.2f): a bias, not chance", u.Bias.MeanM, u.Bias.T, u.Bias.LimitT)
	}
	if n := u.Normality; n != nil && n.Rejected {
		by := fmt.Sprintf("Jarque-Bera %.1f, p %.2g", n.JB, n.P)
		if !math.IsNaN(n.W) {
			by = fmt.Sprintf("Shapiro-Wilk %.3f, p %.2g; Jarque-Bera %.1f", n.W, n.WP, n.JB)
		}
		say("errors are not normal (%s): read median, NMAD and percentile beside mean and RMSE", by)
	}
}

// oneIn says a probability as people do.
func oneIn(p float64) string {
	words := []string{"", "", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"}
	switch {
	case p >= 0.6:
		return fmt.Sprintf("%.0f times in ten", 10*p)
	case p >= 0.095:
		return "one time in " + words[int(math.Round(1/p))]
	case p >= 0.001:
		return fmt.Sprintf("one time in %.0f", 1/p)
	}
	return "less than one time in a thousand"
}

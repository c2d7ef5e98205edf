package audit

import (
	"fmt"
	"io"
	"math"
	"strings"
)

// Contradiction is one pair of figures that cannot both be right.
type Contradiction struct {
	Row     string   // group of the table; empty for a table with one
	Line    int      // of a CSV file, 0 otherwise
	Rule    string   // the rule that is broken, in words
	Printed string   // the figures as printed
	Asked   string   // what the rule asks for
	Figures []string // where they stand
}

// Result is the outcome of an audit.
type Result struct {
	Table          *Table
	Contradictions []Contradiction
	Checked        int      // rules that had their figures
	Notes          []string // what was not judged and why
}

// AuditTable reads a table of figures and returns the contradictions in it.
func AuditTable(r io.Reader) (*Result, error) {
	t, err := Read(r)
	if err != nil {
		return nil, err
	}
	res := &Result{Table: t}
	for i := range t.Rows {
		a := auditor{res: res, row: &t.Rows[i]}
		a.unreadable()
		a.twice()
		a.spread()
		a.percent()
		a.horizontal()
		a.extremes()
		a.verdicts()
		a.survey()
	}
	res.pairedRows()
	if len(t.Unknown) > 0 {
		res.Notes = append(res.Notes, "not judged: "+strings.Join(t.Unknown, ", "))
	}
	if res.Checked == 0 {
		res.Notes = append(res.Notes, "no two figures of the table depend on each other: nothing could be checked")
	}
	return res, nil
}

// auditor checks one row.
type auditor struct {
	res *Result
	row *Row
}

func (a *auditor) broken(rule, asked string, figures ...Figure) {
	c := Contradiction{Row: a.row.Name, Line: a.row.Line, Rule: rule, Asked: asked}
	var printed []string
	for _, f := range figures {
		printed = append(printed, fmt.Sprintf("%s %s", f.Kind, f.Text))
		c.Figures = append(c.Figures, f.Where)
	}
	c.Printed = strings.Join(printed, ", ")
	a.res.Contradictions = append(a.res.Contradictions, c)
}

// two returns two figures and counts the rule as checked when both are there.
func (a *auditor) two(x, y Kind) (f, g Figure, ok bool) {
	f, okF := a.row.get(x)
	g, okG := a.row.get(y)
	if okF && okG {
		a.res.Checked++
	}
	return f, g, okF && okG
}

// unreadable reports figures that are no numbers.
func (a *auditor) unreadable() {
	for _, f := range a.row.Figures {
		if !f.OK && f.Kind != Claim && f.Kind != UnitOf {
			a.res.Checked++
			a.broken("a figure must be a number", "a number, with a unit", f)
		}
		if f.OK && f.Value < 0 && f.Kind != Mean && f.Kind != Min && f.Kind != Max && f.Kind != Median {
			a.res.Checked++
			a.broken("a spread, limit or number is not negative", "zero or more", f)
		}
	}
}

// twice checks figures that one row states more than once: in two units, or as numbers of points in text, table and map.
func (a *auditor) twice() {
	for i, g := range a.row.Figures {
		if !g.OK || g.Kind == Claim || g.Kind == UnitOf {
			continue
		}
		for _, f := range a.row.Figures[:i] {
			if f.Kind != g.Kind || !f.OK {
				continue
			}
			a.res.Checked++
			if same(f, g) {
				continue
			}
			if f.Kind == N {
				a.broken(rulePoints, "one number", f, g)
			} else {
				a.broken(ruleUnits, fmt.Sprintf("%.4g m both; printed are %.4g and %.4g m", f.Value, f.Value, g.Value), f, g)
			}
		}
	}
}

// The rules on figures that stand twice.
const (
	ruleUnits  = "the same figure in two units is one length"
	rulePoints = "the number of points is the same in text, table and map"
)

// same reports whether two statements of one figure can be one value.
func same(f, g Figure) bool {
	if f.Kind == N {
		return f.Value == g.Value
	}
	// 0.0003 of the value covers either foot and a factor rounded to four digits
	return math.Abs(f.Value-g.Value) <= f.HalfM+g.HalfM+0.0003*max(math.Abs(f.Value), math.Abs(g.Value))
}

// spread checks RMSE against mean and standard deviation.
func (a *auditor) spread() {
	rmse, mean, ok := a.two(RMSE, Mean)
	if !ok {
		return
	}
	if rmse.Value+rmse.HalfM < math.Abs(mean.Value)-mean.HalfM {
		a.broken("RMSE is at least |mean|", fmt.Sprintf("at least %.4g m", math.Abs(mean.Value)), rmse, mean)
		return
	}
	std, okStd := a.row.get(Std)
	n, okN := a.row.get(N)
	if !okStd {
		return
	}
	a.res.Checked++
	// Without n the factor (n-1)/n may be anything from 1/2 to 1.
	low, high := 0.5, 1.0
	if okN && n.Value >= 2 {
		low = (n.Value - 1) / n.Value
	}
	square := func(m, s, k float64) float64 { return math.Sqrt(max(0, m)*max(0, m) + max(0, s)*max(0, s)*k) }
	m := math.Abs(mean.Value)
	least := square(m-mean.HalfM, std.Value-std.HalfM, low)
	most := square(m+mean.HalfM, std.Value+std.HalfM, high)
	if rmse.Value+rmse.HalfM < least || rmse.Value-rmse.HalfM > most {
		a.broken("RMSE^2 = mean^2 + std^2 (n-1)/n", fmt.Sprintf("RMSE %.4g to %.4g m", least, most), rmse, mean, std)
	}
}

// factor checks y = k x within rounding; k itself may be rounded by half of kHalf.
func (a *auditor) factor(x, y Kind, k, kHalf float64, rule string) {
	f, g, ok := a.two(x, y)
	if !ok {
		return
	}
	low, high := (f.Value-f.HalfM)*(k-kHalf), (f.Value+f.HalfM)*(k+kHalf)
	if g.Value+g.HalfM < low || g.Value-g.HalfM > high {
		a.broken(rule, fmt.Sprintf("%.4g m (%.4g to %.4g)", f.Value*k, low, high), f, g)
	}
}

// percent checks the 95 % values.
func (a *auditor) percent() {
	a.factor(RMSE, Accuracy95, 1.96, 0.0005, "95 % is 1.96 RMSE")
	a.factor(Limit, Limit95, 1.96, 0.0005, "the limit at 95 % is 1.96 times the limit on RMSE")
	a.factor(Class, Limit, 1, 0, "the limit on RMSE is the class")
}

// horizontal checks RMSEr and its radius.
func (a *auditor) horizontal() {
	x, y, ok := a.two(RMSEx, RMSEy)
	r, okR := a.row.get(RMSEr)
	if ok && okR {
		low := math.Hypot(max(0, x.Value-x.HalfM), max(0, y.Value-y.HalfM))
		high := math.Hypot(x.Value+x.HalfM, y.Value+y.HalfM)
		if r.Value+r.HalfM < low || r.Value-r.HalfM > high {
			a.broken("RMSEr^2 = RMSEx^2 + RMSEy^2", fmt.Sprintf("%.4g m", math.Hypot(x.Value, y.Value)), x, y, r)
		}
	}
	a.factor(RMSEr, Accuracy95R, 1.7308, 0.0005, "horizontal 95 % is 1.7308 RMSEr")
}

// extremes checks minimum, maximum, mean, median and RMSE against each other.
func (a *auditor) extremes() {
	lo, hi, ok := a.two(Min, Max)
	if ok && lo.Value-lo.HalfM > hi.Value+hi.HalfM {
		a.broken("the minimum is at most the maximum", "", lo, hi)
	}
	for _, k := range []Kind{Mean, Median} {
		if v, okV := a.row.get(k); ok && okV {
			a.res.Checked++
			if v.Value+v.HalfM < lo.Value-lo.HalfM || v.Value-v.HalfM > hi.Value+hi.HalfM {
				a.broken("mean and median lie between minimum and maximum", fmt.Sprintf("%s to %s", lo.Text, hi.Text), v, lo, hi)
			}
		}
	}
	largest, okL := a.row.get(MaxAbs)
	if ok {
		m := lo
		if math.Abs(hi.Value) > math.Abs(lo.Value) {
			m = hi
		}
		m.Value = math.Abs(m.Value)
		largest, okL = m, true
	}
	if rmse, okR := a.row.get(RMSE); okL && okR {
		a.res.Checked++
		if rmse.Value-rmse.HalfM > largest.Value+largest.HalfM {
			a.broken("the largest error is at least RMSE", fmt.Sprintf("at least %.4g m", rmse.Value), largest, rmse)
		}
	}
	if p, okP := a.row.get(P95); okL && okP {
		a.res.Checked++
		if p.Value-p.HalfM > largest.Value+largest.HalfM {
			a.broken("the largest error is at least the 95th percentile", fmt.Sprintf("at least %.4g m", p.Value), largest, p)
		}
	}
	if n, okN := a.row.get(N); okN {
		a.res.Checked++
		if n.Value < 1 || n.Value != math.Trunc(n.Value) {
			a.broken("the number of points is a whole number from 1", "", n)
		}
	}
	a.standardDeviation()
}

// standardDeviation checks that no point of the sample can lie farther than (n-1)/sqrt(n) of its own s.
func (a *auditor) standardDeviation() {
	std, n, ok := a.two(Std, N)
	mean, okM := a.row.get(Mean)
	if !ok || !okM || n.Value < 2 {
		return
	}
	reach := (n.Value - 1) / math.Sqrt(n.Value)
	for _, k := range []Kind{Min, Max} {
		if v, okV := a.row.get(k); okV {
			a.res.Checked++
			if math.Abs(v.Value-mean.Value)-v.HalfM-mean.HalfM > reach*(std.Value+std.HalfM) {
				a.broken("no error lies farther from the mean than std (n-1)/sqrt(n)", fmt.Sprintf("within %.4g m of the mean", reach*std.Value), v, mean, std, n)
			}
		}
	}
}

// verdicts checks claims against figures and limits.
func (a *auditor) verdicts() {
	claim := a.row.text(Claim)
	pass, ok := claimed(claim)
	if !ok {
		if claim != "" {
			a.res.Notes = append(a.res.Notes, fmt.Sprintf("claim %q not understood", claim))
		}
		return
	}
	judged, exceeded := 0, 0
	for _, p := range []struct{ value, limit Kind }{{RMSE, Limit}, {RMSE, Class}, {Accuracy95, Limit95}, {P95, LimitP95}, {CombinedRMSE, Limit}} {
		f, g, both := a.two(p.value, p.limit)
		if !both {
			continue
		}
		judged++
		over := f.Value-f.HalfM > g.Value+g.HalfM
		if over {
			exceeded++
		}
		if pass && over {
			a.broken("pass or fail follows from figure and limit", fmt.Sprintf("%.4g m is above %.4g m: not met", f.Value, g.Value), f, g, Figure{Kind: Claim, Text: claim})
		}
	}
	if !pass && judged > 0 && exceeded == 0 && a.allWithin() {
		a.broken("pass or fail follows from figure and limit", "every figure is within its limit: met", Figure{Kind: Claim, Text: claim})
	}
}

// allWithin reports whether every figure is clearly within its limit.
func (a *auditor) allWithin() bool {
	for _, p := range []struct{ value, limit Kind }{{RMSE, Limit}, {RMSE, Class}, {Accuracy95, Limit95}, {P95, LimitP95}, {CombinedRMSE, Limit}} {
		f, okF := a.row.get(p.value)
		g, okG := a.row.get(p.limit)
		if okF && okG && f.Value+f.HalfM >= g.Value-g.HalfM {
			return false
		}
	}
	return true
}

// claimed reads a claim.
func claimed(s string) (pass, ok bool) {
	w := strings.ToLower(strings.TrimSpace(s))
	for _, no := range []string{"fail", "not met", "does not meet", "exceeded", "no", "false"} {
		if strings.HasPrefix(w, no) {
			return false, true
		}
	}
	for _, yes := range []string{"pass", "meet", "met", "within", "ok", "yes", "true", "compl"} {
		if strings.HasPrefix(w, yes) {
			return true, true
		}
	}
	return false, false
}

// survey checks Edition 2's sum of squares.
func (a *auditor) survey() {
	fit, s, ok := a.two(RMSE, SurveyRMSE)
	v, okV := a.row.get(CombinedRMSE)
	if !ok || !okV {
		return
	}
	low := math.Hypot(max(0, fit.Value-fit.HalfM), max(0, s.Value-s.HalfM))
	high := math.Hypot(fit.Value+fit.HalfM, s.Value+s.HalfM)
	if v.Value+v.HalfM < low || v.Value-v.HalfM > high {
		a.broken("RMSE_V^2 = fit^2 + survey^2", fmt.Sprintf("%.4g m", math.Hypot(fit.Value, s.Value)), fit, s, v)
	}
}

package report

import (
	"math"
	"strconv"
	"strings"

	"github.com/paulmach/orb"
)

// groupsOfVerdict in the order they are told.
var groupsOfVerdict = []struct{ id, name string }{
	{"relative", "strip against strip"}, {"absolute", "against check points"}, {"coverage", "coverage"},
}

// verdictLines tells the verdict in words: the result with the set of limits,
// one line for each group with its deciding criterion, and what was not judged.
func (v *view) verdictLines() []string {
	d := &v.rec.Verdict
	head := "Verdict: " + resultText(d.Result)
	if d.Title != "" {
		head += " (" + string(d.Title) + ")"
	}
	lines := []string{head}
	if len(d.Criteria) == 0 {
		return append(lines, "no limits were given: nothing was judged")
	}
	for _, g := range groupsOfVerdict {
		result, found := GroupResult(d, g.id)
		if !found {
			continue
		}
		first := v.deciding(g.id)
		passed, open := v.partJudged(g.id, result)
		s := g.name + ": " + resultText(result)
		switch {
		case len(passed) > 0:
			s = g.name + ": " + strconv.Itoa(len(passed)) + " of " + strconv.Itoa(len(passed)+len(open)) + " pass (" + strings.Join(passed, "; ") + "); not judged: " + strings.Join(open, "; ")
		case first >= 0:
			s += " – " + v.criterionPhrase(first) + failReason(&d.Criteria[first])
		}
		lines = append(lines, s)
		for i := range d.Criteria {
			if d.Criteria[i].Group == g.id && d.Criteria[i].Result == Fail && i != first {
				lines = append(lines, g.name+": "+resultText(Fail)+" – "+v.criterionPhrase(i)+failReason(&d.Criteria[i]))
			}
		}
	}
	var reasons []Text // each told once, with all that it is the reason for
	names := map[Text][]string{}
	for i := range d.Criteria {
		if c := &d.Criteria[i]; c.Result == NotJudged && c.Sense != "report" {
			if names[c.Reason] == nil {
				reasons = append(reasons, c.Reason)
			}
			names[c.Reason] = append(names[c.Reason], c.Name)
		}
	}
	for _, r := range reasons {
		lines = append(lines, "not judged: "+strings.Join(names[r], "; ")+": "+string(r))
	}
	for _, n := range d.Notes {
		lines = append(lines, "note: "+n)
	}
	return lines
}

// partJudged is, for a group of which only a part was judged and passed, the criteria that passed with their figures and those that were not judged.
func (v *view) partJudged(group, result string) (passed, open []string) {
	if result != NotJudged {
		return nil, nil
	}
	for i := range v.rec.Verdict.Criteria {
		c := &v.rec.Verdict.Criteria[i]
		switch {
		case c.Group != group || c.Sense == "report":
		case c.Result == Pass:
			passed = append(passed, v.criterionPhrase(i))
		case c.Result == NotJudged:
			open = append(open, c.Name)
		}
	}
	return passed, open
}

// failReason is what to note beside a criterion that failed.
func failReason(c *Criterion) string {
	if c.Result != Fail || c.Reason == "" {
		return ""
	}
	return " (" + string(c.Reason) + ")"
}

// deciding returns the index of the criterion of the group that lies worst
// against its limit, -1 when none was judged.
func (v *view) deciding(group string) int {
	best, at := math.Inf(-1), -1
	for i, c := range v.rec.Verdict.Criteria {
		if c.Group != group || c.Result == NotJudged || c.Value == nil || c.Limit == nil {
			continue
		}
		load := *c.Value / *c.Limit
		if c.Sense == "min" {
			load = *c.Limit / *c.Value
		}
		if math.IsNaN(load) {
			load = 1
		}
		if c.Result == Fail {
			load += 1e6 // a failing criterion goes before any passing one
		}
		if load > best {
			best, at = load, i
		}
	}
	return at
}

// criterionPhrase is "RMSD 0.031 m, limit 0.040 m".
func (v *view) criterionPhrase(i int) string {
	c := &v.rec.Verdict.Criteria[i]
	d := limitDecimals(Get(c.Value), Get(c.Limit), c.Unit)
	unit := ""
	if u := unitText(c.Unit); u != "" {
		unit = "\u00a0" + u
	}
	foot := v.criterionFoot(c.ID)
	s := c.Name + " " + fixed(Get(c.Value), d) + unit
	if foot.ok() && c.Unit == "m" {
		s += " (" + fixed(Get(c.Value)/foot.m, d) + "\u00a0" + foot.name + ")"
	}
	word := "at most"
	if c.Sense == "min" {
		word = "at least"
	}
	s += ", " + word + " " + fixed(Get(c.Limit), d) + unit
	if foot.ok() && c.Unit == "m" {
		s += " (" + fixed(Get(c.Limit)/foot.m, d) + "\u00a0" + foot.name + ")"
	}
	return s
}

// accuracyLines tell the statistics of the check points.
func (v *view) accuracyLines() []string {
	if v.rec.Checkpoints == nil {
		return nil
	}
	lines := []string{"Check points: " + v.show("checkpoints.n_read", 0, 1) + " read, " + v.show("checkpoints.n_used", 0, 1) + " used, " +
		v.show("checkpoints.n_excluded", 0, 1) + " excluded; surface: " + v.text("checkpoints.surface")}
	for _, g := range []struct{ key, name string }{{"checkpoints.nva", "open ground"}, {"checkpoints.vva", "vegetated"}} {
		if _, ok := v.values[g.key+".n"]; !ok {
			continue
		}
		s := g.name + ": n " + v.show(g.key+".n", 0, 1) + ", mean " + v.withUnit(g.key+".mean_m") + ", RMSE " + v.withUnit(g.key+".rmse_m")
		if !math.IsNaN(v.num(g.key + ".rmse_low_m")) {
			s += " (95 % interval " + v.show(g.key+".rmse_low_m", 3, 1) + " to " + v.show(g.key+".rmse_high_m", 3, 1) + "\u00a0m)"
		}
		if !math.IsNaN(v.num(g.key + ".rmse_with_survey_m")) {
			s += ", with survey error " + v.withUnit(g.key+".rmse_with_survey_m")
		}
		s += ", 1.96 RMSE " + v.withUnit(g.key+".accuracy95_m") + ", 95th percentile " + v.withUnit(g.key+".p95_abs_m")
		lines = append(lines, s)
	}
	if w := v.worst(); w >= 0 {
		k := keyf("checkpoints.points[%d]", w)
		lines = append(lines, "worst point: "+v.text(k+".id")+", dz "+v.withUnit(k+".dz_m")+", at E "+v.show(k+".e_m", 1, 1)+", N "+v.show(k+".n_m", 1, 1)+"\u00a0m"+v.inFeet(k))
	}
	return lines
}

// inFeet repeats a place in feet for clouds in feet.
func (v *view) inFeet(key string) string {
	if !v.flat.ok() {
		return ""
	}
	return " (" + v.show(key+".e_m", 1, v.flat.m) + ", " + v.show(key+".n_m", 1, v.flat.m) + "\u00a0" + v.flat.name + ")"
}

// placeText is a place in the unit of the cloud.
func (v *view) placeText(p orb.Point) string {
	unitM, unit := 1.0, "m"
	if v.flat.ok() {
		unitM, unit = v.flat.m, v.flat.name
	}
	return "E " + fixed(p[0]/unitM, 1) + ", N " + fixed(p[1]/unitM, 1) + "\u00a0" + unit
}

// profileCaption tells what a profile shows and where it lies.
func (v *view) profileCaption(p *Profile) string {
	return "Profile " + p.Title + ", " + fixed(p.WidthM, 2) + " m wide, from " + v.placeText(p.From) + " to " + v.placeText(p.To) + "."
}

// worst returns the row of the worst used check point, -1 without one.
func (v *view) worst() int {
	if v.rec.Checkpoints == nil || v.rec.Checkpoints.Worst == "" {
		return -1
	}
	for i, p := range v.rec.Checkpoints.Points {
		if p.ID == string(v.rec.Checkpoints.Worst) && p.Used {
			return i
		}
	}
	return -1
}

// cautions are the sentences that stand in every report: what the figures do
// not say, and who must sign where the law asks for it.
func (v *view) cautions() []string {
	out := []string{
		"This is a comparison of data with data and with surveyed points, made by a program. It is not a survey certificate. Where the law reserves statements about positions and elevations to licensed surveyors, a licensed surveyor must review this report and sign for it.",
		"This is not a boundary survey.",
	}
	c := v.rec.Checkpoints
	switch {
	case c == nil:
		out = append(out, "No check points were given: nothing here says how well the cloud agrees with the ground.")
	default:
		if c.NVA != nil && c.NVA.N > 0 && c.NVA.N < 20 {
			out = append(out, "Few check points say little: read the 95 % interval beside the RMSE.")
		}
		if c.Places != nil && *c.Places < c.NUsed {
			out = append(out, "The "+v.show("checkpoints.n_used", 0, 1)+" check points used lie in "+v.show("checkpoints.places", 0, 1)+" places; points close together test one place.")
		}
		switch i := v.rec.Reference.CheckpointIndependent; {
		case i == nil:
			out = append(out, "Whether the check points are independent of the base station of the flight is unknown. If they are not, an error of base coordinate, antenna height, datum or geoid is common to both and does not show.")
		case !*i:
			out = append(out, "The check points come from the base station of the flight: the figures hold relative to this base. An error of base coordinate, antenna height, datum or geoid does not show.")
		}
		out = append(out, "Away from the check points, and in cover that has none, the accuracy is extrapolated.")
	}
	if v.rec.CRS.Vertical == "" {
		out = append(out, "The files do not say which vertical system their heights are in: no absolute statement about heights can rest on them alone.")
	}
	return append(out, "Season and vegetation matter: ground under grass, crops or snow is not the ground that was surveyed.",
		"A suggestion to fly a line again repeats the old line. The pilot's own rules, the airspace and the weather decide whether it is flown. Laser safety follows the payload's manual.")
}

// unknown returns the text, or "unknown".
func unknown(s string) string {
	if strings.TrimSpace(s) == "" {
		return "unknown"
	}
	return s
}

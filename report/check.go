package report

import (
	"fmt"
	"math"
)

// Check returns where the figures of the record do not agree with one another,
// nothing when they do. A reader who finds one such line loses faith in all.
//
// Rules (practice reference 4.2): RMSE >= abs(mean); RMSE^2 = mean^2 + s^2 (n-1)/n;
// 95 % = 1.96 RMSE; the largest difference >= RMSE; counts equal the rows; results
// follow from value and limit.
func Check(rec *Record) []string {
	var out []string
	bad := func(format string, a ...any) { out = append(out, fmt.Sprintf(format, a...)) }
	if c := rec.Checkpoints; c != nil {
		if c.NUsed+c.NExcluded > c.NRead {
			bad("checkpoints: %d used and %d excluded of %d read", c.NUsed, c.NExcluded, c.NRead)
		}
		used := int64(0)
		cover := map[string]int64{}
		for i := range c.Points {
			if c.Points[i].Used {
				used++
				cover[c.Points[i].Cover]++
			}
		}
		if len(c.Points) > 0 && used != c.NUsed {
			bad("checkpoints: n_used is %d, the table has %d rows in use", c.NUsed, used)
		}
		for _, g := range []struct {
			name, cover string
			a           *Accuracy
		}{{"checkpoints.nva", "open", c.NVA}, {"checkpoints.vva", "vegetated", c.VVA}} {
			if g.a == nil {
				continue
			}
			if len(c.Points) > 0 && g.a.N != cover[g.cover] {
				bad("%s: n is %d, the table has %d rows of that cover in use", g.name, g.a.N, cover[g.cover])
			}
			checkMoments(bad, g.name, float64(g.a.N), g.a.MeanM, g.a.StdM, g.a.RMSEM)
			if g.a.RMSEM != nil && g.a.Accuracy95M != nil && !close95(*g.a.Accuracy95M, 1.96**g.a.RMSEM) {
				bad("%s: accuracy95_m %.6f is not 1.96 x rmse_m %.6f", g.name, *g.a.Accuracy95M, *g.a.RMSEM)
			}
			if g.a.MinM != nil && g.a.MaxM != nil {
				checkLargest(bad, g.name, F(math.Max(math.Abs(*g.a.MinM), math.Abs(*g.a.MaxM))), g.a.RMSEM)
			}
		}
	}
	for i := range rec.Pairs {
		p := &rec.Pairs[i]
		name := "pair " + p.A + "/" + p.B
		checkMoments(bad, name, float64(p.Cells), p.MeanM, p.StdM, p.RMSDM)
		checkLargest(bad, name, p.MaxAbsM, p.RMSDM)
	}
	if s := rec.Separation; s != nil {
		checkMoments(bad, "separation", float64(s.Cells), s.MeanM, s.StdM, s.RMSDM)
		checkLargest(bad, "separation", s.MaxAbsM, s.RMSDM)
	}
	for i := range rec.Verdict.Criteria {
		checkCriterion(bad, &rec.Verdict.Criteria[i])
	}
	return out
}

// agreeM is how far figures may differ by the decimals of results.json.
const agreeM = 5e-6

func close95(a, b float64) bool { return math.Abs(a-b) <= agreeM }

func checkMoments(bad func(string, ...any), name string, n float64, mean, std, rms *float64) {
	if mean == nil || rms == nil {
		return
	}
	if *rms < math.Abs(*mean)-agreeM {
		bad("%s: RMS %.6f is below the mean %.6f", name, *rms, *mean)
	}
	if std == nil || n < 2 {
		return
	}
	if want := math.Sqrt(*mean**mean + *std**std*(n-1)/n); math.Abs(*rms-want) > agreeM {
		bad("%s: RMS %.6f, but mean and standard deviation give %.6f", name, *rms, want)
	}
}

func checkLargest(bad func(string, ...any), name string, largest, rms *float64) {
	if largest != nil && rms != nil && *largest < *rms-agreeM {
		bad("%s: the largest difference %.6f is below the RMS %.6f", name, *largest, *rms)
	}
}

func checkCriterion(bad func(string, ...any), c *Criterion) {
	if c.Result == NotJudged {
		return
	}
	if c.Value == nil || c.Limit == nil {
		bad("criterion %s: %s without value or limit", c.ID, c.Result)
		return
	}
	ok := *c.Value <= *c.Limit
	if c.Sense == "min" {
		ok = *c.Value >= *c.Limit
	}
	if ok != (c.Result == Pass) {
		bad("criterion %s: %s, but the value is %g and the limit %g", c.ID, c.Result, *c.Value, *c.Limit)
	}
}

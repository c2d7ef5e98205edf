package audit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"sidelap/control"
)

func audit(t *testing.T, text string) *Result {
	t.Helper()
	r, err := AuditTable(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// Source: point cloud metadata of a public delivery (Oregon, Willamette Valley 2023), as told in practice 4.2: RMSE
// 0.046 m with 0.053 m at 95 % (1.96 x 0.046 is 0.090); vegetation 0.394 m at 95 % said to meet 0.300; "0.1.562 feet".
func TestPublicDelivery(t *testing.T) {
	r := audit(t, `group,n,rmse_m,95 % (m),p95 (m),limit95 (m),limit p95 (m),claim
open,48,0.046,0.053,,0.196,,meets
vegetated,41,0.476,,0.394,,0.300,meets
"vegetated (feet)",41,0.1.562 feet,,,,,
`)
	rules := map[string]bool{}
	for _, c := range r.Contradictions {
		rules[c.Row+": "+c.Rule] = true
	}
	for _, want := range []string{"open: 95 % is 1.96 RMSE", "vegetated: pass or fail follows from figure and limit", "vegetated (feet): a figure must be a number"} {
		if !rules[want] {
			t.Errorf("not found: %q in %v", want, rules)
		}
	}
	if len(r.Contradictions) != 3 {
		t.Errorf("%d contradictions, want 3: %+v", len(r.Contradictions), r.Contradictions)
	}
	// and in TOML
	r = audit(t, "[open]\nn = 48\nrmse_m = '0.046'\naccuracy95_m = '0.053'\n[vegetated]\nrmse_m = '0.476'\np95_m = '0.394'\nlimit_p95_m = '0.300'\nclaim = 'meets 0.300'\n")
	if len(r.Contradictions) != 2 {
		t.Errorf("TOML: %d contradictions, want 2: %+v", len(r.Contradictions), r.Contradictions)
	}
}

// Source: USGS vertical accuracy report, Barataria / Jean Lafitte lidar, 2013: a table without contradiction.
func TestPublishedTableHolds(t *testing.T) {
	r := audit(t, `group,n,min,max,mean,std,rmse,accuracy95,p95
open terrain,51,-0.105999998748,0.125,-0.00533333349535,0.0577205913534,0.0574002119585,0.112504415436,0.104000002146
forest,6,-0.0590000003576,0.115000002086,0.0448333347837,0.0714154522031,0.0791212,,
`)
	if len(r.Contradictions) != 0 || r.Checked < 10 {
		t.Errorf("%d rules checked, contradictions %+v", r.Checked, r.Contradictions)
	}
}

// Each rule has a table that breaks it alone and one that keeps it.
func TestRules(t *testing.T) {
	for _, c := range []struct{ rule, good, bad string }{
		{"RMSE is at least |mean|", "mean,rmse\n-0.031,0.050", "mean,rmse\n-0.061,0.050"},
		{"RMSE^2 = mean^2 + std^2 (n-1)/n", "n,mean,std,rmse\n20,0.022,0.072,0.074", "n,mean,std,rmse\n20,0.022,0.072,0.066"},
		{"95 % is 1.96 RMSE", "rmse,95 %\n0.046,0.090", "rmse,95 %\n0.046,0.053"},
		{"the limit at 95 % is 1.96 times the limit on RMSE", "limit,limit95\n0.10,0.196", "limit,limit95\n0.10,0.19"},
		{"RMSEr^2 = RMSEx^2 + RMSEy^2", "rmsex,rmsey,rmser\n0.102,0.106,0.147", "rmsex,rmsey,rmser\n0.102,0.106,0.104"},
		{"horizontal 95 % is 1.7308 RMSEr", "rmser,ce95\n0.147,0.255", "rmser,ce95\n0.147,0.288"},
		{"the minimum is at most the maximum", "min,max\n-0.10,0.10", "min,max\n0.20,0.10"},
		{"mean and median lie between minimum and maximum", "min,max,mean\n-0.10,0.10,0.05", "min,max,mean\n-0.10,0.10,0.15"},
		{"the largest error is at least RMSE", "min,max,rmse\n-0.10,0.12,0.08", "min,max,rmse\n-0.10,0.12,0.14"},
		{"the largest error is at least the 95th percentile", "max_abs,p95\n0.31,0.29", "max_abs,p95\n0.21,0.29"},
		{"the number of points is a whole number from 1", "n,rmse\n5,0.1", "n,rmse\n5.5,0.1"},
		{"no error lies farther from the mean than std (n-1)/sqrt(n)", "n,mean,std,max\n5,0.00,0.10,0.17", "n,mean,std,max\n5,0.00,0.10,0.25"},
		{"pass or fail follows from figure and limit", "rmse,limit,claim\n0.10,0.10,pass", "rmse,limit,claim\n0.11,0.10,pass"},
		{"pass or fail follows from figure and limit", "rmse,limit,claim\n0.12,0.10,fail", "rmse,limit,claim\n0.08,0.10,fail"},
		{"RMSE_V^2 = fit^2 + survey^2", "rmse,survey rmse,rmse_v\n0.095,0.020,0.097", "rmse,survey rmse,rmse_v\n0.095,0.020,0.095"},
		{"the same figure in two units is one length", "group,unit,rmse\nopen (m),m,0.046\nopen (ft),ft,0.151", "group,unit,rmse\nopen (m),m,0.046\nopen (ft),ft,0.165"},
		{"the same figure in two units is one length", "rmse (m),rmse (ft)\n0.046,0.151", "rmse (m),rmse (ft)\n0.046,0.165"},
		{"the number of points is the same in text, table and map", "n,rows in table,points on the map,rmse\n48,48,48,0.05", "n,rows in table,rmse\n48,47,0.05"},
		{"the number of points is the same in text, table and map", "group,n,rmse\nopen (m),48,0.05\nopen (ft),48,0.16", "group,n\nopen (m),48\nopen (ft),47"},
		{"a spread, limit or number is not negative", "rmse,std\n0.04,0.04", "rmse,std\n0.04,-0.04"},
		{"the limit on RMSE is the class", "class cm,limit m\n10,0.10", "class cm,limit m\n10,0.15"},
	} {
		if r := audit(t, c.good); len(r.Contradictions) != 0 {
			t.Errorf("%s: good table: %+v", c.rule, r.Contradictions)
		}
		r := audit(t, c.bad)
		if len(r.Contradictions) != 1 || r.Contradictions[0].Rule != c.rule || r.Contradictions[0].Printed == "" {
			t.Errorf("%s: bad table: %+v", c.rule, r.Contradictions)
		}
	}
}

// Tables of our own statistics, rounded to any number of digits and in any unit, never contradict
// themselves.
func TestRoundedTablesHold(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 22))
	for range 2000 {
		n := 2 + rng.IntN(60)
		v := make([]float64, n)
		bias := 0.05 * rng.NormFloat64()
		for i := range v {
			v[i] = bias + 0.04*rng.NormFloat64()
		}
		a, err := control.Summarize(v)
		if err != nil {
			t.Fatal(err)
		}
		u := []struct {
			name string
			m    float64
		}{{"m", 1}, {"cm", 0.01}, {"mm", 0.001}, {"ft", 0.3048}, {"usft", 1200.0 / 3937}}[rng.IntN(5)]
		d := 1 + rng.IntN(5)
		f := func(x float64) string { return fmt.Sprintf("%.*f", d, x/u.m) }
		limit := a.RMSEM + 0.001*float64(1+rng.IntN(30))
		text := fmt.Sprintf("n;unit;mean;std;rmse;95 %%;p95;min;max;median;limit;claim\n%d;%s;%s;%s;%s;%s;%s;%s;%s;%s;%s;pass\n", n, u.name,
			f(a.MeanM), f(*a.StdM), f(a.RMSEM), f(a.Accuracy95M), f(a.P95AbsM), f(a.MinM), f(a.MaxM), f(a.MedianM), f(limit))
		if r := audit(t, text); len(r.Contradictions) != 0 {
			t.Fatalf("%s: %+v", text, r.Contradictions)
		}
	}
}

// "points" beside "check points" may be those of the cloud: no contradiction, and not the number that the rules use; alone they are it.
func TestPointsBesideCheckPoints(t *testing.T) {
	for _, text := range []string{"points,check points,mean,std,max\n4812345,5,0.00,0.10,0.25",
		"[a]\n\"number of points\" = 4812345\n\"number of check points\" = 5\nmean = 0.00\nstd = 0.10\nmax = 0.25\n"} {
		r := audit(t, text)
		if len(r.Contradictions) != 1 || !strings.HasPrefix(r.Contradictions[0].Rule, "no error lies farther") { // of 5 points none lies 2.5 std off
			t.Errorf("%s: %+v", text, r.Contradictions)
		}
		if len(r.Notes) == 0 || !strings.Contains(r.Notes[0], "beside the number of check points") {
			t.Errorf("%s: not told: %q", text, r.Notes)
		}
	}
	if r := audit(t, "points,rows in table,rmse\n48,47,0.05"); len(r.Contradictions) != 1 {
		t.Errorf("points alone are the check points: %+v", r.Contradictions)
	}
}

func TestForms(t *testing.T) {
	if r := audit(t, "[open]\nrmse = 0.0500\naccuracy95 = 0.1000\n"); len(r.Contradictions) != 1 {
		t.Errorf("TOML numbers keep their digits: 1.96 x 0.0500 is 0.0980: %+v", r.Contradictions)
	}
	r := audit(t, "Number of points,48\nMean error (m),0.010\nRMSEz,0.046 m\n95 %,9.0 cm\n")
	if len(r.Contradictions) != 0 || r.Checked < 2 {
		t.Errorf("two columns: checked %d, %+v", r.Checked, r.Contradictions)
	}
	f, _ := r.Table.Rows[0].get(Accuracy95)
	if math.Abs(f.Value-0.09) > 1e-12 {
		t.Errorf("9.0 cm is %g m", f.Value)
	}
	for _, bad := range []string{"", "a,b\n1,2\n", "[x\n"} {
		if _, err := AuditTable(strings.NewReader(bad)); err == nil {
			t.Errorf("%q: no error", bad)
		}
	}
	if r := audit(t, "median,remark\n0.05,good\n"); len(r.Notes) == 0 {
		t.Error("nothing to check must be said")
	}
}

func FuzzAudit(f *testing.F) {
	f.Add("n,mean,rmse\n5,0.1,0.2\n")
	f.Add("[a]\nrmse = 0.1\nclaim = 'pass'\n")
	f.Add("rmse;95 %\n0,1;0,2\n")
	f.Fuzz(func(t *testing.T, s string) {
		if r, err := AuditTable(strings.NewReader(s)); err == nil && r.Table == nil {
			t.Fatal("no table and no error")
		}
	})
}

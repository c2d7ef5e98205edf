package las

import (
	"context"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// timeRange gathers the times of a file.
func timeRange(t *testing.T, f *File) (r TimeRange) {
	t.Helper()
	for c, err := range f.Chunks(context.Background(), ColGPSTime, 2) {
		if err != nil {
			t.Fatal(err)
		}
		var part TimeRange
		part.Add(c.GPSTime)
		r.Merge(part)
	}
	return r
}

// TestRealTimes: the time ranges and wrong flags that the README of data/real found in the files with
// a reader of its own.
func TestRealTimes(t *testing.T) {
	for _, c := range []struct {
		name        string
		points      int64
		min, max    float64 // 0: the README gives none
		base        TimeBase
		mislabelled bool
	}{
		{"nl-ahn3-delft-1.laz", 640510, 228671.8, 230768.8, TimeWeek, false},
		{"nl-ahn3-delft-2.laz", 208432, 230038.2, 230770.3, TimeWeek, false},
		{"fr-ign-block-77050_627755.laz", 84524, 0, 0, TimeAdjusted, true},
		{"fr-ign-block-77050_627760.laz", 56035, 0, 0, TimeAdjusted, true},
		{"fr-ign-block-77055_627755.laz", 72770, 0, 0, TimeAdjusted, true},
		{"fr-ign-block-77055_627760.laz", 60653, 0, 0, TimeAdjusted, true},
		{"fr-ign-block-77060_627755.laz", 83518, 0, 0, TimeAdjusted, true},
		{"fr-ign-block-77060_627760.laz", 59606, 0, 0, TimeAdjusted, true},
		{"fr-ign-decimated-0382_6565.laz", 218731, 314521662.6, 314523874.2, TimeAdjusted, true},
		{"ca-bc-forest-1.laz", 531662, 347063.2, 347872.4, TimeWeek, false},
		{"fr-reunion-utm40s.laz", 59712, 375760951, 375761439, TimeAdjusted, false},
		{"fr-ground-20m-2lines.laz", 18074, 0, 0, TimeAdjusted, true},
		{"ch-8lines-10k.las", 10000, 265119175, 265123066, TimeAdjusted, true},
		{"no-coast-nn2000.laz", 5658, 28967300, 28969705, TimeAdjusted, false},
		{"us-or-autzen-thin-feet.las", 10653, 245370, 249784, TimeWeek, false},
		{"us-pa-las10-pdrf0-usft.las", 11781, 0, 0, TimeNone, false},
		{"unknown-4lines-oblique.las", 14408, 159214261, 159214549, TimeAdjusted, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := mustOpen(t, filepath.Join(dataDir(t, "real/lidar"), c.name), OpenOptions{})
			r := timeRange(t, f)
			a := AuditTime(f.Header(), r)
			if f.Header().Points != c.points {
				t.Errorf("%d points, want %d", f.Header().Points, c.points)
			}
			if a.Base != c.base || a.Mislabelled != c.mislabelled {
				t.Errorf("%v, mislabelled %v (times %v to %v); want %v, %v", a.Base, a.Mislabelled, r.Min, r.Max, c.base, c.mislabelled)
			}
			// The README rounds to seconds or tenths; cut or rounded, it is within one unit.
			if c.min != 0 && (math.Abs(r.Min-c.min) > 1 || math.Abs(r.Max-c.max) > 1) {
				t.Errorf("times %.2f to %.2f, want %.1f to %.1f", r.Min, r.Max, c.min, c.max)
			}
		})
	}
}

// TestAuditTime checks rules B17 and B18 of the practice reference on times made for them.
func TestAuditTime(t *testing.T) {
	const adjusted, week = EncodingAdjustedTime, 0
	for _, c := range []struct {
		name     string
		encoding uint16
		times    []float64
		base     TimeBase
		wrong    bool
		weekEnd  bool
		says     string
	}{
		{"week", week, []float64{100, 5000}, TimeWeek, false, false, ""},
		{"B17 bit set, week seconds", adjusted, []float64{345600, 346000}, TimeWeek, true, false, "the header says adjusted"},
		{"B17 bit clear, adjusted", week, []float64{3.06e8, 3.06e8 + 100}, TimeAdjusted, true, false, "the header says GPS week"},
		{"B17 bit clear, before September 2011", week, []float64{-5e6, -4.9e6}, TimeAdjusted, true, false, "adjusted standard"},
		{"B18 midnight at the week's end", week, []float64{604000, 604799, 0.5, 900}, TimeWeek, false, true, "both sides"},
		{"counted on over the week's end", week, []float64{604000, 605700}, TimeWeek, false, false, "run on over"},
		{"all days of a week", week, []float64{100, 90000, 200000, 300000, 400000, 500000, 604000}, TimeWeek, false, false, ""},
		{"all zero", adjusted, []float64{0, 0}, TimeNone, false, false, "all GPS times are 0"},
		{"constant", adjusted, []float64{3e8, 3e8}, TimeAdjusted, false, false, "the same GPS time"},
		{"not a number", week, []float64{math.NaN(), 7, 8}, TimeWeek, false, false, "1 points have no finite GPS time"},
		{"none finite", week, []float64{math.NaN(), math.Inf(1)}, TimeNone, false, false, "2 points"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var r TimeRange
			for i := len(c.times) - 1; i >= 0; i-- { // order and splitting change nothing
				var part TimeRange
				part.Add(c.times[i : i+1])
				r.Merge(part)
			}
			var whole TimeRange
			whole.Add(c.times)
			if r != whole {
				t.Errorf("merged range %+v, whole %+v", r, whole)
			}
			a := AuditTime(&Header{Version: Version{1, 4}, Format: 6, GlobalEncoding: c.encoding}, r)
			if a.Base != c.base || a.Mislabelled != c.wrong || a.WeekEnd != c.weekEnd {
				t.Errorf("%+v", a)
			}
			if text := strings.Join(a.Notes, "\n"); !strings.Contains(text, c.says) || c.says == "" && text != "" {
				t.Errorf("notes %q, want %q", text, c.says)
			}
		})
	}
}

// TestUnwrap: time never falls over the week's end.
func TestUnwrap(t *testing.T) {
	a := TimeAudit{Base: TimeWeek, WeekEnd: true}
	if got := a.Unwrap(0.5) - a.Unwrap(604799.5); got != 1 {
		t.Errorf("a second over the week's end became %v s", got)
	}
	b := TimeAudit{Base: TimeWeek}
	if b.Unwrap(0.5) != 0.5 {
		t.Error("a flight inside a week was changed")
	}
}

// TestTimeOf: dates on the GPS scale. 2024-02-08 00:00 is week 2300, second 345600 (check value LAS-2,
// 391385600 adjusted: 1391385600 s after 1980-01-06). LAS 1.5 with an offset of 1390 gives 1385600 for it.
func TestTimeOf(t *testing.T) {
	want := time.Date(1980, 1, 6, 0, 0, 0, 0, time.UTC).Add(1391385600 * time.Second)
	a := AuditTime(&Header{Version: Version{1, 4}, Format: 6, GlobalEncoding: EncodingAdjustedTime}, TimeRange{N: 1, Min: 391385600, Max: 391385600})
	if got, ok := a.Time(391385600); !ok || !got.Equal(want) {
		t.Errorf("adjusted: %v, %v; want %v", got, ok, want)
	}
	h := &Header{Version: Version{1, 5}, Format: 6, GlobalEncoding: EncodingAdjustedTime | EncodingTimeOffset, TimeOffset: 1390}
	b := AuditTime(h, TimeRange{N: 1, Min: 1385600, Max: 1385600})
	if got, ok := b.Time(1385600); b.Base != TimeOffset || !ok || !got.Equal(want) {
		t.Errorf("with offset: %v, %v (%v); want %v", got, ok, b.Base, want)
	}
	h = &Header{Version: Version{1, 4}, Format: 6, GlobalEncoding: EncodingAdjustedTime, CreationYear: 2020, CreationDay: 100}
	c := AuditTime(h, TimeRange{N: 1, Min: 391385600, Max: 391385600})
	if len(c.Notes) == 0 || !strings.Contains(c.Notes[0], "2020-04-09") {
		t.Errorf("points of 2024 in a file of 2020: notes %q", c.Notes)
	}
	if _, ok := (&TimeAudit{Base: TimeWeek}).Time(1); ok {
		t.Error("week seconds have a date?")
	}
}

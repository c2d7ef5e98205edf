package trajectory

import (
	"math"
	"math/rand/v2"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"sidelap/trajectory/internal/motion"
)

// scan invents returns of a line scanner on flat ground at height ground:
// beam plane across the body, scan angles of ±35 degrees, on the strips.
func scan(f *motion.Flight, strips []Interval, ground float64, seed uint64) []Return {
	return sweep(pathOf(f), strips, ground, seed)
}

// sweep is scan for a path.
func sweep(p *Path, strips []Interval, ground float64, seed uint64) []Return {
	rng := rand.New(rand.NewPCG(seed, 7))
	var out []Return
	for _, s := range strips {
		for t := s.StartS + 1; t < s.EndS-1; t += 0.2 {
			o, ok := p.At(t)
			if !ok {
				continue
			}
			a := (2*rng.Float64() - 1) * 35 * deg
			m := o.BodyToMap()
			d := [3]float64{m[0][1]*math.Sin(a) + m[0][2]*math.Cos(a), m[1][1]*math.Sin(a) + m[1][2]*math.Cos(a), m[2][1]*math.Sin(a) + m[2][2]*math.Cos(a)}
			r := (ground - o.HM) / d[2]
			out = append(out, Return{t, o.EM + r*d[0], o.NM + r*d[1], o.HM + r*d[2] + 0.02*rng.NormFloat64(), a - o.RollRad})
		}
	}
	return out
}

// Known truth: seeded faults of the time base, found by name and by the beam plane.
func TestMatchTimeFindsFaults(t *testing.T) {
	const week = 2314
	toAdjusted := week*WeekS - 1e9
	for seed := uint64(1); seed <= 2; seed++ {
		f, strips := survey(seed, 20, 20, 1)
		rets := scan(f, strips, 400, seed)
		for _, c := range []struct {
			name         string
			track, cloud float64 // added to the true week seconds
			want         string
			fault        bool
		}{
			{"as in the cloud", 0, 0, "as in the cloud", false},
			{"adjusted cloud", 0, toAdjusted, "seconds of the week to adjusted", false},
			{"UTC path", -18, 0, "UTC in the path", true},
			{"UTC path, adjusted cloud", -18, toAdjusted, "UTC in the path", true},
			{"UTC cloud", 18, 0, "GPS time in the path, UTC in the cloud", true},
			{"a time tag of 12 ms", 0.012, 0, "as in the cloud", false},
			{"a week late", toAdjusted + WeekS, toAdjusted, "whole week", true},
			{"a day late", 86400, 0, "whole day", true},
			{"two hours of local time", 7200, 0, "local time (-2 h)", true},
			{"1024 weeks", toAdjusted - rolloverS, toAdjusted, "1024 weeks", true},
			{"Unix seconds", week*WeekS + gpsEpochUnixS - 18, toAdjusted, "Unix seconds to adjusted", false},
		} {
			tr := &Track{Path: c.name, TimeS: plus(f.T, c.track), EM: f.E, NM: f.N, HM: f.H, RollRad: f.Roll, PitchRad: f.Pitch, HeadingRad: f.Head, HeadingFrom: GridNorth}
			tr.TimeKind = kindOfTime(tr.TimeS[0], tr.TimeS[tr.Len()-1])
			p, err := tr.ToPath(nil, PathOptions{})
			if err != nil {
				t.Fatal(err)
			}
			moved := make([]Return, len(rets))
			for i, r := range rets {
				moved[i] = r
				moved[i].TimeS += c.cloud
			}
			var iv []Interval
			for _, s := range strips {
				iv = append(iv, Interval{s.StartS + c.cloud, s.EndS + c.cloud})
			}
			m, err := MatchTime(tr, iv, BeamPlaneCost(p, 0, moved), MatchOptions{})
			if err != nil {
				t.Fatalf("%s: %v", c.name, err)
			}
			// At 345600 s and 4e8 s doubles resolve 6e-11 and 6e-8 s: no limit here.
			if d := math.Abs(m.ShiftS - (c.cloud - c.track)); d > 2e-3 {
				t.Errorf("seed %d, %s: shift %.4f s, want %.4f; %s", seed, c.name, m.ShiftS, c.cloud-c.track, m.Text)
			}
			if !contains(m.Name, c.want) || m.Fault != c.fault || !m.Sure {
				t.Errorf("seed %d, %s: named %q, fault %v, sure %v; want %q, %v", seed, c.name, m.Name, m.Fault, m.Sure, c.want, c.fault)
			}
			if d := math.Abs(m.ShiftS - (c.cloud - c.track)); !(d < 3*m.SigmaS+1e-4) {
				t.Errorf("seed %d, %s: error %.2f ms, stated sigma %.2f ms", seed, c.name, 1e3*d, 1e3*m.SigmaS)
			}
			if c.name == "a time tag of 12 ms" && !strings.Contains(m.Text, "time tag error of -12") && !strings.Contains(m.Text, "time tag error of -11.9") {
				t.Errorf("seed %d: the time tag is not named: %s", seed, m.Text)
			}
		}
	}
}

func TestMatchTimeByCoverageAlone(t *testing.T) {
	f, strips := survey(1, 20, 20, 1)
	tr := &Track{Path: "p", TimeS: f.T, EM: f.E, NM: f.N, HM: f.H, TimeKind: WeekSeconds}
	m, err := MatchTime(tr, strips, nil, MatchOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if m.ShiftS != 0 || m.Sure {
		t.Errorf("shift %v s, sure %v: coverage alone must choose the plain reading and not call 18 s excluded", m.ShiftS, m.Sure)
	}
	if _, err := MatchTime(tr, []Interval{{2e5, 2e5 + 100.5}}, nil, MatchOptions{}); err == nil {
		t.Error("a cloud of another flight must be an error")
	}
}

// Known truth: a path above the ellipsoid over a cloud above the geoid.
func TestHeightBaseFindsGeoid(t *testing.T) {
	for seed := uint64(1); seed <= 6; seed++ {
		f, strips := survey(seed, 20, 20, 1)
		rets := scan(f, strips, 400, seed)
		for _, n := range []float64{0, 40.3, -28} {
			h, ok := EstimateHeightBase(pathOf(f).Shifted(0, n), rets)
			if !ok {
				t.Fatal("not judged")
			}
			if d := math.Abs(h.OffsetM + n); d > 3*h.SigmaM || d > 1 {
				t.Errorf("seed %d: offset %.2f ± %.2f m, want %.2f", seed, h.OffsetM, h.SigmaM, -n)
			}
			if h.Fault != (n != 0) {
				t.Errorf("seed %d, separation %.1f m: fault %v", seed, n, h.Fault)
			}
		}
	}
	if _, ok := EstimateHeightBase(&Path{TimeS: []float64{0, 1}, EM: []float64{0, 1}, NM: []float64{0, 1}, HM: []float64{0, 1}}, nil); ok {
		t.Error("judged without returns")
	}
}

// Known truth: a grid track with a heading from true north where the convergence is 2 degrees.
func TestNorthOfGridTrackDecidedByData(t *testing.T) {
	for seed := uint64(1); seed <= 3; seed++ {
		f, _ := survey(seed, 10, 10, 1)
		for _, c := range []struct {
			conv, true float64
			note       string
		}{{4 * deg, 4 * deg, "heading counts from true north"}, {4 * deg, 0, "heading counts from grid north"}, {0.05 * deg, 0, "assumed"}} {
			tr := &Track{Path: "grid", TimeS: f.T, EM: f.E, NM: f.N, HM: f.H, RollRad: f.Roll, PitchRad: f.Pitch, HeadingRad: plus(f.Head, c.true)}
			p, err := tr.ToPath(plane{500_000, 5_300_000, 480, c.conv}, PathOptions{})
			if err != nil {
				t.Fatal(err)
			}
			hasText(t, p.Notes, c.note)
			if d := WrapPi(p.HeadingRad[1000] - f.Head[1000]); math.Abs(d) > 1e-9 {
				t.Errorf("seed %d, %s: heading off by %.3f°", seed, c.note, d*toDeg)
			}
		}
	}
}

func TestAbsoluteTimes(t *testing.T) {
	// Source: GPS week 2300, second 345600 is adjusted time 391385600 (science reference, section 1, closed form).
	if gps, _ := AdjustedGPS.AbsoluteGPS(391385600); gps != 2300*WeekS+345600 {
		t.Errorf("adjusted 391385600 = GPS %.1f", gps)
	}
	if d := GPSFromUnix(1.7e9) - (1.7e9 - gpsEpochUnixS); d != 18 {
		t.Errorf("GPS - UTC in 2023 = %v s, want 18", d)
	}
	at := time.Date(2024, 5, 15, 8, 30, 0, 0, time.UTC)
	if back := CalendarFromGPS(GPSFromCalendar(at)); !back.Equal(at) {
		t.Errorf("calendar %v there and back is %v", at, back)
	}
}

// Outside truth: the leap second list that the system's time zone data carry.
func TestLeapSecondsAgainstSystemList(t *testing.T) {
	b, err := os.ReadFile("/usr/share/zoneinfo/leap-seconds.list")
	if err != nil {
		t.Skip("no leap second list on this system")
	}
	n := 0
	for _, m := range regexp.MustCompile(`(?m)^(\d{10})\s+(\d+)\s`).FindAllStringSubmatch(string(b), -1) {
		ntp, _ := strconv.ParseInt(m[1], 10, 64)
		tai, _ := strconv.ParseFloat(m[2], 64)
		at := time.Unix(ntp-2208988800, 0).UTC()
		if at.Year() < 1995 {
			continue
		}
		if got := LeapSeconds(at); got != tai-19 {
			t.Errorf("from %v on GPS - UTC = %v s, want %v", at, got, tai-19)
		}
		n++
	}
	if n < 8 {
		t.Errorf("%d leap seconds compared", n)
	}
}

// A heading line that says UTC makes the 18 s a matter of notation.
func TestMatchTimeStatedUTCAndTimeOfDay(t *testing.T) {
	f, strips := survey(1, 20, 20, 1)
	rets := scan(f, strips, 400, 1)
	for _, c := range []struct {
		name string
		add  float64
		kind TimeKind
		utc  bool
		want string
	}{
		{"week seconds in UTC", -18, WeekSeconds, true, "UTC to GPS time"},
		{"time of day", -4 * 86400, DaySeconds, false, "day 4"}, // 345600 s is Thursday 00:00
		{"time of day in UTC", -4*86400 - 18, DaySeconds, true, "UTC to GPS time"},
	} {
		tr := &Track{Path: c.name, TimeS: plus(f.T, c.add), EM: f.E, NM: f.N, HM: f.H, RollRad: f.Roll, PitchRad: f.Pitch, HeadingRad: f.Head, HeadingFrom: GridNorth, TimeKind: c.kind, TimeIsUTC: c.utc}
		p, err := tr.ToPath(nil, PathOptions{})
		if err != nil {
			t.Fatal(err)
		}
		m, err := MatchTime(tr, strips, BeamPlaneCost(p, 0, rets), MatchOptions{})
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(m.ShiftS+c.add) > 2e-3 || m.Fault || !m.Sure || !contains(m.Name, c.want) {
			t.Errorf("%s: %+v", c.name, m.Text)
		}
	}
}

func TestCheckPlacement(t *testing.T) {
	f, strips := survey(1, 20, 20, 1)
	rets := scan(f, strips, 400, 1)
	p := pathOf(f)
	if g, ok := CheckPlacement(p, rets); !ok || g.Fault || math.Abs(g.AboveM-80) > 1 || g.CoveredPct < 99 {
		t.Errorf("a path over its cloud: %+v", g)
	}
	swapped := *p
	swapped.EM, swapped.NM = p.NM, p.EM
	if g, ok := CheckPlacement(&swapped, rets); !ok || !g.Fault || !contains(g.Text, "exchanged") {
		t.Errorf("easting and northing exchanged: %+v", g)
	}
	if g, ok := CheckPlacement(p.Shifted(0, -500), rets); !ok || !g.Fault || !contains(g.Text, "below the ground") {
		t.Errorf("below the ground: %+v", g)
	}
	if _, ok := CheckPlacement(p.Shifted(1e6, 0), rets); ok {
		t.Error("judged without common time")
	}
}

package rinex

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func realData(t testing.TB, name string) string {
	t.Helper()
	p := filepath.Join("..", "..", "..", "shared", "data", "real", "gnss", name)
	if _, err := os.Stat(p); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("open data missing: %v", err)
		}
		t.Skipf("open data missing: %v", err)
	}
	return p
}

func gps(s string) float64 {
	t, err := time.Parse("2006-01-02 15:04:05", s)
	if err != nil {
		panic(err)
	}
	return float64(t.Unix() - 315964800)
}

// Source of every row: the README of the open data set, which measured the
// files with a reader of its own; epochs and satellites counted with grep.
func TestRealFiles(t *testing.T) {
	for _, c := range []struct {
		name        string
		version     float64
		epochs      int
		first, last string
		antennaM    float64
		damage      string
	}{
		{"nav-obs-v2-KOSG0010.95O", 2, 3, "1995-01-01 00:00:00", "1995-01-01 20:44:30", 0.105, ""},
		{"nav-obs-v2-aopr0010.17o", 2.1, 3, "", "", 0, ""},
		{"nav-obs-v2-AJAC3550.21O", 2.11, 2, "2021-12-21 00:00:00", "2021-12-21 00:00:30", 0, ""},
		{"nav-obs-v2-zegv0010.21o", 2.11, 19, "2021-01-01 00:00:00", "2021-01-01 00:09:00", 0, ""},
		{"nav-obs-v2-rovn0010.21o", 2.11, 6, "2021-01-01 00:00:00", "2021-01-01 02:26:00", 0, ""},
		{"nav-obs-v3-ACOR00ESP_R_20213550000_01D_30S_MO.rnx", 3.04, 25, "2021-12-21 00:00:00", "2021-12-21 00:12:00", 3.046, ""},
		{"nav-obs-v3-ALAC00ESP_R_20220090000_01D_30S_MO.rnx", 3.04, 3, "2022-01-09 00:00:00", "2022-01-09 00:13:30", 3.035, ""},
		{"nav-obs-v3-DUTH0630.22O", 3.02, 3, "2022-03-04 00:00:00", "2022-03-04 00:57:00", 0.183, ""},
		{"nav-crx-v3-GRAS00FRA_R_20223151700_15M_01S_MO.crx.gz", 3.04, 900, "2022-11-11 17:00:00", "2022-11-11 17:14:59", 0.035, ""},
		{"nav-crx-v3-KMS300DNK_R_20221591000_01H_30S_MO.crx", 4, 19, "2022-06-08 10:00:00", "2022-06-08 10:09:00", 0, ""},
		{"georinex-CEDA00USA_R_20182100000_23H_15S_MO.rnx.gz", 3.03, 4675, "2018-07-29 00:00:15", "2018-07-29 23:59:45", 0.0083, ""},
		{"georinex-P43300USA_R_20190012056_17M_15S_MO.crx", 3.03, 70, "2019-01-01 20:56:45", "2019-01-01 21:14:00", 0.0083, ""},
		{"georinex-ab430140.18o.zip", 2.11, 9, "2018-01-14 00:00:00", "2018-01-14 00:02:00", 0.0083, ""},
		{"georinex-ac660270.18o.Z", 2.11, 23, "2018-01-27 00:18:15", "2018-01-27 01:36:15", 0.0083, ""},
		{"georinex-14601736.18o", 2.11, 3, "2018-06-22 06:17:30", "2018-06-22 06:18:00", 2, ""},
		{"georinex-demo.10o", 2.11, 2, "", "", 0.903, ""},
		{"georinex-demo3.10o", 3.01, 2, "", "", 0.903, ""},
		{"georinex-minimal2.10o", 2.11, 1, "", "", 0, ""},
		{"georinex-minimal3.10o", 3.01, 1, "", "", 0, ""},
		{"georinex-rinex2onesat.10o", 2.11, 2, "", "", 0.903, ""},
		{"georinex-badtime.10o", 2.11, 1, "", "", 0, "line 5: the epoch line"},
		{"georinex-wrong_obs2_count.10o", 2.11, 1, "", "", 0, "announces 6 observation codes and names 7"},
		{"georinex-default_time_system2.10o", 2.11, 1, "2010-03-05 00:00:45", "", 0, ""}, // GLONASS time by rule: UTC, 15 s behind GPS in 2010
		{"georinex-junk_time_obs3.10o", 3.01, 2, "2010-03-05 00:00:30", "2010-03-05 00:01:30", 0, "line 10: the epoch line \"> 23 29\""},
		{"hatanaka-sample.rnx", 3.01, 1, "2010-03-05 00:00:30", "", 0, ""},
		{"rtklib-07590920.05o", 2.1, 120, "2005-04-02 00:00:00", "2005-04-02 00:59:30", 0, ""},
		{"rtklib-30400920.05o", 2.1, 120, "2005-04-02 00:00:00", "2005-04-02 00:59:30", 0, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			f, err := ReadFile(realData(t, c.name))
			if err != nil {
				t.Fatal(err)
			}
			if f.Header.Version != c.version || len(f.Epochs) != c.epochs || f.Header.DeltaHENM[0] != c.antennaM {
				t.Errorf("version %v, %d epochs, antenna %v m; want %v, %d, %v", f.Header.Version, len(f.Epochs), f.Header.DeltaHENM[0], c.version, c.epochs, c.antennaM)
			}
			if got := f.Epochs[0].GPSS; c.first != "" && got != gps(c.first) {
				t.Errorf("first epoch %s, want %s", clockText(got), c.first)
			}
			// The pair of 2005 stores the epochs of a drifting clock: within half a second.
			if got := f.Epochs[len(f.Epochs)-1].GPSS; c.last != "" && math.Abs(got-gps(c.last)) > 0.5 {
				t.Errorf("last epoch %s, want %s", clockText(got), c.last)
			}
			switch {
			case c.damage == "" && f.DamageN != 0:
				t.Errorf("damage in a sound file: %v", f.Damage)
			case c.damage != "" && (f.DamageN == 0 || !strings.Contains(f.Damage[0].String(), c.damage)):
				t.Errorf("damage %v, want %q", f.Damage, c.damage)
			}
			for _, e := range f.Epochs {
				if e.Sats == 0 || e.TwoFrequency > e.Sats {
					t.Errorf("epoch %s: %d satellites, %d on two frequencies", clockText(e.GPSS), e.Sats, e.TwoFrequency)
				}
			}
		})
	}
}

func TestRefusedFiles(t *testing.T) {
	_, err := ReadFile(realData(t, "georinex-blank.10o"))
	if !errors.Is(err, ErrNoEpochs) || !strings.Contains(err.Error(), "georinex-blank.10o") {
		t.Errorf("a file without epochs: %v", err)
	}
	nav := fmt.Sprintf("%-60s%s\n", fmt.Sprintf("%9.2f           N: GNSS NAV DATA    M: MIXED", 3.04), "RINEX VERSION / TYPE")
	for name, text := range map[string]string{"navigation": nav, "words": "hello\n", "a new version": strings.Replace(nav, "     3.04           N", "     9.00           O", 1)} {
		var e *Error
		if _, err := Decode(name, strings.NewReader(text), int64(len(text))); !errors.As(err, &e) {
			t.Errorf("%s: %v, want an *Error", name, err)
		}
	}
	if _, err := Decode("nothing", strings.NewReader(""), 0); !errors.Is(err, ErrNoEpochs) {
		t.Errorf("an empty file: %v", err)
	}
}

// plainLines returns a file's lines with wrappings and the compact form taken off.
func plainLines(t *testing.T, path string) []string {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	st, _ := f.Stat()
	r, _, err := unpack(f, st.Size())
	if err != nil {
		t.Fatal(err)
	}
	var in source = &textLines{r: bufio.NewReaderSize(r, maxLine)}
	var out []string
	for first := true; ; first = false {
		s, _, err := in.next()
		if err == io.EOF {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
		if first && strings.Contains(s, "CRINEX VERS") {
			in.next()
			in = newCompact(in, int(s[0]-'0'))
			continue
		}
		out = append(out, strings.TrimRight(s, " "))
	}
}

// Outside truth: compact files decode to exactly the text of their plain twins.
func TestCompactTwinsAreEqual(t *testing.T) {
	for _, c := range [][2]string{
		{"nav-crx-v1-AJAC3550.21D", "nav-obs-v2-AJAC3550.21O"},
		{"nav-crx-v1-KOSG0010.95D", "nav-obs-v2-KOSG0010.95O"},
		{"nav-crx-v1-aopr0010.17d", "nav-obs-v2-aopr0010.17o"},
		{"nav-crx-v1-zegv0010.21d", "nav-obs-v2-zegv0010.21o"},
		{"nav-crx-v3-ACOR00ESP_R_20213550000_01D_30S_MO.crx", "nav-obs-v3-ACOR00ESP_R_20213550000_01D_30S_MO.rnx"},
		{"nav-crx-v3-DUTH0630.22D", "nav-obs-v3-DUTH0630.22O"},
		{"hatanaka-sample.crx", "hatanaka-sample.rnx"},
		{"hatanaka-sample.crx.gz", "hatanaka-sample.rnx"},
		{"hatanaka-sample.crx.Z", "hatanaka-sample.rnx"},
		{"hatanaka-sample.rnx.bz2", "hatanaka-sample.rnx"},
	} {
		a, b := plainLines(t, realData(t, c[0])), plainLines(t, realData(t, c[1]))
		if len(a) != len(b) {
			t.Errorf("%s: %d lines, its twin %d", c[0], len(a), len(b))
		}
		bad := 0
		for i := range min(len(a), len(b)) {
			if a[i] != b[i] && bad < 3 {
				t.Errorf("%s line %d:\n got %q\nwant %q", c[0], i+1, a[i], b[i])
				bad++
			}
		}
	}
}

// Outside truth: the system's gzip unpacks .Z files too.
func TestZAgainstGzip(t *testing.T) {
	if _, err := exec.LookPath("gzip"); err != nil {
		t.Skip("no gzip on this system")
	}
	for _, name := range []string{"georinex-ac660270.18o.Z", "hatanaka-sample.crx.Z"} {
		p := realData(t, name)
		b, err := os.ReadFile(p)
		if err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command("gzip", "-dc")
		cmd.Stdin = bytes.NewReader(b)
		want, err := cmd.Output()
		if err != nil {
			t.Fatal(err)
		}
		z, err := newLZWReader(bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		got, err := io.ReadAll(z)
		if err != nil || !bytes.Equal(got, want) {
			t.Errorf("%s: %d bytes (%v), gzip gives %d", name, len(got), err, len(want))
		}
	}
}

// Closed form: the example of the science reference, section 12.
func TestPositionOfHeader(t *testing.T) {
	l := &Log{Files: []*File{{Header: Header{XYZM: [3]float64{-4388121.1700, 726671.0500, -4556535.6300}, HasPosition: true}}}}
	lat, lon, h, ok := l.Position()
	if !ok || math.Abs(lat*180/math.Pi+45.883675) > 5e-7 || math.Abs(lon*180/math.Pi-170.597175) > 5e-7 || math.Abs(h-388.86) > 0.005 {
		t.Errorf("%.6f, %.6f, %.2f; want -45.883675, 170.597175, 388.86", lat*180/math.Pi, lon*180/math.Pi, h)
	}
}

// Example lines of the science reference, section 13.
func TestEpochLines(t *testing.T) {
	p := &parser{h: Header{TimeSystem: "GPS"}}
	e, n, ok := p.epochLine3("> 2025 03 16 00 00  0.0000000  0 37")
	if !ok || n != 37 || e.GPSS != gps("2025-03-16 00:00:00") {
		t.Errorf("version 3: %+v, %d, %v", e, n, ok)
	}
	c, flag, n, ok := epochLine2(" 05  3 24 13 10 36.0000000  0  4G12G09G06E11")
	if !ok || flag != 0 || n != 4 || c.y != 2005 || c.mo != 3 || c.d != 24 || c.h != 13 || c.mi != 10 || c.sec != 36 {
		t.Errorf("version 2: %+v, flag %d, %d satellites, %v", c, flag, n, ok)
	}
}

func TestBaselineOfOpenPair(t *testing.T) {
	a, err := Read(realData(t, "rtklib-07590920.05o"))
	if err != nil {
		t.Fatal(err)
	}
	b, err := Read(realData(t, "rtklib-30400920.05o"))
	if err != nil {
		t.Fatal(err)
	}
	if d := distance(a.Header().XYZM, b.Header().XYZM); math.Abs(d-3300) > 100 {
		t.Errorf("baseline %.0f m, want about 3.3 km (README of the data set)", d)
	}
	if a.IntervalS != 30 || b.IntervalS != 30 {
		t.Errorf("intervals %v, %v s", a.IntervalS, b.IntervalS)
	}
}

// invented returns a log file over a place, with epochs removed by drop.
func invented(t testing.TB, start, end, step float64, drop func(s float64) bool) []byte {
	t.Helper()
	xyz := [3]float64{4202000, 832000, 4711000}
	var keep []ObservationEpoch
	for _, e := range Invent(xyz, start, end, step, 1) {
		if drop == nil || !drop(e.GPSS) {
			keep = append(keep, e)
		}
	}
	var b bytes.Buffer
	h := Header{Marker: "FIELD1", Receiver: "INVENTED", AntennaType: "INVENTED NONE", XYZM: xyz, DeltaHENM: [3]float64{1.562, 0, 0}, Types: InventedTypes()}
	if err := WriteObs(&b, h, keep); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestWriteWayThereAndBack(t *testing.T) {
	t0 := gps("2024-05-15 08:00:00")
	b := invented(t, t0, t0+600, 1, func(s float64) bool { return s > t0+100 && s < t0+130 })
	f, err := Decode("x.rnx", bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	l, err := Join(f)
	if err != nil {
		t.Fatal(err)
	}
	if f.DamageN != 0 || len(l.Epochs) != 601-29 || l.IntervalS != 1 || len(l.Gaps) != 1 || l.Gaps[0].LengthS() != 30 {
		t.Fatalf("damage %v, %d epochs, interval %v, gaps %v", f.Damage, len(l.Epochs), l.IntervalS, l.Gaps)
	}
	if a, z := l.Span(); a != t0 || z != t0+600 {
		t.Errorf("from %s to %s", clockText(a), clockText(z))
	}
	if h := f.Header; h.DeltaHENM[0] != 1.562 || h.Marker != "FIELD1" || h.AntennaType != "INVENTED NONE" || h.ClaimedStepS != 1 {
		t.Errorf("header %+v", h)
	}
	s := l.Sky(t0, t0+600)
	if s.MinSats < 12 || s.MinSats > 45 || s.MinTwo != s.MinSats {
		t.Errorf("sky %+v: an open sky shows some 15 to 30 satellites of three systems", s)
	}
}

func TestFilesInARow(t *testing.T) {
	t0 := gps("2024-05-15 08:00:00")
	var files []*File
	for k, span := range [][2]float64{{t0 + 600, t0 + 1200}, {t0, t0 + 600}} {
		b := invented(t, span[0], span[1], 1, nil)
		f, err := Decode(fmt.Sprint("part", k), bytes.NewReader(b), int64(len(b)))
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, f)
	}
	l, err := Join(files...)
	if err != nil {
		t.Fatal(err)
	}
	if len(l.Epochs) != 1201 || len(l.Gaps) != 0 {
		t.Errorf("%d epochs, gaps %v; want 1201 without a gap", len(l.Epochs), l.Gaps)
	}
	if l.Shared != 1 {
		t.Errorf("%d shared epochs, want the one at the seam", l.Shared)
	}
	if g := l.GapsWithin(t0-50, t0+1250); len(g) != 2 || g[0].LengthS() != 50 || g[1].LengthS() != 50 {
		t.Errorf("gaps around the log: %v", g)
	}
}

func TestDamageIsNamedAndReadOn(t *testing.T) {
	t0 := gps("2024-05-15 08:00:00")
	b := invented(t, t0, t0+60, 1, nil)
	lines := strings.SplitAfter(string(b), "\n")
	header := 0
	for !strings.Contains(lines[header], "END OF HEADER") {
		header++
	}
	epoch := header + 1
	for k := range 10 { // to the tenth epoch
		epoch++
		for !strings.HasPrefix(lines[epoch], ">") {
			epoch++
		}
		_ = k
	}
	read := func(s string) *File {
		f, err := Decode("x", strings.NewReader(s), int64(len(s)))
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	cut := append(append([]string{}, lines[:epoch]...), "> 2024 05 xx\n")
	cut = append(cut, lines[epoch+1:]...)
	if f := read(strings.Join(cut, "")); len(f.Epochs) != 60 || f.DamageN != 1 || f.Damage[0].Line != epoch+1 {
		t.Errorf("a bad epoch line: %d epochs, damage %v; want 60 and line %d", len(f.Epochs), f.Damage, epoch+1)
	}
	if f := read(string(b[:len(b)-500])); len(f.Epochs) != 60 || f.DamageN == 0 {
		t.Errorf("a file cut short: %d epochs, damage %v", len(f.Epochs), f.Damage)
	}
	twice := append(append([]string{}, lines[:epoch]...), lines...)
	if f := read(strings.Join(twice, "")); f.Headers != 2 || f.DamageN == 0 || len(f.Epochs) != 61 {
		t.Errorf("two headers: %d headers, damage %v, %d epochs", f.Headers, f.Damage[:1], len(f.Epochs))
	}
}

func TestDamagedCompactGoesOnWhenItCan(t *testing.T) {
	b, err := os.ReadFile(realData(t, "nav-crx-v3-ACOR00ESP_R_20213550000_01D_30S_MO.crx"))
	if err != nil {
		t.Fatal(err)
	}
	b = b[:len(b)*2/3]
	f, err := Decode("cut.crx", bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Epochs) < 10 || len(f.Epochs) > 24 || f.DamageN == 0 {
		t.Errorf("%d epochs, damage %v", len(f.Epochs), f.Damage)
	}
}

func TestBombsAreBounded(t *testing.T) {
	var z bytes.Buffer
	w := gzip.NewWriter(&z)
	fmt.Fprintf(w, "%-60s%s\n", fmt.Sprintf("%9.2f           OBSERVATION DATA    M: MIXED", 3.04), "RINEX VERSION / TYPE")
	for range 400_000 {
		fmt.Fprintf(w, "%-60s%s\n", "", "COMMENT")
	}
	w.Close()
	if _, err := Decode("bomb.gz", bytes.NewReader(z.Bytes()), int64(z.Len())); !errors.Is(err, ErrExpansion) {
		t.Errorf("a bomb of %d bytes: %v", z.Len(), err)
	}
	b := z.Bytes()
	for range 6 {
		var o bytes.Buffer
		w := gzip.NewWriter(&o)
		w.Write(b)
		w.Close()
		b = o.Bytes()
	}
	if _, err := Decode("matryoshka", bytes.NewReader(b), int64(len(b))); !errors.Is(err, ErrExpansion) {
		t.Errorf("wrapped seven times: %v", err)
	}
}

func FuzzDecode(f *testing.F) {
	t0 := gps("2024-05-15 08:00:00")
	f.Add(invented(f, t0, t0+2, 1, nil))
	z := zipped(f, map[string][]byte{"a.rnx": invented(f, t0, t0+2, 1, nil), "b.rnx": invented(f, t0+3, t0+5, 1, nil)})
	f.Add(z)
	f.Add(z[:len(z)/2])
	for _, name := range []string{"hatanaka-sample.crx", "hatanaka-sample.crx.Z", "hatanaka-sample.crx.gz", "georinex-minimal2.10o", "nav-crx-v1-KOSG0010.95D", "georinex-14601736.18o"} {
		if b, err := os.ReadFile(filepath.Join("..", "..", "..", "shared", "data", "real", "gnss", name)); err == nil {
			f.Add(b)
		}
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		files, failed := DecodeAll("fuzz", bytes.NewReader(b), int64(len(b)))
		for _, err := range failed {
			var e *Error
			if !errors.As(err, &e) {
				t.Fatalf("error without a file name: %v", err)
			}
		}
		if len(files) == 0 {
			if len(failed) == 0 {
				t.Fatal("neither a file nor a reason")
			}
			return
		}
		l, err := Join(files...)
		if err != nil {
			t.Fatal(err)
		}
		for i := 1; i < len(l.Epochs); i++ {
			if !(l.Epochs[i].GPSS > l.Epochs[i-1].GPSS) {
				t.Fatal("epochs do not increase")
			}
		}
		l.Sky(l.Span())
		l.Position()
	})
}

func BenchmarkRead(b *testing.B) {
	for _, name := range []string{"georinex-CEDA00USA_R_20182100000_23H_15S_MO.rnx.gz", "nav-crx-v3-GRAS00FRA_R_20223151700_15M_01S_MO.crx.gz"} {
		p := realData(b, name)
		n := 0
		b.Run("file="+name[:12], func(b *testing.B) {
			for b.Loop() {
				f, err := ReadFile(p)
				if err != nil {
					b.Fatal(err)
				}
				n += len(f.Epochs)
			}
			b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "epochs/s")
		})
	}
}

func TestReadNamesFilesThatGiveNothing(t *testing.T) {
	dir := t.TempDir()
	good, bad := filepath.Join(dir, "good.rnx"), filepath.Join(dir, "bad.rnx")
	t0 := gps("2024-05-15 08:00:00")
	for p, b := range map[string][]byte{good: invented(t, t0, t0+10, 1, nil), bad: []byte("nothing")} {
		if err := os.WriteFile(p, b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	l, err := Read(bad, good)
	if err != nil || len(l.Epochs) != 11 || len(l.Failed) != 1 || !strings.Contains(l.Failed[0].Error(), "bad.rnx") {
		t.Errorf("%v: %+v", err, l)
	}
	if _, err := Read(bad); !errors.Is(err, ErrNotRINEX) {
		t.Errorf("one bad file alone: %v", err)
	}
	if _, err := Read(filepath.Join(dir, "none.rnx"), good); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a file that is not there: %v", err)
	}
}

func TestDecimal(t *testing.T) {
	for _, c := range []struct {
		v             int64
		digits, width int
		want          string
	}{{123456, 3, 14, "       123.456"}, {-1, 3, 14, "         -.001"}, {0, 3, 14, "          .000"}, {-12345678, 3, 14, "    -12345.678"}, {1000, 3, 14, "         1.000"}, {-123456789, 9, 12, "  -.123456789"[1:]}, {math.MinInt64, 3, 14, "-9223372036854775.808"}} {
		if got := decimal(c.v, c.digits, c.width); got != c.want {
			t.Errorf("decimal(%d, %d, %d) = %q, want %q", c.v, c.digits, c.width, got, c.want)
		}
	}
}

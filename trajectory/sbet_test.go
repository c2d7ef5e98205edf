package trajectory

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

func encode(t testing.TB, recs []SBETRecord) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := EncodeSBET(&b, recs); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func swapBytes(b []byte) []byte {
	o := slices.Clone(b)
	for i := 0; i+8 <= len(o); i += 8 {
		slices.Reverse(o[i : i+8])
	}
	return o
}

func TestSBETWayThereAndBack(t *testing.T) {
	f, _ := survey(1, 10, 10, 1)
	recs := sbetOf(f, 0)
	dir := t.TempDir()
	name := filepath.Join(dir, "sbet_mission.out")
	if err := WriteSBET(name, recs); err != nil {
		t.Fatal(err)
	}
	var acc []SMRMSGRecord
	for s := recs[0].TimeS; s < recs[len(recs)-1].TimeS; s++ {
		acc = append(acc, SMRMSGRecord{TimeS: s, NorthM: 0.01, EastM: 0.02, DownM: 0.03, RollArcmin: 0.5, PitchArcmin: 0.6, HeadingArcmin: 3})
	}
	if err := WriteSMRMSG(filepath.Join(dir, "smrmsg_mission.out"), acc); err != nil {
		t.Fatal(err)
	}
	tr, err := Read(name, ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if tr.Len() != len(recs) || !tr.Geodetic || !tr.Ellipsoidal || tr.TimeKind != WeekSeconds {
		t.Fatalf("%s: geodetic %v, ellipsoidal %v", tr.Summary(), tr.Geodetic, tr.Ellipsoidal)
	}
	for i := range recs {
		if tr.TimeS[i] != recs[i].TimeS || tr.LatRad[i] != recs[i].LatRad || tr.LonRad[i] != recs[i].LonRad || tr.HM[i] != recs[i].AltM || tr.RollRad[i] != recs[i].RollRad {
			t.Fatalf("record %d is not the one written", i)
		}
	}
	if tr.Sigma == nil {
		t.Fatal("the companion beside the path was not found")
	}
	p, err := tr.ToPath(plane{500_000, 5_300_000, 480, 0.5 * deg}, PathOptions{ShiftS: 100, HeightOffsetM: -46})
	if err != nil {
		t.Fatal(err)
	}
	k := len(recs) / 2
	if math.Abs(p.TimeS[k]-recs[k].TimeS-100) > 1e-9 || math.Abs(p.HM[k]-f.H[k]+46) > 1e-9 {
		t.Errorf("shift of time or height is not applied")
	}
	if d := WrapPi(p.HeadingRad[k] - (recs[k].HeadingRad - 0.5*deg)); math.Abs(d) > 1e-12 {
		t.Errorf("grid heading off by %.2g rad: want true heading less convergence", d)
	}
	s, ok := p.SigmaAt(p.TimeS[k])
	if !ok || math.Abs(s.EastM-0.02) > 1e-12 || math.Abs(s.UpM-0.03) > 1e-12 || math.Abs(s.HeadingRad-3*arcmin) > 1e-12 {
		t.Errorf("sigma %+v, want east 0.02, up 0.03 m, heading 3 minutes of arc", s)
	}
}

func TestSBETVariants(t *testing.T) {
	f, _ := survey(1, 10, 10, 1)
	plain := encode(t, sbetOf(f, 0))
	degrees := sbetOf(f, 0)
	for i := range degrees {
		r := &degrees[i]
		for _, v := range []*float64{&r.LatRad, &r.LonRad, &r.RollRad, &r.PitchRad, &r.HeadingRad} {
			*v *= toDeg
		}
	}
	var gz bytes.Buffer
	z := gzip.NewWriter(&gz)
	z.Write(plain)
	z.Close()
	for _, c := range []struct {
		name, note string
		b          []byte
	}{
		{"little-endian radians", "", plain},
		{"big-endian", "big-endian", swapBytes(plain)},
		{"degrees", "latitude and longitude are degrees", encode(t, degrees)},
		{"big-endian degrees", "attitude is degrees", swapBytes(encode(t, degrees))},
		{"gzip", "", gz.Bytes()},
	} {
		t.Run(c.name, func(t *testing.T) {
			tr, err := Decode(c.b, c.name, ReadOptions{})
			if err != nil {
				t.Fatal(err)
			}
			if c.note != "" {
				hasText(t, decisions(tr), c.note)
			}
			for i := range tr.TimeS {
				if math.Abs(tr.LatRad[i]-lat0) > 0.001 || math.Abs(WrapPi(tr.HeadingRad[i]-f.Head[i])) > 1e-9 {
					t.Fatalf("sample %d: lat %.6f rad, heading %.4f, want %.4f", i, tr.LatRad[i], tr.HeadingRad[i], f.Head[i])
				}
			}
		})
	}
}

// Known truth: a flight in wind whose wander angle is used in every way.
func TestWanderDecidedByData(t *testing.T) {
	for seed := uint64(1); seed <= 4; seed++ {
		f, _ := survey(seed, 10, 10, 1)
		const wander = -7 * deg
		for _, c := range []struct {
			name string
			edit func(r *SBETRecord, truth float64)
		}{
			{lessWander.name, func(r *SBETRecord, truth float64) { r.HeadingRad, r.WanderRad = truth+wander, wander }},
			{asIs.name, func(r *SBETRecord, truth float64) { r.HeadingRad, r.WanderRad = truth, wander }},
			{swapped.name, func(r *SBETRecord, truth float64) { r.HeadingRad, r.WanderRad = wander, truth }},
		} {
			recs := sbetOf(f, 0)
			for i := range recs {
				c.edit(&recs[i], f.Head[i])
			}
			tr, err := Decode(encode(t, recs), c.name, ReadOptions{})
			if err != nil {
				t.Fatal(err)
			}
			hasText(t, decisions(tr), c.name+" (")
			for i := range recs {
				if math.Abs(WrapPi(tr.HeadingRad[i]-f.Head[i])) > 1e-9 {
					t.Fatalf("seed %d, %s: heading %.3f°, want %.3f°; %q", seed, c.name, tr.HeadingRad[i]*toDeg, f.Head[i]*toDeg, decisions(tr))
				}
			}
		}
	}
}

func TestWanderWithoutLegIsAnAssumption(t *testing.T) {
	tr, err := Read(realData(t, "trajectory/sbet-2-points.sbet"), ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	// Source of the figures: the row of this file in the data set's README.
	if tr.Len() != 2 || math.Abs(tr.TimeS[0]-151631.002836) > 1e-6 || math.Abs(tr.TimeS[1]-151631.007832) > 1e-6 {
		t.Errorf("times %v", tr.TimeS)
	}
	if math.Abs(tr.LatRad[0]*toDeg-32.545217) > 1e-6 || math.Abs(tr.LonRad[0]*toDeg+116.978180) > 1e-6 || math.Abs(tr.HM[0]-107.715) > 1e-3 {
		t.Errorf("place %.6f, %.6f, %.3f", tr.LatRad[0]*toDeg, tr.LonRad[0]*toDeg, tr.HM[0])
	}
	if math.Abs(tr.HeadingRad[0]-(3.0468+0.0220)) > 1e-3 || tr.Decisions[0].Sure {
		t.Errorf("heading %.4f rad, decision %v: want platform heading less wander, as an assumption", tr.HeadingRad[0], tr.Decisions[0])
	}
}

func TestRefusals(t *testing.T) {
	f, _ := survey(1, 10, 10, 0)
	good := sbetOf(f, 0)[:200]
	back := slices.Clone(good)
	back[100].TimeS = back[90].TimeS
	var bomb bytes.Buffer
	z := gzip.NewWriter(&bomb)
	z.Write(make([]byte, 20<<20))
	z.Close()
	var acc bytes.Buffer
	EncodeSMRMSG(&acc, []SMRMSGRecord{{TimeS: 100, NorthM: 0.1, EastM: 0.1, DownM: 0.1, NorthMPS: .1, EastMPS: .1, DownMPS: .1, RollArcmin: 1, PitchArcmin: 1, HeadingArcmin: 5}})
	for _, c := range []struct {
		name, want string
		b          []byte
	}{
		{"one byte short", "271 bytes are not a multiple of 136", encode(t, good[:2])[:271]},
		{"time runs back", "byte 13600: time", encode(t, back)},
		{"noise", "no possible value", bytes.Repeat([]byte{0xff, 0xfe, 0x00, 0x81}, 34)},
		{"empty", "empty", nil},
		{"bomb", "grows more than", bomb.Bytes()},
		{"accuracies", "smrmsg accuracy file", acc.Bytes()},
		{"point cloud", "a point cloud", append([]byte("LASF"), make([]byte, 400)...)},
		{"words", "no line of numbers", []byte("hello\nworld\n")},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Decode(c.b, "x.out", ReadOptions{})
			var fe *FormatError
			if !errors.As(err, &fe) || !contains(err.Error(), c.want) {
				t.Errorf("error %v, want a FormatError with %q", err, c.want)
			}
			if fe != nil && fe.Path != "x.out" {
				t.Errorf("the error does not name the file: %v", err)
			}
		})
	}
}

// A compressed file may not become larger than one that is not, in one member or in several.
func TestInflateIsBounded(t *testing.T) {
	var b bytes.Buffer
	for range 2 {
		z := gzip.NewWriter(&b)
		for i := range 40_000 {
			fmt.Fprintln(z, i*i)
		}
		z.Close()
	}
	out, err := inflate(b.Bytes(), maxPathBytes)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := inflate(b.Bytes(), int64(len(out))); err != nil || len(got) != len(out) {
		t.Errorf("as large as the bound: %d bytes, %v", len(got), err)
	}
	if got, err := inflate(b.Bytes(), int64(len(out))-1); err == nil || !contains(err.Error(), "grows more than") {
		t.Errorf("a byte above the bound: %d bytes, %v", len(got), err)
	}
}

func TestRealBinaryFiles(t *testing.T) {
	if _, err := Read(realData(t, "trajectory/pdal-badfile.sbet"), ReadOptions{}); err == nil || !contains(err.Error(), "271 bytes") {
		t.Errorf("a file one byte short: %v", err)
	}
	_, err := Read(realData(t, "trajectory/posrs-sbet_mission_1.poq"), ReadOptions{})
	if !errors.Is(err, ErrUnsupported) {
		t.Errorf("a binary of another kind: %v, want ErrUnsupported", err)
	}
	// The text twin is the truth for the binary reader.
	bin, err := ReadAccuracy(realData(t, "trajectory/pdal-smrmsg.smrmsg"))
	if err != nil {
		t.Fatal(err)
	}
	txt, err := ReadAccuracy(realData(t, "trajectory/pdal-smrmsg-first200.txt"))
	if err != nil {
		t.Fatal(err)
	}
	if len(bin.TimeS) != 21902 || len(txt.TimeS) != 200 || bin.TimeS[21901] != 558159 {
		t.Fatalf("%d binary and %d text records, last %.3f s", len(bin.TimeS), len(txt.TimeS), bin.TimeS[len(bin.TimeS)-1])
	}
	for i := range txt.TimeS {
		for _, c := range [][3]float64{{bin.TimeS[i], txt.TimeS[i], 1}, {bin.NorthM[i], txt.NorthM[i], 1}, {bin.EastM[i], txt.EastM[i], 1}, {bin.DownM[i], txt.DownM[i], 1},
			{bin.RollRad[i], txt.RollRad[i], arcmin}, {bin.PitchRad[i], txt.PitchRad[i], arcmin}, {bin.HeadingRad[i], txt.HeadingRad[i], arcmin}} {
			if math.Abs(c[0]-c[1]) > 0.5000001e-6*c[2] { // half the last printed digit
				t.Fatalf("record %d: %v in the binary, %v in the text", i, c[0], c[1])
			}
		}
	}
}

func TestSMRMSGBigEndian(t *testing.T) {
	var b bytes.Buffer
	for k := range 5 {
		EncodeSMRMSG(&b, []SMRMSGRecord{{TimeS: 1000 + float64(k), NorthM: 0.015, EastM: 0.016, DownM: 0.02, RollArcmin: 0.3, PitchArcmin: 0.3, HeadingArcmin: 2}})
	}
	name := filepath.Join(t.TempDir(), "a.smrmsg")
	if err := os.WriteFile(name, swapBytes(b.Bytes()), 0o644); err != nil {
		t.Fatal(err)
	}
	a, err := ReadAccuracy(name)
	if err != nil || a.NorthM[0] != 0.015 || a.TimeS[4] != 1004 {
		t.Fatalf("%+v, %v", a, err)
	}
	hasText(t, a.Warnings, "big-endian")
}

func TestEndOfWeek(t *testing.T) {
	f, _ := survey(1, 10, 10, 0)
	recs := sbetOf(f, 0)
	for i := range recs {
		recs[i].TimeS += WeekS - 50 - f.T[0]
		if recs[i].TimeS >= WeekS {
			recs[i].TimeS -= WeekS
		}
	}
	tr, err := Decode(encode(t, recs), "week.sbet", ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	hasText(t, decisions(tr), "end of the GPS week")
	if d := tr.TimeS[len(recs)-1] - tr.TimeS[0]; math.Abs(d-(f.T[len(recs)-1]-f.T[0])) > 1e-6 {
		t.Errorf("the track lasts %.1f s, want %.1f", d, f.T[len(recs)-1]-f.T[0])
	}
}

func FuzzDecode(f *testing.F) {
	fl, _ := survey(1, 2, 2, 0)
	recs := sbetOf(fl, 0)
	var b bytes.Buffer
	EncodeSBET(&b, recs[:4])
	f.Add(b.Bytes())
	f.Add(swapBytes(b.Bytes()))
	f.Add([]byte("time,lat,lon,h,roll,pitch,heading\n1,47,11,500,0,0,10\n2,47.00001,11,500,0,0,10\n"))
	f.Add([]byte("# x\n100;1,5;2,5;3,5;1;2;3\n101;1,6;2,5;3,5;1;2;4\n"))
	f.Add([]byte("2300 1.0 1 2 3\n2300 2.0 2 3 4\n"))
	f.Add([]byte("2024-01-01 00:00:01 47 11 400\n2024-01-01 00:00:02 47 11.0001 400\n"))
	f.Add(binary.LittleEndian.AppendUint64(nil, 1))
	f.Fuzz(func(t *testing.T, b []byte) {
		tr, err := Decode(b, "fuzz", ReadOptions{})
		var fe *FormatError
		if err != nil {
			if !errors.As(err, &fe) {
				t.Fatalf("error without a place: %v", err)
			}
			return
		}
		n := tr.Len()
		for _, c := range tr.columns() {
			if len(*c) != 0 && len(*c) != n {
				t.Fatalf("a column of %d values beside %d times", len(*c), n)
			}
		}
		for i := 1; i < n; i++ {
			if !(tr.TimeS[i] > tr.TimeS[i-1]) {
				t.Fatalf("times do not increase at %d", i)
			}
		}
		p, err := tr.ToPath(plane{}, PathOptions{})
		if err == nil && p.Validate() != nil {
			t.Fatal("an invalid path without an error")
		}
		if err == nil && n < 5000 && tr.TimeS[n-1]-tr.TimeS[0] < 1e4 {
			_, _ = FindEvents(p, MotionOptions{})
		}
	})
}

func FuzzDecodeAccuracy(f *testing.F) {
	var b bytes.Buffer
	EncodeSMRMSG(&b, []SMRMSGRecord{{TimeS: 1, NorthM: 0.01}, {TimeS: 2, NorthM: 0.01}})
	f.Add(b.Bytes())
	f.Add([]byte("time,NorthPositionRMS,RollRMS,HeadingRMS\n1,0.1,0.2,3\n2,0.1,0.2,3\n"))
	f.Fuzz(func(t *testing.T, b []byte) {
		a, err := DecodeAccuracy(b, "fuzz")
		var fe *FormatError
		if err != nil {
			if !errors.As(err, &fe) {
				t.Fatalf("error without a place: %v", err)
			}
			return
		}
		for _, c := range [][]float64{a.NorthM, a.EastM, a.DownM, a.RollRad, a.PitchRad, a.HeadingRad} {
			if len(c) != 0 && len(c) != len(a.TimeS) {
				t.Fatalf("a column of %d values beside %d times", len(c), len(a.TimeS))
			}
		}
	})
}

// go test -run '^$' -bench DecodeSBET ./trajectory
func BenchmarkDecodeSBET(b *testing.B) {
	f, _ := survey(1, 10, 10, 1)
	raw := encode(b, sbetOf(f, 0))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Decode(raw, "b", ReadOptions{}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(raw)/SBETRecordBytes)*float64(b.N)/b.Elapsed().Seconds(), "records/s")
}

func BenchmarkDecodeText(b *testing.B) {
	f, _ := survey(1, 10, 10, 1)
	raw := lines(f, "time,e,n,h,roll,pitch,heading", func(i int) string {
		return fmt.Sprintf("%.3f,%.4f,%.4f,%.4f,%.5f,%.5f,%.5f", f.T[i], f.E[i], f.N[i], f.H[i], f.Roll[i]*toDeg, f.Pitch[i]*toDeg, f.Head[i]*toDeg)
	})
	n := bytes.Count(raw, []byte("\n"))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Decode(raw, "b", ReadOptions{}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "lines/s")
}

package adjust

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sidelap/las"
	"sidelap/overlap"
	"sidelap/trajectory"
	"sidelap/trajectory/simulate"
)

// everyError is a correction with all that a correction can hold.
func everyError(s *overlap.Survey, path *trajectory.Path) *Correction {
	c := &Correction{Version: CorrectionVersion, UsesPath: path != nil, LeverM: Vec{0.12, -0.03, 0.18},
		BoresightRollRad: 7e-4, BoresightPitchRad: -9e-4, BoresightHeadingRad: 2e-3, ScanAngleScale: 1.5e-3, RangeOffsetM: 0.06,
		LeverErrorM: Vec{0.05, -0.02, 0.01}, TimeOffsetS: 0.011, Datum: Datum{UpM: 0.17, TiltE: 1e-4, TiltN: -2e-4, EM: 355420, NM: 5561260}, Strips: NewStripCorrections(s)}
	for i := range c.Strips {
		t := &c.Strips[i]
		if path != nil {
			t.Sight = SightNone
		}
		if !t.Line || t.StartS == nil {
			continue
		}
		a, b := *t.StartS, *t.EndS
		t.UpM = newCurve(evenKnots(a, b, 4), []float64{0.02, -0.03, 0.05, 0.01, -0.02})
		t.EastM = newCurve([]float64{a}, []float64{0.08})
		t.NorthM = newCurve([]float64{a, b}, []float64{-0.04, 0.06})
		t.RollRad = newCurve(evenKnots(a, b, 3), []float64{1e-3, -5e-4, 2e-4, 8e-4})
		t.HeadingErr = newCurve([]float64{a}, []float64{1.1e-3})
	}
	return c
}

// TestUndoToTheLastBit corrects files of all kinds and undoes it: every stored byte of every point must come back.
// The truth is the input itself.
func TestUndoToTheLastBit(t *testing.T) {
	for _, c := range []struct {
		name   string
		cloud  simulate.CloudOptions
		noPath bool
		format string
	}{
		{name: "LAS, path", cloud: simulate.CloudOptions{OneFile: true}},
		{name: "LAZ, path", cloud: simulate.CloudOptions{OneFile: true, Compressed: true, Format: 7}},
		{name: "LAS to LAZ, format 1", cloud: simulate.CloudOptions{OneFile: true, Format: 1}, format: "laz"},
		{name: "US survey feet", cloud: simulate.CloudOptions{OneFile: true, Units: simulate.Units{HorizontalM: simulate.USSurveyFootM, VerticalM: simulate.USSurveyFootM}}},
		{name: "without path", cloud: simulate.CloudOptions{OneFile: true, Format: 3}, noPath: true},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := simulate.SmallScenario()
			s.Plan.StripLengthM, s.Plan.Strips = 40, 2
			f := flyCloud(t, s, 1)
			dir := t.TempDir()
			names, err := f.flight.WriteCloud(dir, c.cloud)
			if err != nil {
				t.Fatal(err)
			}
			path := f.path
			if c.noPath {
				path = nil
			}
			out, back := filepath.Join(dir, "moved.las"), filepath.Join(dir, "back.las")
			a := applyTo(t, names[0], out, everyError(f.survey, path), path, ApplyOptions{Format: c.format, Workers: 2})
			if a.Counts.Moved*100 < a.Counts.Points*99 {
				t.Errorf("%d of %d points moved; every one of them should", a.Counts.Moved, a.Counts.Points)
			}
			if share := float64(a.Exceptions) / float64(a.Counts.Points); a.Exceptions == 0 || share > 0.02 {
				t.Errorf("%d exceptions among %d points; about a thousandth is expected", a.Exceptions, a.Counts.Points)
			}
			sameButXYZ(t, names[0], out)
			if _, err := UndoFile(context.Background(), out, back, ApplyOptions{Workers: 1, Format: "las"}); err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(records(t, names[0]), records(t, back)) {
				t.Error("the points are not those of the input, bit for bit")
			}
			if r, err := las.Open(back); err != nil || lastRecord(r) != nil {
				t.Errorf("the record of the correction is still there, or %v", err)
			}
		})
	}
}

func applyTo(t testing.TB, in, out string, c *Correction, path *trajectory.Path, o ApplyOptions) *Applied {
	t.Helper()
	f, err := las.Open(in)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	a, err := ApplyFile(context.Background(), f, 0, out, c, path, o)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// records returns all stored points of a file.
func records(t testing.TB, path string) []byte {
	t.Helper()
	f, err := las.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var b []byte
	for c, err := range f.Chunks(context.Background(), las.ColRecord, 1) {
		if err != nil {
			t.Fatal(err)
		}
		b = append(b, c.Record...)
	}
	return b
}

// sameButXYZ checks that nothing but coordinates changed, that the bounds are those of the points, and that scale and offset stayed.
func sameButXYZ(t *testing.T, in, out string) {
	t.Helper()
	a, b := records(t, in), records(t, out)
	f, err := las.Open(out)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	g, err := las.Open(in)
	if err != nil {
		t.Fatal(err)
	}
	defer g.Close()
	n := f.Header().RecordLength
	if len(a) != len(b) {
		t.Fatalf("%d bytes of points became %d", len(a), len(b))
	}
	for i := 0; i < len(a); i += n {
		if !bytes.Equal(a[i+12:i+n], b[i+12:i+n]) {
			t.Fatalf("point %d: bytes behind the coordinates changed", i/n)
		}
	}
	if f.Header().Scale != g.Header().Scale || f.Header().Offset != g.Header().Offset {
		t.Error("scale or offset changed")
	}
	lo, hi := [3]float64{math.Inf(1), math.Inf(1), math.Inf(1)}, [3]float64{math.Inf(-1), math.Inf(-1), math.Inf(-1)}
	for c, err := range f.Chunks(context.Background(), 0, 1) {
		if err != nil {
			t.Fatal(err)
		}
		for i := range c.N {
			for k, v := range [3]int32{c.X[i], c.Y[i], c.Z[i]} {
				x := float64(v)*c.Frame.Scale[k] + c.Frame.Offset[k]
				lo[k], hi[k] = math.Min(lo[k], x), math.Max(hi[k], x)
			}
		}
	}
	if f.Header().Min != lo || f.Header().Max != hi {
		t.Errorf("bounds %v %v, the points have %v %v", f.Header().Min, f.Header().Max, lo, hi)
	}
	r, err := RecordOf(f)
	if err != nil {
		t.Fatal(err)
	}
	if r.Source != filepath.Base(in) || r.Correction == nil || r.Undo != filepath.Base(out)+UndoSuffix {
		t.Errorf("record %+v", r)
	}
}

// TestUndoRefuses asks for undoing what cannot be undone.
func TestUndoRefuses(t *testing.T) {
	s := simulate.SmallScenario()
	s.Plan.StripLengthM, s.Plan.Strips, s.Plan.CrossStrips = 25, 1, 0
	f := flyCloud(t, s, 1)
	dir := t.TempDir()
	names, err := f.flight.WriteCloud(dir, simulate.CloudOptions{OneFile: true})
	if err != nil {
		t.Fatal(err)
	}
	ctx := context.Background()
	back := filepath.Join(dir, "back.las")
	if _, err := UndoFile(ctx, names[0], back, ApplyOptions{}); !errors.Is(err, ErrNotCorrected) {
		t.Errorf("undoing an uncorrected file: %v", err)
	}
	out := filepath.Join(dir, "moved.las")
	applyTo(t, names[0], out, everyError(f.survey, f.path), f.path, ApplyOptions{})
	undo, err := os.ReadFile(out + UndoSuffix)
	if err != nil {
		t.Fatal(err)
	}
	for name, change := range map[string]func() error{
		"missing":   func() error { return os.Remove(out + UndoSuffix) },
		"cut off":   func() error { return os.WriteFile(out+UndoSuffix, undo[:len(undo)/2], 0o644) },
		"not ours":  func() error { return os.WriteFile(out+UndoSuffix, []byte("hello"), 0o644) },
		"no header": func() error { return os.WriteFile(out+UndoSuffix, nil, 0o644) },
	} {
		if err := change(); err != nil {
			t.Fatal(err)
		}
		if _, err := UndoFile(ctx, out, back, ApplyOptions{}); err == nil || !strings.Contains(err.Error(), "undo file") && !strings.Contains(err.Error(), UndoSuffix) {
			t.Errorf("undo file %s: %v", name, err)
		}
	}
	// a byte of the path inside the compression, and bytes of the compressed file all through it
	plain := unzip(t, undo)
	head := 12 + int(binary.LittleEndian.Uint32(plain[8:]))
	copy(plain[head+8*5:], binary.LittleEndian.AppendUint64(nil, math.Float64bits(math.NaN()))) // the time of the sixth sample
	damaged := [][]byte{zipped(t, plain)}
	for at := 20; at < len(undo); at += len(undo) / 12 {
		b := bytes.Clone(undo)
		b[at] ^= 0x10
		damaged = append(damaged, b)
	}
	for i, b := range damaged {
		if err := os.WriteFile(out+UndoSuffix, b, 0o644); err != nil {
			t.Fatal(err)
		}
		_, err := UndoFile(ctx, out, back, ApplyOptions{})
		if err == nil || !strings.Contains(err.Error(), "damaged") || !strings.Contains(err.Error(), "put the file back") || strings.Contains(err.Error(), "sample") {
			t.Errorf("damaged undo file %d: %v", i, err)
		}
	}
	// what is read is never written
	if err := os.WriteFile(out+UndoSuffix, undo, 0o644); err != nil {
		t.Fatal(err)
	}
	before := records(t, out)
	for _, to := range []string{out, filepath.Join(dir, ".", "sub", "..", "moved.las"), out + UndoSuffix} {
		if err := os.MkdirAll(filepath.Join(dir, "sub"), 0o777); err != nil {
			t.Fatal(err)
		}
		if _, err := UndoFile(ctx, out, to, ApplyOptions{Overwrite: true}); err == nil || !strings.Contains(err.Error(), "name another file") {
			t.Errorf("undone into %s: %v", to, err)
		}
	}
	if !bytes.Equal(before, records(t, out)) {
		t.Error("the corrected file was changed")
	}
	// a cloud that was changed after the correction
	if err := os.WriteFile(out+UndoSuffix, undo, 0o644); err != nil {
		t.Fatal(err)
	}
	cloud, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	h, _ := las.Open(out)
	n, at := h.Header().RecordLength, int(h.Header().PointOffset)
	h.Close()
	cloud[at+500*n] ^= 1
	if err := os.WriteFile(out, cloud, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := UndoFile(ctx, out, back, ApplyOptions{}); err == nil || !strings.Contains(err.Error(), "not those that the correction wrote") {
		t.Errorf("changed cloud: %v", err)
	}
	// its times changed, which the check sum of the coordinates does not see: points of a rolled strip go elsewhere
	cloud[at+500*n] ^= 1
	for i := range 200 { // formats 6 to 10: GPS time at byte 22
		p := cloud[at+i*n+22:]
		binary.LittleEndian.PutUint64(p, math.Float64bits(math.Float64frombits(binary.LittleEndian.Uint64(p))+1))
	}
	if err := os.WriteFile(out, cloud, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := UndoFile(ctx, out, back, ApplyOptions{}); err == nil || !strings.Contains(err.Error(), "the file was changed since it was corrected") {
		t.Errorf("changed times: %v", err)
	}
	if _, err := os.Stat(back); !errors.Is(err, os.ErrNotExist) {
		t.Error("an undone cloud was written all the same")
	}
}

func unzip(t *testing.T, b []byte) []byte {
	t.Helper()
	z, err := gzip.NewReader(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	out, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func zipped(t *testing.T, b []byte) []byte {
	t.Helper()
	var out bytes.Buffer
	z := gzip.NewWriter(&out)
	if _, err := z.Write(b); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

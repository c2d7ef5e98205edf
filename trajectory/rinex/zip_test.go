package rinex

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"slices"
	"strings"
	"testing"
)

// zipped packs files in the order of their names.
func zipped(t testing.TB, files map[string][]byte) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, name := range slices.Sorted(maps.Keys(files)) {
		f, err := w.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := f.Write(files[name]); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func gzipped(t testing.TB, b []byte) []byte {
	t.Helper()
	var o bytes.Buffer
	w := gzip.NewWriter(&o)
	if _, err := w.Write(b); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return o.Bytes()
}

// An archive of several files in a row is one log; what is no observation file is passed over, what is damaged named.
func TestZipOfSeveralFiles(t *testing.T) {
	t0 := gps("2024-05-15 08:00:00")
	nav := fmt.Sprintf("%-60s%s\n", fmt.Sprintf("%9.2f           N: GNSS NAV DATA    M: MIXED", 3.04), "RINEX VERSION / TYPE")
	second := gzipped(t, invented(t, t0+60, t0+119, 1, nil))
	b := zipped(t, map[string][]byte{
		"day/":           nil,
		"day/1.rnx":      invented(t, t0, t0+59, 1, nil),
		"day/2.rnx.gz":   second,
		"day/3.rnx.gz":   second[:len(second)/2], // cut short, and the same again
		"day/4.rnx":      []byte(fmt.Sprintf("%-60s%s\n", fmt.Sprintf("%9.2f           OBSERVATION DATA    M: MIXED", 3.04), "RINEX VERSION / TYPE")),
		"day/nav.rnx":    []byte(nav),
		"day/readme.txt": []byte("hourly files"),
	})
	files, failed := DecodeAll("base.zip", bytes.NewReader(b), int64(len(b)))
	if len(files) != 3 || len(failed) != 1 || !strings.Contains(failed[0].Error(), "base.zip: day/4.rnx") {
		t.Fatalf("%d files, failed %v", len(files), failed)
	}
	l, err := Join(files...)
	if err != nil {
		t.Fatal(err)
	}
	if s, e := l.Span(); s != t0 || e != t0+119 || len(l.Epochs) != 120 || len(l.Gaps) != 0 {
		t.Errorf("%g to %g, %d epochs, gaps %v", s-t0, e-t0, len(l.Epochs), l.Gaps)
	}
	d := l.Damage()
	for _, x := range d {
		if !strings.Contains(x, "base.zip: day/3.rnx.gz") {
			t.Errorf("damage %v", x)
		}
	}
	if len(d) == 0 {
		t.Error("the member cut short is not named")
	}
	if _, err := Decode("base.zip", bytes.NewReader(b), int64(len(b))); err == nil {
		t.Error("Decode takes one of several files")
	}
	z := zipped(t, map[string][]byte{"nav.rnx": []byte(nav)})
	if _, err := Decode("nav.zip", bytes.NewReader(z), int64(len(z))); !errors.Is(err, ErrNotRINEX) {
		t.Errorf("navigation data alone: %v", err)
	}
}

// An archive cut short has lost the list at its end: its members are read as far as they go.
func TestZipCutShort(t *testing.T) {
	t0 := gps("2024-05-15 08:00:00")
	b := zipped(t, map[string][]byte{"1.rnx": invented(t, t0, t0+299, 1, nil), "2.rnx": invented(t, t0+300, t0+599, 1, nil)})
	for _, share := range []float64{0.3, 0.75, 0.99} {
		cut := b[:int(share*float64(len(b)))]
		files, failed := DecodeAll("base.zip", bytes.NewReader(cut), int64(len(cut)))
		if len(files) == 0 || len(failed) != 0 {
			t.Fatalf("%.0f %%: %d files, %v", 100*share, len(files), failed)
		}
		l, err := Join(files...)
		if err != nil {
			t.Fatal(err)
		}
		if n := float64(len(l.Epochs)) / 600; n < 0.6*share || n > 1 || len(l.Damage()) == 0 {
			t.Errorf("%.0f %% of the archive: %.0f %% of the epochs, damage %v", 100*share, 100*n, l.Damage())
		}
	}
	if _, err := Decode("stub.zip", strings.NewReader(zipMagic+"abc"), 7); err == nil {
		t.Error("a stub is taken")
	}
}

// Wrappings cut short or with broken bytes are read as far as they are sound, and named.
func TestDamagedWrappings(t *testing.T) {
	t0 := gps("2024-05-15 08:00:00")
	g := gzipped(t, invented(t, t0, t0+599, 1, nil))
	sum := bytes.Clone(g)
	sum[len(sum)-6] ^= 0xff // the check sum at the end
	for name, b := range map[string][]byte{"cut.gz": g[:len(g)/2], "sum.gz": sum} {
		f, err := Decode(name, bytes.NewReader(b), int64(len(b)))
		if err != nil || len(f.Epochs) < 200 || f.DamageN == 0 {
			t.Errorf("%s: %v", name, err)
		}
	}
	z := mustReadReal(t, "georinex-ac660270.18o.Z")
	whole, err := Decode("z", bytes.NewReader(z), int64(len(z)))
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range []int{len(z) - 1, len(z) * 3 / 4} {
		f, err := Decode("cut.Z", bytes.NewReader(z[:n]), int64(n))
		if err != nil || len(f.Epochs) > len(whole.Epochs) {
			t.Errorf("%d of %d bytes: %v", n, len(z), err)
		}
	}
}

// Archives that unpack to far more than observation files do are bounded: 200 times their size and a mebibyte.
func TestZipBombIsBounded(t *testing.T) {
	var text bytes.Buffer
	fmt.Fprintf(&text, "%-60s%s\n", fmt.Sprintf("%9.2f           OBSERVATION DATA    M: MIXED", 3.04), "RINEX VERSION / TYPE")
	text.Write(bytes.Repeat([]byte(" "), 30<<20))
	b := zipped(t, map[string][]byte{"bomb.rnx": text.Bytes()})
	for name, b := range map[string][]byte{"whole": b, "without its list": b[:len(b)-60]} {
		if _, err := Decode("bomb.zip", bytes.NewReader(b), int64(len(b))); !errors.Is(err, ErrExpansion) {
			t.Errorf("%s: %v", name, err)
		}
	}
	in := &limited{zeros{}, 1000}
	if n, err := io.Copy(io.Discard, in); n != 1000 || !errors.Is(err, ErrExpansion) {
		t.Errorf("%d bytes, %v", n, err)
	}
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }

func mustReadReal(t *testing.T, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(realData(t, name))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

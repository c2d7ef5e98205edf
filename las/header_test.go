package las

import (
	"encoding/binary"
	"errors"
	"math"
	"strings"
	"testing"
)

// plainFile returns a LAS 1.2 file of format 0 with n points whose X counts from 0.
func plainFile(n int) []byte {
	b := plainHeader(n)
	for i := range n {
		r := make([]byte, 20)
		binary.LittleEndian.PutUint32(r, uint32(i))
		b = append(b, r...)
	}
	return b
}

// TestReject: what cannot be read is refused with the byte and the field.
//
// Rules: LAS 1.4 R16 for the fields; what to accept of broken files is common practice.
func TestReject(t *testing.T) {
	le := binary.LittleEndian
	for _, c := range []struct {
		name   string
		damage func(b []byte) []byte
		offset int64
		field  string
		kind   error
	}{
		{"no signature", func(b []byte) []byte { b[0] = 'X'; return b }, 0, "file signature", ErrNotLAS},
		{"three bytes", func(b []byte) []byte { return b[:3] }, 0, "file signature", ErrNotLAS},
		{"cut header", func(b []byte) []byte { return b[:200] }, 200, "public header", ErrTruncated},
		{"major version 2", func(b []byte) []byte { b[24] = 2; return b }, 24, "version major", ErrUnsupported},
		{"header of 100 bytes", func(b []byte) []byte { le.PutUint16(b[94:], 100); return b }, 94, "header size", ErrInvalidValue},
		{"format 11", func(b []byte) []byte { b[104] = 11; return b }, 104, "point data record format", ErrUnsupported},
		{"experimental compressor", func(b []byte) []byte { b[104] = 0xC0; return b }, 104, "point data record format", ErrUnsupported},
		{"LAZ without its record", func(b []byte) []byte { b[104] = 0x80; return b }, 104, "point data record format", ErrCorrupt},
		{"record of 19 bytes", func(b []byte) []byte { b[105] = 19; return b }, 105, "point data record length", ErrInvalidValue},
		{"scale 0", func(b []byte) []byte { putFloat(b, 139, 0); return b }, 139, "Y scale factor", ErrInvalidValue},
		{"scale infinite", func(b []byte) []byte { putFloat(b, 131, math.Inf(1)); return b }, 131, "X scale factor", ErrInvalidValue},
		{"offset not a number", func(b []byte) []byte { putFloat(b, 171, math.NaN()); return b }, 171, "Z offset", ErrInvalidValue},
		{"points inside the header", func(b []byte) []byte { le.PutUint32(b[96:], 200); return b }, 96, "offset to point data", ErrInvalidValue},
		{"points behind the end", func(b []byte) []byte { le.PutUint32(b[96:], 1<<30); return b }, 96, "offset to point data", ErrTruncated},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := writeFile(t, "a.las", c.damage(plainFile(3)))
			f, err := Open(path)
			if err == nil {
				f.Close()
				t.Fatal("accepted")
			}
			var fe *FormatError
			if !errors.As(err, &fe) {
				t.Fatalf("not a *FormatError: %v", err)
			}
			if fe.Path != path || fe.Offset != c.offset || fe.Field != c.field || !errors.Is(err, c.kind) || fe.Remedy == "" {
				t.Errorf("%+v, want byte %d, %s, %v", fe, c.offset, c.field, c.kind)
			}
		})
	}
}

// TestAccept: what is odd but readable is read, with a warning.
func TestAccept(t *testing.T) {
	le := binary.LittleEndian
	for _, c := range []struct {
		name   string
		damage func(b []byte) []byte
		points int64
		warns  string // empty: no warning
	}{
		{"nothing odd", func(b []byte) []byte { return b }, 3, ""},
		{"1.1 with the reserved field set", func(b []byte) []byte { b[25] = 1; b[6] = 0xFF; return b }, 3, ""},
		{"version 1.3 with the short header", func(b []byte) []byte { b[25] = 3; return b }, 3, "should have 235"},
		{"version 1.4 with the short header", func(b []byte) []byte { b[25] = 4; return b }, 3, "should have 375"},
		{"version 1.9", func(b []byte) []byte { b[25] = 9; return b }, 3, "newer"},
		{"bounds not a number", func(b []byte) []byte { putFloat(b, 179, math.NaN()); return b }, 3, "X bounds"},
		{"bounds swapped", func(b []byte) []byte { putFloat(b, 211, 1); putFloat(b, 219, 2); return b }, 3, "Z bounds"},
		{"trailing bytes", func(b []byte) []byte { return append(b, make([]byte, 50)...) }, 3, "are not points"},
		{"count 0", func(b []byte) []byte { le.PutUint32(b[107:], 0); return b }, 3, "interrupted"},
		{"last point cut", func(b []byte) []byte { return b[:len(b)-6] }, 2, "2 of 3 points are whole"},
		{"VLR count too high", func(b []byte) []byte { le.PutUint32(b[100:], 1<<30); return b }, 3, "only 0 fit"},
		{"two bytes before the points", func(b []byte) []byte {
			le.PutUint32(b[96:], 229)
			return append(b[:227:227], append([]byte{0xDD, 0xCC}, b[227:]...)...)
		}, 3, ""},
		{"user bytes in the header", func(b []byte) []byte {
			le.PutUint16(b[94:], 300)
			le.PutUint32(b[96:], 300)
			return append(b[:227:227], append(make([]byte, 73), b[227:]...)...)
		}, 3, "header of 300 bytes"},
		{"VLR beyond the points", func(b []byte) []byte {
			le.PutUint32(b[96:], 227+60)
			le.PutUint32(b[100:], 1)
			v := make([]byte, 60)
			v[20] = 200
			return append(b[:227:227], append(v, b[227:]...)...)
		}, 3, "runs past the start of the points"},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := mustOpen(t, writeFile(t, "a.las", c.damage(plainFile(3))), OpenOptions{})
			all := gather(t, f, 0)
			if int64(all.N) != c.points || f.Header().Points != c.points {
				t.Errorf("%d points, header %d, want %d", all.N, f.Header().Points, c.points)
			}
			for i, x := range all.X {
				if x != int32(i) {
					t.Errorf("point %d has X %d", i, x)
				}
			}
			text := strings.Join(f.Warnings(), "\n")
			if !strings.Contains(text, c.warns) || c.warns == "" && text != "" {
				t.Errorf("warnings %q, want %q", text, c.warns)
			}
		})
	}
}

// TestCounts: the rule for the two point counts of LAS 1.4.
//
// Source: LAS 1.4 R16, legacy compatibility; issue 12 of its public repository.
func TestCounts(t *testing.T) {
	for _, c := range []struct {
		name           string
		format         uint8
		legacy, n, out uint64
		warns          bool
	}{
		{"6 to 10, legacy zero", 6, 0, 9, 9, false},
		{"6 to 10, both", 6, 9, 9, 9, false},
		{"6 to 10, different", 6, 5, 9, 9, true},
		{"6 to 10, only legacy", 6, 5, 0, 5, false},
		{"0 to 5, both", 1, 9, 9, 9, false},
		{"0 to 5, different", 1, 5, 9, 5, true},
		{"0 to 5, too many for legacy", 1, 0, 1 << 33, 1 << 33, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := &Writer{o: WriterOptions{Format: c.format, Version: Version{1, 4}}, record: FormatSize(c.format), start: 375}
			if err := w.o.complete(); err != nil {
				t.Fatal(err)
			}
			b := w.header(0)
			binary.LittleEndian.PutUint32(b[107:], uint32(c.legacy))
			binary.LittleEndian.PutUint64(b[247:], c.n)
			h, warnings, err := parseHeader(b)
			if err != nil || h.StatedPoints != c.out || (len(warnings) > 0) != c.warns {
				t.Errorf("%d points, warnings %q, %v; want %d", h.StatedPoints, warnings, err, c.out)
			}
		})
	}
}

// TestHugeClaims: a file of a few hundred bytes that claims the most of everything costs no memory.
func TestHugeClaims(t *testing.T) {
	w := &Writer{o: WriterOptions{Format: 6}, record: 30, start: 375}
	if err := w.o.complete(); err != nil {
		t.Fatal(err)
	}
	b := append(w.header(0), make([]byte, 90)...)
	le := binary.LittleEndian
	le.PutUint32(b[100:], math.MaxUint32)
	le.PutUint64(b[235:], 400)
	le.PutUint32(b[243:], math.MaxUint32)
	le.PutUint64(b[247:], math.MaxUint64)
	path := writeFile(t, "a.las", b)
	if n := testing.AllocsPerRun(1, func() {
		f := mustOpen(t, path, OpenOptions{})
		if f.Header().Points != 3 {
			t.Errorf("%d points, want 3", f.Header().Points)
		}
		if _, err := records(f, 0); !errors.Is(err, ErrTruncated) {
			t.Errorf("reading ends with %v", err)
		}
	}); n > 1000 {
		t.Errorf("%v allocations", n)
	}
}

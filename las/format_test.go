package las

import (
	"math"
	"testing"
)

// one returns the chunk of one point of the format whose record has the given bytes set.
func one(format uint8, set map[int]byte) *Chunk {
	r := make([]byte, FormatSize(format))
	for at, v := range set {
		r[at] = v
	}
	var c Chunk
	c.extract(r, len(r), format, ColAll)
	return &c
}

// TestCheckValues asserts the check values LAS-1 to LAS-6 of the accuracy reference, which are
// computed from the definitions of LAS 1.4 R16 (point data record formats 1 and 6, GPS time type).
func TestCheckValues(t *testing.T) {
	t.Run("LAS-1", func(t *testing.T) { // scan angle of formats 6 to 10, degrees
		for raw, want := range map[int16]float64{2500: 15, -5000: -30, 30000: 180} {
			c := one(6, map[int]byte{18: byte(raw), 19: byte(uint16(raw) >> 8)})
			if got := float64(c.ScanAngle[0]) * ScanAngleStepDeg; math.Abs(got-want) > 1e-9 {
				t.Errorf("raw %d = %v degrees, want %v", raw, got, want)
			}
		}
	})
	t.Run("LAS-2", func(t *testing.T) {
		if got := AdjustedTime(2300, 345600); got != 391385600 {
			t.Errorf("AdjustedTime(2300, 345600) = %v, want 391385600", got)
		}
		if w, s := WeekTime(391385600); w != 2300 || s != 345600 {
			t.Errorf("WeekTime(391385600) = %d, %v, want 2300, 345600", w, s)
		}
	})
	t.Run("LAS-3", func(t *testing.T) { // adjusted times keep pulses of some MHz distinct
		if got := math.Nextafter(4e8, 5e8) - 4e8; math.Abs(got-5.96e-8) > 0.005e-8 {
			t.Errorf("spacing of doubles at 4e8 s = %v, want 5.96e-8", got)
		}
	})
	t.Run("LAS-4", func(t *testing.T) {
		if got := one(6, map[int]byte{15: 0b1000}).Flags[0]; got != FlagOverlap {
			t.Errorf("flags = %b, want overlap", got)
		}
		if got := one(6, map[int]byte{15: 0b0100}).Flags[0]; got != FlagWithheld {
			t.Errorf("flags = %b, want withheld", got)
		}
	})
	t.Run("LAS-5", func(t *testing.T) {
		if c := one(1, map[int]byte{15: 0x82}); c.Class[0] != 2 || c.Flags[0] != FlagWithheld {
			t.Errorf("class %d, flags %b, want class 2, withheld", c.Class[0], c.Flags[0])
		}
	})
	t.Run("LAS-6", func(t *testing.T) {
		if c := one(1, map[int]byte{15: 0x0C}); c.Class[0] != 12 || c.Flags[0] != FlagOverlap {
			t.Errorf("class %d, flags %b, want class 12, overlap", c.Class[0], c.Flags[0])
		}
	})
}

// TestBitFields checks the packed bytes of both families against the tables of LAS 1.4 R16.
func TestBitFields(t *testing.T) {
	c := one(3, map[int]byte{14: 0b1_1_101_011, 15: 0b011_00101, 16: 0xE2, 17: 9, 18: 0x34, 19: 0x12, 28: 1, 29: 2, 32: 5, 33: 6})
	if c.ReturnNumber[0] != 3 || c.NumReturns[0] != 5 || c.Class[0] != 5 || c.UserData[0] != 9 || c.Source[0] != 0x1234 ||
		c.Red[0] != 0x201 || c.Blue[0] != 0x605 || c.Channel[0] != 0 {
		t.Errorf("format 3: %+v", c)
	}
	if want := FlagSynthetic | FlagKeyPoint | FlagScanDirection | FlagEdge; c.Flags[0] != want {
		t.Errorf("format 3: flags %b, want %b", c.Flags[0], want)
	}
	if c.ScanAngle[0] != -5000 { // -30 degrees
		t.Errorf("format 3: scan angle %d steps, want -5000", c.ScanAngle[0])
	}
	c = one(8, map[int]byte{14: 0xCB, 15: 0b0110_0001, 16: 200, 17: 9, 20: 0x34, 21: 0x12, 36: 7, 37: 8})
	if c.ReturnNumber[0] != 11 || c.NumReturns[0] != 12 || c.Channel[0] != 2 || c.Class[0] != 200 || c.Source[0] != 0x1234 || c.NIR[0] != 0x807 {
		t.Errorf("format 8: %+v", c)
	}
	if want := FlagSynthetic | FlagScanDirection; c.Flags[0] != want {
		t.Errorf("format 8: flags %b, want %b", c.Flags[0], want)
	}
}

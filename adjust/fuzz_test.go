package adjust

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"encoding/json"
	"testing"

	"sidelap/trajectory"
)

// FuzzCorrection: what is read as a correction is written and read again as the same.
func FuzzCorrection(f *testing.F) {
	b, err := json.Marshal(&Correction{Version: CorrectionVersion})
	if err != nil {
		f.Fatal(err)
	}
	f.Add(b)
	f.Add([]byte(`{"version":1,"strips":[{"strip":"101","curves":[{"kind":"strip_drift"}]},null]}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		c, err := ParseCorrection(b)
		if err != nil {
			return
		}
		one, err := json.Marshal(c)
		if err != nil {
			t.Fatal(err)
		}
		again, err := ParseCorrection(one)
		if err != nil {
			t.Fatalf("%v in what was written: %s", err, one)
		}
		if two, err := json.Marshal(again); err != nil || !bytes.Equal(one, two) {
			t.Errorf("%s\n%s\n%v", one, two, err)
		}
		if m, err := NewMover(c, &trajectory.Path{}, 0); err == nil && m == nil {
			t.Error("no mover and no error")
		}
	})
}

// FuzzUndo: an undo file is refused, or what it holds is within what it says. The fuzzer works on the bytes inside the compression.
func FuzzUndo(f *testing.F) {
	head := []byte(`{"version":1,"correction":{"version":1},"horizontal_m":1,"vertical_m":1,"points":9,"exceptions":2}`)
	b := binary.LittleEndian.AppendUint32([]byte(undoMagic), uint32(len(head)))
	f.Add(append(append(b, head...), 1, 2, 4, 6, 3, 1, 1, 1))
	u := undoFile{Version: CorrectionVersion, Correction: &Correction{Version: CorrectionVersion}, HorizontalM: 1, VerticalM: 1, Points: 5, exceptions: []exception{{1, [3]int32{1, -2, 3}}, {4, [3]int32{}}}}
	var w bytes.Buffer
	if err := u.encode(&w); err != nil {
		f.Fatal(err)
	}
	f.Add(w.Bytes())
	f.Fuzz(func(t *testing.T, b []byte) {
		var packed bytes.Buffer
		z, _ := gzip.NewWriterLevel(&packed, gzip.NoCompression)
		z.Write(b)
		z.Close()
		u, err := decodeUndo(&packed)
		if err != nil {
			return
		}
		for _, x := range u.exceptions {
			if x.index < 0 || x.index >= u.Points {
				t.Errorf("point %d of %d", x.index, u.Points)
			}
		}
	})
}

package trajectory

import (
	"encoding/binary"
	"io"
	"math"
	"sidelap/las/disk"
)

// SMRMSGRecordBytes is the size of a record of 10 doubles.
const SMRMSGRecordBytes = 10 * 8

// arcmin is one minute of arc in radians.
const arcmin = math.Pi / 180 / 60

// SMRMSGRecord is one sample of the accuracy companion of an SBET file.
//
// Source: order of the fields as in general-purpose open readers; attitude in
// minutes of arc as one public program for uncertainty propagation converts them.
type SMRMSGRecord struct {
	TimeS                                  float64
	NorthM, EastM, DownM                   float64
	NorthMPS, EastMPS, DownMPS             float64
	RollArcmin, PitchArcmin, HeadingArcmin float64
}

func (r *SMRMSGRecord) fields() [10]*float64 {
	return [10]*float64{&r.TimeS, &r.NorthM, &r.EastM, &r.DownM, &r.NorthMPS, &r.EastMPS, &r.DownMPS, &r.RollArcmin, &r.PitchArcmin, &r.HeadingArcmin}
}

// EncodeSMRMSG writes records as smrmsg, little-endian, to w.
func EncodeSMRMSG(w io.Writer, records []SMRMSGRecord) error {
	buf := make([]byte, 0, 512*SMRMSGRecordBytes)
	for i := range records {
		for _, f := range records[i].fields() {
			buf = binary.LittleEndian.AppendUint64(buf, math.Float64bits(*f))
		}
		if len(buf) == cap(buf) || i == len(records)-1 {
			if _, err := w.Write(buf); err != nil {
				return err
			}
			buf = buf[:0]
		}
	}
	return nil
}

// WriteSMRMSG writes records to a new smrmsg file under a temporary name and renames it.
func WriteSMRMSG(path string, records []SMRMSGRecord) error {
	return disk.Write(path, func(w io.Writer) error { return EncodeSMRMSG(w, records) })
}

// ReadAccuracy reads an smrmsg file, or its columns as text with a heading
// line, plain or gzip.
func ReadAccuracy(path string) (*Accuracy, error) {
	b, err := readAll(path)
	if err != nil {
		return nil, err
	}
	return DecodeAccuracy(b, path)
}

// DecodeAccuracy is ReadAccuracy on bytes; name appears in errors.
func DecodeAccuracy(b []byte, name string) (*Accuracy, error) {
	read := decodeSMRMSG
	if len(b) > 0 && isText(b) {
		read = decodeAccuracyText
	}
	a, err := read(b)
	if err != nil {
		return nil, named(name, err)
	}
	a.Path = name
	return a, nil
}

// looksSMRMSG reports whether the records of b are possible accuracies in order o.
func looksSMRMSG(b []byte, o binary.ByteOrder) (bad int, field string) {
	n := len(b) / SMRMSGRecordBytes
	for i := 0; i < n; i++ {
		if t := double(b, o, i, 0, 10); !finite(t) || math.Abs(t) > 1e11 || t != 0 && math.Abs(t) < 1e-9 {
			return i, "time"
		}
		for f := 1; f < 10; f++ {
			if v := double(b, o, i, f, 10); !(v >= 0 && v < 1e6) || v != 0 && v < 1e-12 {
				return i, [...]string{"", "north", "east", "down", "north velocity", "east velocity", "down velocity", "roll", "pitch", "heading"}[f] + " RMS"
			}
		}
	}
	return -1, ""
}

func decodeSMRMSG(b []byte) (*Accuracy, error) {
	if len(b) == 0 {
		return nil, binaryError(0, "", "export it again", "the file is empty")
	}
	n := len(b) / SMRMSGRecordBytes
	if rest := len(b) % SMRMSGRecordBytes; rest != 0 {
		return nil, binaryError(int64(n*SMRMSGRecordBytes), "smrmsg record", "copy the file again or export it again",
			"%d bytes are not a multiple of %d: the last record has %d bytes", len(b), SMRMSGRecordBytes, rest)
	}
	a := &Accuracy{}
	var o binary.ByteOrder = binary.LittleEndian
	if bad, field := looksSMRMSG(b, o); bad >= 0 {
		if bigBad, _ := looksSMRMSG(b, binary.BigEndian); bigBad >= 0 {
			return nil, binaryError(int64(bad*SMRMSGRecordBytes), field, "give the accuracy file that belongs to the path",
				"no possible value in either byte order: this is not an smrmsg file")
		}
		o = binary.BigEndian
		a.Warnings = append(a.Warnings, "the file is big-endian: little-endian gives impossible values")
	}
	col := func(f int, k float64) []float64 {
		v := make([]float64, n)
		for i := range v {
			v[i] = k * double(b, o, i, f, 10)
		}
		return v
	}
	a.TimeS = col(0, 1)
	a.NorthM, a.EastM, a.DownM = col(1, 1), col(2, 1), col(3, 1)
	a.NorthMPS, a.EastMPS, a.DownMPS = col(4, 1), col(5, 1), col(6, 1)
	a.RollRad, a.PitchRad, a.HeadingRad = col(7, arcmin), col(8, arcmin), col(9, arcmin)
	keep, unwrapped, bad := orderTimes(a.TimeS)
	if bad >= 0 {
		return nil, binaryError(int64(bad*SMRMSGRecordBytes), "time", "export it again",
			"%.6f s of record %d comes before the record ahead of it", double(b, o, bad, 0, 10), bad)
	}
	if unwrapped {
		a.Warnings = append(a.Warnings, "times after the end of the GPS week continue past 604800 s")
	}
	if d := n - len(keep); d > 0 {
		a.take(keep)
	}
	// 0.5 to 10 minutes of arc of heading are plausible; half a degree is not,
	// and points to a file in another unit.
	if m := median(a.HeadingRad); m > 60*arcmin || m > 0 && m < 0.05*arcmin {
		a.Warnings = append(a.Warnings, "heading RMS is outside what a survey system gives: the attitude columns may not be minutes of arc")
	}
	return a, nil
}

func (a *Accuracy) take(keep []int) {
	n := len(a.TimeS)
	for _, c := range []*[]float64{&a.TimeS, &a.NorthM, &a.EastM, &a.DownM, &a.NorthMPS, &a.EastMPS, &a.DownMPS, &a.RollRad, &a.PitchRad, &a.HeadingRad} {
		if len(*c) != n {
			continue
		}
		for k, i := range keep {
			(*c)[k] = (*c)[i]
		}
		*c = (*c)[:len(keep)]
	}
}

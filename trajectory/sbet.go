package trajectory

import (
	"encoding/binary"
	"io"
	"math"
	"sidelap/las/disk"
)

// SBETRecordBytes is the size of a record of 17 doubles.
const SBETRecordBytes = 17 * 8

// SBETRecord is one sample of a smoothed best estimate of trajectory.
//
// Source: the order of the fields is that of general-purpose open readers, who
// say themselves that they hold no specification; the units are from memory of
// the trade and are checked by range on reading (docs/trajectory.md).
type SBETRecord struct {
	TimeS                              float64
	LatRad, LonRad                     float64
	AltM                               float64 // above the ellipsoid
	VelX, VelY, VelZ                   float64 // m/s
	RollRad, PitchRad, HeadingRad      float64 // platform heading
	WanderRad                          float64 // true heading = platform heading - wander angle
	AccX, AccY, AccZ                   float64 // m/s², body
	RateXRadPS, RateYRadPS, RateZRadPS float64 // rad/s, body
}

func (r *SBETRecord) fields() [17]*float64 {
	return [17]*float64{&r.TimeS, &r.LatRad, &r.LonRad, &r.AltM, &r.VelX, &r.VelY, &r.VelZ, &r.RollRad, &r.PitchRad, &r.HeadingRad,
		&r.WanderRad, &r.AccX, &r.AccY, &r.AccZ, &r.RateXRadPS, &r.RateYRadPS, &r.RateZRadPS}
}

// EncodeSBET writes records as SBET, little-endian, to w.
func EncodeSBET(w io.Writer, records []SBETRecord) error {
	buf := make([]byte, 0, 512*SBETRecordBytes)
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

// WriteSBET writes records to a new SBET file under a temporary name and renames it.
func WriteSBET(path string, records []SBETRecord) error {
	return disk.Write(path, func(w io.Writer) error { return EncodeSBET(w, records) })
}

// Indexes of the fields of a record of doubles, SBET.
const (
	sbTime, sbLat, sbLon, sbAlt  = 0, 1, 2, 3
	sbRoll, sbPitch, sbHead, sbW = 7, 8, 9, 10
)

// sbetLook is what the values of a binary file look like in one byte order.
type sbetLook struct {
	order           binary.ByteOrder
	maxLat, maxLon  float64
	maxAtt, maxHead float64
	degPos, degAtt  bool
	badRecord       int // first record with an impossible value, -1 = none
	badField        string
}

func double(b []byte, o binary.ByteOrder, rec, field, width int) float64 {
	return math.Float64frombits(o.Uint64(b[(rec*width+field)*8:]))
}

// lookSBET inspects every record of b in byte order o.
func lookSBET(b []byte, o binary.ByteOrder) sbetLook {
	l := sbetLook{order: o, badRecord: -1}
	n := len(b) / SBETRecordBytes
	for i := 0; i < n; i++ {
		t := double(b, o, i, sbTime, 17)
		lat, lon, alt := double(b, o, i, sbLat, 17), double(b, o, i, sbLon, 17), double(b, o, i, sbAlt, 17)
		l.maxLat, l.maxLon = max(l.maxLat, math.Abs(lat)), max(l.maxLon, math.Abs(lon))
		for _, f := range []int{sbRoll, sbPitch} {
			l.maxAtt = max(l.maxAtt, math.Abs(double(b, o, i, f, 17)))
		}
		l.maxHead = max(l.maxHead, math.Abs(double(b, o, i, sbHead, 17)))
		bad := ""
		tiny := func(v float64) bool { return v != 0 && math.Abs(v) < 1e-15 } // bytes that are no coordinate
		switch {
		case !finite(t) || math.Abs(t) > 1e11 || t != 0 && math.Abs(t) < 1e-9:
			bad = "time"
		case !(math.Abs(lat) <= 90) || tiny(lat):
			bad = "latitude"
		case !(math.Abs(lon) <= 360) || tiny(lon):
			bad = "longitude"
		case !(math.Abs(alt) <= 50_000) || tiny(alt):
			bad = "altitude"
		case !(l.maxAtt <= 181) || !(l.maxHead <= 721):
			bad = "attitude"
		case !finite(double(b, o, i, sbW, 17)):
			bad = "wander angle"
		}
		if bad != "" {
			l.badRecord, l.badField = i, bad
			break
		}
	}
	l.degPos = l.maxLat > math.Pi/2+1e-9 || l.maxLon > 2*math.Pi+1e-9
	l.degAtt = l.maxHead > 2*math.Pi+0.1 || l.maxAtt > math.Pi+1e-6
	return l
}

// plausible reports whether b may be SBET in order o: judged on values only.
func (l sbetLook) plausible(b []byte) bool {
	if l.badRecord >= 0 {
		return false
	}
	// Garbage read as doubles is mostly tiny numbers: a path that stands on the
	// crossing of equator and zero meridian within micrometres is none.
	return l.maxLat > 1e-12 || l.maxLon > 1e-12
}

// decodeSBET reads a whole SBET file.
func decodeSBET(b []byte) (*Track, error) {
	const remedy = "copy the file again or export it again"
	if len(b) == 0 {
		return nil, binaryError(0, "", "export it again", "the file is empty")
	}
	n := len(b) / SBETRecordBytes
	if rest := len(b) % SBETRecordBytes; rest != 0 {
		return nil, binaryError(int64(n*SBETRecordBytes), "SBET record", remedy,
			"%d bytes are not a multiple of %d: the last record has %d bytes", len(b), SBETRecordBytes, rest)
	}
	l := lookSBET(b, binary.LittleEndian)
	if !l.plausible(b) {
		if big := lookSBET(b, binary.BigEndian); big.plausible(b) {
			l = big
		} else {
			r := max(l.badRecord, 0)
			return nil, binaryError(int64(r*SBETRecordBytes), l.badField, "export the path as SBET, or as text with a heading line",
				"no possible value in either byte order: this is not an SBET file")
		}
	}
	t := newSBETTrack(b, l)
	keep, unwrapped, bad := orderTimes(t.TimeS)
	if bad >= 0 {
		return nil, binaryError(int64(bad*SBETRecordBytes), "time", remedy,
			"%.6f s of record %d comes before %.6f s of the record ahead of it", double(b, l.order, bad, 0, 17), bad, double(b, l.order, bad-1, 0, 17))
	}
	t.take(keep)
	if t.DroppedRepeated > 0 {
		t.warn("%d records repeat the time of the record before and were dropped", t.DroppedRepeated)
	}
	if t.Unwrapped = unwrapped; unwrapped {
		t.decide(true, "times after the end of the GPS week continue past 604800 s", "the time falls by a week between two records")
	}
	t.TimeKind = kindOfTime(t.TimeS[0], t.TimeS[len(t.TimeS)-1])
	return t, nil
}

func newSBETTrack(b []byte, l sbetLook) *Track {
	n := len(b) / SBETRecordBytes
	t := &Track{Format: FormatSBET, Geodetic: true, Ellipsoidal: true, HeadingFrom: TrueNorth}
	pos, att := 1.0, 1.0
	if l.degPos {
		pos = math.Pi / 180
		t.decide(true, "latitude and longitude are degrees", "largest |latitude| %.4f, |longitude| %.4f: no radians", l.maxLat, l.maxLon)
	}
	if l.degAtt {
		att = math.Pi / 180
		t.decide(true, "attitude is degrees", "largest |heading| %.4f, |roll, pitch| %.4f: no radians", l.maxHead, l.maxAtt)
	}
	if l.order == binary.ByteOrder(binary.BigEndian) {
		t.decide(true, "the file is big-endian", "little-endian gives impossible values, big-endian none")
	}
	col := func(f int, k float64) []float64 {
		v := make([]float64, n)
		for i := range v {
			v[i] = k * double(b, l.order, i, f, 17)
		}
		return v
	}
	t.TimeS, t.LatRad, t.LonRad, t.HM = col(sbTime, 1), col(sbLat, pos), col(sbLon, pos), col(sbAlt, 1)
	t.RollRad, t.PitchRad, t.HeadingRad, t.WanderRad = col(sbRoll, att), col(sbPitch, att), col(sbHead, att), col(sbW, att)
	return t
}

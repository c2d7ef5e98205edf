package las

import (
	"encoding/binary"
	"fmt"
	"math"
)

// ExtraField is one field of the extra bytes that follow the fields of the point format.
//
// Source: LAS 1.4 R16, Extra Bytes record (LASF_Spec 4).
type ExtraField struct {
	Name        string
	Description string
	Type        uint8 // data type of the specification: 0 raw bytes, 1 u8, 2 i8, 3 u16, ... 9 f32, 10 f64
	Components  int   // 1; 2 or 3 for the deprecated arrays
	Offset      int   // bytes from the start of the record
	Size        int   // bytes, all components
	HasNoData   bool
	NoData      float64 // of the first component, unscaled
	Scale, Add  float64 // value = raw*Scale + Add, of the first component; 1 and 0 when not given
}

const (
	extraRecordSize = 192
	extraNoData     = 1 << 0
	extraScale      = 1 << 3
	extraOffset     = 1 << 4
)

// extraSizes are the bytes of one component of data types 1 to 10.
var extraSizes = [11]int{0, 1, 1, 2, 2, 4, 4, 8, 8, 4, 8}

// ExtraFields returns the fields that the file describes for its extra bytes. Bytes without
// description are in none of them; ColRecord has them.
func (f *File) ExtraFields() []ExtraField { return f.extra }

// readExtraFields parses the Extra Bytes records. Some writers add a second one for the fields that they
// append: the fields of all records follow one another. One that does not fit the points is ignored
// with a warning, and so are those after it.
func (f *File) readExtraFields() {
	at := FormatSize(f.hdr.Format)
	for _, v := range f.extraRecords() {
		list, end, err := parseExtraFields(v.Data, at, f.hdr.RecordLength)
		if err != nil {
			f.warn(fmt.Sprintf("the Extra Bytes record is ignored: %v", err))
			return
		}
		f.extra = append(f.extra, list...)
		at = end
	}
}

// extraRecords returns the Extra Bytes records, in VLRs and then EVLRs.
func (f *File) extraRecords() (list []*VLR) {
	for _, of := range [2][]VLR{f.vlrs, f.evlrs} {
		for i := range of {
			if of[i].is(UserSpec, RecordExtraBytes) {
				list = append(list, &of[i])
			}
		}
	}
	return list
}

// parseExtraFields takes apart the payload of an Extra Bytes record whose first field starts at byte
// at of a record of the given length. end is the byte after its last field.
func parseExtraFields(b []byte, at, recordLength int) (list []ExtraField, end int, err error) {
	if len(b)%extraRecordSize != 0 {
		return nil, at, kindf(ErrInvalidValue, "%d bytes are not a whole number of %d-byte descriptions", len(b), extraRecordSize)
	}
	start := at
	for i := 0; i < len(b); i += extraRecordSize {
		d := b[i : i+extraRecordSize]
		e := ExtraField{
			Name: cString(d[4:36]), Description: cString(d[160:192]),
			Type: d[2], Components: 1, Offset: at, Scale: 1,
		}
		switch t := int(d[2]); {
		case t == 0:
			e.Size = int(d[3])
		case t <= 30:
			e.Type, e.Components = uint8((t-1)%10+1), (t-1)/10+1
			e.Size = extraSizes[e.Type] * e.Components
			e.options(d)
		default:
			return nil, at, kindf(ErrInvalidValue, "field %q has the unknown data type %d", e.Name, t)
		}
		at += e.Size
		if at > recordLength {
			return nil, at, kindf(ErrInvalidValue, "it describes %d bytes up to field %q, but the points have %d extra bytes left", at-start, e.Name, recordLength-start)
		}
		list = append(list, e)
	}
	return list, at, nil
}

// options reads what the option bits of a description announce.
func (e *ExtraField) options(d []byte) {
	f64 := func(at int) float64 { return math.Float64frombits(binary.LittleEndian.Uint64(d[at:])) }
	if d[3]&extraNoData != 0 {
		e.HasNoData = true
		raw := binary.LittleEndian.Uint64(d[40:])
		switch {
		case e.Type >= 9:
			e.NoData = math.Float64frombits(raw)
		case e.Type%2 == 0:
			e.NoData = float64(int64(raw))
		default:
			e.NoData = float64(raw)
		}
	}
	if s := f64(112); d[3]&extraScale != 0 && s != 0 && !math.IsNaN(s) {
		e.Scale = s
	}
	if o := f64(136); d[3]&extraOffset != 0 && !math.IsNaN(o) {
		e.Add = o
	}
}

// Value returns the first component of the field in one point record, scaled. ok is false for raw
// bytes and for the no-data value.
func (e *ExtraField) Value(record []byte) (v float64, ok bool) {
	if e.Type == 0 || len(record) < e.Offset+e.Size {
		return 0, false
	}
	le, b := binary.LittleEndian, record[e.Offset:]
	switch e.Type {
	case 1:
		v = float64(b[0])
	case 2:
		v = float64(int8(b[0]))
	case 3:
		v = float64(le.Uint16(b))
	case 4:
		v = float64(int16(le.Uint16(b)))
	case 5:
		v = float64(le.Uint32(b))
	case 6:
		v = float64(int32(le.Uint32(b)))
	case 7:
		v = float64(le.Uint64(b))
	case 8:
		v = float64(int64(le.Uint64(b)))
	case 9:
		v = float64(math.Float32frombits(le.Uint32(b)))
	case 10:
		v = math.Float64frombits(le.Uint64(b))
	}
	if e.HasNoData && v == e.NoData {
		return 0, false
	}
	return v*e.Scale + e.Add, true
}

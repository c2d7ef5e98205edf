package fieldcheck

import (
	"encoding/binary"
	"errors"
)

// flatten drops heights and measures from a geometry in well-known binary, of
// which the library reads the two-dimensional kinds only. Claimed numbers of
// points are checked against the bytes that are there.
//
// Source: OGC Simple Features 1.2.1, clause 8.2 (types 1 to 7, plus 1000 for
// Z, 2000 for M, 3000 for both).
func flatten(b []byte) ([]byte, error) {
	f := flattener{in: b, out: make([]byte, 0, len(b))}
	if err := f.geometry(0); err != nil {
		return nil, err
	}
	return f.out, nil
}

type flattener struct {
	in, out []byte
}

var errCut = errors.New("a geometry is cut short")

func (f *flattener) uint32(o binary.ByteOrder) (uint32, error) {
	if len(f.in) < 4 {
		return 0, errCut
	}
	v := o.Uint32(f.in)
	f.in = f.in[4:]
	return v, nil
}

// points copies n points of dim coordinates, the first two of each.
func (f *flattener) points(o binary.ByteOrder, n uint32, dim int) error {
	if uint64(n)*uint64(dim)*8 > uint64(len(f.in)) {
		return errCut
	}
	for range n {
		for k := range dim {
			if k < 2 {
				f.out = binary.LittleEndian.AppendUint64(f.out, o.Uint64(f.in[8*k:]))
			}
		}
		f.in = f.in[8*dim:]
	}
	return nil
}

func (f *flattener) geometry(depth int) error {
	if depth > 8 {
		return errors.New("a geometry is nested too deeply")
	}
	if len(f.in) < 5 {
		return errCut
	}
	var o binary.ByteOrder = binary.LittleEndian
	if f.in[0] == 0 {
		o = binary.BigEndian
	}
	f.in = f.in[1:]
	code, _ := f.uint32(o)
	dim := 2
	if code&0x80000000 != 0 { // the older way of stating a height
		dim++
		code &^= 0x80000000
	}
	switch code / 1000 {
	case 0:
	case 1, 2:
		dim++
	case 3:
		dim += 2
	default:
		return errors.New("a geometry of an unknown kind")
	}
	kind := code % 1000
	f.out = append(f.out, 1)
	f.out = binary.LittleEndian.AppendUint32(f.out, kind)
	if kind == 1 {
		return f.points(o, 1, dim)
	}
	if kind == 0 || kind > 7 {
		return errors.New("a curve or surface, which is no polygon of straight lines")
	}
	n, err := f.uint32(o)
	if err != nil {
		return err
	}
	if uint64(n)*4 > uint64(len(f.in)) {
		return errCut
	}
	f.out = binary.LittleEndian.AppendUint32(f.out, n)
	switch kind {
	case 2:
		return f.points(o, n, dim)
	case 3:
		for range n {
			m, err := f.uint32(o)
			if err != nil {
				return err
			}
			f.out = binary.LittleEndian.AppendUint32(f.out, m)
			if err := f.points(o, m, dim); err != nil {
				return err
			}
		}
		return nil
	}
	for range n {
		if err := f.geometry(depth + 1); err != nil {
			return err
		}
	}
	return nil
}

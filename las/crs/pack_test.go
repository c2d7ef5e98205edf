package crs

import (
	"encoding/binary"
	"math"
)

// pack joins directory and doubles into one byte string for the fuzzer: a count of
// directory values, the directory, the doubles.
func pack(dir []uint16, dbl []float64, asc []byte) (b, ascii []byte) {
	b = binary.LittleEndian.AppendUint16(nil, uint16(len(dir)))
	for _, v := range dir {
		b = binary.LittleEndian.AppendUint16(b, v)
	}
	for _, v := range dbl {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
	}
	return b, asc
}

func unpack(b []byte) (dir []uint16, dbl []float64) {
	if len(b) < 2 {
		return nil, nil
	}
	n := int(binary.LittleEndian.Uint16(b))
	b = b[2:]
	for ; n > 0 && len(b) >= 2; n-- {
		dir, b = append(dir, binary.LittleEndian.Uint16(b)), b[2:]
	}
	for ; len(b) >= 8; b = b[8:] {
		dbl = append(dbl, math.Float64frombits(binary.LittleEndian.Uint64(b)))
	}
	return dir, dbl
}

package laz

import (
	"encoding/binary"
	"fmt"
)

// Item is one entry of the VLR's list: a part of the point record.
type Item struct {
	Type, Size, Version uint16 // Item... constant; bytes in the record; version of its coding
}

// VLR is the payload of the LASzip VLR (user ID "laszip encoded", record ID
// 22204), 34 + 6 bytes per item.
type VLR struct {
	Compressor, Coder uint16
	Major, Minor      uint8 // version of the writing library, information only
	Revision          uint16
	Options           uint32 // bit 0: LAS 1.4 compatibility mode
	ChunkSize         uint32 // points; see Variable; without meaning for compressor 1
	SpecialEVLRs      int64  // -1 unused
	SpecialOffset     int64  // -1 unused
	Items             []Item
}

const vlrHeader = 34

// Variable reports whether the chunk table states the points of each chunk.
func (v *VLR) Variable() bool {
	return v.Compressor > CompressorPointwise && (v.ChunkSize == VariableChunkSize || v.ChunkSize == 0)
}

// RecordLength is the sum of the item sizes in bytes.
func (v *VLR) RecordLength() int {
	n := 0
	for _, it := range v.Items {
		n += int(it.Size)
	}
	return n
}

// ParseVLR reads the payload of a LASzip VLR and checks that its items are known
// and fit the compressor. Bytes after the item list are ignored.
func ParseVLR(b []byte) (*VLR, error) {
	if len(b) < vlrHeader {
		return nil, fmt.Errorf("laz: LASzip VLR has %d bytes, needs at least %d", len(b), vlrHeader)
	}
	le := binary.LittleEndian
	v := &VLR{
		Compressor:    le.Uint16(b),
		Coder:         le.Uint16(b[2:]),
		Major:         b[4],
		Minor:         b[5],
		Revision:      le.Uint16(b[6:]),
		Options:       le.Uint32(b[8:]),
		ChunkSize:     le.Uint32(b[12:]),
		SpecialEVLRs:  int64(le.Uint64(b[16:])),
		SpecialOffset: int64(le.Uint64(b[24:])),
	}
	n := int(le.Uint16(b[32:]))
	if len(b) < vlrHeader+6*n {
		return nil, fmt.Errorf("laz: LASzip VLR names %d items and has %d bytes, needs %d", n, len(b), vlrHeader+6*n)
	}
	for i := range n {
		p := b[vlrHeader+6*i:]
		v.Items = append(v.Items, Item{le.Uint16(p), le.Uint16(p[2:]), le.Uint16(p[4:])})
	}
	if err := v.check(); err != nil {
		return nil, err
	}
	return v, nil
}

// Append appends the payload to b.
func (v *VLR) Append(b []byte) []byte {
	le := binary.LittleEndian
	b = le.AppendUint16(b, v.Compressor)
	b = le.AppendUint16(b, v.Coder)
	b = append(b, v.Major, v.Minor)
	b = le.AppendUint16(b, v.Revision)
	b = le.AppendUint32(b, v.Options)
	b = le.AppendUint32(b, v.ChunkSize)
	b = le.AppendUint64(b, uint64(v.SpecialEVLRs))
	b = le.AppendUint64(b, uint64(v.SpecialOffset))
	b = le.AppendUint16(b, uint16(len(v.Items)))
	for _, it := range v.Items {
		b = le.AppendUint16(b, it.Type)
		b = le.AppendUint16(b, it.Size)
		b = le.AppendUint16(b, it.Version)
	}
	return b
}

// itemKind describes what a valid item of a type looks like.
type itemKind struct {
	name       string
	size       uint16 // 0: any from 1
	minV, maxV uint16
	layered    bool
}

var itemKinds = map[uint16]itemKind{
	ItemByte:         {"BYTE", 0, 1, 2, false},
	ItemPoint10:      {"POINT10", 20, 1, 2, false},
	ItemGPSTime11:    {"GPSTIME11", 8, 1, 2, false},
	ItemRGB12:        {"RGB12", 6, 1, 2, false},
	ItemWavePacket13: {"WAVEPACKET13", 29, 1, 1, false},
	ItemPoint14:      {"POINT14", 30, 2, 4, true},
	ItemRGB14:        {"RGB14", 6, 2, 4, true},
	ItemRGBNIR14:     {"RGBNIR14", 8, 2, 4, true},
	ItemWavePacket14: {"WAVEPACKET14", 29, 3, 4, true},
	ItemByte14:       {"BYTE14", 0, 2, 4, true},
}

// check refuses what no decoder or encoder of this package handles.
func (v *VLR) check() error {
	if v.Compressor < CompressorPointwise || v.Compressor > CompressorLayered {
		return fmt.Errorf("laz: compressor %d of the LASzip VLR is unknown", v.Compressor)
	}
	if v.Coder != 0 {
		return fmt.Errorf("laz: coder %d of the LASzip VLR is unknown", v.Coder)
	}
	if len(v.Items) == 0 {
		return fmt.Errorf("laz: the LASzip VLR names no items")
	}
	for i, it := range v.Items {
		k, ok := itemKinds[it.Type]
		switch {
		case !ok:
			return fmt.Errorf("laz: item %d of the LASzip VLR has unknown type %d", i, it.Type)
		case it.Size == 0 || k.size != 0 && it.Size != k.size:
			return fmt.Errorf("laz: item %s of the LASzip VLR has %d bytes", k.name, it.Size)
		case it.Version < k.minV || it.Version > k.maxV:
			return fmt.Errorf("laz: item %s of the LASzip VLR has unknown version %d", k.name, it.Version)
		case k.layered != (v.Compressor == CompressorLayered):
			return fmt.Errorf("laz: item %s of the LASzip VLR does not go with compressor %d", k.name, v.Compressor)
		}
	}
	return v.checkOrder()
}

// orders holds the item lists of point formats 0 to 10, extra bytes apart.
var orders = [11][]uint16{
	{ItemPoint10},
	{ItemPoint10, ItemGPSTime11},
	{ItemPoint10, ItemRGB12},
	{ItemPoint10, ItemGPSTime11, ItemRGB12},
	{ItemPoint10, ItemGPSTime11, ItemWavePacket13},
	{ItemPoint10, ItemGPSTime11, ItemRGB12, ItemWavePacket13},
	{ItemPoint14},
	{ItemPoint14, ItemRGB14},
	{ItemPoint14, ItemRGBNIR14},
	{ItemPoint14, ItemWavePacket14},
	{ItemPoint14, ItemRGBNIR14, ItemWavePacket14},
}

// Format returns the point data record format that the items stand for, or -1.
func (v *VLR) Format() int {
	items := v.Items
	if n := len(items); n > 0 && (items[n-1].Type == ItemByte || items[n-1].Type == ItemByte14) {
		items = items[:n-1]
	}
next:
	for f, order := range orders {
		if len(order) != len(items) {
			continue
		}
		for i, t := range order {
			if items[i].Type != t {
				continue next
			}
		}
		return f
	}
	return -1
}

func (v *VLR) checkOrder() error {
	if v.Format() < 0 {
		return fmt.Errorf("laz: the items of the LASzip VLR are those of no point format")
	}
	if n := v.RecordLength(); n > 0xFFFF {
		return fmt.Errorf("laz: the items of the LASzip VLR add up to %d bytes, more than a record can have", n)
	}
	return nil
}

// formatLength is the size in bytes of a record of each point format without extra bytes.
var formatLength = [11]int{20, 28, 26, 34, 57, 63, 30, 36, 38, 59, 67}

// DefaultVLR returns the VLR for new files of a point format, 0 to 10, with
// records of recordLength bytes (the format's own size and the extra bytes):
// compressor 2 with items of version 2 for formats 0 to 5, compressor 3 with
// items of version 3 for formats 6 to 10, chunks of 50 000 points.
func DefaultVLR(format uint8, recordLength int) (*VLR, error) {
	if int(format) >= len(orders) {
		return nil, fmt.Errorf("laz: point format %d is unknown", format)
	}
	extra := recordLength - formatLength[format]
	if extra < 0 || recordLength > 0xFFFF {
		return nil, fmt.Errorf("laz: a record of point format %d cannot have %d bytes", format, recordLength)
	}
	v := &VLR{Compressor: CompressorChunked, Major: 3, Minor: 5, ChunkSize: DefaultChunkSize, SpecialEVLRs: -1, SpecialOffset: -1}
	version, last := uint16(2), uint16(ItemByte)
	if format >= 6 {
		v.Compressor, version, last = CompressorLayered, 3, ItemByte14
	}
	for _, t := range orders[format] {
		it := Item{t, itemKinds[t].size, version}
		if t == ItemWavePacket13 {
			it.Version = 1
		}
		v.Items = append(v.Items, it)
	}
	if extra > 0 {
		v.Items = append(v.Items, Item{last, uint16(extra), version})
	}
	return v, nil
}

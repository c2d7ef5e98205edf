package laz

import (
	"encoding/binary"
	"fmt"
)

// layered codes the items of layered chunks (compressor 3).
//
// A chunk is decoded in blocks of points: within a block one layer after the
// other, so that the block's records stay in the cache, and the first layer
// leaves for the others what they need to know of each point.
type layered struct {
	length  int
	size    int // bytes of layer sizes
	point   *point14
	items   []layerItem
	info    []pointInfo
	decoder []decoder     // one for each layer
	writers []layerWriter // one for each layer
	names   []layerName
}

type layerName struct {
	item, layer string
	wanted      Layers // bit of the set; 0: always
}

// layerItem is an item of a layered record besides POINT14.
type layerItem struct {
	from  int // in the record
	first int // its first layer
	layerCoder
}

// layerCoder codes the layers of an item. info[0] is that of the block's first
// point, rec begins with that point's record and has stride bytes for each.
// decode stops at the first damage, and returns the number of good points and
// the layer that is damaged. A coder that is not present stands for an absent layer.
type layerCoder interface {
	reset(first []byte, channel uint32)
	decode(c []decoder, info []pointInfo, rec []byte, stride int) (good, layer int)
	encode(w []layerWriter, info []pointInfo, rec []byte, stride int)
}

// pointInfo holds what the first layer tells the others about a point.
type pointInfo uint32

const (
	infoChannel  pointInfo = 3      // scanner channel
	infoFresh    pointInfo = 1 << 2 // the channel's context starts with this point
	infoSwitch   pointInfo = 1 << 3 // the channel changed with this point
	infoSingle   pointInfo = 1 << 4 // one return
	infoGPS      pointInfo = 1 << 5 // GPS time changed
	infoAngle    pointInfo = 1 << 6 // scan angle changed
	infoSource   pointInfo = 1 << 7 // point source changed
	infoCPRShift           = 8      // 2 bits: first and last return
	infoLevel              = 10     // 3 bits
	infoZContext           = 13     // 5 bits
	infoMedian             = 18     // 4 bits: twice the context of the medians
)

func (p pointInfo) channel() uint32 { return uint32(p & infoChannel) }
func (p pointInfo) cpr() uint32     { return uint32(p>>infoCPRShift) & 3 }
func (p pointInfo) level() uint32   { return uint32(p>>infoLevel) & 7 }
func (p pointInfo) z() uint32       { return uint32(p>>infoZContext) & 31 }
func (p pointInfo) gps() uint32     { return uint32(p>>5) & 1 }
func (p pointInfo) single() uint32  { return uint32(p>>4) & 1 }
func (p pointInfo) median() uint32  { return (uint32(p>>infoMedian)&15 + p.gps()) % 12 }

// itemChannel is the context of the items beside POINT14. In version 3 it is
// channel 0 unless the channel changed with this very point: a slip of the first
// encoder that became the format. Version 4 takes the channel.
func (p pointInfo) itemChannel(version uint16) uint32 {
	if version >= 4 || p&infoSwitch != 0 {
		return p.channel()
	}
	return 0
}

const blockPoints = 1024

func newLayered(v *VLR, pool *modelPool) *layered {
	l := &layered{length: v.RecordLength()}
	from := 0
	for _, it := range v.Items {
		first := len(l.names)
		name := itemKinds[it.Type].name
		add := func(layer string, wanted Layers) {
			l.names = append(l.names, layerName{name, layer, wanted})
		}
		var coder layerCoder
		rule := contextRule{point: v.Items[0].Version, item: it.Version}
		switch it.Type {
		case ItemPoint14:
			l.point = newPoint14(pool)
			for _, n := range point14Layers {
				l.names = append(l.names, layerName{name, n.layer, n.wanted})
			}
		case ItemRGB14:
			coder = &rgb14{pool: pool, rule: rule}
			add("RGB", LayerRGB)
		case ItemRGBNIR14:
			coder = &rgbNIR14{rgb: rgb14{pool: pool, rule: rule}, nir: nir14{pool: pool, rule: rule}}
			add("RGB", LayerRGB)
			add("NIR", LayerNIR)
		case ItemWavePacket14:
			coder = &wavePacket14{pool: pool, rule: rule}
			add("wave packet", LayerWavePacket)
		case ItemByte14:
			coder = newExtraBytes14(pool, rule, int(it.Size))
			for i := range it.Size {
				add(fmt.Sprintf("byte %d", i), LayerExtraBytes)
			}
		}
		if coder != nil {
			l.items = append(l.items, layerItem{from, first, coder})
		}
		from += int(it.Size)
	}
	l.size = 4 * len(l.names)
	l.decoder = make([]decoder, len(l.names))
	return l
}

// open reads the layer sizes and starts the decoders of the wanted layers.
// Those of absent and unwanted layers are not present. consumed is the length of
// the whole chunk as its sizes say. A layer that src does not hold whole is
// started with what there is of it; err tells of it.
func (l *layered) open(src []byte, layers Layers) (count uint32, consumed int, err error) {
	head := l.length + 4 + l.size
	if len(src) < head {
		return 0, len(src), &Error{Point: 1, Err: ErrTruncated}
	}
	count = binary.LittleEndian.Uint32(src[l.length:])
	sizes := src[l.length+4:]
	at := int64(head)
	for i := range l.decoder {
		size := int64(binary.LittleEndian.Uint32(sizes[4*i:]))
		lo := min(at, int64(len(src)))
		at += size
		hi := min(at, int64(len(src)))
		c := &l.decoder[i]
		c.close()
		if size == 0 || l.names[i].wanted != 0 && layers&l.names[i].wanted == 0 {
			continue
		}
		c.start(src[lo:hi:hi])
	}
	if at > int64(len(src)) {
		err = fmt.Errorf("layers of %d bytes in a chunk of %d: %w", at, len(src), ErrTruncated)
		return count, len(src), &Error{Err: err}
	}
	return count, int(at), nil
}

func (l *layered) decode(dst, src []byte, n int, layers Layers) (points, consumed int, err error) {
	count, consumed, sizeErr := l.open(src, layers)
	if count == 0 {
		if sizeErr == nil {
			sizeErr = &Error{Point: 0, Err: fmt.Errorf("chunk states that it has no points: %w", ErrCorrupt)}
			return 0, consumed, sizeErr
		}
		return 1, consumed, sizeErr
	}
	want := min(n, int(min(count, 1<<31-1)))
	l.point.reset(src[:l.length])
	channel := l.point.channel
	for _, it := range l.items {
		it.reset(src[it.from:l.length], channel)
	}
	points, err = l.decodeBlocks(dst, want)
	switch {
	case err != nil:
	case sizeErr != nil:
		sizeErr.(*Error).Point = points
		err = sizeErr
	case want < n:
		err = &Error{Point: want, Err: fmt.Errorf("chunk states %d points, expected %d: %w", count, n, ErrCorrupt)}
	case n == int(count):
		err = l.checkEnds(n)
	}
	return points, consumed, err
}

func (l *layered) decodeBlocks(dst []byte, n int) (points int, err error) {
	if cap(l.info) < blockPoints {
		l.info = make([]pointInfo, blockPoints)
	}
	for i := 1; i < n; i += blockPoints {
		info := l.info[:min(blockPoints, n-i)]
		rec := dst[i*l.length:]
		good, layer := l.point.decode(l.decoder[:len(point14Layers)], info, rec, l.length)
		for _, it := range l.items {
			g, lay := it.decode(l.decoder[it.first:], info[:good], rec[it.from:], l.length)
			if g < good {
				good, layer = g, it.first+lay
			}
		}
		if good < len(info) {
			name := l.names[layer]
			cause := l.decoder[layer].check()
			if cause == nil {
				cause = ErrCorrupt
			}
			return i + good, &Error{Item: name.item, Layer: name.layer, Point: i + good, Err: cause}
		}
	}
	return n, nil
}

// checkEnds checks that every layer was used up to its last byte.
func (l *layered) checkEnds(n int) error {
	for i := range l.decoder {
		if c := &l.decoder[i]; c.present && c.consumed() != len(c.stream) {
			err := fmt.Errorf("%d bytes are left over: %w", len(c.stream)-c.consumed(), ErrCorrupt)
			return &Error{Item: l.names[i].item, Layer: l.names[i].layer, Point: n, Err: err}
		}
	}
	return nil
}

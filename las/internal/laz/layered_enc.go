package laz

import (
	"encoding/binary"
	"fmt"
)

// layerWriter writes one layer.
type layerWriter struct {
	encoder
	changed bool // a value differed from what an absent layer stands for
}

// encode appends the layers of a chunk to dst, which ends with the first point.
func (l *layered) encode(dst, records []byte, n int) ([]byte, error) {
	if l.writers == nil {
		l.writers = make([]layerWriter, len(l.names))
	}
	for i := range l.writers {
		w := &l.writers[i]
		w.start(append(w.out[:0], 0, 0, 0, 0), 4)
		w.changed = i <= layerZ // these two are always written
	}
	l.point.reset(records[:l.length])
	l.point.survey(records, n, l.length)
	channel := l.point.channel
	for _, it := range l.items {
		it.reset(records[it.from:l.length], channel)
	}
	if cap(l.info) < blockPoints {
		l.info = make([]pointInfo, blockPoints)
	}
	for i := 1; i < n; i += blockPoints {
		info := l.info[:min(blockPoints, n-i)]
		rec := records[i*l.length:]
		l.point.encode(l.writers, info, rec, l.length)
		for _, it := range l.items {
			it.encode(l.writers[it.first:], info, rec[it.from:], l.length)
		}
	}
	return l.appendLayers(dst, n)
}

func (l *layered) appendLayers(dst []byte, n int) ([]byte, error) {
	le := binary.LittleEndian
	dst = le.AppendUint32(dst, uint32(n))
	for i := range l.writers {
		w := &l.writers[i]
		size := 0
		if w.changed {
			size = len(w.finish()) - 4
		}
		if int64(size) > 1<<32-1 {
			return nil, fmt.Errorf("laz: layer %s of item %s has %d bytes, too many for a chunk", l.names[i].layer, l.names[i].item, size)
		}
		dst = le.AppendUint32(dst, uint32(size))
	}
	for i := range l.writers {
		if w := &l.writers[i]; w.changed {
			dst = append(dst, w.out[4:w.pos]...)
		}
	}
	return dst, nil
}

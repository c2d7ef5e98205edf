package las

import "encoding/binary"

// patchHeader changes in the header what the new form requires, and nothing else.
func (r *repacker) patchHeader(evlrStart int64, moved map[int64]int64) {
	le, b, h := binary.LittleEndian, r.head, &r.f.hdr
	le.PutUint32(b[96:], uint32(r.start))
	le.PutUint32(b[100:], uint32(len(r.vlrs)))
	b[104] = h.Format
	if r.compress {
		b[104] |= 0x80
	}
	if uint64(r.stats.n) != h.StatedPoints {
		r.warn("the header said %d points; the new file says %d, which it holds", h.StatedPoints, r.stats.n)
		r.patchCounts()
	}
	if h.Version.Minor >= 3 && len(b) >= 235 && h.WaveformStart != 0 {
		at, ok := moved[int64(h.WaveformStart)]
		if !ok {
			r.warn("the start of waveform data, byte %d, is no record of the file; set to 0", h.WaveformStart)
		}
		le.PutUint64(b[227:], uint64(at))
	}
	if h.Version.Minor >= 4 && len(b) >= 247 && (len(r.evlrs) > 0 || h.EVLRStart != 0 || h.EVLRCount != 0) {
		if len(r.evlrs) == 0 {
			evlrStart = 0
		}
		le.PutUint64(b[235:], uint64(evlrStart))
		le.PutUint32(b[243:], uint32(len(r.evlrs)))
	}
}

// patchCounts puts the counts of points right.
func (r *repacker) patchCounts() {
	h := &r.f.hdr
	full := make([]byte, max(len(r.head), 375))
	copy(full, r.head)
	if Extended(h.Format) {
		clear(full[107:131])
	}
	r.stats.putCounts(full, h.Version, h.Format)
	copy(r.head, full)
}

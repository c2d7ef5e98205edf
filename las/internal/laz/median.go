package laz

// median is the streaming median of the format. It holds five sorted values and
// drops the largest or the smallest of them, in turn by where the last one
// fell, when one is added; since that choice is known as soon as a value was added,
// only the other four are kept beside the middle one.
type median struct {
	w0, w1, w2, w3 int32 // sorted
	mid            int32
	low            int32 // 1: the last value fell above the middle, the smallest was dropped
}

func (m *median) get() int32 { return m.mid }

func (m *median) add(x int32) {
	v0 := min(x, m.w0)
	v1 := max(min(x, m.w1), m.w0)
	v2 := max(min(x, m.w2), m.w1)
	v3 := max(min(x, m.w3), m.w2)
	v4 := max(x, m.w3)
	// While the largest is dropped, values below the middle keep it so; while the
	// smallest is dropped, those above the middle do.
	below := int64(x) < int64(m.mid)+int64(m.low)
	m.mid = v2
	if below {
		m.w0, m.w1, m.w2, m.w3, m.low = v0, v1, v2, v3, 0
	} else {
		m.w0, m.w1, m.w2, m.w3, m.low = v1, v2, v3, v4, 1
	}
}

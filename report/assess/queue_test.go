package assess

import (
	"slices"
	"testing"

	"sidelap/las"
)

// queueOf makes a queue of files with so many spans; First is the number of the span.
func queueOf(spans ...int) *queue {
	q := &queue{spans: make([][]las.Span, len(spans))}
	for i, n := range spans {
		for k := range n {
			q.spans[i] = append(q.spans[i], las.Span{First: int64(k)})
		}
		q.left += n
	}
	return q
}

// Every span is handed out once; a worker goes through its own file from front to back, and helps from the back when no
// file is left to begin.
func TestQueue(t *testing.T) {
	q := queueOf(3, 1, 9)
	own := []int{-1, -1}
	var got [2][][2]int64
	for turn := 0; ; turn++ {
		k := turn % 2
		w, ok := q.next(&own[k])
		if !ok {
			break
		}
		got[k] = append(got[k], [2]int64{int64(w.file), w.span.First})
	}
	want := [2][][2]int64{
		{{0, 0}, {0, 1}, {0, 2}, {2, 8}, {2, 7}, {2, 6}, {2, 5}},
		{{1, 0}, {2, 0}, {2, 1}, {2, 2}, {2, 3}, {2, 4}},
	}
	for k := range want {
		if !slices.Equal(got[k], want[k]) {
			t.Errorf("worker %d took %v, want %v", k, got[k], want[k])
		}
	}
	if _, ok := q.next(&own[0]); ok {
		t.Error("a span beyond the last")
	}
}

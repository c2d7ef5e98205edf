package adjust

import (
	"math"
	"slices"
	"testing"
)

// TestClearOf is a closed form: twice the standard deviation, and nothing without one.
func TestClearOf(t *testing.T) {
	for _, c := range []struct {
		value, sigma float64
		want         bool
	}{{0.02, 0.01, true}, {-0.02, 0.01, true}, {0.0199, 0.01, false}, {0.05, 0, false}, {0, 0, false}, {0.05, math.NaN(), false}} {
		if clearOf(c.value, c.sigma) != c.want {
			t.Errorf("%v ± %v: significant %v", c.value, c.sigma, !c.want)
		}
	}
}

// TestMiddleOf is a closed form: the mean of the values it names is the median.
func TestMiddleOf(t *testing.T) {
	if m := middleOf([]float64{3, 1, 2}); !slices.Equal(m, []int{2}) {
		t.Errorf("of three: %v", m)
	}
	if m := middleOf([]float64{4, 1, 2, 3}); !slices.Equal(m, []int{2, 3}) {
		t.Errorf("of four: %v", m)
	}
	if m := middleOf(nil); len(m) > 0 {
		t.Errorf("of none: %v", m)
	}
}

package main

import "testing"

func TestMemoryValue(t *testing.T) {
	for _, c := range []struct {
		text string
		want int64
	}{
		{"0", 0}, {"600MB", 600e6}, {"600mb", 600e6}, {"1.5GiB", 3 << 29}, {"4 GiB", 4 << 30}, {"2g", 2e9}, {"123456789", 123456789}, {"5B", 5},
		{"", -1}, {"GB", -1}, {"-1GB", -1}, {"NaN", -1}, {"1e30", -1}, {"12 potatoes", -1},
	} {
		got := int64(-1)
		v := memoryValue{&got}
		if err := v.Set(c.text); (err != nil) != (c.want == -1) || got != c.want {
			t.Errorf("%q: %d, %v, want %d", c.text, got, err, c.want)
		}
	}
	for _, s := range []string{"2GiB", "600MiB", "1000", "0"} {
		var b int64
		v := memoryValue{&b}
		if err := v.Set(s); err != nil || v.String() != s {
			t.Errorf("%s: %s, %v", s, v, err)
		}
	}
}

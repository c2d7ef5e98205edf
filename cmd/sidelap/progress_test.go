package main

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/vbauerster/mpb/v8"

	"sidelap/report/assess"
)

// TestProgressLine checks that a stage without points to count shows how long it takes, and no share and rate that stand still.
func TestProgressLine(t *testing.T) {
	for _, c := range []struct {
		now       assess.Progress
		has, lack []string
	}{
		{assess.Progress{Stage: "causes"}, []string{"causes", "0:00"}, []string{"%", "points/s"}},
		{assess.Progress{Stage: "read", Done: 25, Total: 100}, []string{"read", "25 %"}, nil},
	} {
		var out bytes.Buffer
		p := &progress{bars: mpb.New(mpb.WithOutput(&out), mpb.WithWidth(80), mpb.WithAutoRefresh(), mpb.WithRefreshRate(5*time.Millisecond))}
		p.update(c.now)
		time.Sleep(100 * time.Millisecond)
		p.close()
		for _, s := range c.has {
			if !strings.Contains(out.String(), s) {
				t.Errorf("%v: no %q in %q", c.now, s, out.String())
			}
		}
		for _, s := range c.lack {
			if strings.Contains(out.String(), s) {
				t.Errorf("%v: %q in %q", c.now, s, out.String())
			}
		}
	}
}

package main

import (
	"fmt"
	"math"
	"os"
	"runtime"
	"runtime/debug"
	"strconv"
	"strings"
)

// memoryValue is a size as typed: 600MB, 1.5GiB, or bytes.
type memoryValue struct{ bytes *int64 }

// sizeUnits are tried in this order.
var sizeUnits = []struct {
	name  string
	bytes float64
}{
	{"KiB", 1 << 10}, {"MiB", 1 << 20}, {"GiB", 1 << 30}, {"TiB", 1 << 40},
	{"kB", 1e3}, {"MB", 1e6}, {"GB", 1e9}, {"TB", 1e12},
	{"k", 1e3}, {"M", 1e6}, {"G", 1e9}, {"T", 1e12}, {"B", 1}, {"", 1},
}

func (m memoryValue) Set(s string) error {
	for _, u := range sizeUnits {
		if len(s) < len(u.name) || !strings.EqualFold(s[len(s)-len(u.name):], u.name) {
			continue
		}
		v, err := strconv.ParseFloat(strings.TrimSpace(s[:len(s)-len(u.name)]), 64)
		if err != nil || !(v >= 0) || v*u.bytes >= math.MaxInt64 {
			break
		}
		*m.bytes = int64(v * u.bytes)
		return nil
	}
	return fmt.Errorf("%q is no size; write 600MB or 4GiB, or 0 for no bound", s)
}

func (m memoryValue) String() string {
	b := *m.bytes
	switch {
	case b > 0 && b%(1<<30) == 0:
		return fmt.Sprintf("%dGiB", b>>30)
	case b > 0 && b%(1<<20) == 0:
		return fmt.Sprintf("%dMiB", b>>20)
	}
	return strconv.FormatInt(b, 10)
}

func (memoryValue) Type() string { return "size" }

// ballast is memory that is never touched, and so never there: to the collector of garbage it is in use, so that it lets some
// tens of megabytes come together before it runs, while little else is held.
var ballast []byte

// limitMemory tells the collector of garbage what the run aims at, unless the environment says otherwise. Nearly all
// that is held are numbers, which the collector need not look through: to run it twice as often as usual costs little
// and saves a quarter of the memory.
func limitMemory(bytes int64) {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(50)
		most := int64(64 << 20)
		if bytes > 0 {
			most = min(most, bytes/16)
		}
		ballast = make([]byte, most)
		runtime.KeepAlive(ballast)
	}
	if bytes > 0 && os.Getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(bytes)
	}
}

package las

import (
	"context"
	"encoding/binary"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
)

// dataDir returns a directory of the shared test data, which lies beside the repository. Without it
// the test is skipped, or fails where CI=true.
func dataDir(tb testing.TB, name string) string {
	tb.Helper()
	dir := filepath.Join("..", "..", "shared", "data", name)
	if _, err := os.Stat(dir); err != nil {
		if os.Getenv("CI") == "true" {
			tb.Fatalf("test data missing: %v", err)
		}
		tb.Skipf("test data missing: %v", err)
	}
	return dir
}

// glob lists files of a data directory; none is an error.
func glob(tb testing.TB, dir, pattern string) []string {
	tb.Helper()
	list, err := filepath.Glob(filepath.Join(dir, pattern))
	if err != nil || len(list) == 0 {
		tb.Fatalf("no files %s in %s", pattern, dir)
	}
	return list
}

func mustOpen(tb testing.TB, path string, o OpenOptions) *File {
	tb.Helper()
	f, err := OpenWith(path, o)
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() { f.Close() })
	return f
}

// records reads all records of the file by spans of n points, and the error that ended it.
func records(f *File, n int64) (b []byte, err error) {
	for _, s := range f.Spans(n) {
		for c, err := range f.Read(context.Background(), s, ColRecord) {
			if err != nil {
				return b, err
			}
			b = append(b, c.Record...)
		}
	}
	return b, nil
}

// randomChunk returns n points with every column filled with values that the format can hold.
func randomChunk(rng *rand.Rand, n int, format uint8) *Chunk {
	c := &Chunk{}
	c.resize(n, ColAll&^ColRecord, 0)
	returns, class, channel := 8, 32, 1
	if Extended(format) {
		returns, class, channel = 16, 256, 4
	}
	for i := range n {
		c.X[i], c.Y[i], c.Z[i] = rng.Int32()-1<<30, rng.Int32()-1<<30, rng.Int32()-1<<30
		c.Intensity[i] = uint16(rng.Uint32())
		c.ReturnNumber[i], c.NumReturns[i] = uint8(rng.IntN(returns)), uint8(rng.IntN(returns))
		c.Channel[i] = uint8(rng.IntN(channel))
		c.Class[i] = uint8(rng.IntN(class))
		c.Flags[i] = uint8(rng.IntN(64))
		if Extended(format) {
			c.ScanAngle[i] = int16(rng.IntN(60001) - 30000)
		} else {
			c.ScanAngle[i] = rankSteps[rng.IntN(256)]
			c.Flags[i] &^= FlagOverlap
			if c.Class[i] == classOverlap {
				c.Flags[i] |= FlagOverlap
			}
		}
		c.UserData[i] = uint8(rng.Uint32())
		c.Source[i] = uint16(rng.Uint32())
		c.GPSTime[i] = 3e8 + rng.Float64()*1e5
		c.Red[i], c.Green[i], c.Blue[i], c.NIR[i] = uint16(rng.Uint32()), uint16(rng.Uint32()), uint16(rng.Uint32()), uint16(rng.Uint32())
		if !HasGPSTime(format) {
			c.GPSTime[i] = 0
		}
		if !HasRGB(format) {
			c.Red[i], c.Green[i], c.Blue[i] = 0, 0, 0
		}
		if !HasNIR(format) {
			c.NIR[i] = 0
		}
	}
	return c
}

// plainHeader returns the bytes of a LAS 1.2 header of format 0 for n points at byte 227, for tests
// that damage it.
func plainHeader(n int) []byte {
	w := &Writer{o: WriterOptions{Format: 0}, record: 20, start: 227}
	if err := w.o.complete(); err != nil {
		panic(err)
	}
	w.stats.n = int64(n)
	return w.header(0)
}

func putFloat(b []byte, at int, v float64) {
	binary.LittleEndian.PutUint64(b[at:], math.Float64bits(v))
}

func writeFile(tb testing.TB, name string, b []byte) string {
	tb.Helper()
	path := filepath.Join(tb.TempDir(), name)
	if err := os.WriteFile(path, b, 0o644); err != nil {
		tb.Fatal(err)
	}
	return path
}

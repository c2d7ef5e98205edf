package las

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
)

// assessColumns are what a run of the main job reads.
const assessColumns = ColReturn | ColFlags | ColClass | ColScanAngle | ColSource | ColGPSTime

// scanLines fills a chunk with points like those of a drone's scanner: lines across the track over
// rolling ground, about 38 % of the points from pulses of several returns.
type scanLines struct {
	rng  *rand.Rand
	next int
	left int // returns of the present pulse still to come
	of   int
}

func (g *scanLines) fill(c *Chunk, n int, format uint8) {
	c.resize(n, ColAll&^ColRecord, 0)
	for i := range n {
		if g.left == 0 {
			g.of = 1
			if g.rng.IntN(5) == 0 {
				g.of = 2 + g.rng.IntN(3)
			}
			g.left = g.of
			g.next++
		}
		number := g.of - g.left + 1
		g.left--
		line, place := g.next/600, float64(g.next%600)/600-0.5
		x, y := float64(line)*0.08, place*90
		z := 100 + 4*math.Sin(x/40)*math.Cos(y/25) + g.rng.NormFloat64()*0.02 + float64(g.of-number)*(2+g.rng.Float64()*5)
		c.X[i], c.Y[i], c.Z[i] = int32(x*1000), int32(y*1000), int32(z*1000)
		c.Intensity[i] = uint16(2000 + g.rng.IntN(3000))
		c.ReturnNumber[i], c.NumReturns[i] = uint8(number), uint8(g.of)
		c.Class[i] = []uint8{5, 2}[min(1, number/g.of)]
		c.Flags[i] = uint8(line&1) * FlagScanDirection
		c.ScanAngle[i] = int16(place * 70 / ScanAngleStepDeg)
		c.Source[i] = uint16(1 + line/2000)
		c.GPSTime[i] = 3e8 + float64(g.next)*5e-6
		c.Channel[i], c.UserData[i] = 0, 0
		c.Red[i], c.Green[i], c.Blue[i] = uint16(g.rng.IntN(1<<16)), uint16(g.rng.IntN(1<<16)), uint16(g.rng.IntN(1<<16))
		c.NIR[i] = c.Red[i]
	}
}

// benchFile writes n points of scan lines and returns the path.
func benchFile(tb testing.TB, n int, format uint8, compress bool) string {
	tb.Helper()
	path := filepath.Join(tb.TempDir(), fmt.Sprintf("strip-%d-%v.las", format, compress))
	w, err := Create(path, WriterOptions{Format: format, Compress: compress})
	if err != nil {
		tb.Fatal(err)
	}
	g := scanLines{rng: rand.New(rand.NewPCG(9, uint64(format)))}
	var c Chunk
	for ; n > 0; n -= c.N {
		g.fill(&c, min(n, MaxChunk), format)
		if err := w.Write(&c); err != nil {
			tb.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		tb.Fatal(err)
	}
	return path
}

// benchPoints is the size of the benchmarks' files.
const benchPoints = 2_000_000

// BenchmarkReadStrip reads a strip on one core with the columns of a run of the main job.
//
//	go test -run '^$' -bench ReadStrip -count 10 ./las | benchstat -
func BenchmarkReadStrip(b *testing.B) {
	for _, format := range []uint8{1, 3, 6, 7} {
		for _, compress := range []bool{false, true} {
			for _, cols := range []struct {
				name string
				c    Columns
			}{{"assess", assessColumns}, {"xyz", 0}, {"all", ColAll}} {
				b.Run(fmt.Sprintf("format=%d/laz=%v/cols=%s", format, compress, cols.name), func(b *testing.B) {
					f := mustOpen(b, benchFile(b, benchPoints, format, compress), OpenOptions{})
					b.ReportAllocs()
					points, sum := 0, int64(0)
					for b.Loop() {
						for c, err := range f.Read(context.Background(), Span{0, f.Header().Points}, cols.c) {
							if err != nil {
								b.Fatal(err)
							}
							points += c.N
							sum += int64(c.Z[0])
						}
					}
					if sum == 0 {
						b.Fatal("nothing was read")
					}
					b.ReportMetric(float64(points)/b.Elapsed().Seconds(), "points/s")
				})
			}
		}
	}
}

// BenchmarkChunks reads a strip with several workers, order kept.
func BenchmarkChunks(b *testing.B) {
	for _, compress := range []bool{false, true} {
		for _, workers := range []int{1, 2} {
			b.Run(fmt.Sprintf("format=1/laz=%v/workers=%d", compress, workers), func(b *testing.B) {
				f := mustOpen(b, benchFile(b, benchPoints, 1, compress), OpenOptions{})
				points := 0
				for b.Loop() {
					for c, err := range f.Chunks(context.Background(), assessColumns, workers) {
						if err != nil {
							b.Fatal(err)
						}
						points += c.N
					}
				}
				b.ReportMetric(float64(points)/b.Elapsed().Seconds(), "points/s")
			})
		}
	}
}

// BenchmarkWriteStrip writes records to a file.
func BenchmarkWriteStrip(b *testing.B) {
	for _, format := range []uint8{1, 6} {
		for _, compress := range []bool{false, true} {
			for _, workers := range []int{1, 2} {
				b.Run(fmt.Sprintf("format=%d/laz=%v/workers=%d", format, compress, workers), func(b *testing.B) {
					f := mustOpen(b, benchFile(b, benchPoints, format, false), OpenOptions{})
					all, err := records(f, 0)
					if err != nil {
						b.Fatal(err)
					}
					path := filepath.Join(b.TempDir(), "out.las")
					points := 0
					for b.Loop() {
						w, err := Create(path, WriterOptions{Format: format, Compress: compress, Workers: workers, Overwrite: true})
						if err != nil {
							b.Fatal(err)
						}
						if err := w.WriteRecords(all); err != nil {
							b.Fatal(err)
						}
						if err := w.Close(); err != nil {
							b.Fatal(err)
						}
						points += benchPoints
					}
					os.Remove(path)
					b.ReportMetric(float64(points)/b.Elapsed().Seconds(), "points/s")
				})
			}
		}
	}
}

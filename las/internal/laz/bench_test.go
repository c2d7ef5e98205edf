package laz

import (
	"bytes"
	"fmt"
	"os"
	"runtime"
	"strconv"
	"sync"
	"sync/atomic"
	"testing"
)

// benchPoints is the size of the set: 1 M points, or SIDELAP_BENCH_POINTS.
func benchPoints(b *testing.B) int {
	if s := os.Getenv("SIDELAP_BENCH_POINTS"); s != "" {
		n, err := strconv.Atoi(s)
		if err != nil {
			b.Fatal(err)
		}
		return n
	}
	return 1_000_000
}

// chunkTimes keeps the least time that each chunk took, so that a figure can be
// had on a machine that is shared with others.
type chunkTimes struct {
	best  []int64
	start int64
}

func newChunkTimes(chunks int) *chunkTimes {
	runtime.LockOSThread()
	return &chunkTimes{best: make([]int64, chunks)}
}

func (t *chunkTimes) begin() { t.start = threadNs() }

func (t *chunkTimes) end(chunk int) {
	if ns := threadNs() - t.start; t.best[chunk] == 0 || ns < t.best[chunk] {
		t.best[chunk] = ns
	}
}

// report gives points per second of processor time, each chunk at its best.
func (t *chunkTimes) report(b *testing.B, points int) {
	runtime.UnlockOSThread()
	sum := int64(0)
	for _, ns := range t.best {
		sum += ns
	}
	b.ReportMetric(float64(points)/(float64(sum)*1e-9), "best-points/s")
}

// packed is a set of points and its chunks.
type packed struct {
	vlr     *VLR
	length  int
	records []byte
	chunks  [][]byte
}

var packedSets = map[string]*packed{}

func synthetic(b testing.TB, format uint8, n int) *packed {
	b.Helper()
	key := fmt.Sprint(format, n)
	if p := packedSets[key]; p != nil {
		return p
	}
	p := &packed{length: formatLength[format], records: scanLines(format, n)}
	p.vlr, _ = DefaultVLR(format, p.length)
	e, err := NewEncoder(p.vlr, p.length)
	if err != nil {
		b.Fatal(err)
	}
	for r := p.records; len(r) > 0; {
		k := min(len(r), DefaultChunkSize*p.length)
		c, err := e.Encode(nil, r[:k])
		if err != nil {
			b.Fatal(err)
		}
		p.chunks = append(p.chunks, c)
		r = r[k:]
	}
	packedSets[key] = p
	return p
}

// go test -run '^$' -bench Decode -count 10 ./las/internal/laz
func BenchmarkDecode(b *testing.B) {
	for _, format := range []uint8{1, 3, 6, 7} {
		b.Run(fmt.Sprintf("format=%d", format), func(b *testing.B) {
			n := benchPoints(b)
			p := synthetic(b, format, n)
			d, err := NewDecoder(p.vlr, p.length)
			if err != nil {
				b.Fatal(err)
			}
			dst := make([]byte, DefaultChunkSize*p.length)
			b.ReportAllocs()
			times := newChunkTimes(len(p.chunks))
			size := 0
			for b.Loop() {
				size = 0
				for i, c := range p.chunks {
					k := min(DefaultChunkSize, n-i*DefaultChunkSize)
					times.begin()
					_, _, err := d.Decode(dst, c, k, AllLayers)
					times.end(i)
					if err != nil {
						b.Fatal(err)
					}
					size += len(c)
				}
			}
			times.report(b, n)
			last := p.records[(len(p.chunks)-1)*DefaultChunkSize*p.length:]
			if !bytes.Equal(dst[:len(last)], last) {
				b.Fatal("decoded points differ")
			}
			b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "points/s")
			b.ReportMetric(float64(size)/float64(n), "bytes/point")
		})
	}
}

// Chunks decoded by several goroutines, each with its own decoder.
//
// go test -run '^$' -bench Workers -count 10 ./las/internal/laz
func BenchmarkWorkers(b *testing.B) {
	for _, format := range []uint8{1, 6} {
		for _, workers := range []int{1, 2} {
			b.Run(fmt.Sprintf("format=%d/workers=%d", format, workers), func(b *testing.B) {
				n := benchPoints(b)
				p := synthetic(b, format, n)
				decoders := make([]*Decoder, workers)
				dst := make([][]byte, workers)
				for w := range workers {
					decoders[w], _ = NewDecoder(p.vlr, p.length)
					dst[w] = make([]byte, DefaultChunkSize*p.length)
				}
				for b.Loop() {
					var next atomic.Int64
					var all sync.WaitGroup
					for w := range workers {
						all.Go(func() {
							for i := int(next.Add(1)) - 1; i < len(p.chunks); i = int(next.Add(1)) - 1 {
								k := min(DefaultChunkSize, n-i*DefaultChunkSize)
								if _, _, err := decoders[w].Decode(dst[w], p.chunks[i], k, AllLayers); err != nil {
									b.Error(err)
								}
							}
						})
					}
					all.Wait()
				}
				b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "points/s")
			})
		}
	}
}

// Format 6 with only the layers that a task needs.
//
// go test -run '^$' -bench Layers -count 10 ./las/internal/laz
func BenchmarkLayers(b *testing.B) {
	for _, c := range []struct {
		name   string
		layers Layers
	}{
		{"all", AllLayers},
		{"xyz,class,angle,source,gps", LayerZ | LayerClassification | LayerScanAngle | LayerPointSource | LayerGPSTime},
		{"xyz,class", LayerZ | LayerClassification},
		{"xyz", LayerZ},
		{"xy", 0},
	} {
		b.Run("layers="+c.name, func(b *testing.B) {
			n := benchPoints(b)
			p := synthetic(b, 6, n)
			d, err := NewDecoder(p.vlr, p.length)
			if err != nil {
				b.Fatal(err)
			}
			dst := make([]byte, DefaultChunkSize*p.length)
			times := newChunkTimes(len(p.chunks))
			for b.Loop() {
				for i, chunk := range p.chunks {
					times.begin()
					_, _, err := d.Decode(dst, chunk, min(DefaultChunkSize, n-i*DefaultChunkSize), c.layers)
					times.end(i)
					if err != nil {
						b.Fatal(err)
					}
				}
			}
			times.report(b, n)
			b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "points/s")
		})
	}
}

// go test -run '^$' -bench Encode -count 10 ./las/internal/laz
func BenchmarkEncode(b *testing.B) {
	for _, format := range []uint8{1, 3, 6, 7} {
		b.Run(fmt.Sprintf("format=%d", format), func(b *testing.B) {
			n := benchPoints(b)
			p := synthetic(b, format, n)
			e, err := NewEncoder(p.vlr, p.length)
			if err != nil {
				b.Fatal(err)
			}
			var dst []byte
			b.ReportAllocs()
			times := newChunkTimes(len(p.chunks))
			for b.Loop() {
				for i := range p.chunks {
					r := p.records[i*DefaultChunkSize*p.length:]
					times.begin()
					dst, err = e.Encode(dst[:0], r[:min(len(r), DefaultChunkSize*p.length)])
					times.end(i)
					if err != nil {
						b.Fatal(err)
					}
				}
			}
			times.report(b, n)
			if !bytes.Equal(dst, p.chunks[len(p.chunks)-1]) {
				b.Fatal("encoded chunk differs")
			}
			b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "points/s")
		})
	}
}

package las

import (
	"context"
	"iter"
	"runtime"
	"sync"
)

// spanPoints is how many points Chunks hands to a worker at once; a LAZ chunk is never split.
const spanPoints = 4 * MaxChunk

// spanJob is a span to decode and the chunks to decode it into.
type spanJob struct {
	index  int
	chunks []*Chunk
}

// spanResult is one decoded span: its chunks, and the error that ended it.
type spanResult struct {
	chunks []*Chunk // those that hold points
	spare  []*Chunk // the same and those left over, for reuse
	err    error
}

// Chunks returns all points of the file in file order, like Read, with the work of reading,
// decompressing and taking records apart spread over the workers (0: one for each processor). The
// chunks are the same for any number of workers. At most two spans for each worker, of four
// MaxChunk points or one LAZ chunk, are in memory.
func (f *File) Chunks(ctx context.Context, cols Columns, workers int) iter.Seq2[*Chunk, error] {
	if workers < 1 {
		workers = runtime.GOMAXPROCS(0)
	}
	spans := f.Spans(spanPoints)
	workers = min(workers, len(spans))
	return func(yield func(*Chunk, error) bool) {
		if workers == 1 {
			f.chunksSerial(ctx, spans, cols, yield)
		} else {
			f.chunksParallel(ctx, spans, cols, workers, yield)
		}
	}
}

func (f *File) chunksSerial(ctx context.Context, spans []Span, cols Columns, yield func(*Chunk, error) bool) {
	for _, s := range spans {
		for c, err := range f.Read(ctx, s, cols) {
			if !yield(c, err) || err != nil {
				return
			}
		}
	}
}

// chunksParallel decodes spans in workers and hands them over in order. Span i answers in slot
// i modulo the number of slots; a span is only given out when a set of chunks is free, so that at
// most as many spans as slots are under way.
func (f *File) chunksParallel(parent context.Context, spans []Span, cols Columns, workers int, yield func(*Chunk, error) bool) {
	ctx, cancel := context.WithCancel(parent)
	var wg sync.WaitGroup
	defer wg.Wait()
	defer cancel()
	slots := make([]chan spanResult, 2*workers)
	free := make(chan []*Chunk, len(slots))
	for i := range slots {
		slots[i] = make(chan spanResult, 1)
		free <- nil
	}
	jobs := make(chan spanJob)
	for range workers {
		wg.Go(func() {
			for j := range jobs {
				slots[j.index%len(slots)] <- f.collect(ctx, spans[j.index], cols, j.chunks)
			}
		})
	}
	wg.Go(func() {
		defer close(jobs)
		for i := range spans {
			select {
			case chunks := <-free:
				jobs <- spanJob{i, chunks}
			case <-ctx.Done():
				return
			}
		}
	})
	for i := range spans {
		var r spanResult
		select {
		case r = <-slots[i%len(slots)]:
		case <-ctx.Done():
			yield(nil, parent.Err())
			return
		}
		for _, c := range r.chunks {
			if err := parent.Err(); err != nil { // not what is decoded already: select takes either
				yield(nil, err)
				return
			}
			if !yield(c, nil) {
				return
			}
		}
		if r.err != nil {
			yield(nil, r.err)
			return
		}
		free <- r.spare
	}
}

// collect decodes a span into chunks of its own, reusing those given.
func (f *File) collect(ctx context.Context, s Span, cols Columns, chunks []*Chunk) spanResult {
	n := 0
	for c, err := range f.Read(ctx, s, cols) {
		if err != nil {
			return spanResult{chunks[:n], chunks, err}
		}
		if n == len(chunks) {
			chunks = append(chunks, new(Chunk))
		}
		*chunks[n], *c = *c, *chunks[n] // take the filled columns, give empty ones to fill next
		n++
	}
	return spanResult{chunks[:n], chunks, nil}
}

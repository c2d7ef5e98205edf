package assess

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"runtime"
	"sync"
	"sync/atomic"

	"golang.org/x/sync/errgroup"

	"sidelap/las"
)

// spanPoints is the number of consecutive points that one worker takes at a time.
// A worker's facet table then holds whole seconds of flight, so that two workers
// share few cells and the tables merge cheaply.
const spanPoints = 2_000_000

// Progress tells how far the reading is. Done and Total count points.
type Progress struct {
	Stage       string
	Done, Total int64
}

// sink takes the points of a chunk that came from file number file. A sink is used by one goroutine.
type sink interface {
	Add(c *las.Chunk, file int)
}

// failer is a sink that can fail.
type failer interface{ Err() error }

// work is one span of one file.
type work struct {
	file int
	span las.Span
}

// queue hands out spans. A worker goes through a file from front to back, so that its hash can be taken on the way; when
// no file is left that nobody has begun, it helps with the one that has most left, from the back.
type queue struct {
	mu    sync.Mutex
	spans [][]las.Span // of each file, those not handed out
	begun int          // files below are begun
	left  int
}

func newQueue(files []*las.File) *queue {
	q := &queue{spans: make([][]las.Span, len(files))}
	for i, f := range files {
		q.spans[i] = f.Spans(spanPoints)
		q.left += len(q.spans[i])
	}
	return q
}

// next returns the next span for a worker, and keeps in own the file that it goes through; -1 at its start.
func (q *queue) next(own *int) (w work, ok bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.left == 0 {
		return w, false
	}
	q.left--
	if *own < 0 || len(q.spans[*own]) == 0 {
		*own = -1
		if q.begun < len(q.spans) { // every file has a span at least
			*own = q.begun
			q.begun++
		}
	}
	if *own >= 0 {
		s := q.spans[*own]
		q.spans[*own] = s[1:]
		return work{*own, s[0]}, true
	}
	most := 0
	for i, s := range q.spans {
		if len(s) > len(q.spans[most]) {
			most = i
		}
	}
	s := q.spans[most]
	q.spans[most] = s[:len(s)-1]
	return work{most, s[len(s)-1]}, true
}

// readAll reads every point of the files once. newSinks is called once for each worker
// and returns what that worker fills; the caller merges them. Which worker gets which span
// is left to chance: the sinks' sums are exact, so that the merged result is the same for any
// number of workers.
func readAll(ctx context.Context, files []*las.File, cols las.Columns, workers int,
	newSinks func() []sink, report func(Progress)) error {
	todo := newQueue(files)
	var total int64
	for _, f := range files {
		total += f.Header().Points
	}
	var done atomic.Int64
	var mu sync.Mutex
	group, ctx := errgroup.WithContext(ctx)
	for range max(1, min(workers, todo.left)) {
		mine := newSinks()
		group.Go(func() error {
			for own := -1; ; {
				w, ok := todo.next(&own)
				if !ok {
					return nil
				}
				for c, err := range files[w.file].Read(ctx, w.span, cols) {
					if err != nil {
						return cmp.Or(files[w.file].Unchanged(), err)
					}
					for _, s := range mine {
						s.Add(c, w.file)
						if f, ok := s.(failer); ok && f.Err() != nil {
							return f.Err()
						}
					}
					n := done.Add(int64(c.N))
					if report != nil {
						mu.Lock()
						report(Progress{Stage: "read", Done: n, Total: total})
						mu.Unlock()
					}
				}
			}
		})
	}
	if err := group.Wait(); err != nil {
		return err
	}
	return unchanged(files)
}

// unchanged returns an error when a file is not what it was when it was opened.
func unchanged(files []*las.File) error {
	for _, f := range files {
		if err := f.Unchanged(); err != nil {
			return err
		}
	}
	return nil
}

// hashFiles returns the SHA-256 of each file in lower-case hexadecimal. Most of it was taken while the points were read.
func hashFiles(ctx context.Context, files []*las.File) ([]string, error) {
	sums := make([]string, len(files))
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(runtime.GOMAXPROCS(0))
	for i, f := range files {
		group.Go(func() (err error) {
			if sums[i], err = f.SHA256(ctx); err == nil || ctx.Err() != nil {
				return err
			}
			if changed := f.Unchanged(); changed != nil {
				return changed
			}
			var fe *las.FormatError
			if errors.As(err, &fe) { // names the file and the place
				return err
			}
			return &InputError{Path: f.Path(), Err: fmt.Errorf("while hashing: %w", cause(err)), Remedy: "check that the file is not being changed or moved"}
		})
	}
	return sums, group.Wait()
}

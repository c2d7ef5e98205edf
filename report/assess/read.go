package assess

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"os"
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

// readAll reads every point of the files once. newSinks is called once for each worker
// and returns what that worker fills; the caller merges them. Which worker gets which span
// is left to chance: the sinks' sums are exact, so that the merged result is the same for any
// number of workers.
func readAll(ctx context.Context, files []*las.File, cols las.Columns, workers int,
	newSinks func() []sink, report func(Progress)) error {
	var queue []work
	var total int64
	for i, f := range files {
		total += f.Header().Points
		for _, s := range f.Spans(spanPoints) {
			queue = append(queue, work{i, s})
		}
	}
	var next, done atomic.Int64
	var mu sync.Mutex
	group, ctx := errgroup.WithContext(ctx)
	for range max(1, min(workers, len(queue))) {
		mine := newSinks()
		group.Go(func() error {
			for {
				k := next.Add(1) - 1
				if k >= int64(len(queue)) {
					return nil
				}
				w := queue[k]
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

// hashFiles returns the SHA-256 of each file in lower-case hexadecimal.
func hashFiles(ctx context.Context, paths []string) ([]string, error) {
	sums := make([]string, len(paths))
	buf := make([]byte, 1<<20)
	for i, p := range paths {
		sum, err := hashFile(ctx, p, buf)
		if err != nil {
			return nil, &InputError{Path: p, Err: fmt.Errorf("while hashing: %w", cause(err)),
				Remedy: "check that the file is not being changed or moved"}
		}
		sums[i] = sum
	}
	return sums, nil
}

func hashFile(ctx context.Context, path string, buf []byte) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	h := sha256.New()
	for {
		if err := ctx.Err(); err != nil {
			return "", err
		}
		n, err := f.Read(buf)
		h.Write(buf[:n])
		if err == io.EOF {
			return hex.EncodeToString(h.Sum(nil)), nil
		}
		if err != nil {
			return "", err
		}
	}
}

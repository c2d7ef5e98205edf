package las

import (
	"context"
	"iter"
)

// Chunks is being built up: serial for now.
func (f *File) Chunks(ctx context.Context, cols Columns, workers int) iter.Seq2[*Chunk, error] {
	return f.Read(ctx, Span{0, f.hdr.Points}, cols)
}

package las

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"hash"
	"io"
	"sync"
)

// digest takes the SHA-256 of a file from what is read of it anyway, as long as that goes from front to back; what is read
// ahead of it is left for the end.
type digest struct {
	r  io.ReaderAt
	mu sync.Mutex
	h  hash.Hash
	n  int64 // bytes taken
}

// maxDigestGap is how much digest reads itself to go on with what is read behind it.
const maxDigestGap = 1 << 20

func newDigest(r io.ReaderAt) *digest { return &digest{r: r, h: sha256.New()} }

// ReadAt implements io.ReaderAt.
func (d *digest) ReadAt(p []byte, offset int64) (int, error) {
	n, err := d.r.ReadAt(p, offset)
	d.offer(p[:n], offset)
	return n, err
}

// offer takes what b has beyond the bytes taken so far. It never waits: another goroutine that takes bytes now is further on.
func (d *digest) offer(b []byte, offset int64) {
	if !d.mu.TryLock() {
		return
	}
	defer d.mu.Unlock()
	if gap := offset - d.n; gap > 0 && gap <= maxDigestGap {
		if err := d.take(context.Background(), offset); err != nil {
			return // sum meets it again and says so
		}
	}
	if behind := d.n - offset; behind >= 0 && behind < int64(len(b)) {
		d.h.Write(b[behind:])
		d.n += int64(len(b)) - behind
	}
}

// take reads on up to end.
func (d *digest) take(ctx context.Context, end int64) error {
	buf := make([]byte, min(end-d.n, 1<<18))
	for d.n < end {
		if err := ctx.Err(); err != nil {
			return err
		}
		b := buf[:min(end-d.n, int64(len(buf)))]
		if err := readAt(d.r, b, d.n); err != nil {
			return err
		}
		d.h.Write(b)
		d.n += int64(len(b))
	}
	return nil
}

// sum reads what is left of the file and returns its SHA-256 in lower-case hexadecimal.
func (d *digest) sum(ctx context.Context, size int64) (string, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.take(ctx, size); err != nil {
		return "", err
	}
	return hex.EncodeToString(d.h.Sum(nil)), nil
}

// SHA256 returns the SHA-256 of the whole file, as it was when it was opened, in lower-case hexadecimal. With
// OpenOptions.Digest only what was not read from front to back is read again.
func (f *File) SHA256(ctx context.Context) (string, error) {
	d, ok := f.r.(*digest)
	if !ok {
		d = newDigest(f.r)
	}
	s, err := d.sum(ctx, f.size)
	if err != nil {
		return "", f.fault(err)
	}
	return s, nil
}

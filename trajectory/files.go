package trajectory

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"io"

	"sidelap/las/disk"
)

// maxInflate bounds what a compressed file may become: real path files shrink
// two- to fivefold, text up to twentyfold; 100 is more than any honest one.
const maxInflate = 100

// maxPathBytes bounds a path file, compressed or not: two days at 200 records a second.
const maxPathBytes = 4 << 30

// readAll returns the bytes of a file, decompressed if it is gzip.
func readAll(path string) ([]byte, error) {
	b, err := disk.Read(path, maxPathBytes)
	if err != nil {
		return nil, err
	}
	b, err = inflate(b, maxPathBytes)
	return b, named(path, err)
}

// inflate decompresses gzip data and returns anything else as it is; more
// than most bytes are an error.
func inflate(b []byte, most int64) ([]byte, error) {
	if len(b) < 2 || b[0] != 0x1f || b[1] != 0x8b {
		return b, nil
	}
	z, err := gzip.NewReader(bytes.NewReader(b))
	if err != nil {
		return nil, binaryError(0, "gzip header", "compress it again", "%w", err)
	}
	limit := min(int64(len(b))*maxInflate+1<<16, most)
	grows := binaryError(0, "gzip data", "decompress the file yourself and look at it", "it grows more than %d-fold, or to more than %d MB: this is no path file", maxInflate, most>>20)
	if size := int64(binary.LittleEndian.Uint32(b[len(b)-4:])); size > limit { // as it says of itself, if it is whole: count before taking memory
		n, err := io.Copy(io.Discard, io.LimitReader(z, limit+1))
		if err == nil && n > limit {
			return nil, grows
		}
		if z, err = gzip.NewReader(bytes.NewReader(b)); err != nil {
			return nil, err
		}
	}
	out, err := io.ReadAll(io.LimitReader(z, limit+1))
	if err != nil {
		return nil, binaryError(int64(len(b)), "gzip data", "copy the file again", "after %d bytes: %w", len(out), err)
	}
	if int64(len(out)) > limit {
		return nil, grows
	}
	return out, nil
}

package rinex

import (
	"bufio"
	"bytes"
	"compress/bzip2"
	"compress/gzip"
	"fmt"
	"io"
)

// A packed file may become maxExpansion times its size and a mebibyte more.
// Observation files shrink five- to twentyfold, compact ones hundredfold at most.
const (
	maxExpansion  = 200
	freeExpansion = 1 << 20
	maxWrappings  = 4
	sniffBytes    = 4
)

// limited fails with ErrExpansion after n bytes.
type limited struct {
	r io.Reader
	n int64
}

func (l *limited) Read(p []byte) (int, error) {
	if l.n <= 0 {
		return 0, ErrExpansion
	}
	if int64(len(p)) > l.n {
		p = p[:l.n]
	}
	n, err := l.r.Read(p)
	l.n -= int64(n)
	return n, err
}

// unpack takes all wrappings of a stream off; what comes out is bounded by size,
// that of the packed bytes.
func unpack(r io.Reader, size int64) (out io.Reader, packing []string, err error) {
	limit := size*maxExpansion + freeExpansion
	br := bufio.NewReader(r)
	for range maxWrappings {
		head, _ := br.Peek(sniffBytes)
		var inner io.Reader
		switch {
		case bytes.HasPrefix(head, []byte{0x1f, 0x8b}):
			inner, err = gzip.NewReader(br)
			packing = append(packing, "gzip")
		case bytes.HasPrefix(head, []byte{0x1f, 0x9d}):
			inner, err = newLZWReader(br)
			packing = append(packing, ".Z")
		case bytes.HasPrefix(head, []byte("BZh")):
			inner = bzip2.NewReader(br)
			packing = append(packing, "bzip2")
		default:
			return br, packing, nil
		}
		if err != nil {
			return nil, packing, fmt.Errorf("%s: %w", packing[len(packing)-1], err)
		}
		br = bufio.NewReader(&limited{inner, limit})
	}
	return nil, packing, fmt.Errorf("more than %d wrappings: %w", maxWrappings, ErrExpansion)
}

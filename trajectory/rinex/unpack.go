package rinex

import (
	"archive/zip"
	"bufio"
	"bytes"
	"compress/bzip2"
	"compress/gzip"
	"fmt"
	"io"
	"strings"
)

// maxExpansion bounds what a packed file may become, as a multiple of its
// size. Observation files shrink five- to twentyfold.
const (
	maxExpansion   = 200
	freeExpansion  = 1 << 20
	maxWrappings   = 4
	maxZipMembers  = 10_000
	sniffBytes     = 4
	maxZipObserves = 100
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

// unpack takes all wrappings off. size is the size of the packed bytes; r must
// be an io.ReaderAt too for zip archives.
func unpack(r io.Reader, at io.ReaderAt, size int64) (out io.Reader, packing []string, err error) {
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
		case bytes.HasPrefix(head, []byte("PK\x03\x04")) && len(packing) == 0 && at != nil:
			var name string
			inner, name, err = zipMember(at, size)
			packing = append(packing, "zip: "+name)
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

// zipMember opens the one observation file of an archive.
func zipMember(at io.ReaderAt, size int64) (io.Reader, string, error) {
	z, err := zip.NewReader(at, size)
	if err != nil {
		return nil, "", err
	}
	var found []*zip.File
	for _, f := range z.File[:min(len(z.File), maxZipMembers)] {
		if !f.FileInfo().IsDir() && observes(f) {
			found = append(found, f)
		}
		if len(found) > maxZipObserves {
			break
		}
	}
	switch len(found) {
	case 0:
		return nil, "", fmt.Errorf("no observation file among its %d members: %w", len(z.File), ErrNotRINEX)
	case 1:
		r, err := found[0].Open()
		return r, found[0].Name, err
	}
	names := make([]string, 0, len(found))
	for _, f := range found {
		names = append(names, f.Name)
	}
	return nil, "", fmt.Errorf("it holds several observation files (%s): unpack it and give them one by one", strings.Join(names[:min(5, len(names))], ", "))
}

// observes reports whether a member begins as an observation file, plain, compact or packed.
func observes(f *zip.File) bool {
	r, err := f.Open()
	if err != nil {
		return false
	}
	defer r.Close()
	inner, packing, err := unpack(r, nil, int64(f.CompressedSize64)) //nolint:gosec // a size for a limit
	if err != nil || len(packing) > 2 {
		return false
	}
	head, _ := bufio.NewReader(inner).Peek(400)
	return looksObservation(head)
}

// looksObservation reports whether the first bytes are those of an observation file.
func looksObservation(head []byte) bool {
	lines := strings.SplitN(string(head), "\n", 4)
	for _, l := range lines {
		if i := strings.Index(l, "RINEX VERSION / TYPE"); i >= 0 {
			return len(l) > 20 && (l[20] == 'O' || l[20] == 'o')
		}
	}
	return false
}

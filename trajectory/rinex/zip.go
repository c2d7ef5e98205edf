package rinex

import (
	"archive/zip"
	"bufio"
	"compress/flate"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
)

// Bounds of an archive: beyond them the rest is left, and said so.
const (
	zipMagic       = "PK\x03\x04"
	maxZipMembers  = 10_000
	maxZipObserves = 1_000 // a month of hourly files
)

var (
	errEncrypted = errors.New("it is encrypted")
	errMethod    = errors.New("its way of packing is not known")
)

// decodeZip reads the observation files of an archive. An archive that was cut
// short has lost its list: its members are then found one after the other.
func decodeZip(name string, r io.ReaderAt, size int64) (files []*File, failed []error) {
	a := &archive{name: name}
	z, err := zip.NewReader(r, size)
	if err != nil {
		a.salvage(io.NewSectionReader(r, 0, size), size)
		for _, f := range a.files {
			f.damage(0, "the archive is damaged (%v): read member by member", err)
		}
		if len(a.files) == 0 && len(a.failed) == 0 {
			a.failed = []error{&Error{Path: name, Err: err, Remedy: "copy it again"}}
		}
		return a.files, a.failed
	}
	for i, m := range z.File {
		if i == maxZipMembers || len(a.files) == maxZipObserves {
			a.failed = append(a.failed, &Error{Path: name, Err: fmt.Errorf("%d members are more than are read", len(z.File)), Remedy: "unpack it and give the files of the flight"})
			break
		}
		if m.FileInfo().IsDir() {
			continue
		}
		if m.Flags&1 != 0 {
			a.fail(m.Name, errEncrypted)
			continue
		}
		in, err := m.Open()
		if err != nil {
			a.fail(m.Name, err)
			continue
		}
		a.member(m.Name, in, int64(min(m.CompressedSize64, uint64(size)))) //nolint:gosec // bounded by size
		in.Close()
	}
	if len(a.files) == 0 && len(a.failed) == 0 {
		a.failed = []error{&Error{Path: name, Err: fmt.Errorf("no observation file among its %d members: %w", len(z.File), ErrNotRINEX), Remedy: "give the observation file of the base"}}
	}
	return a.files, a.failed
}

// archive gathers what the members give.
type archive struct {
	name   string
	files  []*File
	failed []error
}

func (a *archive) fail(member string, err error) {
	a.failed = append(a.failed, &Error{Path: a.name + ": " + member, Err: err, Remedy: "unpack it yourself and give the observation file in it"})
}

// member reads one member if it is an observation file.
func (a *archive) member(name string, r io.Reader, size int64) {
	limit := size*maxExpansion + freeExpansion
	f, err := decode(a.name+": "+name, []string{"zip: " + name}, &limited{r, limit}, size)
	switch {
	case err == nil:
		a.files = append(a.files, f)
	case !errors.Is(err, ErrNotRINEX) || isRead(err):
		a.failed = append(a.failed, err)
	}
}

// salvage walks over the headers in front of the members.
//
// Source: the archive format's public application note, section 4.3.7 (local
// file header), from memory; checked on archives of the standard library cut short.
func (a *archive) salvage(r io.Reader, size int64) {
	br := bufio.NewReaderSize(r, 1<<16)
	for range maxZipMembers {
		if !skipTo(br, zipMagic) || len(a.files) == maxZipObserves {
			return
		}
		var h [26]byte
		if _, err := io.ReadFull(br, h[:]); err != nil {
			return
		}
		flags, method := binary.LittleEndian.Uint16(h[2:]), binary.LittleEndian.Uint16(h[4:])
		packed := int64(binary.LittleEndian.Uint32(h[14:]))
		name := make([]byte, binary.LittleEndian.Uint16(h[22:]))
		if _, err := io.ReadFull(br, name); err != nil {
			return
		}
		if _, err := br.Discard(int(binary.LittleEndian.Uint16(h[24:]))); err != nil {
			return
		}
		var in io.Reader
		switch {
		case flags&1 != 0:
			a.fail(string(name), errEncrypted)
			continue
		case method == zip.Deflate:
			in = flate.NewReader(br) // takes no byte beyond its end from a ByteReader
		case method == zip.Store && packed > 0:
			in = io.LimitReader(br, packed)
		case method == zip.Store:
			continue // a folder, or a length that only the lost list had
		default:
			a.fail(string(name), errMethod)
			continue
		}
		rest := &limited{in, size*maxExpansion + freeExpansion}
		a.member(string(name), rest, size)
		if _, err := io.Copy(io.Discard, rest); err != nil {
			return
		}
	}
}

// skipTo reads on until behind the magic bytes.
func skipTo(r *bufio.Reader, magic string) bool {
	at := 0
	for {
		c, err := r.ReadByte()
		if err != nil {
			return false
		}
		switch {
		case c == magic[at]:
			at++
		case c == magic[0]:
			at = 1
		default:
			at = 0
		}
		if at == len(magic) {
			return true
		}
	}
}

package rinex

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"sidelap/las/disk"
	"sidelap/trajectory"
)

// maxLogBytes bounds an observation log as it lies on the disk: a day at ten epochs a second is 2 GB unpacked.
const maxLogBytes = 8 << 30

// ReadFile reads one observation file in any of its wrappings. Of a zip archive
// with several it is an error: ReadAll reads them.
//
// A damaged file is read as far as it is sound: File.Damage says where it is
// not. The error is an *Error, or one of the operating system, when nothing
// can be used; it wraps ErrNotRINEX, ErrNoEpochs or ErrExpansion.
func ReadFile(path string) (*File, error) {
	files, failed, err := ReadAll(path)
	if err != nil {
		return nil, err
	}
	return only(path, files, failed)
}

// ReadAll reads the observation files of a path: one, or all of a zip archive,
// whose Path is that of the archive and their name in it. Members that give
// nothing are in failed, as an *Error each; members that are no observation
// files, such as navigation data, are passed over. err is that of the operating system.
func ReadAll(path string) (files []*File, failed []error, err error) {
	f, size, err := disk.Open(path, maxLogBytes)
	if err != nil {
		return nil, nil, err
	}
	defer f.Close()
	files, failed = DecodeAll(path, f, size)
	return files, failed, nil
}

// Decode is ReadFile on bytes; name appears in errors.
func Decode(name string, r io.ReaderAt, size int64) (*File, error) {
	files, failed := DecodeAll(name, r, size)
	return only(name, files, failed)
}

// only returns the one file, or the reason why there is none.
func only(name string, files []*File, failed []error) (*File, error) {
	switch {
	case len(files) == 1 && len(failed) == 0:
		return files[0], nil
	case len(files) > 1:
		return nil, &Error{Path: name, Err: fmt.Errorf("it holds %d observation files", len(files)), Remedy: "read them with ReadAll"}
	case len(failed) > 0:
		return nil, failed[0]
	}
	return nil, &Error{Path: name, Err: ErrNotRINEX}
}

// DecodeAll is ReadAll on bytes; name appears in errors.
func DecodeAll(name string, r io.ReaderAt, size int64) (files []*File, failed []error) {
	if size == 0 {
		return nil, []error{&Error{Path: name, Err: fmt.Errorf("the file is empty: %w", ErrNoEpochs), Remedy: "copy it from the receiver again"}}
	}
	in := io.NewSectionReader(r, 0, size)
	var head [4]byte
	if n, _ := in.ReadAt(head[:], 0); n == 4 && string(head[:]) == zipMagic {
		return decodeZip(name, r, size)
	}
	f, err := decode(name, nil, in, size)
	if err != nil {
		return nil, []error{err}
	}
	return []*File{f}, nil
}

// decode reads one observation file out of a stream; size is that of the packed bytes.
func decode(name string, packing []string, r io.Reader, size int64) (*File, error) {
	fail := func(line int, err error, remedy string) error {
		return &Error{Path: name, Line: line, Err: err, Remedy: remedy}
	}
	in, more, err := unpack(r, size)
	if err != nil {
		return nil, fail(0, err, "unpack it yourself and give the observation file in it")
	}
	f := &File{Path: name, Packing: append(packing, more...)}
	p, err := newParser(f, in)
	if err != nil {
		return nil, fail(1, err, "give the observation file of the base (its name ends in O, D, .obs, .rnx or .crx)")
	}
	err = p.run()
	switch {
	case err == nil:
	case errors.Is(err, ErrExpansion):
		return nil, fail(0, err, "look at it before you unpack it")
	default:
		f.damage(p.in.last, "reading ends here: %v", err)
	}
	if len(f.Epochs) == 0 {
		why := ErrNoEpochs
		if f.DamageN > 0 {
			return nil, fail(f.Damage[0].Line, fmt.Errorf("%w (%s)", why, f.Damage[0].Text), "copy it from the receiver again")
		}
		return nil, fail(0, why, "was logging on? copy it from the receiver again")
	}
	if f.Header.TimeSystemRule {
		f.Notes = append(f.Notes, "the header states no time system: "+f.Header.TimeSystem+" by the format's rule")
	}
	return f, nil
}

// newParser looks at the first line and takes the compact form off.
func newParser(f *File, in io.Reader) (*parser, error) {
	p := &parser{file: f, want: map[byte]int{}, leap: trajectory.LeapSeconds}
	lines := &errorLines{&textLines{r: bufio.NewReaderSize(in, maxLine)}}
	p.in.source = lines
	s, no, err := p.in.next()
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrNotRINEX, err)
	}
	s = strings.TrimPrefix(s, "\xef\xbb\xbf")
	if field(s, 61, 80) == "CRINEX VERS   / TYPE" || strings.Contains(cut(s, 61, 80), "CRINEX VERS") {
		version, err := strconv.ParseFloat(field(s, 1, 9), 64)
		if err != nil || version != 1 && version != 3 && version != 3.1 {
			return nil, fmt.Errorf("compact RINEX of version %q: 1.0, 3.0 and 3.1 are known", field(s, 1, 9))
		}
		if _, _, err := p.in.next(); err != nil { // program and date
			return nil, fmt.Errorf("%w: %w", ErrNotRINEX, err)
		}
		p.compact = field(s, 1, 9)
		f.Packing = append(f.Packing, "compact RINEX "+p.compact)
		p.unpack = newCompact(lines, int(version))
		p.in.source = p.unpack
		if s, no, err = p.in.next(); err != nil {
			return nil, fmt.Errorf("%w: %w", ErrNotRINEX, err)
		}
	}
	if !isHeaderStart(s) {
		return nil, fmt.Errorf("%w: the first line does not end in RINEX VERSION / TYPE", ErrNotRINEX)
	}
	version, err := strconv.ParseFloat(field(s, 1, 9), 64)
	if err != nil || version < 2 || version >= 5 {
		return nil, fmt.Errorf("RINEX of version %q: 2, 3 and 4 are known", field(s, 1, 9))
	}
	if c := cut(s, 21, 21); c != "O" && c != "o" {
		return nil, fmt.Errorf("%w: its type is %q (navigation, meteorology, clocks?)", ErrNotRINEX, field(s, 21, 40))
	}
	p.in.unread(s, no)
	return p, nil
}

// errorLines marks errors of the disk and of unpacking, which end the reading.
type errorLines struct{ *textLines }

func (l *errorLines) next() (string, int, error) {
	s, n, err := l.textLines.next()
	if err != nil && err != io.EOF {
		err = readError{err}
	}
	return s, n, err
}

package trajectory

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"unicode/utf8"
)

// ReadOptions says what the user knows better than the file. The zero value
// lets the reader decide everything.
type ReadOptions struct {
	Columns     []string   // names of the columns of a text file, in order, as in a heading line
	TimeKind    TimeKind   // TimeUnknown = decide
	HeadingFrom HeadingRef // HeadingUnknown = as the format says
	Accuracy    string     // smrmsg file; empty = look for one beside an SBET file
	NoAccuracy  bool       // do not look for a companion
}

// Read reads a path file: SBET or delimited text, plain or gzip.
//
// What the file does not say is decided by its data and noted in
// Track.Decisions; what looks wrong and can still be read is in
// Track.Warnings. Errors are *FormatError or those of the operating system.
func Read(path string, o ReadOptions) (*Track, error) {
	b, err := readAll(path)
	if err != nil {
		return nil, err
	}
	t, err := decode(b, path, o)
	if err != nil {
		return nil, named(path, err)
	}
	t.Path = path
	if o.TimeKind != TimeUnknown {
		t.TimeKind = o.TimeKind
	}
	if o.HeadingFrom != HeadingUnknown {
		t.HeadingFrom = o.HeadingFrom
	}
	if t.Format == FormatSBET {
		t.decideWander()
	}
	return t, t.attachAccuracy(o)
}

// Decode is Read on bytes in memory, without a companion file; name appears in errors.
func Decode(b []byte, name string, o ReadOptions) (*Track, error) {
	b, err := inflate(b, maxPathBytes)
	if err != nil {
		return nil, named(name, err)
	}
	t, err := decode(b, name, o)
	if err != nil {
		return nil, named(name, err)
	}
	t.Path = name
	if t.Format == FormatSBET {
		t.decideWander()
	}
	return t, nil
}

func decode(b []byte, path string, o ReadOptions) (*Track, error) {
	if len(b) == 0 {
		return nil, binaryError(0, "", "export it again", "the file is empty")
	}
	if what, remedy := foreign(b, path); what != "" {
		return nil, binaryError(0, "", remedy, "%s: %w", what, ErrUnsupported)
	}
	if isText(b) {
		return decodeText(b, o)
	}
	t, err := decodeSBET(b)
	if err != nil && len(b)%SMRMSGRecordBytes == 0 {
		if _, e := decodeSMRMSG(b); e == nil {
			return nil, binaryError(0, "", "give the SBET file as the path; its companion is found beside it",
				"this is an smrmsg accuracy file, it holds no positions")
		}
	}
	return t, err
}

// foreign recognises files that are paths of another kind and not read here.
func foreign(b []byte, path string) (what, remedy string) {
	const export = "export the path as SBET, or as text with a heading line"
	head := b[:min(len(b), 4096)]
	switch {
	case bytes.Contains(head, []byte("POSITION&ORIENTATION")):
		return "a sensor maker's binary file of positions, orientations and their quality", export
	case bytes.HasPrefix(b, []byte("$GRP")):
		return "raw navigation records in groups", "post-process them first and " + export
	case bytes.HasPrefix(b, []byte("LASF")):
		return "a point cloud", "give the path file, not the cloud"
	case bytes.HasPrefix(b, []byte("PK\x03\x04")):
		return "a zip archive", "unpack it and give the path file in it"
	case bytes.Contains(head, []byte("RINEX VERSION / TYPE")):
		return "raw satellite observations (RINEX)", "give it as the base log; a path must be post-processed first"
	case bytes.HasPrefix(bytes.TrimSpace(head), []byte("<?xml")), bytes.HasPrefix(bytes.TrimSpace(head), []byte("{")):
		return "an XML or JSON document", export
	case bytes.HasPrefix(b, []byte("$G")) && bytes.Contains(head, []byte("*")):
		return "NMEA sentences: positions of metres without attitude", "post-process them first and " + export
	}
	return "", ""
}

// isText reports whether the first bytes are text in an 8-bit or UTF-8 coding.
func isText(b []byte) bool {
	head := b[:min(len(b), 4096)]
	if bytes.IndexByte(head, 0) >= 0 {
		return false
	}
	odd := 0
	for i := 0; i < len(head); {
		r, n := utf8.DecodeRune(head[i:])
		if r == utf8.RuneError && n == 1 || r < ' ' && r != '\n' && r != '\r' && r != '\t' {
			odd++
		}
		i += n
	}
	return odd*20 < len(head)
}

// attachAccuracy reads the companion that o names or that lies beside the file.
func (t *Track) attachAccuracy(o ReadOptions) error {
	name := o.Accuracy
	if name == "" {
		if o.NoAccuracy || t.Format != FormatSBET {
			return nil
		}
		if name = companion(t.Path); name == "" {
			return nil
		}
	}
	a, err := ReadAccuracy(name)
	if err == nil {
		a0, a1 := a.TimeS[0], a.TimeS[len(a.TimeS)-1]
		s0, s1 := t.Span()
		if a1 < s0 || a0 > s1 {
			err = &FormatError{Path: name, Offset: 0, Field: "time", Remedy: "give the accuracy file of the same processing",
				Err: fmt.Errorf("%s do not meet the path's %s", timeRangeText(a0, a1), timeRangeText(s0, s1))}
		}
	}
	if err != nil {
		if o.Accuracy != "" {
			return err
		}
		t.warn("the accuracy file beside it is not used: %v", err)
		return nil
	}
	if o.Accuracy == "" {
		t.decide(true, "accuracies from "+filepath.Base(name), "it lies beside the path and covers its time")
	}
	t.Sigma = a
	return nil
}

// companion returns the smrmsg file that goes with an SBET file by name, or "".
func companion(path string) string {
	dir, base := filepath.Split(path)
	entries, err := os.ReadDir(filepath.Join(dir, "."))
	if err != nil {
		return ""
	}
	want := map[string]bool{}
	lower := strings.ToLower(base)
	if strings.Contains(lower, "sbet") {
		want[strings.Replace(lower, "sbet", "smrmsg", 1)] = true
		want[strings.ReplaceAll(lower, "sbet", "smrmsg")] = true
	}
	stem := strings.TrimSuffix(strings.TrimSuffix(lower, ".gz"), filepath.Ext(strings.TrimSuffix(lower, ".gz")))
	want[stem+".smrmsg"] = true
	for _, e := range entries {
		if n := strings.ToLower(e.Name()); n != lower && (want[n] || want[strings.TrimSuffix(n, ".gz")]) {
			return filepath.Join(dir, e.Name())
		}
	}
	return ""
}

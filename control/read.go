package control

import (
	"bytes"
	"errors"
	"fmt"
	"sidelap/las/disk"
	"strings"
	"unicode/utf16"
	"unicode/utf8"
)

// maxListBytes bounds a point list: a hundred thousand long rows.
const maxListBytes = 64 << 20

// ReadList reads a list of surveyed points from a text file or a GeoPackage.
//
// Headings in several languages are understood; without them the cloud's extent decides the order of
// the columns, or ListOptions.Columns does. A list that can be read in two ways is an
// *AmbiguousError, a list that cannot be read a *ListError. Missing heights are NaN, never 0.
// Rows that are no point are listed in Refused.
func ReadList(path string, o ListOptions) (*List, error) {
	b, err := disk.Read(path, maxListBytes)
	if err != nil {
		return nil, err
	}
	if isGeoPackage(b) {
		return readGeoPackage(path, o)
	}
	return ParseList(path, b, o)
}

// ParseList is ReadList on bytes; path serves for messages.
func ParseList(path string, b []byte, o ListOptions) (*List, error) {
	if len(b) > maxListBytes {
		return nil, &ListError{Path: path, Err: fmt.Errorf("larger than %d MB", maxListBytes>>20), Remedy: "give the list of check points, not a point cloud"}
	}
	if err := refuseBinary(path, b); err != nil {
		return nil, err
	}
	r := &reader{path: path, o: o, list: &List{Path: path}}
	return r.read(splitLines(decodeText(b)))
}

// refuseBinary names the formats that are met in place of a list.
func refuseBinary(path string, b []byte) error {
	refuse := func(what, remedy string) error {
		return &ListError{Path: path, Err: errors.New(what), Remedy: remedy}
	}
	const export = "export the points as CSV with headings: name, easting, northing, height"
	switch {
	case len(bytes.TrimSpace(b)) == 0:
		return refuse("empty file", "give a list with a point on each line")
	case bytes.HasPrefix(b, []byte("SQLite format 3\x00")):
		return refuse("a database, not a text list", export)
	case bytes.HasPrefix(b, []byte("PK\x03\x04")):
		return refuse("a spreadsheet or zip archive, not a text list", export)
	case bytes.HasPrefix(b, []byte("LASF")):
		return refuse("a LAS or LAZ point cloud, not a list", "give the cloud as an input and the surveyed points here")
	case bytes.HasPrefix(b, []byte("\xd0\xcf\x11\xe0")):
		return refuse("an old spreadsheet, not a text list", export)
	case bytes.HasPrefix(b, []byte{0, 0, 0x27, 0x0a}):
		return refuse("a shapefile, not a text list", export)
	case bytes.HasPrefix(b, []byte("<")):
		return refuse("an XML or KML file, not a text list", export)
	case b[0] == '{':
		return refuse("a JSON file, not a text list", export)
	case bytes.HasPrefix(b, []byte("\xff\xfe")), bytes.HasPrefix(b, []byte("\xfe\xff")):
		return nil // UTF-16
	case bytes.IndexByte(b, 0) >= 0:
		return refuse("a binary file, not a text list", export)
	}
	return nil
}

// decodeText returns the text of a file in UTF-8, UTF-16 with a mark, or Latin-1.
func decodeText(b []byte) string {
	switch {
	case bytes.HasPrefix(b, []byte("\xef\xbb\xbf")):
		b = b[3:]
	case bytes.HasPrefix(b, []byte("\xff\xfe")):
		return decode16(b[2:], 0, 1)
	case bytes.HasPrefix(b, []byte("\xfe\xff")):
		return decode16(b[2:], 1, 0)
	}
	if utf8.Valid(b) {
		return string(b)
	}
	runes := make([]rune, len(b))
	for i, c := range b {
		runes[i] = rune(c)
	}
	return string(runes)
}

func decode16(b []byte, low, high int) string {
	u := make([]uint16, len(b)/2)
	for i := range u {
		u[i] = uint16(b[2*i+low]) | uint16(b[2*i+high])<<8
	}
	return string(utf16.Decode(u))
}

// line is one line of the file that is neither empty nor a comment.
type line struct {
	row     int
	text    string
	comment bool // began with a comment mark: headings may stand there
}

// splitLines numbers the lines; CR, CRLF and CR CR LF end a line.
func splitLines(text string) []line {
	text = strings.ReplaceAll(text, "\r\r\n", "\n")
	text = strings.ReplaceAll(text, "\r\n", "\n")
	text = strings.ReplaceAll(text, "\r", "\n")
	var out []line
	for i, t := range strings.Split(text, "\n") {
		l := line{row: i + 1, text: strings.TrimRight(t, " \u00a0")}
		trimmed := strings.TrimSpace(l.text)
		for _, mark := range []string{"#", "//", "%", "!"} {
			if strings.HasPrefix(trimmed, mark) {
				l.comment = true
				l.text = strings.TrimSpace(strings.TrimLeft(trimmed, mark))
				break
			}
		}
		if strings.Trim(l.text, " \t,;") != "" {
			out = append(out, l)
		}
	}
	return out
}

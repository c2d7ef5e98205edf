package rinex

import (
	"bufio"
	"errors"
	"io"
	"strings"
)

// maxLine bounds a line: a satellite of version 3 with all codes has 800 characters.
const maxLine = 1 << 14

// source yields lines without their ends.
type source interface {
	// next returns the next line and its number in the file; io.EOF at the end.
	next() (string, int, error)
}

// textLines reads lines of a stream.
type textLines struct {
	r    *bufio.Reader
	n    int
	long int // lines that were cut
}

func (l *textLines) next() (string, int, error) {
	s, err := l.r.ReadSlice('\n')
	l.n++
	if errors.Is(err, bufio.ErrBufferFull) {
		keep := string(s[:min(len(s), maxLine)])
		for errors.Is(err, bufio.ErrBufferFull) {
			_, err = l.r.ReadSlice('\n')
		}
		l.long++
		if err != nil && err != io.EOF {
			return "", l.n, err
		}
		return keep, l.n, nil
	}
	if err != nil && (err != io.EOF || len(s) == 0) {
		return "", l.n, err
	}
	return strings.TrimRight(string(s), "\r\n\x1a"), l.n, nil
}

// pushback lets a parser look at a line and give it back.
type pushback struct {
	source
	line string
	no   int
	held bool
	last int
}

func (p *pushback) next() (string, int, error) {
	if p.held {
		p.held = false
		return p.line, p.no, nil
	}
	s, n, err := p.source.next()
	p.last = n
	return s, n, err
}

func (p *pushback) unread(s string, no int) { p.line, p.no, p.held = s, no, true }

// cut returns columns a to b of a line, counted from 1 as the format tables
// do, shorter at the line's end.
func cut(s string, a, b int) string {
	if len(s) < a {
		return ""
	}
	return s[a-1 : min(b, len(s))]
}

// field is cut without blanks around.
func field(s string, a, b int) string { return strings.TrimSpace(cut(s, a, b)) }

package crs

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// node is a bracketed element of WKT: a keyword with strings, numbers, bare words
// and further elements between its brackets.
type node struct {
	keyword string   // upper case
	values  []string // strings and numbers in order; bare words too
	kids    []*node
}

// maxWKT bounds the text that is parsed; the longest real ones have some 10 kB.
const (
	maxWKT      = 1 << 20
	maxWKTDepth = 50
)

var errEmptyWKT = errors.New("WKT is empty")

// parseWKT reads the elements of s. Stray closing brackets, separators between
// roots and a missing end are accepted and counted in odd, for they occur.
func parseWKT(s string) (roots []*node, odd bool, err error) {
	if len(s) > maxWKT {
		return nil, false, fmt.Errorf("WKT has %d bytes; at most %d are read", len(s), maxWKT)
	}
	p := wktParser{s: s}
	for {
		p.space()
		if p.i >= len(p.s) {
			break
		}
		switch ch := p.s[p.i]; {
		case ch == ']' || ch == ')':
			p.odd = true
			p.i++
		case ch == ',':
			p.i++
		case isWord(ch):
			n, err := p.element(0)
			if err != nil {
				return nil, p.odd, err
			}
			if n != nil {
				roots = append(roots, n)
			}
		default:
			return roots, p.odd, fmt.Errorf("WKT: unexpected %q at byte %d", ch, p.i)
		}
	}
	if len(roots) == 0 {
		return nil, p.odd, errEmptyWKT
	}
	return roots, p.odd, nil
}

type wktParser struct {
	s   string
	i   int
	odd bool
}

func isWord(ch byte) bool {
	return ch == '_' || ch >= '0' && ch <= '9' || ch >= 'A' && ch <= 'Z' || ch >= 'a' && ch <= 'z' || ch >= 0x80
}

func (p *wktParser) space() {
	for p.i < len(p.s) && (p.s[p.i] <= ' ' || p.s[p.i] == 0x7f) {
		p.i++
	}
}

// element reads KEYWORD[...]; a bare word outside brackets gives nil.
func (p *wktParser) element(depth int) (*node, error) {
	if depth > maxWKTDepth {
		return nil, fmt.Errorf("WKT: brackets nested deeper than %d at byte %d", maxWKTDepth, p.i)
	}
	start := p.i
	for p.i < len(p.s) && isWord(p.s[p.i]) {
		p.i++
	}
	word := p.s[start:p.i]
	p.space()
	if p.i >= len(p.s) || p.s[p.i] != '[' && p.s[p.i] != '(' {
		if depth == 0 {
			return nil, fmt.Errorf("WKT: %q at byte %d is not followed by a bracket", clip(word), start)
		}
		return &node{values: []string{word}}, nil
	}
	p.i++
	n := &node{keyword: strings.ToUpper(word)}
	for {
		p.space()
		if p.i >= len(p.s) {
			p.odd = true // cut short
			return n, nil
		}
		switch ch := p.s[p.i]; {
		case ch == ']' || ch == ')':
			p.i++
			return n, nil
		case ch == ',':
			p.i++
		case ch == '"':
			n.values = append(n.values, p.quoted())
		case ch == '-' || ch == '+' || ch == '.':
			n.values = append(n.values, p.number())
		case isWord(ch):
			if ch >= '0' && ch <= '9' {
				n.values = append(n.values, p.number())
				continue
			}
			k, err := p.element(depth + 1)
			if err != nil {
				return nil, err
			}
			if k.keyword == "" {
				n.values = append(n.values, k.values...)
			} else {
				n.kids = append(n.kids, k)
			}
		default:
			return nil, fmt.Errorf("WKT: unexpected %q at byte %d", ch, p.i)
		}
	}
}

// quoted reads a string; a doubled quote stands for one.
func (p *wktParser) quoted() string {
	var b strings.Builder
	p.i++
	for p.i < len(p.s) {
		if p.s[p.i] == '"' {
			if p.i+1 < len(p.s) && p.s[p.i+1] == '"' {
				b.WriteByte('"')
				p.i += 2
				continue
			}
			p.i++
			return b.String()
		}
		b.WriteByte(p.s[p.i])
		p.i++
	}
	p.odd = true
	return b.String()
}

func (p *wktParser) number() string {
	start := p.i
	for p.i < len(p.s) && strings.IndexByte("+-.0123456789eE", p.s[p.i]) >= 0 {
		p.i++
	}
	return p.s[start:p.i]
}

func clip(s string) string {
	if len(s) > 40 {
		return s[:40] + "..."
	}
	return s
}

// name returns the first value.
func (n *node) name() string {
	if len(n.values) == 0 {
		return ""
	}
	return strings.TrimSpace(n.values[0])
}

// number returns value i as a number.
func (n *node) number(i int) (float64, bool) {
	if i >= len(n.values) {
		return 0, false
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(n.values[i]), 64)
	if err != nil || v != v || v-v != 0 {
		return 0, false
	}
	return v, true
}

// kid returns the first direct child with one of the keywords, or nil.
func (n *node) kid(keywords ...string) *node {
	for _, k := range n.kids {
		for _, w := range keywords {
			if k.keyword == w {
				return k
			}
		}
	}
	return nil
}

// find returns the first element of the tree, the node itself included, with one of the keywords.
func (n *node) find(keywords ...string) *node {
	for _, w := range keywords {
		if n.keyword == w {
			return n
		}
	}
	for _, k := range n.kids {
		if f := k.find(keywords...); f != nil {
			return f
		}
	}
	return nil
}

// epsg returns the EPSG code of the node itself: AUTHORITY["EPSG","2154"] or ID["EPSG",2154].
func (n *node) epsg() int {
	for _, k := range n.kids {
		if k.keyword != "AUTHORITY" && k.keyword != "ID" || len(k.values) < 2 || !strings.EqualFold(k.values[0], "EPSG") {
			continue
		}
		if code, err := strconv.Atoi(strings.TrimSpace(k.values[1])); err == nil && code > 0 {
			return code
		}
	}
	return 0
}

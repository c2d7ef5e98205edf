package rinex

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// compact turns the lines of a compact (Hatanaka) RINEX file into those of the
// plain file it was made from.
//
// Satellite lines hold, for each observation code, the difference of some
// order to the values before it; epoch lines and flags hold only the characters
// that changed. A blank keeps a character, an ampersand makes it a blank. A
// number with an ampersand, "3&20243517560", begins a series anew.
//
// An error ends the sequence: differences after a lost line mean nothing until
// every series has begun anew, so reading goes on at the next epoch line that
// is given in full, when resync is called.
type compact struct {
	in      source
	version int // 1 (for RINEX 2) or 3 (for RINEX 3 and 4)
	header  bool
	types   map[byte]int // observation codes of a system; key 0 in version 1
	epoch   []byte       // epoch line in full, satellites in one row from column 33 or 42
	sats    map[string]*satState
	clock   series
	out     []string // lines ready to be given
	outNo   int
	broken  error

	values []int64 // of one satellite, reused
	given  []bool
	buf    []byte
}

type satState struct {
	series []series
	flags  []byte
}

// series is one row of numbers under differences.
type series struct {
	order, k int // -1 order: not begun
	d        [10]int64
}

var errSeries = errors.New("a difference without a beginning of its series")

// add takes the next text of the series and returns the value.
func (s *series) add(text string) (int64, error) {
	if i := strings.IndexByte(text, '&'); i >= 0 {
		order, err := strconv.Atoi(text[:i])
		if err != nil || order < 0 || order > 9 {
			return 0, fmt.Errorf("order of differences %q", text[:i])
		}
		v, err := strconv.ParseInt(text[i+1:], 10, 64)
		if err != nil {
			return 0, fmt.Errorf("number %q", text[i+1:])
		}
		*s = series{order: order, k: 0}
		s.d[0] = v
		return v, nil
	}
	if s.order < 0 {
		return 0, errSeries
	}
	v, err := strconv.ParseInt(text, 10, 64)
	if err != nil {
		return 0, fmt.Errorf("number %q", text)
	}
	if s.k < s.order {
		s.k++
	}
	s.d[s.k] = v
	if s.k == 0 {
		return v, nil // order zero: every value is given in full
	}
	for j := s.k - 1; j >= 0; j-- {
		s.d[j] += s.d[j+1]
	}
	return s.d[0], nil
}

func newCompact(in source, version int) *compact {
	return &compact{in: in, version: version, header: true, types: map[byte]int{}, sats: map[string]*satState{}, clock: series{order: -1}}
}

// patch applies a line of changed characters to old.
func patch(old []byte, diff string) []byte {
	for i := 0; i < len(diff); i++ {
		c := diff[i]
		if i >= len(old) {
			old = append(old, ' ')
		}
		switch c {
		case ' ':
		case '&':
			old[i] = ' '
		default:
			old[i] = c
		}
	}
	return old
}

func (c *compact) next() (string, int, error) {
	for len(c.out) == 0 {
		if c.broken != nil {
			return "", c.outNo, c.broken
		}
		if err := c.fill(); err != nil {
			c.broken = err
		}
	}
	s := c.out[0]
	c.out = c.out[1:]
	return s, c.outNo, nil
}

// resync drops what is left of the broken epoch and goes on at the next epoch
// line given in full.
func (c *compact) resync() { c.broken, c.epoch, c.out = nil, nil, nil }

func (c *compact) line() (string, error) {
	s, n, err := c.in.next()
	c.outNo = n
	return s, err
}

// fill makes the lines of the header or of one epoch.
func (c *compact) fill() error {
	s, err := c.line()
	if err != nil {
		return err
	}
	if c.header {
		c.out = append(c.out, s)
		c.readHeaderLine(s)
		return nil
	}
	return c.fillEpoch(s)
}

// readHeaderLine follows the codes, which the layout of satellite lines depends on.
func (c *compact) readHeaderLine(s string) {
	switch label := field(s, 61, 80); label {
	case "END OF HEADER":
		c.header = false
	case "# / TYPES OF OBSERV":
		if n, err := strconv.Atoi(field(s, 1, 6)); err == nil && n > 0 && n < 1000 {
			c.types[0] = n
		}
	case "SYS / # / OBS TYPES":
		if n, err := strconv.Atoi(field(s, 4, 6)); err == nil && n > 0 && n < 1000 && s[0] != ' ' {
			c.types[s[0]] = n
		}
	}
}

// columns of the compact epoch line, from 0.
func (c *compact) layout() (flag, countFrom, countTo, satFrom int) {
	if c.version == 1 {
		return 28, 29, 32, 32
	}
	return 31, 32, 35, 41
}

const maxSats = 999

func (c *compact) fillEpoch(s string) error {
	full := s != "" && (s[0] == '&' || s[0] == '>')
	switch {
	case full && c.version == 1:
		c.epoch = append(c.epoch[:0], ' ')
		c.epoch = append(c.epoch, s[1:]...)
	case full:
		c.epoch = append(c.epoch[:0], s...)
	case c.epoch == nil:
		return nil // skipping to the next line in full
	default:
		c.epoch = patch(c.epoch, s)
	}
	if full {
		c.sats = map[string]*satState{} // every series begins anew
		c.clock = series{order: -1}
	}
	flagAt, from, to, satAt := c.layout()
	if len(c.epoch) < to {
		return fmt.Errorf("epoch line of %d characters", len(c.epoch))
	}
	n, err := strconv.Atoi(strings.TrimSpace(string(c.epoch[from:to])))
	if err != nil || n < 0 || n > maxSats {
		return fmt.Errorf("number of satellites %q", c.epoch[from:to])
	}
	if f := c.epoch[flagAt]; f > '1' && f <= '9' {
		return c.fillEvent(n)
	}
	if len(c.epoch) < satAt+3*n {
		return fmt.Errorf("%d satellites announced, %d named", n, max(0, len(c.epoch)-satAt)/3)
	}
	clock, err := c.clockText()
	if err != nil {
		return err
	}
	names := make([]string, n)
	for i := range names {
		names[i] = string(c.epoch[satAt+3*i : satAt+3*i+3])
	}
	c.epochLines(names, clock)
	return c.satLines(names)
}

// fillEvent passes the lines of a special epoch on as they are.
func (c *compact) fillEvent(n int) error {
	c.out = append(c.out, strings.TrimRight(string(c.epoch), " "))
	for range n {
		s, err := c.line()
		if err != nil {
			return err
		}
		c.readHeaderLine(s)
		c.out = append(c.out, s)
	}
	c.header = false
	c.epoch = nil // the next epoch is given in full
	return nil
}

// clockText reads the line of the receiver clock offset, empty when there is none.
func (c *compact) clockText() (string, error) {
	s, err := c.line()
	if err != nil {
		return "", cutShort(err)
	}
	if s = strings.TrimSpace(s); s == "" {
		c.clock.order = -1
		return "", nil
	}
	v, err := c.clock.add(s)
	if err != nil {
		return "", fmt.Errorf("clock offset: %w", err)
	}
	if c.version == 1 {
		return decimal(v, 9, 12), nil
	}
	return decimal(v, 12, 15), nil
}

// cutShort names an end of file inside an epoch.
func cutShort(err error) error {
	if err == io.EOF {
		return io.ErrUnexpectedEOF
	}
	return err
}

// epochLines writes the plain epoch line, with continuation lines in version 2.
func (c *compact) epochLines(names []string, clock string) {
	if c.version != 1 {
		s := string(c.epoch[:35])
		if clock != "" {
			s += strings.Repeat(" ", 6) + clock
		}
		c.out = append(c.out, strings.TrimRight(s, " "))
		return
	}
	lead := string(c.epoch[:32])
	for i := 0; i == 0 || i < len(names); i += 12 {
		s := lead + strings.Join(names[i:min(i+12, len(names))], "")
		if i == 0 && clock != "" {
			s = pad(s, 68) + clock
		}
		c.out = append(c.out, strings.TrimRight(s, " "))
		lead = strings.Repeat(" ", 32)
	}
}

func pad(s string, n int) string {
	if len(s) < n {
		s += strings.Repeat(" ", n-len(s))
	}
	return s
}

// satLines decodes the lines of all satellites of an epoch.
func (c *compact) satLines(names []string) error {
	now := map[string]*satState{}
	for _, name := range names {
		s, err := c.line()
		if err != nil {
			return cutShort(err)
		}
		key := byte(0)
		if c.version != 1 {
			key = name[0]
		}
		n, ok := c.types[key]
		if !ok {
			return fmt.Errorf("satellite %s: the header names no codes of its system", name)
		}
		st := c.sats[name]
		if st == nil || len(st.series) != n {
			st = &satState{series: make([]series, n)}
			for i := range st.series {
				st.series[i].order = -1
			}
		}
		if now[name] != nil {
			return fmt.Errorf("satellite %s twice in an epoch", name)
		}
		now[name] = st
		if err := c.satLine(name, s, st); err != nil {
			return fmt.Errorf("satellite %s: %w", name, err)
		}
	}
	c.sats = now
	return nil
}

func (c *compact) satLine(name, s string, st *satState) error {
	n := len(st.series)
	if cap(c.values) < n {
		c.values, c.given = make([]int64, n), make([]bool, n)
	}
	values, given := c.values[:n], c.given[:n]
	for i := range n {
		var f string
		if k := strings.IndexByte(s, ' '); k >= 0 {
			f, s = s[:k], s[k+1:]
		} else {
			f, s = s, ""
		}
		if given[i] = f != ""; !given[i] {
			st.series[i].order = -1
			continue
		}
		v, err := st.series[i].add(f)
		if err != nil {
			return fmt.Errorf("code %d: %w", i+1, err)
		}
		values[i] = v
	}
	if len(s) > 2*n {
		s = s[:2*n]
	}
	st.flags = patch(st.flags, s)
	for len(st.flags) < 2*n {
		st.flags = append(st.flags, ' ')
	}
	b := c.buf[:0]
	if c.version != 1 {
		b = append(b, name...)
	}
	for i, v := range values {
		if c.version == 1 && i > 0 && i%5 == 0 {
			c.out = append(c.out, string(bytes.TrimRight(b, " ")))
			b = b[:0]
		}
		if !given[i] { // the flags of a missing observation are kept for the next difference, not shown
			b = append(b, "                "...)
			continue
		}
		b = appendDecimal(b, v, 3, 14)
		b = append(b, st.flags[2*i], st.flags[2*i+1])
	}
	c.out = append(c.out, string(bytes.TrimRight(b, " ")))
	c.buf = b
	return nil
}

// appendDecimal appends v / 10^digits in width characters, without a zero before the
// point, as the open twin files have it.
func appendDecimal(b []byte, v int64, digits, width int) []byte {
	var t [40]byte
	at := len(t)
	u := uint64(v)
	if v < 0 {
		u = -u
	}
	for k := 0; k < digits || u > 0; k++ {
		if k == digits {
			at--
			t[at] = '.'
		}
		at--
		t[at] = byte('0' + u%10)
		u /= 10
	}
	if len(t)-at == digits { // nothing before the point
		at--
		t[at] = '.'
	}
	if v < 0 {
		at--
		t[at] = '-'
	}
	for k := len(t) - at; k < width; k++ {
		b = append(b, ' ')
	}
	return append(b, t[at:]...)
}

func decimal(v int64, digits, width int) string { return string(appendDecimal(nil, v, digits, width)) }

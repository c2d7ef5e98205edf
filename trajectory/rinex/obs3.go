package rinex

import (
	"strconv"
	"strings"
)

// epoch3 reads one epoch of versions 3 and 4. Columns: 3-6 year, 8-9 month,
// 11-12 day, 14-15 hour, 17-18 minute, 19-29 seconds, 32 flag, 33-35 satellites.
func (p *parser) epoch3() error {
	s, no, err := p.in.next()
	if err != nil {
		return err
	}
	switch {
	case strings.TrimSpace(s) == "":
		return nil
	case isHeaderStart(s):
		return p.secondHeader(s, no)
	case !strings.HasPrefix(s, ">"):
		p.file.damage(no, "%s where an epoch line (>) is expected", shown(s))
		return p.skipTo3()
	}
	e, n, ok := p.epochLine3(s)
	if !ok {
		p.file.damage(no, "the epoch line %s cannot be read", shown(s))
		return p.skipTo3()
	}
	if e.Flag > 1 {
		at := e.GPSS
		if at == 0 {
			at = p.last
		}
		return p.event(no, e.Flag, at, n)
	}
	for k := range n {
		s, lineNo, err := p.in.next()
		if err != nil {
			p.file.damage(lineNo, "the file ends after %d of %d satellites of the epoch %s", k, n, clockText(e.GPSS))
			return err
		}
		if strings.HasPrefix(s, ">") || isHeaderStart(s) {
			p.file.damage(lineNo, "%d of %d satellites of the epoch %s", k, n, clockText(e.GPSS))
			p.in.unread(s, lineNo)
			break
		}
		sys, bands, ok := p.satellite3(s)
		if !ok {
			p.file.damage(lineNo, "%s is no line of a satellite", shown(s))
			continue
		}
		if bands != 0 {
			e.count(sys, bands)
		}
	}
	p.add(no, e)
	return nil
}

func (p *parser) epochLine3(s string) (e Epoch, n int, ok bool) {
	flag, ok1 := atoi(cut(s, 32, 32))
	n, ok2 := atoi(cut(s, 33, 35))
	if !ok1 || !ok2 || flag < 0 || flag > 6 || n < 0 {
		return e, 0, false
	}
	e.Flag = uint8(flag)
	y, a := atoi(cut(s, 3, 6))
	mo, b := atoi(cut(s, 8, 9))
	d, c := atoi(cut(s, 11, 12))
	h, f := atoi(cut(s, 14, 15))
	mi, g := atoi(cut(s, 17, 18))
	sec, err := strconv.ParseFloat(field(s, 19, 29), 64)
	if !(a && b && c && f && g) || err != nil {
		return e, n, flag > 1 // special epochs may have no time
	}
	e.GPSS, ok = p.epochTime(y, mo, d, h, mi, sec)
	return e, n, ok
}

// satellite3 returns system and bands with an observation.
func (p *parser) satellite3(s string) (sys byte, bands uint16, ok bool) {
	if len(s) < 3 || !isLetter(s[0]) {
		return 0, 0, false
	}
	if _, ok := atoi(s[1:3]); !ok {
		return 0, 0, false
	}
	sys = s[0]
	list, known := p.bands[sys]
	if !known {
		return sys, 0, false
	}
	for i, b := range list {
		if hasValue(s, 3+16*i) {
			bands |= b
		}
	}
	if k := p.l1[sys]; k >= 0 {
		p.phases.note(sys, s[1:3], s, 3+16*k)
	}
	return sys, bands, true
}

// hasValue reports whether the 14 columns from 0-based at hold a number other than zero.
func hasValue(s string, at int) bool {
	for i := at; i < at+14 && i < len(s); i++ {
		if s[i] >= '1' && s[i] <= '9' {
			return true
		}
	}
	return false
}

func isLetter(c byte) bool { return c >= 'A' && c <= 'Z' }

// skipTo3 goes to the next epoch line.
func (p *parser) skipTo3() error {
	for {
		s, no, err := p.in.next()
		if err != nil {
			return err
		}
		if strings.HasPrefix(s, ">") || isHeaderStart(s) {
			p.in.unread(s, no)
			return nil
		}
	}
}

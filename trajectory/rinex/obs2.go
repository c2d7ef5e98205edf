package rinex

import (
	"io"
	"strconv"
	"strings"
)

// calendar2 holds the fields of an epoch line of version 2.
type calendar2 struct {
	y, mo, d, h, mi int
	sec             float64
	dated           bool
}

// epochLine2 reads an epoch line of version 2. Columns: 2-3 year, 5-6 month,
// 8-9 day, 11-12 hour, 14-15 minute, 16-26 seconds, 29 flag, 30-32 satellites.
func epochLine2(s string) (t calendar2, flag, n int, ok bool) {
	s = strings.TrimRight(s, " ")
	if len(s) < 29 || s[0] != ' ' || len(s) > 81 {
		return t, 0, 0, false
	}
	flag, ok = atoi(cut(s, 29, 29))
	if !ok || flag < 0 || flag > 6 || cut(s, 27, 28) != "  " {
		return t, 0, 0, false
	}
	if n, ok = atoi(cut(s, 30, 32)); !ok || n < 0 {
		return t, 0, 0, false
	}
	var a [5]bool
	t.y, a[0] = atoi(cut(s, 2, 3))
	t.mo, a[1] = atoi(cut(s, 5, 6))
	t.d, a[2] = atoi(cut(s, 8, 9))
	t.h, a[3] = atoi(cut(s, 11, 12))
	t.mi, a[4] = atoi(cut(s, 14, 15))
	sec, err := strconv.ParseFloat(field(s, 16, 26), 64)
	t.sec, t.dated = sec, err == nil && a[0] && a[1] && a[2] && a[3] && a[4]
	if !t.dated {
		return t, flag, n, flag > 1 && strings.TrimSpace(cut(s, 1, 26)) == ""
	}
	if t.y < 80 {
		t.y += 2000
	} else {
		t.y += 1900
	}
	return t, flag, n, true
}

// epoch2 reads one epoch of version 2.
func (p *parser) epoch2() error {
	s, no, err := p.in.next()
	if err != nil {
		return err
	}
	switch {
	case strings.TrimSpace(s) == "":
		return nil
	case isHeaderStart(s):
		return p.secondHeader(s, no)
	}
	t, flag, n, ok := epochLine2(s)
	e := Epoch{Flag: uint8(max(flag, 0))}
	if ok && t.dated {
		e.GPSS, ok = p.epochTime(t.y, t.mo, t.d, t.h, t.mi, t.sec)
	}
	if !ok {
		p.file.damage(no, "the epoch line %s cannot be read", shown(s))
		return p.skipTo2()
	}
	if flag > 1 {
		at := e.GPSS
		if !t.dated {
			at = p.last
		}
		return p.event(no, e.Flag, at, n)
	}
	names, err := p.names2(s, n)
	if err != nil {
		return err
	}
	if names == nil {
		p.file.damage(no, "the epoch %s announces %d satellites and does not name them", clockText(e.GPSS), n)
		return p.skipTo2()
	}
	perSat := max(1, (p.codes(0)+4)/5)
	for k, name := range names {
		sys := name[0]
		if sys == ' ' {
			sys = 'G'
			if p.h.System != 'M' {
				sys = p.h.System
			}
		}
		bands, err, whole := p.satellite2(perSat, sys, name[1:])
		if err != nil {
			_, at, _ := p.in.next()
			p.file.damage(at, "the file ends after %d of %d satellites of the epoch %s", k, n, clockText(e.GPSS))
			return err
		}
		if !whole {
			p.file.damage(p.in.last, "%d of %d satellites of the epoch %s", k, n, clockText(e.GPSS))
			break
		}
		if bands != 0 {
			e.count(sys, bands)
		}
	}
	p.add(no, e)
	return nil
}

// names2 reads the satellites of an epoch, 12 a line from column 33; nil when
// they are not all there.
func (p *parser) names2(s string, n int) ([]string, error) {
	names := make([]string, 0, min(n, 99))
	for k := range n {
		if k > 0 && k%12 == 0 {
			next, no, err := p.in.next()
			if err != nil {
				return nil, err
			}
			if strings.TrimSpace(cut(next, 1, 32)) != "" {
				p.in.unread(next, no)
				return nil, nil
			}
			s = next
		}
		at := 33 + 3*(k%12)
		name := cut(s, at, at+2)
		if len(name) < 3 || name[0] != ' ' && !isLetter(name[0]) {
			return nil, nil
		}
		if _, ok := atoi(name[1:]); !ok {
			return nil, nil
		}
		names = append(names, name)
	}
	return names, nil
}

// satellite2 reads the lines of one satellite, five observations each.
func (p *parser) satellite2(lines int, sys byte, number string) (bands uint16, err error, whole bool) {
	list := p.bands[0]
	l1 := p.l1[0]
	for l := range lines {
		s, no, err := p.in.next()
		if err == io.EOF && l > 0 { // blank lines at the end are often cut off
			return bands, nil, true
		}
		if err != nil {
			return bands, err, false
		}
		if _, _, _, ok := epochLine2(s); ok && len(s) > 32 && isLetter(s[32]) || isHeaderStart(s) {
			p.in.unread(s, no)
			return bands, nil, false
		}
		for k := 0; k < 5 && 5*l+k < len(list); k++ {
			if hasValue(s, 16*k) {
				bands |= list[5*l+k]
			}
			if 5*l+k == l1 {
				p.phases.note(sys, number, s, 16*k)
			}
		}
	}
	return bands, nil, true
}

// skipTo2 goes to the next line that has the shape of an epoch line.
func (p *parser) skipTo2() error {
	for {
		s, no, err := p.in.next()
		if err != nil {
			return err
		}
		if t, _, n, ok := epochLine2(s); ok && t.dated && n > 0 && len(s) >= 35 || isHeaderStart(s) {
			p.in.unread(s, no)
			return nil
		}
	}
}

package rinex

import (
	"errors"
	"fmt"
	"io"
	"math"
	"math/bits"
	"strconv"
	"strings"
	"time"
)

// parser reads one file.
type parser struct {
	file    *File
	in      pushback
	unpack  *compact // nil for plain files
	compact string
	h       Header
	want    map[byte]int // codes announced
	bands   map[byte][]uint16
	l1      map[byte]int // place of the phase of band 1 among the codes
	phases  phaseWatch
	last    float64 // time of the last good epoch
	any     bool
	leap    func(time.Time) float64
}

// run reads header and epochs until the file ends.
func (p *parser) run() error {
	err := p.readHeader()
	for err == nil {
		if p.h.Version >= 3 {
			err = p.epoch3()
		} else {
			err = p.epoch2()
		}
		if err != nil && err != io.EOF && p.unpack != nil && p.unpack.broken != nil && p.unpack.broken != io.EOF && recoverable(err) {
			p.file.damage(p.unpack.outNo, "%v", err)
			p.unpack.resync()
			err = nil
		}
	}
	if err == io.EOF {
		return nil
	}
	return err
}

// recoverable: the compact form broke, not the reading of the file.
func recoverable(err error) bool {
	return !errors.Is(err, ErrExpansion) && !errors.Is(err, io.ErrUnexpectedEOF) && !isRead(err)
}

// readError marks errors of unpacking and of the disk.
type readError struct{ error }

func (e readError) Unwrap() error { return e.error }

func isRead(err error) bool {
	var r readError
	return errors.As(err, &r)
}

// looksEpoch reports whether a line has the shape of an epoch line.
func (p *parser) looksEpoch(s string, version float64) bool {
	if version >= 3 {
		return strings.HasPrefix(s, "> ")
	}
	_, _, _, ok := epochLine2(s)
	return ok
}

// epochTime turns calendar fields into GPS seconds.
func (p *parser) epochTime(y, mo, d, h, mi int, sec float64) (float64, bool) {
	if mo < 1 || mo > 12 || d < 1 || d > 31 || h < 0 || h > 24 || mi < 0 || mi > 60 || !(sec >= 0 && sec <= 61) || y < 1980 || y > 2200 {
		return 0, false
	}
	t := time.Date(y, time.Month(mo), d, h, mi, 0, 0, time.UTC)
	if t.Day() != d && h < 24 {
		return 0, false // 31 February
	}
	g := float64(t.Unix()-315964800) + sec
	switch p.h.TimeSystem {
	case "GLO", "UTC":
		g += p.leap(t)
	case "BDT":
		g += 14
	}
	// Seconds have seven decimals, doubles of 1.4e9 s resolve 2e-7: keep microseconds.
	return math.Round(g*1e6) / 1e6, true
}

// add appends a sound epoch.
func (p *parser) add(no int, e Epoch) {
	if p.any && e.GPSS <= p.last {
		p.file.damage(no, "the epoch %s does not follow the one before (%s)", clockText(e.GPSS), clockText(p.last))
		clear(p.phases.now)
		return
	}
	if n := len(p.file.Epochs); n > 0 && e.GPSS-p.last > 366*86400 {
		p.file.damage(no, "the epoch %s is more than a year after the one before", clockText(e.GPSS))
		clear(p.phases.now)
		return
	}
	p.last, p.any = e.GPSS, true
	e.JumpM = p.phases.step(e.GPSS)
	p.file.Epochs = append(p.file.Epochs, e)
}

func clockText(gps float64) string {
	s := int64(gps)
	return time.Unix(s+315964800, 0).UTC().Format("2006-01-02 15:04:05")
}

// count notes one satellite with the bands it was seen on.
func (e *Epoch) count(sys byte, bands uint16) {
	e.Sats++
	if k := strings.IndexByte(Systems, sys); k >= 0 && e.PerSystem[k] < 255 {
		e.PerSystem[k]++
	}
	if bits.OnesCount16(bands) >= 2 {
		e.TwoFrequency++
	}
}

// event notes a special epoch and reads its lines.
func (p *parser) event(no int, flag uint8, at float64, lines int) error {
	ev := SiteEvent{Line: no, GPSS: at, Flag: flag}
	h := p.h
	h.Types = map[byte][]string{}
	for k, v := range p.h.Types {
		h.Types[k] = v
	}
	var sys byte
	types := false
	for range lines {
		s, n, err := p.in.next()
		if err != nil {
			return err
		}
		if flag == 6 { // cycle slips: observations, not header lines
			continue
		}
		label := field(s, 61, 80)
		switch label {
		case "ANTENNA: DELTA H/E/N", "ANT # / TYPE", "MARKER NAME", "APPROX POSITION XYZ":
			ev.Text = strings.TrimSpace(ev.Text + " " + label + " " + strings.Join(strings.Fields(cut(s, 1, 60)), " "))
		case "# / TYPES OF OBSERV", "SYS / # / OBS TYPES":
			types = true
		}
		if s != "" {
			sys = p.headerLine(&h, s, n, sys)
		}
	}
	if flag == 2 || flag == 3 || flag == 4 && ev.Text != "" {
		if len(p.file.SiteEvents) < 1000 {
			p.file.SiteEvents = append(p.file.SiteEvents, ev)
		}
	}
	if types {
		p.h = h
		p.prepareBands()
	}
	return nil
}

// secondHeader handles a header in the middle of a file.
func (p *parser) secondHeader(s string, no int) error {
	p.in.unread(s, no)
	p.want = map[byte]int{}
	return p.readHeader()
}

func isHeaderStart(s string) bool { return field(s, 61, 80) == "RINEX VERSION / TYPE" }

func atoi(s string) (int, bool) {
	v, err := strconv.Atoi(strings.TrimSpace(s))
	return v, err == nil
}

func shown(s string) string {
	if len(s) > 40 {
		s = s[:40] + "…"
	}
	return fmt.Sprintf("%q", s)
}

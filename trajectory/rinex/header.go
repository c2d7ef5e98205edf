package rinex

import (
	"math"
	"strconv"
	"strings"
)

// readHeader reads header lines from the source up to END OF HEADER. The first
// line has been read already by the caller when version is known.
func (p *parser) readHeader() error {
	h := Header{Types: map[byte][]string{}, Compact: p.compact}
	var sys byte
	for lines := 0; ; lines++ {
		s, no, err := p.in.next()
		if err != nil {
			p.file.damage(no, "the header has no END OF HEADER")
			p.setHeader(h)
			return err
		}
		if label := field(s, 61, 80); label == "END OF HEADER" {
			p.setHeader(h)
			return nil
		}
		// Without END OF HEADER the first epoch ends it.
		if lines > 0 && p.looksEpoch(s, h.Version) {
			p.file.damage(no, "the header has no END OF HEADER")
			p.in.unread(s, no)
			p.setHeader(h)
			return nil
		}
		sys = p.headerLine(&h, s, no, sys)
	}
}

// headerLine reads one line into h; sys is the system whose codes continue.
func (p *parser) headerLine(h *Header, s string, no int, sys byte) byte {
	label := field(s, 61, 80)
	switch label {
	case "RINEX VERSION / TYPE":
		h.Version, _ = strconv.ParseFloat(field(s, 1, 9), 64)
		h.System = 'G'
		if c := cut(s, 41, 41); c != "" && c != " " {
			h.System = c[0]
		}
	case "MARKER NAME":
		h.Marker = field(s, 1, 60)
	case "MARKER NUMBER":
		h.MarkerNumber = field(s, 1, 20)
	case "REC # / TYPE / VERS":
		h.Receiver = field(s, 21, 40)
	case "ANT # / TYPE":
		h.AntennaNumber, h.AntennaType = field(s, 1, 20), strings.Join(strings.Fields(cut(s, 21, 40)), " ")
	case "APPROX POSITION XYZ":
		if v, ok := three(s); ok {
			h.XYZM = v
			h.HasPosition = math.Hypot(math.Hypot(v[0], v[1]), v[2]) > 6e6
		}
	case "ANTENNA: DELTA H/E/N":
		if v, ok := three(s); ok {
			h.DeltaHENM, h.HasDelta = v, true
		}
	case "INTERVAL":
		h.ClaimedStepS, _ = strconv.ParseFloat(field(s, 1, 10), 64)
	case "TIME OF FIRST OBS":
		h.ClaimedFirst = strings.Join(strings.Fields(cut(s, 1, 43)), " ")
		h.TimeSystem = strings.Trim(field(s, 44, 51), "0123456789. ") // columns 49 to 51; writers stray
	case "TIME OF LAST OBS":
		h.ClaimedLast = strings.Join(strings.Fields(cut(s, 1, 43)), " ")
	case "# / TYPES OF OBSERV":
		if n := field(s, 1, 6); n != "" {
			h.Types[0] = nil
			p.want[0], _ = strconv.Atoi(n)
		}
		h.Types[0] = append(h.Types[0], strings.Fields(cut(s, 7, 60))...)
	case "SYS / # / OBS TYPES":
		if c := s[0]; c != ' ' {
			sys = c
			h.Types[sys] = nil
			p.want[sys], _ = strconv.Atoi(field(s, 4, 6))
		}
		if sys != 0 {
			h.Types[sys] = append(h.Types[sys], strings.Fields(cut(s, 8, 60))...)
		}
	}
	return sys
}

// three reads 3F14.4, also where blanks have moved the columns.
func three(s string) (v [3]float64, ok bool) {
	if f := strings.Fields(cut(s, 1, 60)); len(f) == 3 {
		for i := range v {
			x, err := strconv.ParseFloat(f[i], 64)
			if err != nil || !(math.Abs(x) < 1e9) {
				return v, false
			}
			v[i] = x
		}
		return v, true
	}
	for i := range v {
		x, err := strconv.ParseFloat(field(s, 1+14*i, 14+14*i), 64)
		if err != nil || math.IsNaN(x) || math.Abs(x) > 1e9 {
			return v, false
		}
		v[i] = x
	}
	return v, true
}

// setHeader finishes a header: time system by rule, number of codes.
func (p *parser) setHeader(h Header) {
	if h.TimeSystem == "" {
		h.TimeSystemRule = true
		h.TimeSystem = map[byte]string{'R': "GLO", 'E': "GAL", 'C': "BDT", 'J': "QZS", 'I': "IRN"}[h.System]
		if h.TimeSystem == "" {
			h.TimeSystem = "GPS"
		}
	}
	for sys, n := range p.want {
		if got := len(h.Types[sys]); got != n {
			p.file.damage(0, "the header announces %d observation codes%s and names %d", n, ofSystem(sys), got)
		}
	}
	p.file.Headers++
	if p.file.Headers > 1 {
		p.file.damage(0, "header %d in one file: files were joined by hand", p.file.Headers)
	} else {
		p.file.Header = h
	}
	p.h = h
	p.prepareBands()
}

func ofSystem(sys byte) string {
	if sys == 0 {
		return ""
	}
	return " of system " + string(sys)
}

// prepareBands turns observation codes into frequency bands: the digit of the code.
func (p *parser) prepareBands() {
	p.bands, p.l1 = map[byte][]uint16{}, map[byte]int{}
	for sys, codes := range p.h.Types {
		n := max(len(codes), 0)
		if w := p.want[sys]; w > 0 && w < n {
			n = w // the count rules the layout of the lines
		}
		b := make([]uint16, n)
		for i, c := range codes[:n] {
			if len(c) >= 2 && c[1] >= '0' && c[1] <= '9' {
				b[i] = 1 << (c[1] - '0')
			}
		}
		p.bands[sys], p.l1[sys] = b, phaseCode(sys, codes[:n])
	}
}

// codes returns the number of observations on the lines of a satellite.
func (p *parser) codes(sys byte) int {
	if w := p.want[sys]; w > 0 {
		return w
	}
	return len(p.h.Types[sys])
}

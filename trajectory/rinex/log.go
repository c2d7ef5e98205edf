package rinex

import (
	"errors"
	"fmt"
	"math"
	"sort"

	"sidelap/trajectory/geodesy"
)

// Log is what a base station recorded, from one file or several in a row.
type Log struct {
	Files     []*File
	Epochs    []Epoch // in order of time, none twice
	IntervalS float64 // the step met most often
	Gaps      []Gap
	Notes     []string // what does not fit between the files
	Failed    []error  // files that gave nothing, beside others that did
	Shared    int      // epochs that are in more than one file
}

// Gap is a step of more than 1.5 intervals.
type Gap struct{ StartS, EndS float64 } // the epochs on both sides, GPS seconds

// LengthS returns the step.
func (g Gap) LengthS() float64 { return g.EndS - g.StartS }

// Read reads observation files and joins them. Files that give nothing are in
// Log.Failed if others give something; the error is theirs if none does, or
// that of the operating system.
func Read(paths ...string) (*Log, error) {
	var files []*File
	var failed []error
	for _, p := range paths {
		more, bad, err := ReadAll(p)
		if err != nil {
			return nil, err
		}
		files, failed = append(files, more...), append(failed, bad...)
	}
	if len(files) == 0 && len(failed) > 0 {
		return nil, errors.Join(failed...)
	}
	l, err := Join(files...)
	if err != nil {
		return nil, err
	}
	l.Failed = failed
	return l, nil
}

// Join makes one log of files of one station. Epochs that two files share
// count once. What differs between the files is in Notes.
func Join(files ...*File) (*Log, error) {
	if len(files) == 0 {
		return nil, fmt.Errorf("no observation files given")
	}
	l := &Log{Files: append([]*File(nil), files...)}
	sort.SliceStable(l.Files, func(i, j int) bool { return l.Files[i].Epochs[0].GPSS < l.Files[j].Epochs[0].GPSS })
	var all []Epoch
	for _, f := range l.Files {
		all = append(all, f.Epochs...)
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].GPSS < all[j].GPSS })
	for _, e := range all {
		if n := len(l.Epochs); n > 0 && e.GPSS-l.Epochs[n-1].GPSS < 1e-3 {
			continue
		}
		l.Epochs = append(l.Epochs, e)
	}
	l.Shared = len(all) - len(l.Epochs)
	l.IntervalS = commonStep(l.Epochs)
	for i := 1; i < len(l.Epochs); i++ {
		if a, b := l.Epochs[i-1].GPSS, l.Epochs[i].GPSS; b-a > 1.5*l.IntervalS {
			l.Gaps = append(l.Gaps, Gap{a, b})
		}
	}
	l.compare()
	return l, nil
}

// commonStep returns the step met most often, to the millisecond; of several
// the shortest. One epoch has no step: 0.
func commonStep(e []Epoch) float64 {
	count := map[int64]int{}
	for i := 1; i < len(e); i++ {
		count[int64(math.Round((e[i].GPSS-e[i-1].GPSS)*1000))]++
	}
	best, n := int64(0), 0
	for step, k := range count {
		if k > n || k == n && step < best {
			best, n = step, k
		}
	}
	return float64(best) / 1000
}

// compare notes what differs between files that should be of one set-up.
func (l *Log) compare() {
	first := l.Files[0].Header
	for _, f := range l.Files[1:] {
		h := f.Header
		if h.Marker != first.Marker {
			l.Notes = append(l.Notes, fmt.Sprintf("%s is of marker %q, %s of %q", f.Path, h.Marker, l.Files[0].Path, first.Marker))
		}
		if h.AntennaType != first.AntennaType {
			l.Notes = append(l.Notes, fmt.Sprintf("%s names the antenna %q, %s %q", f.Path, h.AntennaType, l.Files[0].Path, first.AntennaType))
		}
		if h.DeltaHENM != first.DeltaHENM {
			l.Notes = append(l.Notes, fmt.Sprintf("%s has antenna height %.4f m, %s %.4f m", f.Path, h.DeltaHENM[0], l.Files[0].Path, first.DeltaHENM[0]))
		}
		if d := distance(h.XYZM, first.XYZM); h.HasPosition && first.HasPosition && d > 50 {
			l.Notes = append(l.Notes, fmt.Sprintf("the header positions of %s and %s are %.0f m apart", f.Path, l.Files[0].Path, d))
		}
	}
}

func distance(a, b [3]float64) float64 {
	return math.Hypot(math.Hypot(a[0]-b[0], a[1]-b[1]), a[2]-b[2])
}

// Span returns the first and the last epoch, GPS seconds.
func (l *Log) Span() (startS, endS float64) {
	return l.Epochs[0].GPSS, l.Epochs[len(l.Epochs)-1].GPSS
}

// Header returns the header of the first file.
func (l *Log) Header() Header { return l.Files[0].Header }

// Position returns the header's place on WGS 84, radians and metres above the
// ellipsoid, and false when no file has one. It is what the receiver or the
// user wrote there: metres off, as a rule, unless typed in.
func (l *Log) Position() (latRad, lonRad, hM float64, ok bool) {
	for _, f := range l.Files {
		if f.Header.HasPosition {
			x := f.Header.XYZM
			latRad, lonRad, hM = geodesy.FromECEF(geodesy.WGS84, x[0], x[1], x[2])
			return latRad, lonRad, hM, !math.IsNaN(latRad)
		}
	}
	return 0, 0, 0, false
}

// Damage lists the damaged places of all files with their names.
func (l *Log) Damage() []string {
	var out []string
	for _, f := range l.Files {
		for _, d := range f.Damage {
			out = append(out, f.Path+": "+d.String())
		}
		if more := f.DamageN - len(f.Damage); more > 0 {
			out = append(out, fmt.Sprintf("%s: and %d more", f.Path, more))
		}
	}
	return out
}

// SiteEvents lists the special epochs of all files: the antenna moved, or a new site.
func (l *Log) SiteEvents() []SiteEvent {
	var out []SiteEvent
	for _, f := range l.Files {
		out = append(out, f.SiteEvents...)
	}
	return out
}

// Within returns the epochs from startS to endS.
func (l *Log) Within(startS, endS float64) []Epoch {
	a := sort.Search(len(l.Epochs), func(i int) bool { return l.Epochs[i].GPSS >= startS })
	b := sort.Search(len(l.Epochs), func(i int) bool { return l.Epochs[i].GPSS > endS })
	if a > b {
		return nil
	}
	return l.Epochs[a:b]
}

// GapsWithin returns the gaps that reach into startS..endS, cut to it, and the
// stretches before the first and after the last epoch.
func (l *Log) GapsWithin(startS, endS float64) []Gap {
	a, b := l.Span()
	var out []Gap
	add := func(s, e float64) {
		if s, e = max(s, startS), min(e, endS); e > s {
			out = append(out, Gap{s, e})
		}
	}
	add(math.Inf(-1), a)
	for _, g := range l.Gaps {
		add(g.StartS, g.EndS)
	}
	add(b, math.Inf(1))
	return out
}

// Sky is what was seen in a stretch of time.
type Sky struct {
	Epochs       int
	MinSats      int // fewest satellites in an epoch
	MedianSats   int
	MinTwo       int // fewest satellites on two frequencies
	PerSystem    [len(Systems)]int
	PowerFailure int // epochs flagged as following a power failure
}

// Sky sums up the epochs from startS to endS; PerSystem holds medians.
func (l *Log) Sky(startS, endS float64) Sky {
	e := l.Within(startS, endS)
	s := Sky{Epochs: len(e)}
	if len(e) == 0 {
		return s
	}
	all := make([]int, len(e))
	s.MinSats, s.MinTwo = math.MaxInt, math.MaxInt
	for i, x := range e {
		all[i] = int(x.Sats)
		s.MinSats, s.MinTwo = min(s.MinSats, int(x.Sats)), min(s.MinTwo, int(x.TwoFrequency))
		if x.Flag == 1 {
			s.PowerFailure++
		}
	}
	sort.Ints(all)
	s.MedianSats = all[len(all)/2]
	for k := range s.PerSystem {
		for i, x := range e {
			all[i] = int(x.PerSystem[k])
		}
		sort.Ints(all)
		s.PerSystem[k] = all[len(all)/2]
	}
	return s
}

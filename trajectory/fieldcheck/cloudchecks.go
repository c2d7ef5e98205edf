package fieldcheck

import (
	"fmt"
	"math"
	"path/filepath"
	"strings"
)

// cloudChecks judges pauses of points, files, storage and check points.
func (r *runner) cloudChecks() {
	r.timeGaps()
	r.files()
	r.storage()
	r.points()
}

func (r *runner) timeGaps() {
	c := Check{ID: "time_gaps", Title: "pauses of points in strips", Unit: "s", Limit: r.lim.TimeGapS, Sense: AtMost, Required: true, Basis: proposal}
	overWater := 0
	var unknown []string // strips whose pauses are not known
	perhaps := false
	c.Result = Go
	for i := range r.shots {
		s := &r.shots[i]
		if !s.GapsKnown && len(s.Gaps) == 0 {
			unknown = append(unknown, s.ID)
			continue
		}
		for _, g := range s.Gaps {
			l := g.EndS - g.StartS
			over := wetNot
			if l > r.lim.TimeGapS {
				over = r.pausedOver(s, g.StartS, g.EndS)
			}
			if over == wetKnown {
				overWater++
				continue
			}
			if l > c.Value {
				c.Value = l
				c.Note = fmt.Sprintf("%.1f s in strip %s at %.1f s", l, s.ID, g.StartS)
			}
			if l <= r.lim.TimeGapS {
				continue
			}
			c.Strips = append(c.Strips, s.ID)
			if c.Result == Go {
				c.Result = Caution
			}
			perhaps = perhaps || over == wetPerhaps
			if l >= r.lim.TimeGapReflyS && over == wetNot {
				c.Result = Refly
				r.want(s.ID, max(s.StartS, g.StartS-r.lim.LeadS), min(s.EndS, g.EndS+r.lim.LeadS), fmt.Sprintf("no points for %.1f s", l), true)
			}
		}
	}
	if len(unknown) == len(r.shots) {
		r.missing(c.ID, c.Title, true, "no cloud with times given")
		return
	}
	c.Strips = unique(c.Strips)
	if c.Note == "" {
		c.Note = "none"
	}
	if perhaps {
		c.Note += "; over what looks like water: see the holes"
	}
	if overWater > 0 {
		c.Note += fmt.Sprintf("; %s over water apart", counted(overWater, "pause", "pauses"))
	}
	if len(unknown) > 0 {
		if c.Result == Go {
			c.Result = NotJudged
		}
		c.Note += "; not known of " + names(unknown)
	}
	r.add(c)
}

func (r *runner) files() {
	c := Check{ID: "files_whole", Title: "files whole", Unit: "files with faults", Limit: 0, Sense: AtMost, Basis: practice}
	if len(r.in.Files) == 0 {
		r.missing(c.ID, c.Title, false, "no files of a cloud given")
		return
	}
	c.Result = Go
	var notes []string
	for _, f := range r.in.Files {
		why := f.Problem
		if why == "" && f.Claimed != f.Present {
			why = fmt.Sprintf("%d points of %d", f.Present, f.Claimed)
		}
		if why == "" {
			continue
		}
		c.Value++
		c.Result = Refly
		notes = append(notes, filepath.Base(f.Path)+": "+why)
		c.Strips = append(c.Strips, f.Strips...)
		for _, id := range f.Strips {
			for _, s := range r.shots {
				if s.ID == id {
					r.want(id, s.StartS, s.EndS, "its file is not whole: copy it again before you fly", false)
				}
			}
		}
	}
	c.Note = counted(len(r.in.Files), "file, points as its header says", "files, points as their headers say")
	if c.Result != Go {
		c.Note = strings.Join(notes, "; ") + "; copy them from the recorder again first"
	}
	r.add(c)
}

func (r *runner) storage() {
	c := Check{ID: "storage", Title: "free storage over need", Unit: "x", Limit: r.lim.StorageFactor, Sense: AtLeast, Basis: checklist + "; factor: " + proposal}
	s := r.in.Storage
	if s != nil && s.WhyNoRate != "" {
		r.missing(c.ID, c.Title, false, "%s", s.WhyNoRate)
		return
	}
	if s == nil || s.FreeBytes <= 0 || s.PlannedS <= 0 || s.BytesPerS <= 0 {
		r.missing(c.ID, c.Title, false, "it needs the free storage, the rate of the files and the planned minutes")
		return
	}
	c.Value = s.FreeBytes / (s.BytesPerS * s.PlannedS)
	c.Result = result(c.Value >= r.lim.StorageFactor, Caution)
	c.Note = fmt.Sprintf("%.1f GB free, %.2f GB needed for %s at %.*f MB/s", s.FreeBytes/1e9, s.BytesPerS*s.PlannedS/1e9, minutes(s.PlannedS), digits(s.BytesPerS/1e6), s.BytesPerS/1e6)
	if s.RateFrom != "" { // who reads the sum must know what it rests on
		c.Note += ", " + s.RateFrom
	}
	if c.Value < 1 {
		c.Note += ": the recording will not fit"
	}
	r.add(c)
}

// digits is how many decimals show two figures of a rate below one, else one.
func digits(v float64) int {
	if !(v > 0) || v >= 1 {
		return 1
	}
	return min(6, int(math.Ceil(-math.Log10(v)))+1)
}

func (r *runner) points() {
	c := Check{ID: "check_points", Title: "check points seen", Unit: "points not seen", Limit: 0, Sense: AtMost, Basis: fmt.Sprintf("%s: %d returns within 0.5 m, %d strips", proposal, r.lim.PointReturns, r.lim.PointStrips)}
	if len(r.in.Points) == 0 {
		r.missing(c.ID, c.Title, false, "no check points given")
		return
	}
	var out, thin, once []string
	for _, p := range r.in.Points {
		switch {
		case !p.Inside:
			out = append(out, p.ID)
		case p.Returns < r.lim.PointReturns:
			thin = append(thin, p.ID)
		case p.Strips < r.lim.PointStrips:
			once = append(once, p.ID)
		}
	}
	c.Value = float64(len(out) + len(thin) + len(once))
	c.Result = result(c.Value == 0, Caution)
	var notes []string
	for _, x := range []struct {
		text string
		ids  []string
	}{{"outside the cloud", out}, {fmt.Sprintf("fewer than %d returns near", r.lim.PointReturns), thin}, {"seen by one strip", once}} {
		if len(x.ids) > 0 {
			notes = append(notes, x.text+": "+strings.Join(x.ids, ", "))
		}
	}
	c.Note = fmt.Sprintf("all %d", len(r.in.Points))
	if len(notes) > 0 {
		c.Note = strings.Join(notes, "; ")
	}
	r.add(c)
}

// heightChecks are the first looks at heights: rules B19 and B20.
func (r *runner) heightChecks() {
	h := r.in.Heights
	c := Check{ID: "height_on_ground", Title: "path over the ground while standing", Unit: "m", Limit: 1.5, Sense: AtMost, Basis: "rule B19 of the practice reference: 0.1 to 1.5 m, " + proposal}
	if h == nil || !h.HasStand {
		r.missing(c.ID, c.Title, false, "no returns near the place of take-off")
	} else {
		c.Value = h.PathOnGroundM - h.CloudAtStandM
		c.Result = result(c.Value >= 0.1 && c.Value <= 1.5, Caution)
		c.Note = fmt.Sprintf("%+.2f m above the cloud's ground", c.Value)
		if math.Abs(c.Value) > 5 {
			c.Note += ": path and cloud are in different height systems, or the cloud is"
		}
		r.add(c)
	}
	m := Check{ID: "base_mark", Title: "cloud at the base mark", Unit: "m", Limit: 0.05, Sense: AtMost, Basis: "rule B20 of the practice reference: where the mark is flush with the ground"}
	if h == nil || !h.HasMark {
		r.missing(m.ID, m.Title, false, "no height of the base mark given, or no returns near it")
		return
	}
	d := h.CloudAtMarkM - h.MarkHeightM
	m.Value = math.Abs(d)
	m.Result = result(m.Value <= m.Limit, Caution)
	m.Note = fmt.Sprintf("the cloud lies %+.3f m from the mark", d)
	if a := h.AntennaHeightM; m.Result != Go && a > 0.05 && math.Abs(m.Value-a) < 0.05 {
		m.Note += fmt.Sprintf(": the antenna height (%.3f m) left out or taken twice", a)
	}
	r.add(m)
}

package fieldcheck

import (
	"fmt"
	"math"
	"strings"
)

// spacing is the distance at which neighbours were to be flown: of the planned
// lines, else what is usual in this flight.
func (r *runner) spacing(pairs []neighbour) float64 {
	if r.in.Plan != nil && len(r.in.Plan.Lines) > 1 && !r.in.Plan.Geographic {
		return lineSpacing(r.in.Plan.Lines)
	}
	var v []float64
	for _, p := range pairs {
		v = append(v, p.distance)
	}
	return quantile(v, 0.5)
}

// shortage is what a pair of neighbours lacks of its sidelap.
type shortage uint8

const (
	enough       shortage = iota
	doubtful              // under the limit by less than a cell of the raster on the width can err
	allowed               // under the limit, and not under the number from which the crew wants a repeat
	asLaid                // on its line, too, it would stay under the limit: the same lines again would not mend it, and nobody asks for more
	needsBetween          // must be mended, and the same lines again would not: lines in between are needed
	needsRepeat           // must be mended, and a strip flown again on its line would
)

// shortOf says what a pair lacks. It must be mended where ground is open, where
// plan or contract ask for the limit, where it is under the number that the crew
// gave, and where a repeat would bring it over the limit.
func (r *runner) shortOf(p neighbour, spacingM float64) shortage {
	cellM := 1.0
	if c := r.in.Coverage; c != nil && c.CellM > 0 {
		cellM = c.CellM
	}
	// What a pair must reach: the limit less what its measurement can err, or the number that the crew gave.
	goal, must := r.lim.SidelapPct-100*cellM/p.widthM, p.lowPct <= 0 || r.lim.SidelapAsked
	least := r.lim.SidelapReflyPct
	if least > 0 {
		goal, must = least, true
	}
	onLine := p.lowPct + 100*(p.distance-spacingM)/p.widthM // sidelap if both lay on their lines
	switch {
	case !(p.lowPct < r.lim.SidelapPct):
		return enough
	case p.lowPct >= goal && least > 0:
		return allowed
	case p.lowPct >= goal:
		return doubtful
	case onLine >= goal:
		return needsRepeat
	case p.lowPct <= 0 && onLine > 0 && !r.lim.SidelapAsked && least == 0: // nobody asks for more than ground that is not open
		return needsRepeat
	case must:
		return needsBetween
	}
	return asLaid
}

// shortStripShare of the longest strip beside it is how long a strip must be
// before it is taken for whole where no path tells: proposal.
const shortStripShare = 0.7

// shortStrips tells of strips far shorter than one beside them, where neither
// path nor planned lines say how long they were to be.
func (r *runner) shortStrips(ax []axis, pairs []neighbour) (ids, notes []string) {
	if r.in.Path != nil || r.in.Plan != nil && len(r.in.Plan.Lines) > 0 {
		return nil, nil
	}
	longest := make([]float64, len(ax))
	for _, p := range pairs {
		longest[p.a], longest[p.b] = max(longest[p.a], ax[p.b].length), max(longest[p.b], ax[p.a].length)
	}
	for i, l := range longest {
		if ax[i].length < shortStripShare*l {
			ids = append(ids, r.shots[i].ID)
			notes = append(notes, fmt.Sprintf("strip %s is %.0f m long, one beside it %.0f m", r.shots[i].ID, ax[i].length, l))
		}
	}
	return ids, notes
}

// leftOut sums up, in metres along the pairs, where the sidelap could not be judged.
type leftOut struct{ all, one, paused, half float64 }

func (x leftOut) plus(o leftOut) leftOut {
	return leftOut{x.all + o.all, x.one + o.one, x.paused + o.paused, x.half + o.half}
}

// note is empty where that is under a twentieth, as where strips begin and end.
func (x leftOut) note() string {
	if x.one+x.paused+x.half < 0.05*x.all {
		return ""
	}
	var s []string
	for _, v := range []struct {
		m   float64
		why string
	}{{x.one, "with points of one strip only"}, {x.paused, "beside pauses of points"}, {x.half, "where half a swath is missing"}} {
		if v.m > 0 {
			s = append(s, fmt.Sprintf("%.0f m %s", v.m, v.why))
		}
	}
	return fmt.Sprintf("; of %.0f m along neighbours not judged: %s", x.all, strings.Join(s, ", "))
}

// offLine returns the strip of a pair that was flown off its line: the one
// whose neighbour on its other side is nearer or farther than the lines were
// laid. One without another neighbour is suspected before one that lies right
// to a tenth of the spacing; when neither tells, the later one.
func offLine(p neighbour, pairs []neighbour, spacingM float64) int {
	off := func(k int) float64 {
		v, alone := 0.0, true
		for _, o := range pairs {
			if o != p && (o.a == k || o.b == k) {
				v, alone = max(v, math.Abs(o.distance-spacingM)), false
			}
		}
		if alone {
			return 0.1 * spacingM
		}
		return v
	}
	if off(p.a) > off(p.b) {
		return p.a
	}
	return p.b
}

func (r *runner) sidelapOf(ax []axis, pairs []neighbour) {
	c := Check{ID: "sidelap", Title: "sidelap of neighbours", Value: math.Inf(1), Unit: "%", Limit: r.lim.SidelapPct, Sense: AtLeast, Required: true,
		Basis: "knowledge base of a UAV lidar maker: 30 %; refly: open ground, or what a repeat on the line would mend: " + proposal}
	if r.lim.SidelapAsked {
		c.Basis = "asked for by plan or contract; refly below"
	}
	var worst neighbour
	n := 0
	var found [needsRepeat + 1]bool
	var left leftOut
	spacing := r.spacing(pairs)
	for _, p := range pairs {
		if math.IsNaN(p.lowPct) {
			continue
		}
		if n++; p.lowPct < c.Value {
			c.Value, worst = p.lowPct, p
		}
		left = left.plus(p.left)
		short := r.shortOf(p, spacing)
		found[short] = true
		if short != enough {
			c.Strips = append(c.Strips, r.shots[p.a].ID, r.shots[p.b].ID)
		}
		if short == needsRepeat {
			r.wantPair(ax, p, pairs, spacing)
		}
	}
	if found[needsBetween] || found[needsRepeat] {
		c.Result = Refly
	}
	if n == 0 {
		note := "no two strips side by side"
		if len(pairs) > 0 {
			note = "the ground that the strips cover is not known"
		} else if len(r.shots) == 0 {
			note = "no strip found"
		}
		r.missing(c.ID, c.Title, true, "%s", note)
		return
	}
	a, b := r.shots[worst.a].ID, r.shots[worst.b].ID
	c.Note = fmt.Sprintf("least between strips %s and %s: %.0f %% (5th percentile along them)", a, b, c.Value)
	if c.Value < 0 {
		c.Note = fmt.Sprintf("open ground between strips %s and %s, %.0f %% of a strip's width", a, b, -c.Value)
	}
	laid := fmt.Sprintf("; the lines were laid %.0f m apart: the same lines again would not be enough", spacing)
	switch {
	case found[needsBetween]:
		c.Note += laid + ", lines in between are needed"
	case found[asLaid] && c.Result == "":
		c.Note += laid
	case found[doubtful] && c.Result == "":
		c.Note += "; short by less than a cell of the raster can err"
	}
	ids, parts := r.shortStrips(ax, pairs)
	c.Strips = unique(append(c.Strips, ids...))
	if c.Result == "" {
		c.Result = result(len(c.Strips) == 0, Caution)
	}
	c.Note += left.note()
	if len(parts) > 0 {
		c.Note += "; is a part missing? " + capital(strings.Join(parts, "; "))
	}
	r.add(c)
}

// wantPair puts what mends a pair with too little sidelap on the list, unless
// a line that is missing between the two is on it.
func (r *runner) wantPair(ax []axis, p neighbour, pairs []neighbour, spacingM float64) {
	for _, m := range r.lost {
		u, w := ax[p.a].along(m[0], m[1]), ax[p.a].across(m[0], m[1])
		q := ax[p.b].at(ax[p.b].along(m[0], m[1]))
		if v := ax[p.a].across(q[0], q[1]); u > 0 && u < ax[p.a].length && w/v > 0 && w/v < 1 {
			return
		}
	}
	what := fmt.Sprintf("sidelap %.0f %%", p.lowPct)
	if p.lowPct <= 0 {
		what = fmt.Sprintf("open ground, %.0f %% of a strip's width,", -p.lowPct)
	}
	why := fmt.Sprintf("%.1f m farther apart than the other lines", p.distance-spacingM)
	if p.distance > 1.95*spacingM {
		why = "a line seems to be missing between them"
	}
	s := r.shots[offLine(p, pairs, spacingM)]
	r.want(s.ID, s.StartS, s.EndS, fmt.Sprintf("%s between strips %s and %s; %s", what, r.shots[p.a].ID, r.shots[p.b].ID, why), false)
}

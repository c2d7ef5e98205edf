package field

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"sidelap/trajectory"
	"sidelap/trajectory/fieldcheck"
)

// settleItems makes the list fit for a crew: what a missing strip explains goes, a strip whose points stop short is repeated as far as it was
// flown, and a stretch that is nearly the whole strip is the whole strip. Times are those of the report.
func (j *job) settleItems(rep *fieldcheck.Report) {
	dropExplained(rep)
	var short []string
	if c := rep.Check("strips_in_cloud"); c != nil && c.Result == fieldcheck.Refly {
		short = c.Strips
	}
	var flown []trajectory.Event
	if len(short) > 0 && j.in.Path != nil {
		if m, err := trajectory.FindEvents(j.in.Path, trajectory.MotionOptions{}); err == nil {
			flown = m.Of(trajectory.EventStrip)
		}
	}
	for i := range rep.Refly {
		it := &rep.Refly[i]
		for k, x := range it.Reasons {
			it.Reasons[k] = openGround.ReplaceAllString(x, "open ground, $1 % of a strip's width,")
		}
		if it.Planned {
			continue
		}
		if !it.Part && slices.Contains(short, it.Strip) {
			j.extend(rep, it, flown)
		}
		for _, s := range j.in.Strips {
			if it.Part && s.ID == it.Strip && it.EndS-it.StartS >= wholeShare*(s.EndS-s.StartS) {
				it.Part = false
			}
		}
	}
}

// dropExplained takes off the list what a strip that is missing explains: a sidelap of the strips on both of
// its sides. To fly the missing one mends it.
func dropExplained(rep *fieldcheck.Report) {
	between := map[string]bool{}
	for _, it := range rep.Refly {
		if rest, ok := strings.CutPrefix(it.Strip, "between "); ok {
			between[rest] = true
		}
	}
	if len(between) == 0 {
		return
	}
	explained := func(x string) bool {
		m := sidelapOf.FindStringSubmatch(x)
		return m != nil && between[m[1]]
	}
	rep.Refly = slices.DeleteFunc(rep.Refly, func(it fieldcheck.Item) bool {
		if slices.ContainsFunc(it.Reasons, func(x string) bool { return !explained(x) }) {
			return false
		}
		rep.ReflyMinutes -= it.Minutes
		return true
	})
	for i := range rep.Refly {
		rep.Refly[i].Reasons = slices.DeleteFunc(rep.Refly[i].Reasons, explained)
	}
}

var sidelapOf = regexp.MustCompile(`^sidelap .* between strips (.+ and .+);`)

// openGround is a sidelap below zero, which says little to a crew.
var openGround = regexp.MustCompile(`sidelap -(\d+) %`)

// wholeShare is the share of a strip from which a stretch is called the whole strip.
const wholeShare = 0.9

// extend lengthens an item to the stretch of straight flight that it belongs to.
func (j *job) extend(rep *fieldcheck.Report, it *fieldcheck.Item, flown []trajectory.Event) {
	for _, e := range flown {
		in := min(e.EndS, it.EndS) - max(e.StartS, it.StartS)
		if in < 0.5*(it.EndS-it.StartS) || e.StartS >= it.StartS && e.EndS <= it.EndS {
			continue
		}
		before := it.EndS - it.StartS
		it.StartS, it.EndS = min(it.StartS, e.StartS), max(it.EndS, e.EndS)
		more := (it.EndS - it.StartS - before) / 60
		it.Minutes += more
		rep.ReflyMinutes += more
		it.Line, it.LengthM = along(j.in.Path, it.StartS, it.EndS), 0
		for k := 1; k < len(it.Line); k++ {
			it.LengthM += math.Hypot(it.Line[k][0]-it.Line[k-1][0], it.Line[k][1]-it.Line[k-1][1])
		}
		return
	}
}

// along returns the path between two times, a place a second and the end.
func along(p *trajectory.Path, a, b float64) (l orb.LineString) {
	c := p.NewCursor()
	for t := a; ; t++ {
		if o, ok := c.At(min(t, b)); ok {
			l = append(l, orb.Point{o.EM, o.NM})
		}
		if t >= b {
			return l
		}
	}
}

// again is one row of the list for a person: an item, or several whole strips with the same reason.
type again struct {
	N            int
	Title, Place string
	Reasons      []string
	Items        []int // indices into Refly
}

// groupFrom is the number of strips with the same reason that share a row.
const groupFrom = 4

// rows returns the list for a person. Many strips with one and the same reason, as when the base logged too
// seldom, make one row.
func (r *Report) rows() []again {
	same := map[string][]int{}
	key := func(it *fieldcheck.Item) string {
		return fmt.Sprint(it.Part, it.Planned, strings.Join(it.Reasons, "\x00"))
	}
	for i := range r.Refly {
		k := key(&r.Refly[i])
		same[k] = append(same[k], i)
	}
	var out []again
	for i := range r.Refly {
		it := &r.Refly[i]
		list := same[key(it)]
		if len(list) < groupFrom || it.Part {
			list = []int{i}
		}
		if list[0] != i {
			continue
		}
		row := again{N: len(out) + 1, Title: r.itemTitle(it), Place: r.itemPlace(it), Reasons: it.Reasons, Items: list}
		if len(list) > 1 {
			row.Title, row.Place = r.groupTitle(list)
		}
		out = append(out, row)
	}
	return out
}

func (r *Report) groupTitle(list []int) (title, place string) {
	var ids []string
	length, minutes := 0.0, 0.0
	for _, i := range list {
		it := &r.Refly[i]
		ids = append(ids, it.Strip)
		length, minutes = length+it.LengthM, minutes+it.Minutes
	}
	what := "strips "
	if r.Refly[list[0]].Planned {
		what = "planned lines "
	}
	title = what + strings.Join(ids[:len(ids)-1], ", ") + " and " + ids[len(ids)-1]
	if len(list) == r.strips && !r.Refly[list[0]].Planned {
		title = fmt.Sprintf("all %d strips, %s to %s", len(list), ids[0], ids[len(ids)-1])
	}
	return title, fmt.Sprintf("%.0f m, %.1f min", length, minutes)
}

package field

import (
	"fmt"
	"strings"

	"sidelap/trajectory/fieldcheck"
)

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

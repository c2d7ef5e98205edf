package control

import (
	"fmt"
	"math"
	"strings"
)

// describe fills Choice and Columns.
func (r *reader) describe() {
	l, list := r.layout, r.list
	list.Columns = r.letters(l)
	var named []string
	for _, x := range []struct {
		ro   role
		name string
	}{{roleName, "point"}, {roleE, "easting"}, {roleN, "northing"}, {roleLat, "latitude"}, {roleLon, "longitude"}, {roleZ, "height"}, {roleCode, "code"},
		{roleType, "type"}, {roleCover, "cover"}, {roleSurface, "surface"}, {roleUse, "use"}, {roleSDH, "sd_h"}, {roleSDV, "sd_v"}, {roleSource, "source"}, {roleDate, "date"}, {roleRod, "rod"}} {
		c := l.col[x.ro]
		switch {
		case c < 0:
		case c < len(l.heads):
			named = append(named, fmt.Sprintf("%s = %q", x.name, l.heads[c]))
		default:
			named = append(named, fmt.Sprintf("%s = column %d", x.name, c+1))
		}
	}
	decimal := ""
	if list.DecimalComma {
		decimal = ", decimal comma"
	}
	list.Choice = fmt.Sprintf("%s-separated%s; columns from %s: %s; unit %s (%s), heights %s; first row as read: %s",
		list.Delimiter, decimal, list.ColumnsFrom, strings.Join(named, ", "), list.Unit, list.UnitFrom, list.HeightUnit, r.firstPoint())
}

func (r *reader) firstPoint() string {
	p := &r.list.Points[0]
	s := fmt.Sprintf("point %s, E %.3f m, N %.3f m", p.ID, p.EM, p.NM)
	if p.HasZ() {
		return s + fmt.Sprintf(", height %.3f m", p.ZM)
	}
	return s + ", no height"
}

// cleanHeights takes zeros that stand for a missing height out: all heights zero, or single
// zeros among heights far from zero.
func (r *reader) cleanHeights() {
	var zero []int
	var others []float64
	for i := range r.list.Points {
		if p := &r.list.Points[i]; p.HasZ() {
			if p.ZM == 0 {
				zero = append(zero, i)
			} else {
				others = append(others, p.ZM)
			}
		}
	}
	if len(zero) == 0 {
		return
	}
	if len(others) > 0 && math.Abs(Median(others)) < 5+3*NMAD(others) {
		return // a site near height zero
	}
	if len(others) == 0 && len(zero) == 1 && r.layout.has(roleZ) {
		r.warn("the only height is exactly 0: taken as missing")
	} else if len(others) == 0 {
		r.warn("all %d heights are exactly 0: taken as missing", len(zero))
	} else {
		r.warn("%d heights are exactly 0 among heights near %.1f m: taken as missing", len(zero), Median(others))
	}
	for _, i := range zero {
		r.list.Points[i].ZM = math.NaN()
	}
}

// mergeRepeats joins rows that repeat a point: same name and place, or, without names, same place.
// Same name at another place stays and is reported.
func (r *reader) mergeRepeats() {
	type key struct {
		id      string
		e, n, z float64
	}
	named := r.layout.has(roleName)
	seen := map[key]int{}
	first := map[string]int{}
	kept := r.list.Points[:0]
	repeats := 0
	for _, p := range r.list.Points {
		k := key{p.ID, p.EM, p.NM, p.ZM}
		if !named {
			k.id = ""
		}
		if math.IsNaN(k.z) {
			k.z = -1e9
		}
		if _, dup := seen[k]; dup {
			repeats++
			continue
		}
		seen[k] = len(kept)
		if j, dup := first[p.ID]; dup && named && p.ID != "" {
			q := &kept[j]
			r.warn("point %s stands in lines %d and %d, %.3f m apart%s: both kept", p.ID, q.Row, p.Row,
				math.Hypot(p.EM-q.EM, p.NM-q.NM), heightApart(q, &p))
		} else {
			first[p.ID] = len(kept)
		}
		kept = append(kept, p)
	}
	r.list.Points = kept
	if repeats > 0 {
		r.warn("%d rows repeat a point exactly: each point counts once", repeats)
	}
	if !named {
		for i := range kept {
			kept[i].ID = fmt.Sprint(i + 1)
		}
		r.warn("the list has no point names: numbered in order")
	}
}

func heightApart(a, b *Point) string {
	if a.HasZ() && b.HasZ() {
		return fmt.Sprintf(", heights %+.3f m", b.ZM-a.ZM)
	}
	return ""
}

// warnCoarse tells about coordinates too coarse for an accuracy figure.
func (r *reader) warnCoarse() {
	decimals := func(ro role) int {
		most := -1
		for _, row := range r.rows {
			t := bare(r.field(row, ro))
			if _, err := parseNumber(t, r.style); err != nil {
				continue
			}
			sep := "."
			if r.style.decimalComma {
				sep = ","
			}
			_, fraction, _ := strings.Cut(t, sep)
			most = max(most, len(fraction))
		}
		return most
	}
	if d := decimals(roleZ); d >= 0 && d < 2 && r.anyHeight() {
		r.warn("heights are written with %d decimals: too coarse for an accuracy figure", d)
	}
	if d := decimals(roleE); d >= 0 && d < 2 {
		r.warn("coordinates are written with %d decimals: too coarse for horizontal accuracy", d)
	}
	if d := decimals(roleLat); d >= 0 && d < 7 {
		r.warn("latitudes are written with %d decimals, a step of about %.2g m", d, 111e3*math.Pow10(-d))
	}
}

func (r *reader) anyHeight() bool {
	for i := range r.list.Points {
		if r.list.Points[i].HasZ() {
			return true
		}
	}
	return false
}

// warnEllipsoidal tells when the heading says that the heights are ellipsoidal.
func (r *reader) warnEllipsoidal() {
	c := r.layout.col[roleZ]
	if c < 0 || c >= len(r.layout.heads) {
		return
	}
	word, _ := foldHeading(r.layout.heads[c])
	if strings.HasPrefix(word, "ell") || word == "hae" {
		r.list.Ellipsoidal = true
		r.warn("the heading %q says that the heights are ellipsoidal: they compare only with a cloud in ellipsoidal heights", r.layout.heads[c])
	}
}

// warnPlaces tells about points without height, and about points outside the cloud that a swap would bring in.
func (r *reader) warnPlaces() {
	missing, inside, swapped := 0, 0, 0
	for i := range r.list.Points {
		p := &r.list.Points[i]
		if !p.HasZ() {
			missing++
		}
		if r.o.Extent.Contains(p.EM, p.NM, insideBufferM) {
			inside++
		}
		if r.o.Extent.Contains(p.NM, p.EM, insideBufferM) {
			swapped++
		}
	}
	n := len(r.list.Points)
	if missing > 0 {
		r.warn("%d of %d points have no height: they can show position only", missing, n)
	}
	if r.o.Extent.Empty() {
		return
	}
	if 10*inside < n && 10*swapped > 9*n {
		r.warn("%d of %d points lie inside the cloud as read, %d with easting and northing swapped", inside, n, swapped)
	} else if inside < n {
		r.warn("%d of %d points lie outside the extent of the cloud", n-inside, n)
	}
}

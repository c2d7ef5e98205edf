package control

import "math"

// Required is the number of check points that a standard recommends for an area.
type Required struct {
	Open, Vegetated, Horizontal int
	Source                      string
	Note                        string
}

// RequiredEdition1 returns the numbers of Edition 1, table C.1, for a project area in square
// kilometres: 20 in the open and 5 in vegetation up to 500 km2, growing with the area.
//
// Source: ASPRS Edition 1, annex C, table C.1; the first row is confirmed, the others are from memory.
func RequiredEdition1(areaKM2 float64) Required {
	r := Required{Open: 20, Vegetated: 5, Horizontal: 20, Source: "ASPRS Edition 1, table C.1"}
	if !(areaKM2 > 500) {
		return r
	}
	r.Note = "rows above 500 km2 from memory: check against a copy"
	open := []int{20, 25, 30, 35, 40, 45, 50, 55}
	step := int(math.Ceil((min(math.Round(areaKM2), 2500)-500)/250)) - 1
	step = min(max(step, 0), len(open)-1)
	r.Open, r.Vegetated, r.Horizontal = open[step], 10+5*step, 25+5*step
	if areaKM2 > 2500 {
		more := int(math.Ceil((areaKM2 - 2500) / 500))
		r.Open += 3 * more
		r.Vegetated += 2 * more
	}
	return r
}

// RequiredEdition2 returns the number that Edition 2 asks for each tested group over an
// area: 30 up to 500 km2, 5 more for each started 250 km2, at most 120. The open area counts for NVA and
// horizontal, the vegetated area for VVA.
//
// Source: ASPRS Edition 2, table C.1 in the text of February 2023; the minimum 30 and the maximum
// 120 stand in the final text, whose steps in between were not confirmed.
func RequiredEdition2(openKM2, vegetatedKM2 float64) Required {
	count := func(areaKM2 float64) int {
		if !(areaKM2 > 0) {
			return 0
		}
		a := math.Round(areaKM2)
		if a <= 500 {
			return 30
		}
		return min(120, 30+5*int(math.Ceil((a-500)/250)))
	}
	r := Required{Open: count(openKM2), Vegetated: count(vegetatedKM2), Horizontal: count(openKM2),
		Source: "ASPRS Edition 2, table C.1 (February 2023 text)"}
	if max(openKM2, vegetatedKM2) > 500 {
		r.Note = "two versions of the table circulate; the minimum 30 and maximum 120 are in both"
	}
	return r
}

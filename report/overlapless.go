package report

import "strings"

// NoOverlap says that no two strips cover common ground.
const NoOverlap = "no overlap between strips was measured"

// NoSeparation says why there is no figure of strip against strip: no overlap, or overlaps in which no cell could be
// compared, with what kept the cells out.
func NoSeparation(r *Record) string {
	if len(r.Pairs) == 0 {
		return NoOverlap
	}
	s := "strips overlap (pairs: " + group(int64(len(r.Pairs))) + "), but no cell of theirs could be compared"
	if r.Separation == nil || len(r.Separation.Flagged) == 0 {
		return s
	}
	var why []string
	for _, f := range r.Separation.Flagged {
		why = append(why, f.Reason+" "+group(f.Cells))
	}
	return s + " (cells by reason, of which a cell may have several: " + strings.Join(why, ", ") + ")"
}

package assess

import (
	"fmt"
	"math"
	"strconv"

	"sidelap/overlap"
	"sidelap/report"
)

// fillPairs describes the pairs, all of them together, and the loops of three.
func fillPairs(r *report.Record, s *overlap.Survey, pairs []overlap.Pair, all overlap.Stats, loops []overlap.Loop) {
	r.Separation = &report.Separation{
		CellM: s.Options.CellM, Pairs: int64(len(pairs)), Cells: int64(all.Cells), MeanM: report.F(all.MeanM), MedianM: report.F(all.MedianM),
		StdM: report.F(all.StdM), RMSDM: report.F(all.RMSDM), NMADM: report.F(all.NMADM), P95AbsM: report.F(all.P95AbsM), MaxAbsM: report.F(all.MaxAbsM),
		WithinLimitPct: report.F(all.WithinPct), AboveTwicePct: report.F(100 - all.Within2),
	}
	var flagged []int
	for i := range pairs {
		p := &pairs[i]
		r.Pairs = append(r.Pairs, pairRow(s, p))
		for k, n := range p.Flagged {
			if k == len(flagged) {
				flagged = append(flagged, 0)
			}
			flagged[k] += n
		}
	}
	r.Separation.Flagged = flaggedRows(flagged)
	for _, l := range loops {
		id := func(i int) string { return s.Strips[l.Strips[i]].ID }
		r.Loops = append(r.Loops, report.Loop{A: id(0), B: id(1), C: id(2), Cells: int64(l.Cells), ClosureM: report.F(l.ClosureM),
			SigmaM: report.F(l.SigmaM), Significant: math.Abs(l.ClosureM) > 3*l.SigmaM})
	}
}

func pairRow(s *overlap.Survey, p *overlap.Pair) report.Pair {
	u := &p.Used
	row := report.Pair{
		A: p.IDA, B: p.IDB, Relation: relation(p), OverlapM2: report.F(p.OverlapM2), SidelapPct: report.F(p.SidelapPct), SidelapP5Pct: report.F(p.SidelapLowPct),
		Cells: int64(u.Cells), MeanM: report.F(u.MeanM), MedianM: report.F(u.MedianM), StdM: report.F(u.StdM), RMSDM: report.F(u.RMSDM),
		NMADM: report.F(u.NMADM), P95AbsM: report.F(u.P95AbsM), MaxAbsM: report.F(u.MaxAbsM), WithinLimitPct: report.F(u.WithinPct),
		AboveTwicePct: report.F(100 - u.Within2), Flagged: flaggedRows(p.Flagged[:]),
	}
	higher, used, largest := 0, 0, -1
	for i := range p.Cells {
		c := &p.Cells[i]
		if c.Flag != 0 {
			continue
		}
		used++
		if c.DzM > 0 {
			higher++
		}
		if largest < 0 || math.Abs(c.DzM) > math.Abs(p.Cells[largest].DzM) {
			largest = i
		}
	}
	if used > 0 {
		row.LaterHigherPct = report.F(100 * float64(higher) / float64(used))
		row.MaxAbsEM, row.MaxAbsNM = report.F(p.Cells[largest].EM), report.F(p.Cells[largest].NM)
	}
	if t := &p.Trend; t.Cells > 0 {
		row.Trend = &report.Trend{SlopeMPerM: report.F(t.MPerM), SigmaMPerM: report.F(t.SigmaMPerM), RangeM: report.F(2 * t.HalfWidthM * t.MPerM), Significant: t.Significant}
	}
	row.Horizontal = shiftRow(&p.Shift)
	return row
}

func shiftRow(h *overlap.Shift) *report.Shift {
	if h.Cells == 0 {
		return nil
	}
	s := &report.Shift{Cells: int64(h.Cells), Determinable: h.EDeterminable && h.NDeterminable, EastM: report.F(h.EM), NorthM: report.F(h.NM), UpM: report.F(h.UM),
		SigmaEastM: report.F(h.SigmaEM), SigmaNorthM: report.F(h.SigmaNM), SigmaUpM: report.F(h.SigmaUM), ResidualM: report.F(h.ResidualM)}
	switch {
	case s.Determinable:
	case h.EDeterminable || h.NDeterminable:
		s.Reason = "the slopes here face one direction only"
	default:
		s.Reason = "the ground here is too flat"
	}
	return s
}

// relation says in words how the strips of a pair were flown.
func relation(p *overlap.Pair) report.Text {
	switch {
	case math.IsNaN(p.AngleRad):
		return ""
	case p.Crossing:
		return "crossing"
	case p.AngleRad > math.Pi/2:
		return "opposed"
	}
	return "same direction"
}

func flaggedRows(n []int) []report.Flagged {
	rows := []report.Flagged{}
	for i, c := range n {
		if c > 0 {
			rows = append(rows, report.Flagged{Reason: overlap.CellFlag(1 << i).String(), Cells: int64(c)})
		}
	}
	return rows
}

// fillCoverage describes what is covered and how densely.
func fillCoverage(r *report.Record, s *overlap.Survey, c *overlap.Coverage) {
	cov := &report.Coverage{
		CellM: s.Options.CellM, AreaM2: report.F(c.AreaM2), AreaSource: "outline of the cloud, narrow openings closed",
		AggregateDensityPerM2: report.F(c.DensityPerM2), DensityP5PerM2: report.F(c.LowDensity), SpacingM: report.F(c.ANPSM),
		CellsWithReturnPct: report.F(c.WithReturnPct), Voids: report.I(c.VoidCount), LargestVoidM2: report.F(c.LargestVoidM2), VoidMinM2: report.F(c.VoidLimitM2),
		VoidList: []report.Void{},
	}
	if c.ANPSM > 0 {
		cov.StripDensityPerM2 = report.F(1 / (c.ANPSM * c.ANPSM))
	}
	if c.Count != nil {
		cov.CoveredTwicePct = report.F(sharePct(c.Count, 2))
	}
	cov.Distribution = distribution(s, c)
	for i := range c.Voids {
		v := &c.Voids[i]
		cov.VoidList = append(cov.VoidList, report.Void{ID: voidID(i), EM: v.EM, NM: v.NM, AreaM2: v.AreaM2})
	}
	if c.VoidCount > len(c.Voids) {
		cov.Notes = append(cov.Notes, "only the "+strconv.Itoa(len(c.Voids))+" largest voids are listed")
	}
	r.Coverage = cov
	var first int64
	for i := range s.Strips {
		first += s.Strips[i].FirstReturns
	}
	if first == 0 {
		r.Coverage = &report.Coverage{CellM: s.Options.CellM, VoidList: []report.Void{},
			Notes: []string{"no point is a first return: area, density and voids count first returns and were not measured"}}
		r.Warnings = append(r.Warnings, "no point is a first return: the coverage was not measured")
	}
}

// distribution gathers the regularity of the strips: the test is on each strip alone.
func distribution(s *overlap.Survey, c *overlap.Coverage) *report.Distribution {
	d := &report.Distribution{}
	occupied := 0
	lowest := math.Inf(1)
	for i := range c.Strips {
		sc := &c.Strips[i]
		if !sc.Distribution.Judgeable || sc.Distribution.Cells == 0 {
			continue
		}
		d.CellM = sc.Distribution.CellM
		d.Cells += int64(sc.Distribution.Cells)
		occupied += sc.Distribution.Occupied
		lowest = math.Min(lowest, sc.Distribution.Pct)
		d.Strips = append(d.Strips, report.StripRegularity{Strip: s.Strips[sc.Strip].ID, Cells: int64(sc.Distribution.Cells), WithReturnPct: report.F(sc.Distribution.Pct)})
	}
	if d.Cells == 0 {
		return nil
	}
	d.WithReturnPct = report.F(100 * float64(occupied) / float64(d.Cells))
	d.LowestPct = report.F(lowest)
	return d
}

// sharePct is the share of cells with a value of which it is at least n, in per cent.
func sharePct(g *overlap.Grid, n float32) float64 {
	all, with := 0, 0
	for _, v := range g.Values {
		if v > 0 {
			all++
			if v >= n {
				with++
			}
		}
	}
	if all == 0 {
		return math.NaN()
	}
	return 100 * float64(with) / float64(all)
}

// fillRepeatability describes how well single strips agree with themselves.
func fillRepeatability(r *report.Record, s *overlap.Survey, p *overlap.Repeatability) {
	rep := &report.Repeatability{Cells: int64(p.Cells), RMSM: report.F(p.RMSM), P95M: report.F(p.P95M)}
	if p.LBSCells > 0 {
		rep.LBS = &report.Precision{CellM: p.LBSCellM, Cells: int64(p.LBSCells), RMSDM: report.F(p.LBSRMSDM), MinM: report.F(p.LBSMinM), MaxM: report.F(p.LBSMaxM), P95M: report.F(p.LBSP95M)}
		for i := range p.Areas {
			a := &p.Areas[i]
			e, n := centreOf(a.Ring)
			rep.LBS.PerArea = append(rep.LBS.PerArea, report.PrecisionArea{ID: "A" + strconv.Itoa(i+1), Strip: s.Strips[a.Strip].ID, EM: e, NM: n,
				Cells: int64(a.Cells), MinM: report.F(a.MinM), MaxM: report.F(a.MaxM), RMSDM: report.F(a.RMSDM)})
		}
		if p.LBSBelow > 0 {
			rep.Notes = append(rep.Notes, fmt.Sprintf("in %d of %d cells slope times cell is more than the range, so that the rule gives a figure below zero; RMSD, 95th percentile and the limit count it by its size", p.LBSBelow, p.LBSCells))
		}
		if !p.LBSExact {
			rep.Notes = append(rep.Notes, "the grid's cells do not tile the cell of the specification; the nearest that they do was used")
		}
	}
	for i := range p.Strips {
		ps := &p.Strips[i]
		if ps.Cells > 0 {
			r.Strips[ps.Strip].RoughnessM = report.F(ps.RMSM)
		}
		if ps.LookCells > 0 {
			r.Strips[ps.Strip].Notes = append(r.Strips[ps.Strip].Notes, fmt.Sprintf("second look minus first: %+.3f m (median of %d cells)", ps.LookM, ps.LookCells))
		}
	}
	r.Repeatability = rep
}

func centreOf(ring [][2]float64) (e, n float64) {
	if len(ring) == 0 {
		return 0, 0
	}
	lo, hi := ring[0], ring[0]
	for _, p := range ring {
		for d := range p {
			lo[d], hi[d] = math.Min(lo[d], p[d]), math.Max(hi[d], p[d])
		}
	}
	return (lo[0] + hi[0]) / 2, (lo[1] + hi[1]) / 2
}

// toGrid passes a raster on, nil when it is empty.
func toGrid(g *overlap.Grid) *report.Grid {
	if g == nil || g.Cols == 0 || g.Rows == 0 {
		return nil
	}
	return g
}

func voidID(i int) string { return "V" + strconv.Itoa(i+1) }

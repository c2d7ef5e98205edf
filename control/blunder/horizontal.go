package blunder

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"sidelap/control"
)

// footPPM is the US survey foot over the international foot, less one. Source: 1200/3937 against 0.3048 m.
const footPPM = 2.000004e-6

// horizontal runs the rules on targets: foot (B5), base coordinate (B7), datum (B8), scale (B11).
func (r *run) horizontal() {
	t := r.e.Targets
	r.footName()
	if len(t) < 3 {
		r.needs("B5", "three targets with horizontal differences")
		r.needs("B11", "four targets with horizontal differences")
		r.weakDatum()
		return
	}
	var de, dn []float64
	for i := range t {
		de, dn = append(de, t[i].DEM), append(dn, t[i].DNM)
	}
	h := shift{control.Median(de), control.Median(dn), max(control.NMAD(de), 0.001), max(control.NMAD(dn), 0.001), len(t)}
	r.ran("B5", "B7")
	r.foot(h)
	if len(r.e.Datums) == 0 {
		r.needs("B8", needsDatums)
	} else {
		r.ran("B8")
		r.datum(h)
	}
	r.averagedBase(h)
	r.scale()
}

// shift is the robust horizontal shift of the targets.
type shift struct {
	e, n, se, sn float64
	count        int
}

func (h shift) seE() float64      { return h.se / math.Sqrt(float64(h.count)) }
func (h shift) seN() float64      { return h.sn / math.Sqrt(float64(h.count)) }
func (h shift) significant() bool { return math.Abs(h.e) > 3*h.seE() || math.Abs(h.n) > 3*h.seN() }
func (h shift) length() float64   { return math.Hypot(h.e, h.n) }

// footName warns of a foot that does not say which.
func (r *run) footName() {
	if !r.e.CloudFeet || r.e.CloudUnitUS || r.e.Extent.Empty() {
		return
	}
	reach := math.Hypot(r.e.Extent.MaxEM, r.e.Extent.MaxNM) * footPPM
	r.note(Finding{ID: "B5", Title: "kind of foot", Severity: Notice,
		Text:      fmt.Sprintf("the cloud is in feet that are not named US survey feet: if they are, coordinates here move by up to %.2f m", reach),
		Observed:  "unit " + r.e.CloudUnit,
		Predicted: fmt.Sprintf("a shift of %.2f m away from the origin", reach),
		DecideBy:  "the state's law and the survey's unit in writing; one target 100 km or more from the origin"})
}

// foot is rule B5: dE/E and dN/N both 2 ppm with one sign, above their noise.
func (r *run) foot(h shift) {
	e0, n0 := r.middle()
	if math.Abs(e0) < 1000 && math.Abs(n0) < 1000 {
		return
	}
	pe, pn := footPPM*e0, footPPM*n0
	tolE, tolN := max(math.Abs(pe)*0.1, 2*h.seE()), max(math.Abs(pn)*0.1, 2*h.seN())
	if math.Hypot(pe, pn) < 3*math.Hypot(h.seE(), h.seN()) {
		return
	}
	for _, sign := range []float64{1, -1} {
		if math.Abs(h.e-sign*pe) > tolE || math.Abs(h.n-sign*pn) > tolN || !h.significant() {
			continue
		}
		r.place(Finding{ID: "B5", Title: "US survey and international foot mixed", Severity: Serious,
			Text: fmt.Sprintf("the targets are off by %.1f and %.1f millionths of their coordinates: one side was scaled with the other foot (heights hardly move: 2 millionths)",
				1e6*h.e/e0, 1e6*h.n/n0),
			Observed:  fmt.Sprintf("dE %+.3f, dN %+.3f m", h.e, h.n),
			Predicted: fmt.Sprintf("dE %+.3f, dN %+.3f m", sign*pe, sign*pn),
			ChancePct: 100 * 2 * (4 * tolE * tolN) / (math.Pi * math.Pow(max(3, 2*h.length()), 2)),
			DecideBy:  "the unit of both sides in writing: international or US survey foot"}, sign*pe, sign*pn)
	}
}

// middle is the mean place of the targets.
func (r *run) middle() (eM, nM float64) {
	n := float64(len(r.e.Targets))
	for i := range r.e.Targets {
		eM += r.e.Targets[i].EM / n
		nM += r.e.Targets[i].NM / n
	}
	return eM, nM
}

// place appends a finding about a horizontal shift; shares are of the targets' differences.
func (r *run) place(f Finding, pe, pn float64) {
	var before, after []float64
	for i := range r.e.Targets {
		t := &r.e.Targets[i]
		before = append(before, t.DEM, t.DNM)
		after = append(after, t.DEM-pe, t.DNM-pn)
	}
	r.moved, r.planE, r.planN = true, pe, pn
	f.LeftMedianM, f.LeftRMSEM = control.Median(after), control.RMS(after)
	b := control.RMS(before)
	f.ExplainedShare = 1 - (f.LeftRMSEM/b)*(f.LeftRMSEM/b)
	r.report.Findings = append(r.report.Findings, f)
}

// needsDatums is what rule B8 asks for beside points.
const needsDatums = "the date of the flight, the cloud's projection, and reference frames known at this place"

// datumTolM is how near a datum pair must come in each component. Source: practice, our proposal.
const datumTolM = 0.10

// datum is rule B8 with targets.
func (r *run) datum(h shift) {
	if !h.significant() {
		return
	}
	for _, d := range r.e.Datums {
		if math.Abs(h.e-d.DEM) > datumTolM || math.Abs(h.n-d.DNM) > datumTolM {
			continue
		}
		height := "height not compared"
		if r.series.n() >= 3 {
			if math.Abs(r.series.med-d.DHM) > datumTolM {
				continue
			}
			height = fmt.Sprintf("dH %+.3f m (predicted %+.3f)", r.series.med, d.DHM)
		}
		if r.shifted() {
			r.constant = true
		}
		v := math.Pow(2*datumTolM, 2) / (math.Pi * math.Pow(max(3, 2*h.length()), 2))
		r.place(Finding{ID: "B8", Title: "datum or epoch: " + d.Name, Severity: Serious,
			Text:      fmt.Sprintf("cloud and survey differ as %s would leave", d.Name),
			Observed:  fmt.Sprintf("dE %+.3f, dN %+.3f m, %s", h.e, h.n, height),
			Predicted: fmt.Sprintf("dE %+.3f, dN %+.3f, dH %+.3f m", d.DEM, d.DNM, d.DHM),
			ChancePct: 100 * v * float64(len(r.e.Datums)), DecideBy: "frame and epoch of the base coordinate and of the survey, in writing; one mark with coordinates in both"}, d.DEM, d.DNM)
	}
}

// weakDatum is B8 on heights alone.
func (r *run) weakDatum() {
	if len(r.e.Datums) == 0 {
		r.needs("B8", needsDatums)
		return
	}
	r.ran("B8")
	var cands []candidate
	for _, d := range r.e.Datums {
		if math.Abs(d.DHM) > 0.03 {
			cands = append(cands, candidate{d.Name, d.DHM, nil})
		}
	}
	r.matchAll("B8", "datum or epoch", "horizontal targets: without them a datum shows in the height only",
		cands, datumTolM, 3, Notice, "height alone: weak")
}

// averagedBase is rule B7 with targets: a constant shift in all three directions.
func (r *run) averagedBase(h shift) {
	if h.length() < 0.3 || h.length() > 10 || !h.significant() || h.se > 0.3*h.length() {
		return
	}
	b := r.e.Base
	suspicious := b != nil && (b.Averaged || b.HeaderDistanceM >= 0 && b.HeaderDistanceM < 0.02)
	f := Finding{ID: "B7", Title: "base coordinate from an average", Severity: Notice,
		Text:      fmt.Sprintf("all targets are shifted alike by %.2f m: a base coordinate averaged from single positions leaves as much", h.length()),
		Observed:  fmt.Sprintf("dE %+.3f, dN %+.3f, dH %+.3f m", h.e, h.n, r.series.med),
		Predicted: "any constant shift of 0.5 to 5 m", ChancePct: 50,
		DecideBy: "the base coordinate from a service or a known mark, against the one used"}
	if suspicious {
		f.Severity, f.ChancePct = Serious, 5
		f.Text += "; the coordinate used is the approximate position of the base log"
	}
	if r.shifted() {
		f.Severity, f.ChancePct = Serious, min(f.ChancePct, 20)
		r.constant = true
	}
	r.place(f, h.e, h.n)
}

// scale is rule B11: similarity of targets.
func (r *run) scale() {
	t := r.e.Targets
	if len(t) < 4 {
		r.needs("B11", "four targets with horizontal differences")
		return
	}
	r.ran("B11")
	e0, n0 := r.middle()
	a := mat.NewDense(2*len(t), 4, nil)
	y := mat.NewVecDense(2*len(t), nil)
	reach := 0.0
	for i := range t {
		x, z := t[i].EM-e0, t[i].NM-n0
		a.SetRow(2*i, []float64{1, 0, x / 1e3, -z / 1e3})
		a.SetRow(2*i+1, []float64{0, 1, z / 1e3, x / 1e3})
		y.SetVec(2*i, t[i].DEM)
		y.SetVec(2*i+1, t[i].DNM)
		reach = max(reach, math.Hypot(x, z))
	}
	var ata, inv mat.Dense
	ata.Mul(a.T(), a)
	if reach < 10 || inv.Inverse(&ata) != nil {
		return
	}
	var aty, sol, fit mat.VecDense
	aty.MulVec(a.T(), y)
	sol.MulVec(&inv, &aty)
	fit.MulVec(a, &sol)
	ss := 0.0
	for i := range y.Len() {
		v := y.AtVec(i) - fit.AtVec(i)
		ss += v * v
	}
	s0 := max(math.Sqrt(ss/float64(y.Len()-4)), 0.0005)
	ppm, sigma := sol.AtVec(2)*1e3, s0*math.Sqrt(inv.At(2, 2))*1e3
	luck := 2 * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(y.Len() - 4)}.Survival(math.Abs(ppm)/sigma)
	if math.Abs(ppm) <= 20 || luck > 0.0027 { // 3 sigma, with few targets more
		return
	}
	f := Finding{ID: "B11", Title: "grid and ground distances mixed", Severity: Serious,
		Text:      fmt.Sprintf("target offsets grow from a point by %+.0f +- %.0f millionths of the distance: a combined factor on one side only", ppm, sigma),
		Observed:  fmt.Sprintf("scale %+.1f ppm over %.0f m", ppm, 2*reach),
		Predicted: "grid scale: -400 ppm on a UTM axis; height: -78 ppm at 500 m, -235 ppm at 1500 m",
		ChancePct: 100 * luck, DecideBy: "one distance between two marks, taped or from a total station, against grid"}
	var rest []float64
	for i := range y.Len() {
		rest = append(rest, y.AtVec(i)-fit.AtVec(i))
	}
	f.LeftMedianM, f.LeftRMSEM = control.Median(rest), control.RMS(rest)
	f.ExplainedShare = 1 - ss/max(sumSquares(y), 1e-12)
	r.report.Findings = append(r.report.Findings, f)
}

func sumSquares(y *mat.VecDense) float64 {
	s := 0.0
	for i := range y.Len() {
		s += y.AtVec(i) * y.AtVec(i)
	}
	return s
}

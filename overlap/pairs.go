package overlap

import "math"

// commonPlace returns the place at which the heights of two planes are known
// best together: the minimum of the sum of their leverages,
// (Ka + Kb)^-1 (Ka ca + Kb cb) with K = C^-1 / N. ok is false without two planes.
func commonPlace(a, b *Facet) (eM, nM float64, ok bool) {
	if !a.Plane || !b.Plane {
		return math.NaN(), math.NaN(), false
	}
	kee, ken, knn := 0.0, 0.0, 0.0
	var re, rn float64
	for _, f := range [2]*Facet{a, b} {
		w := 1 / ((f.VarE*f.VarN - f.CovEN*f.CovEN) * float64(f.N))
		ee, en, nn := w*f.VarN, -w*f.CovEN, w*f.VarE
		dE, dN := f.EM-a.EM, f.NM-a.NM // about a's mean, for the digits
		kee, ken, knn = kee+ee, ken+en, knn+nn
		re += ee*dE + en*dN
		rn += en*dE + nn*dN
	}
	det := kee*knn - ken*ken
	return a.EM + (knn*re-ken*rn)/det, a.NM + (kee*rn-ken*re)/det, true
}

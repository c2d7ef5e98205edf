package control

import "math"

// edition1 adds the figures of ASPRS Edition 1: NVA by RMSEz and 1.96 RMSEz, VVA by the 95th
// percentile with 3 times the class as limit, horizontal by RMSEx, RMSEy and 1.7308 RMSEr.
func (e *Evaluation) edition1(in AssessInput) {
	src := "ASPRS Edition 1, section 7.5 and annex B"
	nva := Measure{ID: "nva_rmse", Name: "NVA RMSEz", LimitM: limit(in.ClassM, 1), Source: src, Note: "no open check point"}
	nva95 := Measure{ID: "nva_accuracy95", Name: "NVA at 95 %", LimitM: limit(in.ClassM, Vertical95), Source: src, Note: "no open check point"}
	if a := e.Open; a != nil {
		nva.N, nva.ValueM, nva.Note = a.N, ref(a.RMSEM), ""
		nva95.N, nva95.ValueM, nva95.Note = a.N, ref(a.Accuracy95M), "1.96 RMSEz: normal errors without bias"
	}
	vva := Measure{ID: "vva_p95", Name: "VVA 95th percentile", LimitM: limit(in.ClassM, 3), Source: src, Note: "no vegetated check point"}
	if a := e.Vegetated; a != nil {
		vva.N, vva.ValueM, vva.Note = a.N, ref(a.P95AbsM), ""
	}
	e.add(nva)
	e.add(nva95)
	e.add(vva)
	if h := e.Horizontal; h != nil {
		e.add(Measure{ID: "rmse_x", Name: "RMSEx", N: h.N, ValueM: ref(h.East.RMSEM), LimitM: limit(in.ClassHorizontalM, 1), Source: src})
		e.add(Measure{ID: "rmse_y", Name: "RMSEy", N: h.N, ValueM: ref(h.North.RMSEM), LimitM: limit(in.ClassHorizontalM, 1), Source: src})
		e.add(Measure{ID: "rmse_r", Name: "RMSEr", N: h.N, ValueM: ref(h.RMSERM), LimitM: limit(in.ClassHorizontalM, math.Sqrt2), Source: src})
		e.add(Measure{ID: "accuracy_r95", Name: "horizontal at 95 %", N: h.N, ValueM: ref(h.Accuracy95M), LimitM: limit(in.ClassHorizontalM, math.Sqrt2*Radial95), Source: src})
	}
}

// edition2 adds the figures of ASPRS Edition 2: the fit to the check points and the error of their
// survey in quadrature. Without a stated survey accuracy the accuracy stays open.
func (e *Evaluation) edition2(in AssessInput) {
	src := "ASPRS Edition 2, sections 7.4 to 7.6"
	const unknown = "accuracy of the check survey not given: the standard's figure cannot be computed"
	vKnown, hKnown := in.SurveyVM > 0, in.SurveyHM > 0
	group := func(id, name, none string, a *Accuracy, lim *float64) *float64 {
		fit := Measure{ID: id + "_fit", Name: name + " fit to the check points, RMSE_V1", Source: src, Note: none}
		m := Measure{ID: id + "_rmse_v", Name: name + " RMSE_V", LimitM: lim, Source: src, Note: none}
		if a != nil {
			fit.N, fit.ValueM, fit.Note = a.N, ref(a.RMSEM), ""
			m.N, m.Note = a.N, unknown
			if vKnown {
				m.ValueM, m.Note = ref(math.Hypot(a.RMSEM, in.SurveyVM)), ""
			} else if lim != nil && a.RMSEM > *lim { // no survey error brings it back
				m.ValueM, m.Note = ref(a.RMSEM), "at least: the fit alone is above the limit, and the accuracy of the check survey is not given"
			}
		}
		e.add(fit)
		e.add(m)
		return m.ValueM
	}
	nva := group("nva", "NVA", "no open check point", e.Open, limit(in.ClassM, 1))
	vva := group("vva", "VVA", "no vegetated check point", e.Vegetated, nil)
	if m := e.Measure("vva_rmse_v"); m.ValueM != nil {
		m.Note = "reported as found; the standard sets no limit"
	}
	h := e.Horizontal
	if h == nil {
		return
	}
	e.add(Measure{ID: "h_fit", Name: "horizontal fit, RMSE_H1", N: h.N, ValueM: ref(h.RMSERM), Source: src})
	rmseH := Measure{ID: "rmse_h", Name: "RMSE_H", N: h.N, LimitM: limit(in.ClassHorizontalM, 1), Source: src, Note: unknown}
	if hKnown {
		rmseH.ValueM, rmseH.Note = ref(math.Hypot(h.RMSERM, in.SurveyHM)), ""
	}
	e.add(rmseH)
	for _, v := range []struct {
		id, name string
		rmseV    *float64
	}{{"rmse_3d", "RMSE_3D in the open", nva}, {"rmse_3d_vegetated", "RMSE_3D in vegetation", vva}} {
		if v.rmseV != nil && rmseH.ValueM != nil {
			e.add(Measure{ID: v.id, Name: v.name, N: h.N, ValueM: ref(math.Hypot(*v.rmseV, *rmseH.ValueM)), Source: src})
		}
	}
}

// nssda adds the figures of the NSSDA, which sets no limit.
func (e *Evaluation) nssda() {
	src := "FGDC-STD-007.3-1998, appendix 3-A"
	for _, g := range []struct {
		id, name string
		a        *Accuracy
	}{{"accuracy_z", "vertical accuracy, open", e.Open}, {"accuracy_z_vegetated", "vertical accuracy, vegetated", e.Vegetated}} {
		m := Measure{ID: g.id, Name: g.name + " at 95 %", Source: src, Note: "no check point"}
		if g.a != nil {
			m.N, m.ValueM, m.Note = g.a.N, ref(g.a.Accuracy95M), ""
		}
		e.add(m)
	}
	if h := e.Horizontal; h != nil {
		m := Measure{ID: "accuracy_r", Name: "horizontal accuracy at 95 %", N: h.N, ValueM: h.NSSDA95M, Source: src}
		if h.NSSDA95M == nil {
			m.Note = "RMSE of the two axes differ by more than 0.6: the standard gives no radius"
		}
		e.add(m)
	}
}

package simulate

import (
	"math"
	"math/rand/v2"
	"strconv"
)

// commit applies the blunders, in turn, to the given coordinates of the check points.
func (f *Flight) commit(list []Blunder) {
	for _, b := range list {
		if b.Kind == BlunderControlReuse {
			f.Points = append(f.Points, f.Control...)
			continue
		}
		if len(f.Points) == 0 {
			continue
		}
		one := b.Point % len(f.Points)
		if b.Kind == BlunderVegetation {
			f.moveIntoVegetation(&f.Points[one], b.Value)
			continue
		}
		mean := f.meanGiven()
		for i := range f.Points {
			f.spoil(&f.Points[i], b, i == one, mean)
		}
	}
}

func (f *Flight) meanGiven() (m Vec) {
	n := float64(len(f.Points))
	for i := range f.Points {
		p := &f.Points[i]
		m[0], m[1], m[2] = m[0]+p.GivenEM/n, m[1]+p.GivenNM/n, m[2]+p.GivenHM/n
	}
	return m
}

// spoil applies one blunder to one point.
func (f *Flight) spoil(p *SurveyPoint, b Blunder, chosen bool, mean Vec) {
	switch b.Kind {
	case BlunderConstant:
		p.GivenHM += b.Value
	case BlunderGeoid:
		p.GivenHM += f.GeoidM(p.GivenEM, p.GivenNM)
	case BlunderSwapEN:
		p.GivenEM, p.GivenNM = p.GivenNM, p.GivenEM
	case BlunderPole:
		p.GivenHM -= b.Value
	case BlunderFeetHeights:
		p.GivenHM /= footOr(b.Value)
	case BlunderFeetAll:
		k := footOr(b.Value)
		p.GivenEM, p.GivenNM, p.GivenHM = p.GivenEM/k, p.GivenNM/k, p.GivenHM/k
	case BlunderZone:
		lat, lon := f.utm.Inverse(p.GivenEM, p.GivenNM)
		p.GivenEM, p.GivenNM = UTM{f.utm.Zone%60 + 1, f.utm.South}.Forward(lat, lon)
	case BlunderWrongFoot:
		k := USSurveyFootM / InternationalFootM
		p.GivenEM, p.GivenNM, p.GivenHM = p.GivenEM*k, p.GivenNM*k, p.GivenHM*k
	case BlunderTilt:
		p.GivenHM += b.Value * (p.GivenEM - mean[0])
	case BlunderScale:
		p.GivenEM = mean[0] + (1+b.Value)*(p.GivenEM-mean[0])
		p.GivenNM = mean[1] + (1+b.Value)*(p.GivenNM-mean[1])
	case BlunderShift:
		p.GivenEM += b.Value
		p.GivenNM += b.Value / 2
	}
	if chosen {
		f.spoilOne(p, b)
	}
}

// spoilOne applies the blunders that hit a single point.
func (f *Flight) spoilOne(p *SurveyPoint, b Blunder) {
	switch b.Kind {
	case BlunderTranspose:
		p.GivenHM = transpose(p.GivenHM)
	case BlunderDigit:
		p.GivenHM += b.Value
	case BlunderEdge:
		a := float64(len(p.ID)) + p.TrueEM
		p.GivenEM += b.Value * math.Cos(a)
		p.GivenNM += b.Value * math.Sin(a)
	}
}

// moveIntoVegetation puts a point under trees or in brush, shot on the soil sinkM below
// the litter, while the list still calls it hard. Without such a place it stays where it is and only sinks.
func (f *Flight) moveIntoVegetation(p *SurveyPoint, sinkM float64) {
	rng := rand.New(rand.NewPCG(f.Scenario.Seed, 0xb12))
	found := f.choose(rng, 1, "VX", 1, func(c Cover) bool { return c == CoverVegetated })
	if len(found) == 1 {
		q := found[0]
		q.ID, q.Cover, q.Control = p.ID, p.Cover, p.Control
		*p = q
	}
	p.GivenHM -= sinkM
}

func footOr(v float64) float64 {
	if v == 0 {
		return InternationalFootM
	}
	return v
}

// transpose exchanges the first two neighbouring digits that differ, beginning at the
// last digit before the decimal point.
func transpose(h float64) float64 {
	b := []byte(strconv.FormatFloat(h, 'f', 3, 64))
	dot := len(b) - 4
	if dot >= 2 && b[dot-1] != b[dot-2] {
		b[dot-1], b[dot-2] = b[dot-2], b[dot-1]
	} else {
		b[dot+1], b[dot-1] = b[dot-1], b[dot+1]
	}
	v, err := strconv.ParseFloat(string(b), 64)
	if err != nil {
		return h // cannot happen: the digits of a number are a number
	}
	return v
}

package laz

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
)

// scanLines makes records of an invented UAV flight: a line scanner over
// terrain with trees, pulse after pulse, scale 1 mm. About 38 % of the points are of
// pulses with several returns. Point formats 1, 3, 6 and 7.
func scanLines(format uint8, n int) []byte {
	const (
		pulsesPerLine = 3333
		stepRad       = 120.0 / pulsesPerLine * math.Pi / 180
		pulseS        = 5.005e-6
		speedMPS      = 6.0
		heightM       = 88.0
	)
	rng := rand.New(rand.NewPCG(1, 2))
	length := formatLength[format]
	out := make([]byte, 0, (n+8)*length)
	pulse := 0
	for len(out) < n*length {
		pulse++
		if rng.IntN(200) == 0 { // a pulse without return
			continue
		}
		tS := float64(pulse) * pulseS
		angle := (float64(pulse%pulsesPerLine) - pulsesPerLine/2) * stepRad
		eM := speedMPS*tS + 0.002*rng.NormFloat64()
		nM := heightM * math.Tan(angle)
		ground := 12 + 3*math.Sin(eM/70)*math.Cos(nM/55) + 0.4*math.Sin(nM/7)
		p := synthPoint{format: format, timeS: 320000025 + tS, angleRad: angle, source: 100, returns: 1}
		tree := math.Sin(eM/4.1+2*math.Sin(nM/13))*math.Sin(nM/3.3+math.Cos(eM/9)) + 0.35*math.Sin(nM/29)
		if tree > 0.36 {
			p.returns = 1 + min(4, int(rng.ExpFloat64()*1.9))
		}
		top := 0.0
		if p.returns > 1 || tree > 0.5 {
			top = (4 + 9*min(1, tree)) * (0.75 + 0.25*rng.Float64())
		}
		for r := range p.returns {
			p.ret = r + 1
			above := top * (1 - float64(r)/float64(max(1, p.returns-1)))
			if r > 0 && r < p.returns-1 {
				above += 0.4 * rng.NormFloat64()
			}
			if p.returns > 1 && r == p.returns-1 && rng.IntN(3) == 0 {
				above = 0.3 * rng.Float64() * top
			}
			rangeNoise := 0.012 * rng.NormFloat64()
			slant := (heightM - above) / heightM
			p.eM, p.nM, p.zM = eM, nM*slant+rangeNoise*math.Sin(angle), ground+above+rangeNoise*math.Cos(angle)
			p.class, p.intensity = 2, 22000+900*rng.NormFloat64()
			if above > 2 {
				p.class, p.intensity = 5, 9000/float64(p.returns)+1500*rng.NormFloat64()
			} else if above > 0.3 {
				p.class, p.intensity = 3, 12000/float64(p.returns)+1500*rng.NormFloat64()
			}
			p.shade = 30000 + 9000*math.Sin(eM/3)*math.Cos(nM/5) + 700*rng.NormFloat64()
			out = p.append(out)
		}
	}
	return out[:n*length]
}

type synthPoint struct {
	format       uint8
	eM, nM, zM   float64
	timeS        float64
	angleRad     float64
	intensity    float64
	shade        float64
	ret, returns int
	class        uint8
	source       uint16
}

func (p *synthPoint) append(b []byte) []byte {
	le := binary.LittleEndian
	for _, v := range [...]float64{p.eM, p.nM, p.zM} {
		b = le.AppendUint32(b, uint32(int32(math.Round(v*1000))))
	}
	b = le.AppendUint16(b, uint16(max(0, min(65535, p.intensity))))
	deg := p.angleRad * 180 / math.Pi
	if p.format < 6 {
		b = append(b, uint8(p.ret|p.returns<<3), p.class, uint8(int8(math.Round(deg))), 0)
		b = le.AppendUint16(b, p.source)
	} else {
		b = append(b, uint8(p.ret|p.returns<<4), 0, p.class, 0)
		b = le.AppendUint16(b, uint16(int16(math.Round(deg/0.006))))
		b = le.AppendUint16(b, p.source)
	}
	b = le.AppendUint64(b, math.Float64bits(p.timeS))
	if p.format == 3 || p.format == 7 {
		for _, f := range [...]float64{1, 0.9, 0.7} {
			b = le.AppendUint16(b, uint16(max(0, min(65535, p.shade*f)))&0xFF00)
		}
	}
	return b
}

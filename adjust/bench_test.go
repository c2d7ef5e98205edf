package adjust

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"sidelap/overlap"
	"sidelap/trajectory"
)

// bigBlock makes the overlap cells of a block of opposed strips and two crossing ones over waves of ground, 1 m cells, with a
// boresight fault: the facets alone, as a survey would have them, without points.
func bigBlock(strips, lengthM int) (*overlap.Survey, []overlap.Pair, *trajectory.Path) {
	const heightM, spacingM, speedMPS, swathM = 80.0, 45.0, 8.0, 110.0
	rng := rand.New(rand.NewPCG(7, 7))
	s := &overlap.Survey{}
	s.Options.CellM = 1
	path := &trajectory.Path{Source: "invented"}
	type line struct{ e, n, heading, start float64 }
	var lines []line
	length := float64(lengthM)
	t := 1000.0
	add := func(e, n, heading float64, long float64) {
		l := line{e, n, heading, t}
		lines = append(lines, l)
		sin, cos := math.Sincos(heading)
		for d := -20.0; d <= long+20; d += 0.4 {
			path.TimeS = append(path.TimeS, t+(d+20)/speedMPS)
			path.EM, path.NM, path.HM = append(path.EM, e+d*sin), append(path.NM, n+d*cos), append(path.HM, 100+heightM)
			path.RollRad, path.PitchRad, path.HeadingRad = append(path.RollRad, 0.01*math.Sin(t+d/9)), append(path.PitchRad, 0.01*math.Cos(t+d/7)), append(path.HeadingRad, heading)
		}
		s.Strips = append(s.Strips, overlap.Strip{ID: fmt.Sprint(len(lines)), HeadingRad: heading, HeightAGLM: heightM, SpeedMPS: speedMPS,
			StartGPSS: t + 20/speedMPS, EndGPSS: t + (long+20)/speedMPS})
		t += (long+40)/speedMPS + 30
	}
	for i := range strips {
		if i%2 == 0 {
			add(float64(i)*spacingM, 0, 0, length)
		} else {
			add(float64(i)*spacingM, length, math.Pi, length)
		}
	}
	width := float64(strips-1) * spacingM
	add(0, length/3, math.Pi/2, width)
	add(width, 2*length/3, -math.Pi/2, width)
	truth := [...]float64{BoresightRoll: 0.03 * deg, BoresightPitch: 0.03 * deg, BoresightHeading: 0.05 * deg}
	place := func(l line, e, n float64) (along, right float64) {
		sin, cos := math.Sincos(l.heading)
		return (e-l.e)*sin + (n-l.n)*cos, (e-l.e)*cos - (n-l.n)*sin
	}
	var pairs []overlap.Pair
	for a := range lines {
		for b := a + 1; b < len(lines); b++ {
			if b-a > 1 && b < strips {
				continue
			}
			p := overlap.Pair{A: a, B: b, IDA: s.Strips[a].ID, IDB: s.Strips[b].ID}
			for col := -60; col < int(width)+60; col++ {
				for r := 0; r < lengthM; r++ {
					e, n := float64(col)+0.5, float64(r)+0.5
					xa, ya := place(lines[a], e, n)
					xb, yb := place(lines[b], e, n)
					if math.Abs(ya) > swathM/2 || math.Abs(yb) > swathM/2 || xa < 0 || xb < 0 || xa > (s.Strips[a].EndGPSS-s.Strips[a].StartGPSS)*speedMPS || xb > (s.Strips[b].EndGPSS-s.Strips[b].StartGPSS)*speedMPS {
						continue
					}
					gE, gN := 0.12*math.Cos(e/31+n/47), 0.12*math.Cos(n/23+e/37)
					c := overlap.PairCell{Col: int32(col), Row: int32(r), EM: e, NM: n, SlopeE: gE + 0.0046*rng.NormFloat64(), SlopeN: gN + 0.0046*rng.NormFloat64(), SigmaM: 0.006,
						ZAM: 100, ZBM: 100, RoughAM: 0.012, RoughBM: 0.012, NA: 40, NB: 40, AngleA: math.Atan(ya / heightM), AngleB: math.Atan(yb / heightM)}
					c.TimeAS, c.TimeBS = lines[a].start+(xa+20)/speedMPS, lines[b].start+(xb+20)/speedMPS
					sa := sight{body: Vec{0, ya, heightM}, toMap: BodyToMap(0, 0, lines[a].heading)}
					sb := sight{body: Vec{0, yb, heightM}, toMap: BodyToMap(0, 0, lines[b].heading)}
					for k, v := range truth {
						c.DzM += v * (apparent(sb.displacement(Kind(k)), gE, gN) - apparent(sa.displacement(Kind(k)), gE, gN))
					}
					c.DzM += 0.006 * rng.NormFloat64()
					p.Cells = append(p.Cells, c)
				}
			}
			if len(p.Cells) > 0 {
				pairs = append(pairs, p)
			}
		}
	}
	return s, pairs, path
}

// BenchmarkDiagnose diagnoses about a million cells of 22 strips: done when under 10 s on two cores.
func BenchmarkDiagnose(b *testing.B) {
	s, pairs, path := bigBlock(20, 700)
	cells := 0
	for _, p := range pairs {
		cells += len(p.Cells)
	}
	for _, know := range []Knowledge{FromPath, FromHeadings} {
		b.Run(string(know), func(b *testing.B) {
			for b.Loop() {
				p := path
				if know != FromPath {
					p = nil
				}
				d := Diagnose(s, pairs, p, know, DefaultOptions())
				if !d.Judged || len(d.Causes) == 0 || d.Causes[0].Kind != BoresightRoll {
					b.Fatalf("%s: %v", d.Model, d.Causes)
				}
			}
			b.ReportMetric(float64(cells)*float64(b.N)/b.Elapsed().Seconds(), "cells/s")
			b.ReportMetric(float64(cells), "cells")
		})
	}
}

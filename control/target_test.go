package control

import (
	"math"
	"math/rand/v2"
	"testing"

	"sidelap/las"
)

// paint makes returns around a place; those on the shape are bright. The target lies off the surveyed place by (de, dn).
func paint(rng *rand.Rand, o TargetOptions, density, de, dn, turn, noise float64) []*las.Chunk {
	var cl cloud
	half := o.SizeM + 1
	var bright []uint16
	f := &targetFit{o: o}
	f.o.FootprintM = 1e-6
	for range int(4 * half * half * density) {
		x, y := half*(2*rng.Float64()-1), half*(2*rng.Float64()-1)
		cl.add(site0E+x, site0N+y, 10, 2, 1)
		// the footprint averages over a few centimetres
		b := 0.0
		for range 16 {
			b += f.inside(x+0.025*rng.NormFloat64(), y+0.025*rng.NormFloat64(), [3]float64{de, dn, turn}) / 16
		}
		bright = append(bright, uint16(max(0, 8000+24000*b+noise*rng.NormFloat64())))
	}
	chunks := cl.chunks(inOrder(len(cl.x)), 4096, metreFrame())
	k := 0
	for _, ch := range chunks {
		for i := range ch.N {
			ch.Intensity[i] = bright[k]
			k++
		}
	}
	return chunks
}

// Known truth: the place of every kind of target is recovered within the stated standard deviation.
func TestTargets(t *testing.T) {
	for _, o := range []TargetOptions{{Kind: TargetDisc, SizeM: 0.5}, {Kind: TargetCheckerboard, SizeM: 1.2}, {Kind: TargetChevron, SizeM: 1.0, ArmM: 0.25}, {Kind: TargetCross, SizeM: 0.8, ArmM: 0.3}} {
		o.SearchM, o.FootprintM = 0.5, 0.05
		rng := rand.New(rand.NewPCG(31, 32))
		var normal, size []float64
		const seeds = 16
		for range seeds {
			de, dn := 0.3*(2*rng.Float64()-1), 0.3*(2*rng.Float64()-1)
			c := collect([]Point{{ID: "T", EM: site0E, NM: site0N}}, 2, paint(rng, o, 150, de, dn, 2*math.Pi*rng.Float64(), 2500))
			fix, err := c.Targets(o)
			if err != nil {
				t.Fatal(err)
			}
			f := fix[0]
			if !f.OK {
				t.Errorf("%s: not found: %s", o.Kind, f.Reason)
				continue
			}
			if f.Contrast < 18000 || f.Contrast > 30000 {
				t.Errorf("%s: contrast %.0f, want about 24000", o.Kind, f.Contrast)
			}
			normal = append(normal, (f.DEM-de)/f.SigmaM, (f.DNM-dn)/f.SigmaM)
			size = append(size, f.DEM-de, f.DNM-dn)
		}
		a := must(t, normal)
		t.Logf("%s: error %.4f m, normalised %.2f", o.Kind, RMS(size), a.RMSEM)
		if a.RMSEM > 1.5 || a.RMSEM < 0.4 || RMS(size) > 0.02 {
			t.Errorf("%s: error %.4f m, %.2f of the stated sigma, want about 1", o.Kind, RMS(size), a.RMSEM)
		}
	}
}

func TestNoTarget(t *testing.T) {
	rng := rand.New(rand.NewPCG(33, 34))
	o := TargetOptions{Kind: TargetDisc, SizeM: 0.5, SearchM: 0.5}
	found := 0
	for range 20 {
		c := collect([]Point{{EM: site0E, NM: site0N}}, 2, paint(rng, o, 100, 9, 9, 0, 2500))
		if fix, _ := c.Targets(o); fix[0].OK || fix[0].Reason == "" || !math.IsNaN(fix[0].DEM) {
			found++
		}
	}
	if found > 0 {
		t.Errorf("a target was found in %d of 20 places without one", found)
	}
	c := collect([]Point{{EM: site0E + 500, NM: site0N}}, 2, paint(rng, o, 100, 0, 0, 0, 0))
	if fix, _ := c.Targets(o); fix[0].OK || fix[0].InWindow != 0 {
		t.Errorf("no returns: %+v", fix[0])
	}
	if _, err := c.Targets(TargetOptions{Kind: "star", SizeM: 1}); err == nil {
		t.Error("an unknown target must be an error")
	}
}

package trajectory

import (
	"cmp"
	"math"
	"slices"

	"sidelap/las"
)

// sampleReturns is about how many returns the tests of a path against the cloud look at.
const sampleReturns = 40_000

// Sampler keeps an even share of the returns of files, for the tests of a path against a cloud. One goroutine fills it;
// samplers of several merge, and List does not depend on who read what.
type Sampler struct {
	stride  int64
	returns []sampled
}

// sampled is a return with its place in the files.
type sampled struct {
	file  int
	index int64
	r     Return
}

// NewSampler returns a sampler for files of points points together.
func NewSampler(points int64) *Sampler { return &Sampler{stride: max(1, points/sampleReturns)} }

// Add takes its share of a chunk of file number file. Withheld points and points without time are left out. It
// wants las.ColGPSTime, las.ColScanAngle and las.ColFlags.
func (s *Sampler) Add(c *las.Chunk, file int) {
	if len(c.GPSTime) < c.N {
		return
	}
	for i := int((s.stride - c.First%s.stride) % s.stride); i < c.N; i += int(s.stride) {
		if math.IsNaN(c.GPSTime[i]) || len(c.Flags) >= c.N && c.Flags[i]&las.FlagWithheld != 0 {
			continue
		}
		angle := math.NaN()
		if len(c.ScanAngle) >= c.N {
			angle = float64(c.ScanAngle[i]) * las.ScanAngleStepDeg * math.Pi / 180
		}
		s.returns = append(s.returns, sampled{file, c.First + int64(i), Return{TimeS: c.GPSTime[i],
			EM: c.Frame.XM(c.X[i]), NM: c.Frame.YM(c.Y[i]), HM: c.Frame.ZM(c.Z[i]), AngleRad: angle}})
	}
}

// Merge adds what o has kept.
func (s *Sampler) Merge(o *Sampler) { s.returns = append(s.returns, o.returns...) }

// List returns the sample in the order of the files. Scan angles that are all equal say nothing and become NaN.
func (s *Sampler) List() []Return {
	slices.SortFunc(s.returns, func(a, b sampled) int {
		return cmp.Or(cmp.Compare(a.file, b.file), cmp.Compare(a.index, b.index))
	})
	out := make([]Return, len(s.returns))
	for i := range s.returns {
		out[i] = s.returns[i].r
	}
	if len(out) > 0 && !slices.ContainsFunc(out, func(r Return) bool { return r.AngleRad != out[0].AngleRad }) {
		for i := range out {
			out[i].AngleRad = math.NaN()
		}
	}
	return out
}

package assess

import (
	"cmp"
	"math"
	"slices"

	"sidelap/las"
	"sidelap/trajectory"
)

// sampleReturns is about how many returns the tests of a path against the cloud look at.
const sampleReturns = 40_000

// sampled is a return with its place in the files, for an order that does not depend on workers.
type sampled struct {
	file  int
	index int64
	r     trajectory.Return
}

// sampler keeps every strideth last return of each file.
type sampler struct {
	stride  int64
	returns []sampled
}

func newSampler(points int64) *sampler { return &sampler{stride: max(1, points/sampleReturns)} }

// Add implements sink.
func (s *sampler) Add(c *las.Chunk, file int) {
	if len(c.GPSTime) == 0 {
		return
	}
	first := (s.stride - c.First%s.stride) % s.stride
	for i := int(first); i < c.N; i += int(s.stride) {
		angle := math.NaN()
		if len(c.ScanAngle) > 0 {
			angle = float64(c.ScanAngle[i]) * las.ScanAngleStepDeg / degrees
		}
		if len(c.Flags) > 0 && c.Flags[i]&las.FlagWithheld != 0 || math.IsNaN(c.GPSTime[i]) {
			continue
		}
		s.returns = append(s.returns, sampled{file, c.First + int64(i), trajectory.Return{TimeS: c.GPSTime[i],
			EM: c.Frame.XM(c.X[i]), NM: c.Frame.YM(c.Y[i]), HM: c.Frame.ZM(c.Z[i]), AngleRad: angle}})
	}
}

func (s *sampler) merge(o *sampler) { s.returns = append(s.returns, o.returns...) }

// list returns the sample in the order of the files.
func (s *sampler) list() []trajectory.Return {
	slices.SortFunc(s.returns, func(a, b sampled) int {
		return cmp.Or(cmp.Compare(a.file, b.file), cmp.Compare(a.index, b.index))
	})
	out := make([]trajectory.Return, len(s.returns))
	for i := range s.returns {
		out[i] = s.returns[i].r
	}
	// Scan angles that are all equal say nothing.
	if len(out) > 0 && !slices.ContainsFunc(out, func(r trajectory.Return) bool { return r.AngleRad != out[0].AngleRad }) {
		for i := range out {
			out[i].AngleRad = math.NaN()
		}
	}
	return out
}

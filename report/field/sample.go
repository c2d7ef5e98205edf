package field

import (
	"cmp"
	"math"
	"slices"

	"sidelap/las"
	"sidelap/trajectory"
)

// sampleReturns is about how many returns the comparison of path and cloud looks at.
const sampleReturns = 40_000

// sampler keeps every strideth point of each file.
type sampler struct {
	stride  int64
	returns []sampled
}

// sampled is a return with its place in the files, for an order that does not depend on workers.
type sampled struct {
	file  int
	index int64
	r     trajectory.Return
}

func newSampler(points int64) *sampler { return &sampler{stride: max(1, points/sampleReturns)} }

// Add takes its share of a chunk.
func (s *sampler) Add(c *las.Chunk, file int) {
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
		s.returns = append(s.returns, sampled{file, c.First + int64(i), trajectory.Return{TimeS: c.GPSTime[i],
			EM: c.Frame.XM(c.X[i]), NM: c.Frame.YM(c.Y[i]), HM: c.Frame.ZM(c.Z[i]), AngleRad: angle}})
	}
}

func (s *sampler) merge(o *sampler) { s.returns = append(s.returns, o.returns...) }

// list returns the sample in the order of the files; scan angles that are all equal say nothing.
func (s *sampler) list() []trajectory.Return {
	slices.SortFunc(s.returns, func(a, b sampled) int {
		return cmp.Or(cmp.Compare(a.file, b.file), cmp.Compare(a.index, b.index))
	})
	out := make([]trajectory.Return, len(s.returns))
	for i := range s.returns {
		out[i] = s.returns[i].r
	}
	if len(out) > 0 && !slices.ContainsFunc(out, func(r trajectory.Return) bool { return r.AngleRad != out[0].AngleRad }) {
		for i := range out {
			out[i].AngleRad = math.NaN()
		}
	}
	return out
}

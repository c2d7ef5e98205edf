package field

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"

	"sidelap/trajectory/fieldcheck"
)

// fill gathers the rest of the input of the checks.
func (j *job) fill() {
	in := &j.in
	in.Track, in.Base, in.NoBase, in.Grid = j.track, j.log, j.o.NoBase, j.grid.projector()
	in.ScanSpanRad = j.o.FieldOfViewDeg / toDeg
	in.Plan, in.FixedValue, in.WaterSeen, in.AntennaHeightM = j.plan, j.o.FixedValue, j.o.WaterSeen, j.o.AntennaHeightM
	if j.water != nil {
		in.Water = j.water.Area
	}
	if j.mark != nil {
		in.BaseMark = &[2]float64{j.mark.EM, j.mark.NM}
	}
	if j.o.StorageFreeBytes > 0 || j.o.PlannedMinutes > 0 {
		in.Storage = &fieldcheck.Storage{FreeBytes: j.o.StorageFreeBytes, PlannedS: 60 * j.o.PlannedMinutes, BytesPerS: 1e6 * j.o.StorageRateMBs}
		if j.o.StorageRateMBs > 0 {
			in.Storage.RateFrom = "as named"
		}
	}
	if j.cloud == nil {
		return
	}
	j.fillFiles()
	if got := j.cloud.got; got != nil && got.spots != nil && j.survey != nil {
		if j.list != nil {
			in.Points = seen(got.spots, j.list.Points, j.survey.Lines(), in.Coverage)
		}
		in.Heights = j.look(got.spots)
	}
}

// fillFiles sums up the files, and the rate at which the recorder fills.
func (j *job) fillFiles() {
	bytes, seconds := 0.0, 0.0
	for i, s := range j.cloud.files {
		st := fieldcheck.FileState{Path: s.path, Problem: s.problem}
		if s.f != nil {
			h := s.f.Header()
			st.Claimed, st.Present = int64(min(h.StatedPoints, math.MaxInt64)), h.Points
			if j.cloud.got != nil {
				st.Present = s.present.Load()
			}
			bytes += float64(s.f.Size())
		}
		if j.survey != nil {
			for _, line := range j.survey.Lines() {
				if slices.Contains(line.Files, i) {
					st.Strips = append(st.Strips, line.ID)
				}
			}
		}
		j.in.Files = append(j.in.Files, st)
	}
	for _, s := range j.in.Strips {
		seconds += s.EndS - s.StartS
	}
	if j.in.Storage != nil && seconds > 0 && j.o.StorageRateMBs == 0 {
		j.rate(bytes, seconds)
		if s := j.in.Storage; s.WhyNoRate != "" {
			j.notes = append(j.notes, "free storage is not judged: "+s.WhyNoRate)
		} else {
			j.notes = append(j.notes, fmt.Sprintf("free storage: the rate of the recorder, %.3g MB/s, is %s", s.BytesPerS/1e6, s.RateFrom))
		}
	}
}

// leastRate is the fewest bytes a second that files of a whole cloud are thought to have: 4000 points of 25
// bytes. Proposal.
const leastRate = 1e5

// rate takes the rate of the recorder from the files, unless they are no measure of it. Planned minutes are of
// recording: the rate is that of the strips.
func (j *job) rate(bytes, seconds float64) {
	s := j.in.Storage
	packed := slices.ContainsFunc(j.cloud.files, func(x *source) bool { return x.f != nil && x.f.Header().Compressed })
	const remedy = ": name what the recorder writes with --storage-rate"
	switch got := j.cloud.got; {
	case packed:
		s.WhyNoRate = "the cloud is compressed, a recorder's files are larger" + remedy
	case got != nil && got.pulses.thinned():
		s.WhyNoRate = "most returns lack the others of their pulse, the cloud was thinned" + remedy
	case bytes/seconds < leastRate:
		s.WhyNoRate = fmt.Sprintf("the files hold %.0f kB a second of the strips, too little for a whole cloud", bytes/seconds/1000) + remedy
	default:
		s.BytesPerS = bytes / seconds
		s.RateFrom = "the size of the cloud's files over the time of its strips (other data of the recorder are not in it: --storage-rate)"
	}
}

// read names what was read beside cloud and path.
func (j *job) read() (out []string) {
	switch n := len(j.o.Base); {
	case n == 1:
		out = append(out, "the base log "+filepath.Base(j.o.Base[0]))
	case n > 1:
		out = append(out, counted(n, "base log", "base logs"))
	}
	for _, x := range [][2]string{{"the plan ", j.o.Plan}, {"the water of ", j.o.Water}, {"the points of ", j.o.CheckPoints}} {
		if x[1] != "" {
			out = append(out, x[0]+filepath.Base(x[1]))
		}
	}
	return out
}

// missing lists the main inputs that were not given.
func (j *job) missing() (out []Missing) {
	if j.track == nil {
		out = append(out, Missing{"the path of the flight", "--trajectory FILE"})
	}
	if j.log == nil && !j.o.NoBase {
		out = append(out, Missing{"the log of the base", "--base FILE (or --no-base, with a correction service)"})
	}
	switch {
	case j.cloud == nil:
		out = append(out, Missing{"the raw or quick cloud", "FILE|DIR"})
	case j.o.HeadersOnly:
		out = append(out, Missing{"the points of the cloud", "leave out --headers"})
	}
	if j.o.Plan == "" {
		out = append(out, Missing{"the plan", "--plan FILE"})
	}
	return out
}

package adjust

import (
	"cmp"
	"context"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"sync"

	"sidelap/las"
	"sidelap/trajectory"
)

// The record of a correction in a corrected file, a VLR of our own: JSON of FileRecord.
const (
	RecordUser = "sidelap"
	RecordID   = 1
)

// maxVLR is the longest payload of a VLR.
const maxVLR = math.MaxUint16

// ApplyOptions controls ApplyFile and UndoFile. The zero value is usable.
type ApplyOptions struct {
	Workers   int           // goroutines that move points; 0: one for each processor
	Format    string        // "las", "laz", or "" as it came
	Overwrite bool          // replace an existing file
	Program   string        // written into the record
	Progress  func(n int64) // points done since the last call; may be nil, called by one goroutine
}

// FileRecord is what a corrected file says about its correction.
type FileRecord struct {
	Version    int         `json:"version"`
	Program    string      `json:"program"`
	Source     string      `json:"source"`  // name of the file as it came
	Undo       string      `json:"undo"`    // name of the file beside it that undoing needs
	Partial    bool        `json:"partial"` // the strips' own errors were too long for the record: they are in the undo file and in correction.json
	Correction *Correction `json:"correction"`
}

// Applied is what ApplyFile or UndoFile did.
type Applied struct {
	Path        string     `json:"path"`
	Undo        string     `json:"undo"` // empty after UndoFile
	Counts      MoveCounts `json:"counts"`
	Exceptions  int64      `json:"exceptions"`   // points whose old coordinates are kept in the undo file, since rounding hides them
	OriginalSum string     `json:"original_sum"` // of the coordinates before, see coordinateSum
	MovedSum    string     `json:"moved_sum"`
}

// ApplyFile takes a correction off the points of a file and writes them to out, in one reading, with out's undo file beside it. Scale, offset and every other
// bit of the points are kept; bounds follow. file is the number by which the survey knows the file. The input is not changed; on error, or
// when ctx is done, nothing is left under a final name.
//
// Memory is bounded by a few spans of points for each worker.
func ApplyFile(ctx context.Context, f *las.File, file int, out string, c *Correction, path *trajectory.Path, o ApplyOptions) (*Applied, error) {
	c = c.ForFile(file)
	if !c.UsesPath {
		path = nil
	}
	rec := FileRecord{Version: CorrectionVersion, Program: o.Program, Source: filepath.Base(f.Path()), Undo: filepath.Base(out) + UndoSuffix, Correction: c}
	wo := las.OptionsFrom(f)
	if err := addRecord(&wo, rec); err != nil {
		return nil, fmt.Errorf("%s: %w", out, err)
	}
	newMover := func() (*Mover, error) { return NewMover(c, path, file) }
	r := &rewriter{f: f, o: o, newMover: newMover, forward: true}
	w, err := r.run(ctx, out, wo)
	if err != nil {
		return nil, err
	}
	defer w.Abort()
	a := &Applied{Path: out, Undo: out + UndoSuffix, Counts: r.counts, Exceptions: int64(len(r.exceptions)), OriginalSum: r.before.String(), MovedSum: r.after.String()}
	u := &undoFile{Version: CorrectionVersion, Correction: c, HorizontalM: f.Frame().HorizontalM, VerticalM: f.Frame().VerticalM, Points: r.counts.Points,
		Original: r.before.String(), Moved: r.after.String(), exceptions: r.exceptions}
	if path != nil && !c.Zero() {
		u.path = thinPath(path, r.seconds, math.Abs(c.TimeOffsetS))
	}
	// first the undo file: a corrected file is never without its own
	if err := u.write(a.Undo, o.Overwrite); err != nil {
		return nil, err
	}
	if err := w.Close(); err != nil {
		os.Remove(a.Undo)
		return nil, err
	}
	return a, nil
}

// addRecord puts the record of the correction into the file's variable length records.
func addRecord(wo *las.WriterOptions, rec FileRecord) error {
	b, err := json.Marshal(rec)
	if err != nil {
		return err
	}
	v := las.VLR{UserID: RecordUser, RecordID: RecordID, Description: "correction applied", Data: b}
	if len(b) > maxVLR && wo.Version.Minor >= 4 {
		v.Extended = true
		wo.EVLRs = append(wo.EVLRs[:len(wo.EVLRs):len(wo.EVLRs)], v)
		return nil
	}
	if len(b) > maxVLR { // older versions have no room for it
		short := *rec.Correction
		short.Strips = nil
		rec.Correction, rec.Partial = &short, true
		if v.Data, err = json.Marshal(rec); err != nil {
			return err
		}
	}
	wo.VLRs = append(wo.VLRs[:len(wo.VLRs):len(wo.VLRs)], v)
	return nil
}

// rewriter reads a file once and writes its points with other coordinates.
type rewriter struct {
	f        *las.File
	o        ApplyOptions
	newMover func() (*Mover, error)
	forward  bool
	given    []exception // to apply when undoing

	counts        MoveCounts
	exceptions    []exception
	before, after coordinateSum
	seconds       map[int64]bool // whole seconds of which points were moved
}

// rewriteSpan is the number of points that a worker takes at a time.
const rewriteSpan = 1 << 17

// rewritten is one span with its new coordinates.
type rewritten struct {
	records       []byte
	exceptions    []exception
	before, after coordinateSum
	n             int64
	err           error
}

// run writes all points. The writer that it returns is not closed yet.
func (r *rewriter) run(ctx context.Context, out string, wo las.WriterOptions) (*las.Writer, error) {
	switch r.o.Format {
	case "las":
		wo.Compress = false
	case "laz":
		wo.Compress = true
	}
	wo.Overwrite = r.o.Overwrite
	w, err := las.Create(out, wo)
	if err != nil {
		return nil, err
	}
	if err := r.points(ctx, w); err != nil {
		w.Abort()
		return nil, err
	}
	return w, nil
}

// points moves spans in workers and writes them in order. Span i answers in slot i modulo the number of slots; it is only given out when a
// buffer is free, so that at most as many spans as slots are under way.
func (r *rewriter) points(parent context.Context, w *las.Writer) error {
	workers := r.o.Workers
	if workers < 1 {
		workers = runtime.GOMAXPROCS(0)
	}
	spans := r.f.Spans(rewriteSpan)
	workers = min(workers, len(spans))
	ctx, cancel := context.WithCancel(parent)
	var wg sync.WaitGroup
	defer wg.Wait()
	defer cancel()
	slots := make([]chan rewritten, 2*workers)
	free := make(chan []byte, len(slots))
	for i := range slots {
		slots[i] = make(chan rewritten, 1)
		free <- nil
	}
	type job struct {
		index  int
		buffer []byte
	}
	jobs := make(chan job)
	movers := make([]*Mover, workers)
	seconds := make([]map[int64]bool, workers)
	for k := range movers {
		m, err := r.newMover()
		if err != nil {
			return err
		}
		movers[k], seconds[k] = m, map[int64]bool{}
	}
	for k := range movers {
		wg.Go(func() {
			for j := range jobs {
				slots[j.index%len(slots)] <- r.span(ctx, spans[j.index], movers[k], seconds[k], j.buffer)
			}
		})
	}
	wg.Go(func() {
		defer close(jobs)
		for i := range spans {
			select {
			case b := <-free:
				jobs <- job{i, b}
			case <-ctx.Done():
				return
			}
		}
	})
	for i := range spans {
		var s rewritten
		select {
		case s = <-slots[i%len(slots)]:
		case <-ctx.Done():
			return parent.Err()
		}
		if s.err != nil {
			return s.err
		}
		if err := w.WriteRecords(s.records); err != nil {
			return err
		}
		r.exceptions = append(r.exceptions, s.exceptions...)
		r.before.plus(s.before)
		r.after.plus(s.after)
		if r.o.Progress != nil {
			r.o.Progress(s.n)
		}
		free <- s.records
		if err := parent.Err(); err != nil {
			return err
		}
	}
	if err := r.f.Unchanged(); err != nil {
		return err
	}
	r.seconds = map[int64]bool{}
	for k := range movers {
		r.counts.Plus(movers[k].Counts())
		for t := range seconds[k] {
			r.seconds[t] = true
		}
	}
	return nil
}

// span moves the points of one span into the buffer.
func (r *rewriter) span(ctx context.Context, s las.Span, m *Mover, seconds map[int64]bool, buffer []byte) rewritten {
	out := rewritten{records: buffer[:0]}
	last := int64(math.MinInt64)
	for c, err := range r.f.Read(ctx, s, MoveColumns|las.ColRecord) {
		if err != nil {
			out.err = cmp.Or(r.f.Unchanged(), err)
			return out
		}
		for _, t := range c.GPSTime {
			if k := int64(math.Floor(t)); k != last && math.Abs(t) < 1e15 {
				seconds[k], last = true, k
			}
		}
		out.before.add(c)
		if r.forward {
			err = m.Move(c, func(i int, d [3]int32) {
				out.exceptions = append(out.exceptions, exception{c.First + int64(i), d})
			})
			if err != nil {
				out.err = fmt.Errorf("%s: %w", r.f.Path(), err)
				return out
			}
		} else {
			r.unmove(m, c)
		}
		out.after.add(c)
		at := len(out.records)
		out.records = append(out.records, c.Record...)
		patchXYZ(out.records[at:], c)
		out.n += int64(c.N)
	}
	return out
}

// patchXYZ writes the coordinates of the columns into records.
func patchXYZ(records []byte, c *las.Chunk) {
	if c.N == 0 {
		return
	}
	length := len(records) / c.N
	for i := range c.N {
		b := records[i*length : i*length+12 : i*length+12]
		binary.LittleEndian.PutUint32(b, uint32(c.X[i]))
		binary.LittleEndian.PutUint32(b[4:], uint32(c.Y[i]))
		binary.LittleEndian.PutUint32(b[8:], uint32(c.Z[i]))
	}
}

// coordinateSum is a check sum of stored coordinates with their places in the file. It does not depend on the order in which
// parts are added, so that workers can share the file. It finds mistakes, not malice.
type coordinateSum struct{ a, b uint64 }

func (s *coordinateSum) add(c *las.Chunk) {
	n := uint64(c.First)
	for i := range c.N {
		h := mix64(uint64(uint32(c.X[i])) | uint64(uint32(c.Y[i]))<<32)
		h = mix64(h ^ (uint64(uint32(c.Z[i])) | n<<32))
		s.a += h
		s.b += mix64(h + n)
		n++
	}
}

func (s *coordinateSum) plus(o coordinateSum) { s.a, s.b = s.a+o.a, s.b+o.b }

func (s coordinateSum) String() string { return fmt.Sprintf("%016x%016x", s.a, s.b) }

// mix64 is the finaliser of splitmix64 (Steele, Lea, Flood 2014): every input bit reaches every output bit.
func mix64(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

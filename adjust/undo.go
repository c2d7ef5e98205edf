package adjust

import (
	"bufio"
	"compress/gzip"
	"context"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"sort"

	"sidelap/las"
	"sidelap/las/disk"
	"sidelap/trajectory"
)

// UndoSuffix is added to the name of a corrected file to name the file that undoing needs.
const UndoSuffix = ".undo"

// ErrNotCorrected says that a file carries no correction of ours.
var ErrNotCorrected = errors.New("the file carries no correction of sidelap")

// exception is a point whose old coordinates the inverse of the move may not give: old minus new.
type exception struct {
	index int64
	d     [3]int32
}

// undoFile is what undoing needs beside the corrected points: the correction, the poses that were used, and the exceptions that rounding makes.
//
// On disk it is a gzip stream of: the eight bytes "SIDELAP\x01"; the length of a JSON object in 4 bytes and the object; the columns
// of the path as float64; for each exception the index since the last one and three differences as varints. All little-endian.
type undoFile struct {
	Version     int         `json:"version"`
	Correction  *Correction `json:"correction"`
	HorizontalM float64     `json:"horizontal_m"`
	VerticalM   float64     `json:"vertical_m"`
	Points      int64       `json:"points"`
	Original    string      `json:"original_sum"`
	Moved       string      `json:"moved_sum"`
	Exceptions  int64       `json:"exceptions"`
	Samples     int         `json:"samples"`
	Attitude    bool        `json:"attitude"`
	GapS        float64     `json:"gap_s"`

	path       *trajectory.Path
	exceptions []exception
}

const undoMagic = "SIDELAP\x01"

// columns are the path's columns in the order of the file.
func pathColumns(p *trajectory.Path, attitude bool) []*[]float64 {
	c := []*[]float64{&p.TimeS, &p.EM, &p.NM, &p.HM}
	if attitude {
		c = append(c, &p.RollRad, &p.PitchRad, &p.HeadingRad)
	}
	return c
}

// write writes the file under a temporary name and renames it.
func (u *undoFile) write(path string, overwrite bool) error {
	f, err := disk.Create(path, overwrite)
	if err != nil {
		return err
	}
	b := bufio.NewWriterSize(f, 1<<16)
	z := gzip.NewWriter(b)
	if err = u.encode(z); err == nil {
		err = z.Close()
	}
	if err == nil {
		err = b.Flush()
	}
	if err != nil {
		f.Abort()
		return fmt.Errorf("%s: %w", path, err)
	}
	return f.Commit()
}

func (u *undoFile) encode(w io.Writer) error {
	u.Exceptions = int64(len(u.exceptions))
	if u.path != nil {
		u.Samples, u.Attitude, u.GapS = u.path.Len(), u.path.HasAttitude(), u.path.Gap()
	}
	head, err := json.Marshal(u)
	if err != nil {
		return err
	}
	b := binary.LittleEndian.AppendUint32([]byte(undoMagic), uint32(len(head)))
	if _, err := w.Write(append(b, head...)); err != nil {
		return err
	}
	if u.path != nil {
		for _, c := range pathColumns(u.path, u.Attitude) {
			b = b[:0]
			for _, v := range *c {
				b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
			}
			if _, err := w.Write(b); err != nil {
				return err
			}
		}
	}
	b = b[:0]
	last := int64(0)
	for _, x := range u.exceptions {
		b = binary.AppendUvarint(b, uint64(x.index-last))
		last = x.index
		for _, d := range x.d {
			b = binary.AppendVarint(b, int64(d))
		}
		if len(b) > 1<<16 {
			if _, err := w.Write(b); err != nil {
				return err
			}
			b = b[:0]
		}
	}
	_, err = w.Write(b)
	return err
}

// readUndo reads an undo file. Sizes in it are claims: memory is taken as the bytes come.
func readUndo(path string) (*undoFile, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	u, err := decodeUndo(f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w; put the file back as it was written beside the corrected cloud", path, err)
	}
	return u, nil
}

// maxUndoHeader bounds the header of an undo file: a correction with drifts of a thousand strips has a few megabytes.
const maxUndoHeader = 64 << 20

func decodeUndo(r io.Reader) (*undoFile, error) {
	z, err := gzip.NewReader(r)
	if err != nil {
		return nil, errors.New("no undo file of sidelap, or damaged in its first bytes")
	}
	b := bufio.NewReader(z)
	var head [12]byte
	if _, err := io.ReadFull(b, head[:]); err != nil || string(head[:8]) != undoMagic {
		return nil, errors.New("no undo file of sidelap, or damaged in its first bytes")
	}
	n := binary.LittleEndian.Uint32(head[8:])
	if n > maxUndoHeader {
		return nil, errors.New("damaged in the length of its header")
	}
	var text []byte
	if text, err = io.ReadAll(io.LimitReader(b, int64(n))); err != nil || len(text) != int(n) {
		return nil, errors.New("damaged or cut off in its header")
	}
	u := &undoFile{}
	if err := json.Unmarshal(text, u); err != nil {
		return nil, fmt.Errorf("damaged in its header: %w", err)
	}
	if u.Version != CorrectionVersion || u.Correction == nil || !(u.HorizontalM > 0) || !(u.VerticalM > 0) || u.Samples < 0 {
		return nil, fmt.Errorf("version %d, or an incomplete header; this program reads version %d", u.Version, CorrectionVersion)
	}
	enc, err := json.Marshal(u.Correction)
	if err != nil {
		return nil, err
	}
	if u.Correction, err = ParseCorrection(enc); err != nil {
		return nil, err
	}
	if err := u.decodePath(b); err != nil {
		return nil, err
	}
	if err := u.decodeExceptions(b); err != nil {
		return nil, err
	}
	// only the end of the stream tells whether its check sum agrees
	if _, err := b.ReadByte(); err != io.EOF {
		return nil, errors.New("damaged: its check sum or its length does not agree")
	}
	return u, nil
}

func (u *undoFile) decodePath(b io.Reader) error {
	if u.Samples == 0 {
		return nil
	}
	p := &trajectory.Path{GapS: u.GapS, Source: "undo file"}
	var w [8]byte
	for _, c := range pathColumns(p, u.Attitude) {
		for range u.Samples {
			if _, err := io.ReadFull(b, w[:]); err != nil {
				return errors.New("damaged or cut off in its path")
			}
			*c = append(*c, math.Float64frombits(binary.LittleEndian.Uint64(w[:])))
		}
	}
	u.path = p
	if err := p.Validate(); err != nil { // it was valid when it was written
		return errors.New("damaged in its path")
	}
	return nil
}

func (u *undoFile) decodeExceptions(b *bufio.Reader) error {
	last := int64(0)
	for i := range u.Exceptions {
		step, err := binary.ReadUvarint(b)
		if err != nil {
			return errors.New("damaged or cut off in its list of points")
		}
		x := exception{index: last + int64(step)}
		if x.index < last || i > 0 && step == 0 || x.index >= u.Points {
			return errors.New("damaged: its list of points is out of order")
		}
		last = x.index
		for k := range x.d {
			v, err := binary.ReadVarint(b)
			if err != nil || v < math.MinInt32 || v > math.MaxInt32 {
				return errors.New("damaged in its list of points")
			}
			x.d[k] = int32(v)
		}
		u.exceptions = append(u.exceptions, x)
	}
	return nil
}

// unmove gives the points of a chunk their old coordinates: the exceptions by what was kept of them, the others by the inverse of the move.
func (r *rewriter) unmove(m *Mover, c *las.Chunk) {
	lo := sort.Search(len(r.given), func(k int) bool { return r.given[k].index >= c.First })
	hi := lo
	for hi < len(r.given) && r.given[hi].index < c.First+int64(c.N) {
		hi++
	}
	old := make([][3]int32, hi-lo)
	for i, x := range r.given[lo:hi] {
		k := x.index - c.First
		old[i] = [3]int32{c.X[k] + x.d[0], c.Y[k] + x.d[1], c.Z[k] + x.d[2]}
	}
	m.Unmove(c)
	for i, x := range r.given[lo:hi] {
		k := x.index - c.First
		c.X[k], c.Y[k], c.Z[k] = old[i][0], old[i][1], old[i][2]
	}
}

// RecordOf returns what a file says about the last correction that was applied to it, ErrNotCorrected for none.
func RecordOf(f *las.File) (*FileRecord, error) {
	v := lastRecord(f)
	if v == nil {
		return nil, fmt.Errorf("%s: %w", f.Path(), ErrNotCorrected)
	}
	b, err := io.ReadAll(v.Open())
	if err != nil {
		return nil, fmt.Errorf("%s: record of the correction: %w", f.Path(), err)
	}
	var r FileRecord
	if err := json.Unmarshal(b, &r); err != nil {
		return nil, fmt.Errorf("%s: record of the correction: %w", f.Path(), err)
	}
	return &r, nil
}

// lastRecord is the record of the last correction. A later one stands behind an earlier one of its kind; an extended record is the later of both kinds
// when its file's own plain one is not: the plain ones of a corrected file name their undo file.
func lastRecord(f *las.File) *las.VLR {
	var found *las.VLR
	for _, list := range [][]las.VLR{f.VLRs(), f.EVLRs()} {
		for i := range list {
			if list[i].UserID == RecordUser && list[i].RecordID == RecordID {
				found = &list[i]
			}
		}
	}
	return found
}

// UndoFile writes the points of a corrected file with the coordinates that they had before, to the last digit. The undo file must lie beside the
// corrected one. Nothing is written unless the check sums before and after agree, and never over what is read.
func UndoFile(ctx context.Context, in, out string, o ApplyOptions) (*Applied, error) {
	if sameFile(in, out) || sameFile(in+UndoSuffix, out) {
		return nil, fmt.Errorf("%s: this is what undoing reads: it cannot be written at the same time; name another file to write", out)
	}
	f, err := las.Open(in)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	if _, err := RecordOf(f); err != nil {
		return nil, err
	}
	u, err := readUndo(in + UndoSuffix)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s: undoing needs the file %s that was written beside the corrected cloud; put it there again", in, filepath.Base(in)+UndoSuffix)
	}
	if err != nil {
		return nil, err
	}
	fr := *f.Frame()
	fr.HorizontalM, fr.VerticalM = u.HorizontalM, u.VerticalM
	f.SetFrame(fr)
	wo := las.OptionsFrom(f)
	dropRecord(&wo, lastRecord(f))
	c := u.Correction
	if u.path == nil { // nothing had a pose
		d := *c
		d.UsesPath = c.UsesPath && !c.Zero()
		if d.UsesPath {
			u.path = &trajectory.Path{Source: "undo file"}
		}
		c = &d
	}
	r := &rewriter{f: f, o: o, given: u.exceptions, newMover: func() (*Mover, error) { return NewMover(c, u.path, 0) }}
	w, err := r.run(ctx, out, wo)
	if err != nil {
		return nil, err
	}
	defer w.Abort()
	switch {
	case r.before.String() != u.Moved:
		return nil, fmt.Errorf("%s: the points are not those that the correction wrote (their order or coordinates were changed since): nothing was undone; undo the file as it was written", in)
	case r.after.String() != u.Original:
		return nil, fmt.Errorf("%s: the original coordinates could not be found again to the last digit: the file was changed since it was corrected (times, point source IDs or scan angles), so nothing was written; "+
			"undo the file as it was written. If it was not changed, undo on the kind of computer that corrected", in)
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return &Applied{Path: out, Counts: r.counts, Exceptions: int64(len(u.exceptions)), OriginalSum: u.Original, MovedSum: u.Moved}, nil
}

// sameFile reports whether two names lead to one file that is there.
func sameFile(a, b string) bool {
	x, err := os.Stat(a)
	if err != nil {
		return false
	}
	y, err := os.Stat(b)
	return err == nil && os.SameFile(x, y)
}

// dropRecord takes the record of the correction out of what is written.
func dropRecord(wo *las.WriterOptions, v *las.VLR) {
	drop := func(list []las.VLR) []las.VLR {
		var out []las.VLR
		for i := len(list) - 1; i >= 0; i-- {
			if v != nil && list[i].UserID == v.UserID && list[i].RecordID == v.RecordID && list[i].Extended == v.Extended {
				v = nil // the last one only
				continue
			}
			out = append([]las.VLR{list[i]}, out...)
		}
		return out
	}
	if v != nil && v.Extended {
		wo.EVLRs = drop(wo.EVLRs)
		return
	}
	wo.VLRs = drop(wo.VLRs)
}

// thinPath keeps the samples of a path that poses in some whole seconds, or lateS earlier or later, rest on: to the bit the same
// poses come of it.
func thinPath(p *trajectory.Path, seconds map[int64]bool, lateS float64) *trajectory.Path {
	n := p.Len()
	near := make([]bool, n)
	reach := int64(math.Ceil(lateS)) + 1
	wide := map[int64]bool{}
	for s := range seconds {
		for d := -reach; d <= reach; d++ {
			wide[s+d] = true
		}
	}
	for i, t := range p.TimeS {
		near[i] = wide[int64(math.Floor(t))]
	}
	for s := range seconds { // slow paths: the samples around the second, wherever they lie
		i := searchTime(p.TimeS, float64(s))
		for k := max(i, 0); k < n && k <= i+1; k++ {
			near[k] = true
		}
	}
	const margin = 3 // a cubic rests on four samples, and gaps are told by their neighbours
	keep := make([]bool, n)
	for i := range near {
		if near[i] {
			for k := max(0, i-margin); k <= min(n-1, i+margin); k++ {
				keep[k] = true
			}
		}
	}
	out := &trajectory.Path{GapS: p.Gap(), Source: p.Source}
	from, to := pathColumns(p, p.HasAttitude()), pathColumns(out, p.HasAttitude())
	for i := range keep {
		if keep[i] {
			for c := range from {
				*to[c] = append(*to[c], (*from[c])[i])
			}
		}
	}
	return out
}

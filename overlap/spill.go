package overlap

import (
	"fmt"
	"io"
	"math/bits"
	"os"
	"sync/atomic"
	"unsafe"
)

// Sums beyond a budget of memory go to a temporary file: the tiles in memory are written out, each cell's sums as they
// lie in memory, and the tables start anew. A tile may then lie in several places; whoever wants its sums gets them
// merged. Sums are integers, so that the result has the same bits.

// tileBytes and momentsBytes are what a tile and a cell take in memory. A tile stands in a map too.
const (
	tileBytes    = int64(unsafe.Sizeof(tile{})) + 48
	momentsBytes = int64(unsafe.Sizeof(moments{}))
)

// minBudget is the smallest budget: below it tables would hardly outlive a chunk.
const minBudget = 1 << 20

// spillFile is a temporary file, shared by the accumulators that refer to it.
type spillFile struct {
	f     *os.File
	path  string // what Close removes; empty where the system allows to remove an open file
	size  int64
	users atomic.Int32
}

// tileRef is where a tile is: in memory, or in a file.
type tileRef struct {
	segment, col, row int32
	in                uint32 // index of the tile in memory, when file is nil
	file              *spillFile
	offset            int64
	mask              uint64 // cells in file
}

// SetBudget bounds the memory for the sums of cells to about that many bytes (1 MB at least); what does not fit goes
// to temporary files in dir (empty: the system's folder for such). 0 sets no bound. The sums are the same.
// Close removes the files.
func (a *Accumulator) SetBudget(bytes int64, dir string) {
	a.budget, a.spillDir = bytes, dir
	if bytes > 0 {
		a.budget = max(bytes, minBudget)
	}
}

// Err returns what went wrong with the temporary files, nil as a rule. Survey and Merge return it too.
func (a *Accumulator) Err() error { return a.err }

// Spilled returns the bytes in temporary files.
func (a *Accumulator) Spilled() (n int64) {
	for i := range a.spilled {
		n += int64(bits.OnesCount64(a.spilled[i].mask)) * momentsBytes
	}
	return n
}

// Close removes the temporary files and frees the sums. Surveys made of them stay good.
func (a *Accumulator) Close() error {
	var first error
	for f := range a.files {
		if err := f.release(); first == nil {
			first = err
		}
	}
	a.files, a.own, a.spilled, a.store = nil, nil, nil, store{}
	clear(a.byTile)
	for _, s := range a.segments {
		s.near = [16]*tile{}
	}
	return first
}

func (f *spillFile) release() error {
	if f.users.Add(-1) > 0 {
		return nil
	}
	err := f.f.Close()
	if f.path != "" {
		if e := os.Remove(f.path); err == nil {
			err = e
		}
	}
	return err
}

// held is the memory that the tables take.
func (a *Accumulator) held() int64 { return int64(a.n)*momentsBytes + int64(a.nTiles)*tileBytes }

// keepBudget writes the tables out when they are beyond the budget.
func (a *Accumulator) keepBudget() {
	if a.budget > 0 && a.err == nil && a.held() > a.budget {
		if err := a.spill(); err != nil {
			a.err = fmt.Errorf("sums of cells beyond the memory allowed: %w; allow more memory, or set TMPDIR to a folder with more space", err)
		}
	}
}

// spillFileOf returns the accumulator's own file.
func (a *Accumulator) spillFileOf() (*spillFile, error) {
	if a.own != nil {
		return a.own, nil
	}
	f, err := os.CreateTemp(a.spillDir, "sidelap-sums-*.tmp")
	if err != nil {
		return nil, err
	}
	s := &spillFile{f: f, path: f.Name()}
	// Where an open file can be removed it is gone from its folder at once, and its space is freed however the run ends.
	if os.Remove(s.path) == nil {
		s.path = ""
	}
	a.take(s)
	a.own = s
	return s, nil
}

// take notes that the accumulator refers to a file.
func (a *Accumulator) take(f *spillFile) {
	if a.files == nil {
		a.files = map[*spillFile]bool{}
	}
	if !a.files[f] {
		a.files[f] = true
		f.users.Add(1)
	}
}

// spill writes all tiles to the file and empties the tables. Their memory is used again.
func (a *Accumulator) spill() error {
	f, err := a.spillFileOf()
	if err != nil {
		return err
	}
	w := spillWriter{f: f, b: make([]byte, 0, 1<<20)}
	for i := range a.nTiles {
		t := a.tile(i)
		ref := tileRef{segment: t.segment, col: t.col, row: t.row, file: f, offset: w.offset()}
		for k, slot := range t.slot {
			if slot != 0 {
				ref.mask |= 1 << k
				w.moments(a.at(slot))
			}
		}
		a.spilled = append(a.spilled, ref)
	}
	if w.flush(); w.err != nil {
		return w.err
	}
	a.n, a.nTiles = 0, 0
	clear(a.byTile)
	for _, s := range a.segments {
		s.near = [16]*tile{}
	}
	return nil
}

// spillWriter gathers cells for writing.
type spillWriter struct {
	f   *spillFile
	b   []byte
	err error
}

func (w *spillWriter) offset() int64 { return w.f.size + int64(len(w.b)) }

func (w *spillWriter) moments(m *moments) {
	if len(w.b)+int(momentsBytes) > cap(w.b) {
		w.flush()
	}
	w.b = append(w.b, m.bytes()...)
}

func (w *spillWriter) flush() {
	if w.err == nil {
		_, w.err = w.f.f.WriteAt(w.b, w.f.size)
	}
	w.f.size += int64(len(w.b))
	w.b = w.b[:0]
}

// bytes is the memory of the sums: only the process that wrote them reads them.
func (m *moments) bytes() []byte {
	return unsafe.Slice((*byte)(unsafe.Pointer(m)), momentsBytes)
}

// refs lists all tiles, those in memory and those in files.
func (a *Accumulator) refs() []tileRef {
	out := make([]tileRef, 0, len(a.spilled)+int(a.nTiles))
	out = append(out, a.spilled...)
	for i := range a.nTiles {
		t := a.tile(i)
		r := tileRef{segment: t.segment, col: t.col, row: t.row, in: i}
		for k, slot := range t.slot {
			if slot != 0 {
				r.mask |= 1 << k
			}
		}
		out = append(out, r)
	}
	return out
}

// tileCells are the sums of the cells of a tile.
type tileCells struct {
	mask uint64 // cells that have sums
	m    [tileSide * tileSide]moments
	read []byte
}

// load adds up the sums of parts of one tile.
func (c *tileCells) load(a *Accumulator, parts []tileRef) error {
	c.mask = 0
	for i := range parts {
		r := &parts[i]
		if r.file == nil {
			t := a.tile(r.in)
			for k, slot := range t.slot {
				if slot != 0 {
					c.add(k, a.at(slot))
				}
			}
			continue
		}
		n := int64(bits.OnesCount64(r.mask)) * momentsBytes
		if c.read == nil {
			c.read = make([]byte, tileSide*tileSide*momentsBytes)
		}
		if _, err := r.file.f.ReadAt(c.read[:n], r.offset); err != nil {
			if err == io.EOF {
				err = io.ErrUnexpectedEOF
			}
			return fmt.Errorf("sums of cells in a temporary file: %w", err)
		}
		b := c.read[:n]
		for mask := r.mask; mask != 0; mask &= mask - 1 {
			var m moments
			copy(m.bytes(), b)
			b = b[momentsBytes:]
			c.add(bits.TrailingZeros64(mask), &m)
		}
	}
	return nil
}

func (c *tileCells) add(k int, m *moments) {
	if c.mask&(1<<k) == 0 {
		c.mask |= 1 << k
		c.m[k] = *m
		return
	}
	c.m[k].merge(m)
}

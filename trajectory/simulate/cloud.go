package simulate

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"runtime"

	"golang.org/x/sync/errgroup"

	"sidelap/las"
)

// CloudOptions says how the cloud is written. The zero value writes one LAS 1.4 file for each
// strip, point format 6, metres, with WKT.
type CloudOptions struct {
	Format      uint8       // point data record format 1, 3..10 (0 and 2 have no time); 0 = 6
	Version     las.Version // zero: the oldest that fits
	Compressed  bool        // LAZ
	Units       Units       // of the coordinates; zero = metres
	StatedUnits Units       // as the CRS states them; zero = Units. Another value is the fault of a wrong unit
	NoCRS       bool        // no coordinate system at all
	NoVertical  bool        // horizontal system only
	OneFile     bool        // all strips in one file
	TileM       float64     // square tiles of this side instead of files by strip, metres of the grid; 0 = off
	Workers     int         // strips computed at once; 0 = GOMAXPROCS
	Overwrite   bool
}

func (o *CloudOptions) complete() {
	if o.Format == 0 {
		o.Format = 6
	}
	if o.Units == (Units{}) {
		o.Units = Metres
	}
	if o.StatedUnits == (Units{}) {
		o.StatedUnits = o.Units
	}
	if o.Workers < 1 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
}

// writerOptions returns the header of the files.
func (f *Flight) writerOptions(o *CloudOptions) las.WriterOptions {
	fr := f.Frame(o.Units)
	w := las.WriterOptions{
		Format: o.Format, Version: o.Version, Compress: o.Compressed, Scale: fr.Scale, Offset: fr.Offset,
		SystemID: "simulated flight", Software: "sidelap simulate", Created: f.DateOf(f.PowerOffS()),
		Overwrite: o.Overwrite, Workers: 1,
	}
	if (f.Scenario.Label.Time == TimeAdjusted) != f.Scenario.Faults.TimeMislabelled {
		w.GlobalEncoding |= las.EncodingAdjustedTime
	}
	switch {
	case o.NoCRS:
	case o.Format >= 6:
		w.WKT = f.WKT(o.StatedUnits, o.NoVertical)
	default:
		w.VLRs = f.geoKeys(o.StatedUnits, o.NoVertical)
	}
	return w
}

// WriteCloud writes the cloud into dir (made if absent) and returns the names of the files in
// order. Files are named strip_101.las by the first ID and the strip's place, cloud.las, or tile_E_N.las.
// On error no half-written file keeps its final name.
func (f *Flight) WriteCloud(dir string, o CloudOptions) ([]string, error) {
	return f.WriteCloudContext(context.Background(), dir, o)
}

// WriteCloudContext is WriteCloud that ends with the context's error when ctx is done.
func (f *Flight) WriteCloudContext(ctx context.Context, dir string, o CloudOptions) ([]string, error) {
	o.complete()
	if o.Format == 0 || o.Format == 2 || o.Format > 10 {
		return nil, fmt.Errorf("simulate: point format %d holds no GPS time; use 1 or 3 to 10", o.Format)
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, err
	}
	switch {
	case o.TileM > 0:
		return f.writeTiles(ctx, dir, &o)
	case o.OneFile:
		path := filepath.Join(dir, "cloud"+o.ext())
		return []string{path}, f.writeFile(ctx, path, &o, f.recordings())
	}
	return f.writeStrips(ctx, dir, &o)
}

func (o *CloudOptions) ext() string {
	if o.Compressed {
		return ".laz"
	}
	return ".las"
}

// recordings returns strips and turns in time order.
func (f *Flight) recordings() []*Strip {
	var out []*Strip
	t := 0
	for i := range f.Strips {
		for ; t < len(f.Turns) && f.Turns[t].StartS < f.Strips[i].StartS; t++ {
			out = append(out, &f.Turns[t])
		}
		out = append(out, &f.Strips[i])
	}
	for ; t < len(f.Turns); t++ {
		out = append(out, &f.Turns[t])
	}
	return out
}

// writeStrips writes one file for each strip; turns go with the strip before them.
func (f *Flight) writeStrips(ctx context.Context, dir string, o *CloudOptions) ([]string, error) {
	var names []string
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(o.Workers)
	all := f.recordings()
	for i := range f.Strips {
		st := &f.Strips[i]
		var parts []*Strip
		for _, r := range all {
			if r == st || r.Number == 0 && r.ID == st.ID {
				parts = append(parts, r)
			}
		}
		if st.Missing {
			continue
		}
		path := filepath.Join(dir, fmt.Sprintf("strip_%03d%s", int(f.Scenario.Label.FirstID)+i, o.ext()))
		names = append(names, path)
		g.Go(func() error { return f.writeFile(ctx, path, o, parts) })
	}
	return names, g.Wait()
}

// writeFile writes recordings one after the other into one file.
func (f *Flight) writeFile(ctx context.Context, path string, o *CloudOptions, parts []*Strip) error {
	w, err := las.Create(path, f.writerOptions(o))
	if err != nil {
		return err
	}
	for _, st := range parts {
		for c := range f.chunks(st, o.Units) {
			err := ctx.Err()
			if err == nil {
				err = w.Write(c)
			}
			if err != nil {
				return errors.Join(err, w.Abort())
			}
		}
	}
	return w.Close()
}

// tileKey is the place of a tile in units of its side.
type tileKey struct{ e, n int }

// tiler splits chunks over the files of tiles.
type tiler struct {
	f     *Flight
	dir   string
	o     *CloudOptions
	order []tileKey
	open  map[tileKey]*tile
	names []string
}

type tile struct {
	w *las.Writer
	c *las.Chunk
}

func (f *Flight) writeTiles(ctx context.Context, dir string, o *CloudOptions) ([]string, error) {
	t := &tiler{f: f, dir: dir, o: o, open: map[tileKey]*tile{}}
	err := func() error {
		for _, st := range f.recordings() {
			for c := range f.chunks(st, o.Units) {
				if err := errors.Join(ctx.Err(), t.add(c)); err != nil {
					return err
				}
			}
		}
		return nil
	}()
	for _, k := range t.order {
		tl := t.open[k]
		if err == nil {
			err = tl.flush()
		}
		if err != nil {
			err = errors.Join(err, tl.w.Abort())
			continue
		}
		err = tl.w.Close()
	}
	return t.names, err
}

func (t *tiler) add(c *las.Chunk) error {
	for i := range c.N {
		k := tileKey{int(math.Floor(c.Frame.XM(c.X[i]) / t.o.TileM)), int(math.Floor(c.Frame.YM(c.Y[i]) / t.o.TileM))}
		tl := t.open[k]
		if tl == nil {
			path := filepath.Join(t.dir, fmt.Sprintf("tile_%d_%d%s", int(float64(k.e)*t.o.TileM), int(float64(k.n)*t.o.TileM), t.o.ext()))
			w, err := las.Create(path, t.f.writerOptions(t.o))
			if err != nil {
				return err
			}
			tl = &tile{w: w, c: newChunk(c.Frame)}
			t.open[k], t.order, t.names = tl, append(t.order, k), append(t.names, path)
		}
		tl.put(c, i)
		if tl.c.N == las.MaxChunk {
			if err := tl.flush(); err != nil {
				return err
			}
		}
	}
	return nil
}

// put copies point i of c.
func (tl *tile) put(c *las.Chunk, i int) {
	d, k := tl.c, tl.c.N
	d.X[k], d.Y[k], d.Z[k], d.GPSTime[k] = c.X[i], c.Y[i], c.Z[i], c.GPSTime[i]
	d.Intensity[k], d.Source[k], d.ScanAngle[k] = c.Intensity[i], c.Source[i], c.ScanAngle[i]
	d.ReturnNumber[k], d.NumReturns[k], d.Flags[k], d.Class[k] = c.ReturnNumber[i], c.NumReturns[i], c.Flags[i], c.Class[i]
	d.N++
}

func (tl *tile) flush() error {
	if tl.c.N == 0 {
		return nil
	}
	full := *tl.c
	n := full.N
	c := full
	c.X, c.Y, c.Z, c.GPSTime = c.X[:n], c.Y[:n], c.Z[:n], c.GPSTime[:n]
	c.Intensity, c.Source, c.ScanAngle = c.Intensity[:n], c.Source[:n], c.ScanAngle[:n]
	c.ReturnNumber, c.NumReturns, c.Flags = c.ReturnNumber[:n], c.NumReturns[:n], c.Flags[:n]
	c.Channel, c.Class, c.UserData = c.Channel[:n], c.Class[:n], c.UserData[:n]
	err := tl.w.Write(&c)
	tl.c.N = 0
	return err
}

package report

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
	"runtime"
	"sync"

	"github.com/paulmach/orb"
)

// picture is an image of a part of the map.
type picture struct {
	png    []byte
	bounds orb.Bound // metres
}

// pictureKey tells pictures apart.
type pictureKey struct {
	grid   *Grid
	bounds orb.Bound
	scale  float64 // limit or top, negative for amounts
	maxPx  int
}

// pictureMu guards Layers.pictures: several reports, made at the same time, show the same pictures.
var pictureMu sync.Mutex

// picture returns the picture of the key, drawing it the first time.
func (l *Layers) picture(k pictureKey, draw func() (*picture, error)) (*picture, error) {
	pictureMu.Lock()
	if l.pictures == nil {
		l.pictures = map[pictureKey]func() (*picture, error){}
	}
	get := l.pictures[k]
	if get == nil {
		get = sync.OnceValues(draw)
		l.pictures[k] = get
	}
	pictureMu.Unlock()
	return get()
}

// raster is the frame of a picture: its bounds and pixels per metre.
type raster struct {
	bounds orb.Bound
	perM   float64
	w, h   int
}

// frame chooses the pixels of a picture of the bounds, so that a cell is a
// whole number of pixels where the picture is small enough, at most maxPx wide or high.
func frame(b orb.Bound, cellM float64, maxPx int) raster {
	w, h := b.Max[0]-b.Min[0], b.Max[1]-b.Min[1]
	cells := math.Max(w, h) / cellM
	perCell := math.Floor(float64(maxPx) / cells)
	if perCell < 1 {
		perCell = float64(maxPx) / cells
	}
	perM := math.Min(perCell, 4) / cellM
	return raster{bounds: b, perM: perM, w: max(int(math.Round(w*perM)), 1), h: max(int(math.Round(h*perM)), 1)}
}

// cellsAt calls visit with each pixel and the rows and columns of g that it covers, for several rows of pixels at a time.
func (f raster) cellsAt(g *Grid, visit func(x, y, col0, col1, row0, row1 int)) {
	e0, n0 := g.Origin()
	cell := func(m, origin float64) int { return int(math.Floor((m-origin)/g.CellM + 1e-9)) }
	row := func(y int) {
		north := f.bounds.Max[1] - float64(y)/f.perM
		r0, r1 := cell(north-1/f.perM, n0), cell(north-1e-6, n0)
		for x := range f.w {
			west := f.bounds.Min[0] + float64(x)/f.perM
			c0, c1 := cell(west, e0), cell(west+1/f.perM-1e-6, e0)
			if c1 < 0 || r1 < 0 || c0 >= g.Cols || r0 >= g.Rows {
				continue
			}
			visit(x, y, max(c0, 0), min(c1, g.Cols-1), max(r0, 0), min(max(r1, r0), g.Rows-1))
		}
	}
	var wg sync.WaitGroup
	parts := min(mostTogether, runtime.GOMAXPROCS(0))
	for k := range parts {
		wg.Go(func() {
			for y := k * f.h / parts; y < (k+1)*f.h/parts; y++ {
				row(y)
			}
		})
	}
	wg.Wait()
}

// extreme returns the index of the value of largest size in a block of cells,
// of those that are not faded when there are any; -1 without a value.
func extreme(g *Grid, c0, c1, r0, r1 int, faded func(int) bool) int {
	best, pale := -1, true
	for r := r0; r <= r1; r++ {
		for c := c0; c <= c1; c++ {
			i := r*g.Cols + c
			v := float64(g.Values[i])
			if v != v {
				continue
			}
			f := faded(i)
			if best < 0 || (pale && !f) || (pale == f && math.Abs(v) > math.Abs(float64(g.Values[best]))) {
				best, pale = i, f
			}
		}
	}
	return best
}

// none says that no cell is faded.
func none(int) bool { return false }

// faded returns which cells of a raster of all pairs did not enter the statistics.
func (l *Layers) faded(g *Grid) func(int) bool {
	used := l.Used
	if g == l.Before {
		used = l.BeforeUsed
	} else if g != l.Separation {
		return none
	}
	if used == nil || len(used.Values) != len(g.Values) {
		return none
	}
	return func(i int) bool { return used.Values[i] == 0 }
}

// shade returns the brightness 0..1 of a relief lit from the north-west, 45
// degrees up, NaN where a height is missing.
func shade(g *Grid, c, r int, exaggerate float64) float64 {
	at := func(c, r int) float64 {
		c, r = min(max(c, 0), g.Cols-1), min(max(r, 0), g.Rows-1)
		return float64(g.Values[r*g.Cols+c])
	}
	z := at(c, r)
	side := func(c, r int) float64 {
		if v := at(c, r); v == v {
			return v
		}
		return z
	}
	dx := exaggerate * (side(c+1, r) - side(c-1, r)) / (2 * g.CellM)
	dy := exaggerate * (side(c, r+1) - side(c, r-1)) / (2 * g.CellM)
	// Normal (-dx, -dy, 1), light from (-1, 1, sqrt 2)/2.
	return max(0, (dx-dy+math.Sqrt2)/(2*math.Sqrt(dx*dx+dy*dy+1)))
}

// canvasOf paints the ground of a map: the shaded relief in greys, paper where
// there is none.
func (f raster) canvasOf(relief *Grid) *image.RGBA {
	im := image.NewRGBA(image.Rect(0, 0, f.w, f.h))
	for i := range im.Pix {
		im.Pix[i] = 255
	}
	if relief == nil {
		return im
	}
	f.cellsAt(relief, func(x, y, c0, c1, r0, r1 int) {
		s := shade(relief, (c0+c1)/2, (r0+r1)/2, 1.5)
		if s != s {
			return
		}
		g := uint8(126 + 3*math.Round(39*min(s/0.85, 1))) // forty greys: a smaller file
		im.SetRGBA(x, y, color.RGBA{g, g, g, 255})
	})
	return im
}

// separationPicture draws separations over the relief. Cells that did not enter
// the statistics are pale: faded tells whether the one at an index of g is.
func separationPicture(l *Layers, g *Grid, faded func(i int) bool, b orb.Bound, limitM float64, maxPx int) (*picture, error) {
	return l.picture(pictureKey{g, b, limitM, maxPx}, func() (*picture, error) { return paintSeparation(l, g, faded, b, limitM, maxPx) })
}

func paintSeparation(l *Layers, g *Grid, faded func(int) bool, b orb.Bound, limitM float64, maxPx int) (*picture, error) {
	f := frame(b, g.CellM, maxPx)
	im := f.canvasOf(l.Relief)
	f.cellsAt(g, func(x, y, c0, c1, r0, r1 int) {
		at := extreme(g, c0, c1, r0, r1, faded)
		if at < 0 {
			return
		}
		dz := float64(g.Values[at])
		if faded(at) {
			im.SetRGBA(x, y, blend(separationColor(dz, limitM), im.RGBAAt(x, y), 0.22))
			return
		}
		c := separationColor(dz, limitM)
		if math.Abs(dz) > 2*limitM && hatched(x, y, dz < 0) {
			c = separationColor(dz/4, limitM)
		}
		im.SetRGBA(x, y, blend(c, im.RGBAAt(x, y), 0.84))
	})
	return f.encode(im)
}

// amountPicture draws an amount from zero to top.
func amountPicture(l *Layers, g *Grid, b orb.Bound, top float64, maxPx int) (*picture, error) {
	return l.picture(pictureKey{g, b, -top, maxPx}, func() (*picture, error) { return paintAmount(g, b, top, maxPx) })
}

func paintAmount(g *Grid, b orb.Bound, top float64, maxPx int) (*picture, error) {
	f := frame(b, g.CellM, maxPx)
	im := f.canvasOf(nil)
	f.cellsAt(g, func(x, y, c0, c1, r0, r1 int) {
		sum, n := 0.0, 0
		for r := r0; r <= r1; r++ {
			for c := c0; c <= c1; c++ {
				if v := float64(g.Values[r*g.Cols+c]); v == v {
					sum += v
					n++
				}
			}
		}
		if n > 0 {
			im.SetRGBA(x, y, between(amountStops, sum/float64(n)/top))
		}
	})
	return f.encode(im)
}

// blend mixes a over b; relief shows through in its own brightness.
func blend(a, b color.RGBA, share float64) color.RGBA {
	light := float64(b.R) / 230
	mix := func(x, y uint8) uint8 {
		return uint8(min(255, math.Round(share*float64(x)*min(light, 1.05)+(1-share)*float64(y))))
	}
	return color.RGBA{mix(a.R, b.R), mix(a.G, b.G), mix(a.B, b.B), 255}
}

func (f raster) encode(im image.Image) (*picture, error) {
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.DefaultCompression}).Encode(&b, im); err != nil {
		return nil, err
	}
	return &picture{png: b.Bytes(), bounds: orb.Bound{Min: orb.Point{f.bounds.Min[0], f.bounds.Max[1] - float64(f.h)/f.perM},
		Max: orb.Point{f.bounds.Min[0] + float64(f.w)/f.perM, f.bounds.Max[1]}}}, nil
}

// mapBounds returns the outline of everything on the map, with a margin.
func (l *Layers) mapBounds() (orb.Bound, bool) {
	var b orb.Bound
	found := false
	add := func(x orb.Bound) {
		if !found {
			b, found = x, true
			return
		}
		b = b.Union(x)
	}
	for _, g := range []*Grid{l.Relief, l.Separation, l.Density, l.StripCount} {
		if g != nil {
			if x, ok := filled(g); ok {
				add(x)
			}
		}
	}
	if !found {
		for _, s := range l.Strips {
			if len(s.Area) > 0 {
				add(s.Area.Bound())
			}
		}
	}
	if !found || b.Max[0] <= b.Min[0] || b.Max[1] <= b.Min[1] {
		return b, false
	}
	return b, true
}

// filled returns the outline of the cells with a value other than zero, with a
// cell of margin; false without any.
func filled(g *Grid) (orb.Bound, bool) {
	c0, c1, r0, r1 := g.Cols, -1, g.Rows, -1
	for i, v := range g.Values {
		if v == v && v != 0 {
			c, r := i%g.Cols, i/g.Cols
			c0, c1, r0, r1 = min(c0, c), max(c1, c), min(r0, r), max(r1, r)
		}
	}
	if c1 < 0 {
		return orb.Bound{}, false
	}
	e, n := g.Origin()
	m := g.CellM
	return orb.Bound{Min: orb.Point{e + float64(c0-1)*m, n + float64(r0-1)*m}, Max: orb.Point{e + float64(c1+2)*m, n + float64(r1+2)*m}}, true
}

// boundsOr returns the bounds of the map, those of the grid without any.
func (l *Layers) boundsOr(g *Grid) orb.Bound {
	if b, ok := l.mapBounds(); ok {
		return b
	}
	return boundOf(g)
}

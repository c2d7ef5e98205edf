package assess

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"sidelap/las"
)

// sameTwice refuses a survey that has the same points in two files, as copies or as LAS beside LAZ: every density would
// be double, and a strip would be compared with itself. Only files with the same number of points and the same bounds
// to the last bit are looked into; a file that cannot be read is left to the reading.
func sameTwice(ctx context.Context, files []*las.File) error {
	type key struct {
		points   int64
		min, max [3]float64
	}
	first := map[key][]*las.File{}
	for _, f := range files {
		h := f.Header()
		if h.Points == 0 {
			continue
		}
		k := key{h.Points, h.Min, h.Max}
		for _, g := range first[k] {
			if same, err := samePoints(ctx, g, f); err != nil {
				return err
			} else if same {
				return &InputError{Path: f.Path(), Err: errors.New("holds the same points as " + g.Path() + ": each would count twice"), Remedy: "leave one of the two out"}
			}
		}
		first[k] = append(first[k], f)
	}
	return nil
}

// samePoints compares the first and the last points of two files with the same count, some thousands of each.
func samePoints(ctx context.Context, a, b *las.File) (bool, error) {
	var part [2][2][]float64 // of each file: head, tail
	for i, f := range []*las.File{a, b} {
		spans := f.Spans(las.MaxChunk)
		for k, s := range []las.Span{spans[0], spans[len(spans)-1]} {
			v, ok := coordinates(ctx, f, s)
			if ctx.Err() != nil || !ok {
				return false, ctx.Err()
			}
			part[i][k] = v
		}
	}
	head, tail := min(len(part[0][0]), len(part[1][0])), min(len(part[0][1]), len(part[1][1]))
	last := func(v []float64) []float64 { return v[len(v)-tail:] }
	return slices.Equal(part[0][0][:head], part[1][0][:head]) && slices.Equal(last(part[0][1]), last(part[1][1])), nil
}

// coordinates are x, y and z of a span in the units of the file, one after the other; false when it cannot be read.
func coordinates(ctx context.Context, f *las.File, s las.Span) ([]float64, bool) {
	var out []float64
	fr := las.Frame{Scale: f.Frame().Scale, Offset: f.Frame().Offset, HorizontalM: 1, VerticalM: 1}
	for c, err := range f.Read(ctx, s, 0) {
		if err != nil {
			return nil, false
		}
		for i := range c.N {
			out = append(out, fr.XM(c.X[i]), fr.YM(c.Y[i]), fr.ZM(c.Z[i]))
		}
	}
	return out, true
}

// Files of one survey lie near one another. From the first distance on the reader is told, from the second on the files
// are in different coordinate systems, whatever they say: a grid zone is less than 1000 km wide. Our proposal.
const (
	farKM  = 10
	lostKM = 1000
)

// apart says which files lie far from all the others, and refuses those that cannot be of the same survey.
func apart(files []*las.File) (warnings []string, err error) {
	type box struct{ e0, n0, e1, n1 float64 }
	var boxes []box
	var of []*las.File
	for _, f := range files {
		h, u := f.Header(), f.Frame().HorizontalM
		if h.Points > 0 && h.Max[0] >= h.Min[0] && h.Max[1] >= h.Min[1] {
			boxes, of = append(boxes, box{h.Min[0] * u, h.Min[1] * u, h.Max[0] * u, h.Max[1] * u}), append(of, f)
		}
	}
	if len(boxes) < 2 {
		return nil, nil
	}
	for i, a := range boxes {
		near, to := math.Inf(1), 0
		for k, b := range boxes {
			if k == i {
				continue
			}
			d := math.Hypot(max(0, a.e0-b.e1, b.e0-a.e1), max(0, a.n0-b.n1, b.n0-a.n1))
			if d < near {
				near, to = d, k
			}
		}
		switch km := near / 1000; {
		case km >= lostKM:
			return nil, &InputError{Path: of[i].Path(), Err: fmt.Errorf("by the headers it lies %.0f km from the nearest other file, %s: they are not in one coordinate system", km, of[to].Path()),
				Remedy: "assess files of one survey and one coordinate system together"}
		case km >= farKM:
			warnings = append(warnings, fmt.Sprintf("%s: by the headers it lies %.0f km from the nearest other file, %s: is it of this survey, and in the same coordinate system?", of[i].Path(), km, of[to].Path()))
		}
	}
	return warnings, nil
}

// noPoints says of which files no point was left, and why, as far as their headers tell.
func noPoints(files []*las.File, err error) error {
	var points int64
	for _, f := range files {
		points += f.Header().Points
	}
	where := files[0].Path()
	if len(files) > 1 {
		where = fmt.Sprintf("%s and %d more", where, len(files)-1)
	}
	if points == 0 {
		return &NoDataError{fmt.Errorf("%s: no points: by the header there are none; check that the export ran to its end", where)}
	}
	return &NoDataError{fmt.Errorf("%s: %w", where, err)}
}

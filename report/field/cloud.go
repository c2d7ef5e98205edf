package field

import (
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"

	"sidelap/control"
	"sidelap/las"
	"sidelap/las/crs"
	"sidelap/overlap"
	"sidelap/report/assess"
)

// source is one file of the cloud, open or not.
type source struct {
	path    string
	f       *las.File // nil when it cannot be opened
	problem string    // why it is not whole
	opened  int       // warnings that it had when opened
	present atomic.Int64
	audit   las.TimeAudit
	times   las.TimeRange
}

// cloud is the raw or quick cloud: files, and what the one reading of them left.
type cloud struct {
	files  []*source
	crs    *crs.CRS // of the best file; Kind is unknown when none says
	unitM  float64
	vertM  float64
	extent control.Box
	probe  overlap.Options
	got    *gathered // nil when no points were read
}

// openCloud opens the files. Those that cannot be opened stay in the list with their problem.
func openCloud(o *Options) (*cloud, error) {
	paths, err := assess.Expand(o.Inputs)
	if err != nil {
		return nil, err
	}
	c := &cloud{crs: crs.Unknown(), unitM: 1, vertM: 1}
	for _, p := range paths {
		if noCloud(p) {
			return nil, &assess.InputError{Path: p, Err: errors.New("neither named .las or .laz nor a file that begins as one"), Remedy: "a path is named with --trajectory, a base log with --base, a plan with --plan"}
		}
		s := &source{path: p}
		c.files = append(c.files, s)
		f, err := las.OpenWith(p, las.OpenOptions{Salvage: true})
		if err != nil {
			s.problem = withoutPath(err, p)
			continue
		}
		s.f, s.opened = f, len(f.Warnings())
		h := f.Header()
		if h.StatedPoints == 0 && h.Points > 0 {
			s.problem = fmt.Sprintf("the header says no points, %d were found: the recorder was probably stopped", h.Points)
		}
	}
	if err := c.settleCRS(o); err != nil {
		c.close()
		return nil, err
	}
	c.extent = c.headerExtent()
	return c, nil
}

// noCloud reports whether a file is none of a cloud, not even a damaged one: by its name and its first bytes.
func noCloud(path string) bool {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".las", ".laz":
		return false
	}
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	var head [4]byte
	n, err := io.ReadFull(f, head[:])
	return err == nil && n == len(head) && string(head[:]) != "LASF"
}

// withoutPath returns an error's text without the path at its front: a row of a table has it already.
func withoutPath(err error, path string) string {
	return strings.TrimPrefix(err.Error(), path+": ")
}

func (c *cloud) close() {
	for _, s := range c.files {
		if s.f != nil {
			s.f.Close()
		}
	}
}

// settleCRS takes the coordinate system of the file that says most, and one unit for all.
func (c *cloud) settleCRS(o *Options) error {
	first := true
	for _, s := range c.files {
		if s.f == nil {
			continue
		}
		k := s.f.CRS()
		if k.Kind == crs.KindGeographic || k.Kind == crs.KindGeocentric {
			return &assess.InputError{Path: s.path, Err: fmt.Errorf("the coordinates are %s (%s), not projected", k.Kind, k.Horizontal.Name),
				Remedy: "project the cloud to a grid first, or check without it"}
		}
		if e := k.Horizontal.EPSG; e != 0 && c.crs.Horizontal.EPSG != 0 && e != c.crs.Horizontal.EPSG {
			return &assess.InputError{Path: s.path, Err: fmt.Errorf("EPSG:%d, but other files are in EPSG:%d", e, c.crs.Horizontal.EPSG), Remedy: "check the files of one coordinate system at a time"}
		}
		if first || k.Projection != nil && c.crs.Projection == nil || k.Horizontal.Unit.Stated && !c.crs.Horizontal.Unit.Stated {
			c.crs, first = k, false
		}
	}
	if c.crs.Projection == nil && o.EPSG != 0 {
		k, err := gridByCode(o.EPSG)
		if err != nil {
			return err
		}
		c.crs = k
	}
	c.unitM, c.vertM = c.crs.Horizontal.Unit.M, c.crs.Vertical.Unit.M
	if o.HorizontalM > 0 {
		c.unitM = o.HorizontalM
	}
	if o.VerticalM > 0 {
		c.vertM = o.VerticalM
	}
	if !(c.unitM > 0) {
		c.unitM = 1
	}
	if !(c.vertM > 0) {
		c.vertM = c.unitM
	}
	for _, s := range c.files {
		if s.f != nil {
			fr := *s.f.Frame()
			fr.HorizontalM, fr.VerticalM = c.unitM, c.vertM
			s.f.SetFrame(fr)
		}
	}
	return nil
}

// headerExtent is the outline of the files by their headers, in metres.
func (c *cloud) headerExtent() control.Box {
	b := control.Box{MinEM: math.Inf(1), MinNM: math.Inf(1), MaxEM: math.Inf(-1), MaxNM: math.Inf(-1)}
	for _, s := range c.files {
		if s.f == nil {
			continue
		}
		h := s.f.Header()
		if h.Points == 0 || !(h.Max[0] >= h.Min[0]) || !(h.Max[1] >= h.Min[1]) || math.Abs(h.Min[0]) > 1e9 || math.Abs(h.Max[0]) > 1e9 {
			continue
		}
		b.MinEM, b.MinNM = min(b.MinEM, h.Min[0]*c.unitM), min(b.MinNM, h.Min[1]*c.unitM)
		b.MaxEM, b.MaxNM = max(b.MaxEM, h.Max[0]*c.unitM), max(b.MaxNM, h.Max[1]*c.unitM)
	}
	if b.MinEM > b.MaxEM {
		return control.Box{}
	}
	return b
}

func (c *cloud) points() (n int64) {
	for _, s := range c.files {
		if s.f != nil {
			n += s.f.Header().Points
		}
	}
	return n
}

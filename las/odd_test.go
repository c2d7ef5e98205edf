package las

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
)

// oddFiles is what the README of data/real says of its odd files: the number of points, and what is
// to be told (a part of a warning, of a note about the CRS, or of the error that refuses the file).
// What no row names is a plain file of its kind.
var oddFiles = []struct {
	name    string
	points  int64  // -1: Open refuses the file
	says    string // part of a warning or error
	readErr error  // at the end of reading
}{
	{"empty.laz", -1, "empty", nil},
	{"ign-semis_nok-first64k.laz", -1, "header size: 0 bytes", nil},
	{"laszip-broken_coder.laz", -1, "coder", nil},
	{"laszip-broken_compressor.laz", -1, "compressor", nil},
	{"laszip-broken_size.laz", -1, "LASzip record", nil},
	{"laszip-broken_type.laz", -1, "unknown type", nil},
	{"laszip-broken_version.laz", -1, "unknown version", nil},
	{"pasture-10pts-pdrf9.laz", -1, "its items have 30 bytes, the points 59", nil},
	{"pasture-10pts-pdrf10.laz", -1, "its items have 38 bytes, the points 67", nil},

	{"laszip4j-500m_IM2023_subset.laz", 56644, "", nil},
	{"laspy-fullwave.laz", 10750, "", nil},
	{"laspy-simple1_3.las", 999, "", nil},
	{"laspy-1_4_w_evlr.las", 1000, "", nil},
	{"laspy-1_4_w_evlr.laz", 1000, "", nil},
	{"laspy-unregistered_extra_bytes.las", 4, "", nil},
	{"laspy-extra.laz", 1065, "", nil},
	{"laspy-simple.copc.laz", 1065, "COPC", nil},
	{"laspy-simple_with_page.copc.laz", 1065, "COPC", nil},
	{"laspy-autzen_geo_proj.las", 106, "", nil},
	{"laspy-vegetation_1_3.las", 10683, "", nil},
	{"laspy-plane.laz", 28185, "", nil},
	{"laszip-5points_14.las", 5, "the WKT record is empty", nil},
	{"pdal-1.2-empty-geotiff-vlrs.las", 43, "", nil},
	{"pdal-1.2-with-color-clipped.las", 1064, "1064 of 1065 points are whole", nil},
	{"pdal-bad-geotiff-keys.las", 10, "", nil},
	{"pdal-bad_vlr_count.las", 10, "claims 3 variable length records, but only 2", nil},
	{"pdal-epsg_4326.las", 5380, "angles, not lengths", nil},
	{"pdal-garbage_nVariableLength.las", 718, "claims 1069128089 variable length records", nil},
	{"pdal-gps-time-nan.las", 1, "", nil},
	{"pdal-hextest.las", 8, "", nil},
	{"pdal-lots_of_vlr.las", 1, "", nil},
	{"pdal-no-points.las", 0, "", nil},
	{"pdal-spec_3.las", 10, "", nil},
	{"pdal-spurious.las", 1065, "angles, not lengths", nil},
	{"pdal-synthetic_test.las", 1, "", nil},
	{"pdal-test1_4.las", 1000, "", nil},
	{"pdal-test_epsg_4326_axis.las", 10, "angles, not lengths", nil},
	{"pdal-test_epsg_4047.las", 10, "angles, not lengths", nil},
	{"pdal-test_utm16.las", 10, "", nil},
	{"pdal-utm15.las", 1, "", nil},
	{"pdal-warsaw_small.las", 3000, "the WKT record is empty", nil},
	{"pdal-wontcompress3.las", 1000, "", nil},
	{"pdal-simple-laszip-1.2r0.laz", 1065, "", nil},
	{"pdal-laszip-2bytespadding.laz", 1065, "", nil},
	{"pdal-laszip-generated.laz", 1065, "", nil},
	{"pdal-liblas-generated.laz", 1065, "", nil},
	{"pdal-laszip-basefile.las", 1065, "", nil},
	{"pdal-autzen_clip_4326.copc.laz", 28, "COPC", nil},
	{"pdal-autzen_clip_native.copc.laz", 43, "COPC", nil},
	{"pdal-perm-1.2-no-points.las", 0, "1065 are missing", ErrTruncated},
	{"pdal-perm-1.*_*.las", 1, "", nil},
	{"lazperf-1815.las", 1247, "", nil},
	{"lazperf-1815.laz", 1247, "", nil},
	{"lazperf-no-points-1.3.las", 0, "", nil},
	{"lazperf-no-points-1.3.laz", 0, "", nil},
	{"lazperf-point-time-1.4.las.laz", 1065, "", nil},
	{"lazperf-point10-1.0.las", 1, "", nil},
	{"lazperf-point10-1.0.laz", 1, "", nil},
	{"lazperf-point10-1.1.laz", 1, "", nil},
	{"lazperf-extrabytes.laz", 1065, "", nil},
	{"lazperf-point-color.las.laz", 1065, "", nil},
	{"lazperf-point10.las.laz", 1065, "", nil},
	{"lasr-malformed_extrabytes.las", 10, "Extra Bytes record is ignored", nil},
	{"lasr-nocrs.las", 30, "", nil},
	{"rlas-fwf.laz", 2250, "", nil},
	{"rlas-las14_prf6.laz", 135, "", nil},
	{"laszip4j-extra-bytes.las", 5, "", nil},
	{"laszip4j-2019_saipan_waveform.laz", 5198, "COPC", nil},
	{"laszip4j-record-format-7.laz", 62, "both as WKT and as GeoTIFF keys", nil},
	{"laszip4j-record-format-8.laz", 62, "both as WKT and as GeoTIFF keys", nil},
	{"liblas-bad_points_1.1.las", 1, "", nil},
	{"liblas-TO_core_last_clip.las", 8, "", nil},
	{"liblas-srs_vertcs.las", 10, "", nil},
	{"ign-single_point.laz", 1, "", nil},
	{"ign-noepsg.laz", 17845, "", nil},
	{"ign-pdalfail.laz", 89, "", nil},
	{"ign-crop_duplicate.laz", 849, "", nil},
	{"lasrs-autzen.copc.laz", 107, "COPC", nil},
	{"lasrs-autzen.las", 106, "", nil},
	{"loadersgl-pdrf7-v4-1.4.laz", 1024, "header of 393 bytes", nil},
	{"loadersgl-pdrf*.la[sz]", 1024, "", nil},
	{"pasture-10pts-pdrf*.la[sz]", 10, "", nil},
}

// TestOddFiles: every odd file is read or refused as its row says, with memory bounded by its size.
func TestOddFiles(t *testing.T) {
	dir := dataDir(t, "real/odd")
	done := map[string]bool{}
	for _, o := range oddFiles {
		for _, path := range glob(t, dir, o.name) {
			name := filepath.Base(path)
			if done[name] {
				continue
			}
			done[name] = true
			t.Run(name, func(t *testing.T) {
				var before, after runtime.MemStats
				runtime.ReadMemStats(&before)
				points, size, text, err := readOdd(path)
				runtime.ReadMemStats(&after)
				// The codec's models and one chunk are there for the smallest file.
				if used, limit := int64(after.TotalAlloc-before.TotalAlloc), 24<<20+32*size; used > limit {
					t.Errorf("%d bytes allocated for a file of %d", used, size)
				}
				if points != o.points {
					t.Errorf("%d points, want %d (%s)", points, o.points, text)
				}
				if o.points >= 0 && !errors.Is(err, o.readErr) {
					t.Errorf("reading ends with %v, want %v", err, o.readErr)
				}
				if !strings.Contains(text, o.says) {
					t.Errorf("it says %q, want something with %q", text, o.says)
				}
			})
		}
	}
	for _, path := range glob(t, dir, "*.la[sz]") {
		if !done[filepath.Base(path)] {
			t.Errorf("%s: no row says what is expected", filepath.Base(path))
		}
	}
}

// readOdd opens and reads a file whole. points is -1 when it was refused; text is all that was said.
func readOdd(path string) (points, size int64, text string, err error) {
	f, err := Open(path)
	if err != nil {
		var fe *FormatError
		if !errors.As(err, &fe) || fe.Path != path {
			return -1, 0, "no *FormatError: " + err.Error(), err
		}
		return -1, 0, err.Error(), err
	}
	defer f.Close()
	b, err := records(f, 0)
	text = strings.Join(f.Warnings(), "\n")
	if err != nil {
		text += "\n" + err.Error()
	}
	return int64(len(b) / f.Header().RecordLength), f.Size(), text, err
}

// TestOddPairs: files of data/real/odd that hold the same points in two forms, made by other
// programs, give the same records.
func TestOddPairs(t *testing.T) {
	dir := dataDir(t, "real/odd")
	pairs := [][2]string{
		{"laspy-1_4_w_evlr.las", "laspy-1_4_w_evlr.laz"}, {"lazperf-1815.las", "lazperf-1815.laz"},
		{"pdal-laszip-basefile.las", "pdal-laszip-2bytespadding.laz"}, {"pdal-laszip-basefile.las", "pdal-laszip-generated.laz"},
		{"pdal-laszip-basefile.las", "pdal-liblas-generated.laz"}, {"lazperf-point10-1.0.las", "lazperf-point10-1.0.laz"},
		{"loadersgl-pdrf10-1.5.las", "loadersgl-pdrf10-1.5.laz"},
	}
	for _, n := range "012345678" {
		p := "pasture-10pts-pdrf" + string(n)
		pairs = append(pairs, [2]string{p + ".las", p + ".laz"})
	}
	for _, p := range pairs {
		a, err := records(mustOpen(t, filepath.Join(dir, p[0]), OpenOptions{}), 0)
		if err != nil {
			t.Fatal(err)
		}
		b, err := records(mustOpen(t, filepath.Join(dir, p[1]), OpenOptions{}), 0)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(a, b) {
			t.Errorf("%s and %s hold other records", p[0], p[1])
		}
	}
	// The pointwise compressor of 2010 against the LAS file of the same points.
	lidar := dataDir(t, "real/lidar")
	a, _ := records(mustOpen(t, filepath.Join(lidar, "us-pa-las10-pdrf0-usft.las"), OpenOptions{}), 0)
	b, err := records(mustOpen(t, filepath.Join(lidar, "us-pa-las10-pdrf0-usft-pointwise.laz"), OpenOptions{}), 0)
	if err != nil || !bytes.Equal(a, b) {
		t.Errorf("us-pa-las10-pdrf0-usft: LAS and pointwise LAZ differ (%v)", err)
	}
}

// TestCOPCTwin: a COPC file gives the points of the LAS file that other people made it of: the 1065 points of the open test data of
// PDAL, as LAS 1.2 of format 3 and as COPC of format 7 by laspy, in two orders.
func TestCOPCTwin(t *testing.T) {
	dir := dataDir(t, "real/odd")
	points := func(name string) (list []string) {
		f := mustOpen(t, filepath.Join(dir, name), OpenOptions{})
		c := gather(t, f, ColAll)
		h := f.Header()
		place := func(stored int32, axis int) int64 { // hundredths of the unit, which both files count in
			return int64(math.Round((float64(stored)*h.Scale[axis] + h.Offset[axis]) * 100))
		}
		for i := range c.N {
			list = append(list, fmt.Sprint(place(c.X[i], 0), place(c.Y[i], 1), place(c.Z[i], 2), c.GPSTime[i], c.Intensity[i], c.ReturnNumber[i],
				c.NumReturns[i], c.Class[i], c.Source[i], c.UserData[i], c.Red[i], c.Green[i], c.Blue[i]))
		}
		slices.Sort(list)
		return list
	}
	plain, octree := points("pdal-laszip-basefile.las"), points("laspy-simple.copc.laz")
	if len(plain) != 1065 || !slices.Equal(plain, octree) {
		t.Errorf("%d points as LAS, %d as COPC\n%.300q\n%.300q", len(plain), len(octree), plain, octree)
	}
}

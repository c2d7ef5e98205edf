package crs

import (
	"bytes"
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// realData is where the open data lie relative to the repository root.
func realData(t *testing.T) string {
	t.Helper()
	dir := filepath.Join("..", "..", "..", "shared", "data", "real")
	if _, err := os.Stat(dir); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("open data missing: %v", err)
		}
		t.Skip("open data not present")
	}
	return dir
}

// records are the georeferencing records of a LAS file.
type records struct {
	directory []uint16
	doubles   []float64
	ascii     []byte
	wkt       []byte
	hasKeys   bool
	wktBit    bool
}

// readRecords walks header and VLRs by itself, so that these tests depend on no reader.
func readRecords(b []byte) (r records) {
	if len(b) < 227 || string(b[:4]) != "LASF" {
		return r
	}
	le := binary.LittleEndian
	r.wktBit = le.Uint16(b[6:])&16 != 0
	p, end := int(le.Uint16(b[94:])), min(int(le.Uint32(b[96:])), len(b))
	for range min(le.Uint32(b[100:]), 1000) {
		if p < 227 || p+54 > end {
			break
		}
		user, _, _ := bytes.Cut(b[p+2:p+18], []byte{0})
		id, n := le.Uint16(b[p+18:]), int(le.Uint16(b[p+20:]))
		if p+54+n > end {
			break
		}
		body := b[p+54 : p+54+n]
		if string(user) == "LASF_Projection" {
			switch id {
			case 34735:
				r.hasKeys = true
				for i := 0; i+2 <= n; i += 2 {
					r.directory = append(r.directory, le.Uint16(body[i:]))
				}
			case 34736:
				for i := 0; i+8 <= n; i += 8 {
					r.doubles = append(r.doubles, math.Float64frombits(le.Uint64(body[i:])))
				}
			case 34737:
				r.ascii = body
			case 2112:
				r.wkt = body
			}
		}
		p += 54 + n
	}
	return r
}

// TestRealFiles checks what is read from open data against the list of these files
// (README.md beside them, measured on the files themselves) and against the text of
// the records.
func TestRealFiles(t *testing.T) {
	dir := realData(t)
	const ft, us = InternationalFootM, SurveyFootM
	for _, c := range []struct {
		file         string
		wkt          bool
		kind         Kind
		epsg, vertEP int
		hM, vM       float64
		vStated      bool   // the vertical unit is stated
		note         string // in one of the notes; "" = no note at all
	}{
		{"lidar/ca-bc-forest-1.laz", false, KindProjected, 3005, 5713, 1, 1, true, ""},
		{"lidar/fi-sotkamo-1line.laz", true, KindProjected, 3067, 0, 1, 1, true, "no vertical coordinate reference system"},
		{"lidar/fr-ground-20m-2lines.laz", false, KindProjected, 2154, 0, 1, 1, false, "no vertical unit stated: metres assumed"},
		{"lidar/fr-ign-4lines-pdrf8-wkt2.laz", true, KindProjected, 2154, 0, 1, 1, false, "no vertical coordinate"},
		{"lidar/fr-ign-4lines-pdrf8-wkt2.laz", false, KindProjected, 2154, 0, 1, 1, false, "no vertical coordinate"},
		{"lidar/fr-reunion-utm40s.laz", true, KindProjected, 2975, 0, 1, 1, false, "no vertical coordinate"},
		{"lidar/no-coast-nn2000.laz", false, KindProjected, 25832, 5941, 1, 1, true, ""},
		{"lidar/us-or-autzen-thin-feet.las", false, KindProjected, 0, 0, ft, ft, false, "read as 400000.000 m"},
		{"lidar/us-or-autzen-2010-mixed-units.las", true, KindProjected, 2991, 6360, 1, us, true, ""},
		{"lidar/us-or-autzen-2023-mixed-units.las", true, KindProjected, 2991, 6360, 1, us, true, ""},
		{"lidar/us-ms-mvk-thin-usft-navd88.las", false, KindProjected, 26995, 0, us, us, true, "is EPSG:2255"},
		{"lidar/us-ne-wkt-and-geokeys-usft.las", true, KindProjected, 0, 0, us, us, false, "US survey feet assumed"},
		{"lidar/us-ne-wkt-and-geokeys-usft.las", false, KindProjected, 32104, 0, us, us, true, "EPSG:32104 (NAD83 / Nebraska) is in metres"},
		{"lidar/us-nm-4_6-crop-usft.las", false, KindProjected, 2903, 5703, us, us, true, "EPSG:6360"},
		{"lidar/us-ca-mobile-usft-navd88.las", false, KindProjected, 2229, 0, us, us, true, ""},
		{"lidar/us-pa-las10-pdrf0-usft.las", false, KindProjected, 32128, 0, us, us, false, "is in metres"},
		{"odd/laspy-fullwave.laz", true, KindProjected, 32723, 0, 1, 1, false, "no vertical"},
		{"odd/laspy-1_4_w_evlr.las", true, KindProjected, 2903, 5703, us, us, true, "its factor says 1 m"},
		{"odd/laspy-simple.copc.laz", true, KindProjected, 2991, 6360, 1, us, true, ""},
		{"odd/lasrs-autzen.copc.laz", true, KindProjected, 2992, 6360, ft, us, true, ""},
		{"odd/laspy-autzen_geo_proj.las", false, KindProjected, 2994, 0, ft, ft, false, "international feet assumed"},
		{"odd/laspy-plane.laz", false, KindProjected, 0, 0, 1, 1, false, "EPSG:3945"},
		{"odd/laspy-simple1_3.las", false, KindProjected, 0, 0, 1, 1, true, "the code of WGS 84 / UTM zone 32N"},
		{"odd/laszip4j-500m_IM2023_subset.laz", true, KindProjected, 0, 0, 1, 1, true, "EPSG:25832"},
		{"odd/laszip4j-2019_saipan_waveform.laz", true, KindProjected, 8693, 0, 1, us, true, ""},
		{"odd/laszip4j-record-format-7.laz", true, KindProjected, 25832, 7837, 1, 1, true, ""},
		{"odd/laszip4j-record-format-7.laz", false, KindProjected, 25832, 7837, 1, 1, true, ""},
		{"odd/lazperf-1815.las", false, KindProjected, 6580, 5703, 1, 1, true, ""},
		{"odd/liblas-srs_vertcs.las", false, KindProjected, 32617, 5703, 1, 1, true, ""},
		{"odd/rlas-las14_prf6.laz", true, KindProjected, 0, 0, 1, 1, true, "brackets"},
		{"odd/ign-noepsg.laz", false, KindUnknown, 0, 0, 1, 1, false, "only a unit (metres)"},
		{"odd/ign-pdalfail.laz", false, KindUnknown, 0, 0, 1, 1, false, "metres assumed"},
		{"odd/pdal-1.2-empty-geotiff-vlrs.las", false, KindUnknown, 0, 0, 1, 1, true, "only a unit"},
		{"odd/pdal-bad-geotiff-keys.las", false, KindProjected, 32617, 0, 1, 1, false, "no vertical"},
		{"odd/pdal-epsg_4326.las", false, KindGeographic, 4326, 0, 0, 1, false, "metres assumed"},
		{"odd/pdal-autzen_clip_4326.copc.laz", true, KindGeographic, 4326, 0, 0, 1, false, "metres assumed"},
		{"odd/pdal-test_epsg_4047.las", true, KindGeographic, 4047, 0, 0, 1, false, "metres assumed"},
		{"odd/pdal-lots_of_vlr.las", false, KindProjected, 0, 0, us, us, false, "Florida East"},
		{"odd/pdal-perm-1.0_0.las", false, KindProjected, 26915, 0, 1, 1, false, "no vertical"},
	} {
		name := c.file
		if c.wkt {
			name += " WKT"
		}
		t.Run(name, func(t *testing.T) {
			b, err := os.ReadFile(filepath.Join(dir, c.file))
			if err != nil {
				t.Fatal(err)
			}
			r := readRecords(b)
			var got *CRS
			if c.wkt {
				got, err = FromWKT(string(r.wkt))
			} else {
				got, err = FromGeoKeys(r.directory, r.doubles, r.ascii)
			}
			if err != nil {
				t.Fatal(err)
			}
			if got.Kind != c.kind || got.Horizontal.EPSG != c.epsg || got.Vertical.EPSG != c.vertEP {
				t.Errorf("%s EPSG:%d + EPSG:%d, want %s %d + %d", got.Kind, got.Horizontal.EPSG, got.Vertical.EPSG, c.kind, c.epsg, c.vertEP)
			}
			if got.Horizontal.Unit.M != c.hM || got.Vertical.Unit.M != c.vM || got.Vertical.Unit.Stated != c.vStated {
				t.Errorf("units %.9g m, %.9g m (stated %t), want %.9g, %.9g (%t)", got.Horizontal.Unit.M, got.Vertical.Unit.M, got.Vertical.Unit.Stated, c.hM, c.vM, c.vStated)
			}
			notes := strings.Join(got.Notes, "\n")
			if c.note == "" && notes != "" || !strings.Contains(notes, c.note) {
				t.Errorf("notes %q, want %q", notes, c.note)
			}
		})
	}
}

// TestRealFilesNeverPanic reads every record of every file, also cut short at each length.
func TestRealFilesNeverPanic(t *testing.T) {
	dir := realData(t)
	read := 0
	for _, sub := range []string{"lidar", "odd"} {
		names, err := filepath.Glob(filepath.Join(dir, sub, "*.la[sz]"))
		if err != nil {
			t.Fatal(err)
		}
		for _, n := range names {
			b, err := os.ReadFile(n)
			if err != nil {
				t.Fatal(err)
			}
			r := readRecords(b)
			for i := range r.directory {
				if c, err := FromGeoKeys(r.directory[:i], r.doubles[:i%(len(r.doubles)+1)], r.ascii); err == nil && c.Vertical.Unit.M == 0 {
					t.Errorf("%s cut to %d values: no vertical unit", filepath.Base(n), i)
				}
				read++
			}
			for i := 0; i < len(r.wkt); i += 1 + len(r.wkt)/100 {
				_, _ = FromWKT(string(r.wkt[:i]))
				read++
			}
		}
	}
	if read < 1000 {
		t.Errorf("only %d readings", read)
	}
}

package las

import (
	"encoding/binary"
	"fmt"
	"math"
	"strings"

	"sidelap/las/crs"
)

// readProjection finds the coordinate reference system: the WKT record or the GeoTIFF keys, in
// VLRs or EVLRs. When the header's WKT bit and the records disagree, what is present is used; when
// both are present, the one that the bit names.
//
// Source: LAS 1.4 R16, coordinate reference system; the precedence is that of issue 104 of the
// specification's public repository.
func (f *File) readProjection() {
	wkt, hasWKT := f.wkt()
	directory, hasKeys := f.geoKeys()
	wantWKT := f.hdr.GlobalEncoding&EncodingWKT != 0
	switch {
	case hasWKT && hasKeys:
		used := "GeoTIFF keys"
		if wantWKT {
			used = "WKT"
		}
		f.warn("the coordinate reference system is given both as WKT and as GeoTIFF keys; the header names the " + used)
	case hasKeys && wantWKT:
		f.warn("the header announces WKT, but only GeoTIFF keys are present; they are used")
	case hasWKT && !wantWKT:
		f.warn("the header announces GeoTIFF keys, but only WKT is present; it is used")
	}
	useWKT := hasWKT && (wantWKT || !hasKeys)
	c := f.parseCRS(useWKT, wkt, hasKeys, directory)
	if c == nil && hasWKT && hasKeys { // the one that the bit names is unusable: try the other
		c = f.parseCRS(!useWKT, wkt, hasKeys, directory)
	}
	if c == nil {
		c = crs.Unknown()
	}
	f.crs = c
	if h, v, ok := c.Metres(); ok {
		f.frame.HorizontalM, f.frame.VerticalM = h, v
	} else {
		f.warn("the coordinates are angles, not lengths: project the cloud before measuring in it")
	}
}

// parseCRS reads one of the two descriptions; nil when there is none or it cannot be used.
func (f *File) parseCRS(useWKT bool, wkt string, hasKeys bool, directory []uint16) *crs.CRS {
	var c *crs.CRS
	var err error
	switch {
	case useWKT:
		c, err = crs.FromWKT(wkt)
	case hasKeys:
		c, err = crs.FromGeoKeys(directory, f.geoDoubles(), f.geoASCII())
	default:
		return nil
	}
	if err != nil {
		f.warn(fmt.Sprintf("the coordinate reference system cannot be read: %v", err))
		return nil
	}
	return c
}

// CRS returns the coordinate reference system. It is never nil: for a file that states none its
// Kind is crs.KindUnknown and its units are assumed.
func (f *File) CRS() *crs.CRS { return f.crs }

// wkt returns the text of the WKT record.
func (f *File) wkt() (string, bool) {
	v, ok := f.vlr(UserProjection, RecordWKT)
	if !ok {
		return "", false
	}
	s := string(v.Data)
	if i := strings.IndexByte(s, 0); i >= 0 {
		s = s[:i]
	}
	s = strings.TrimSpace(s)
	if strings.Trim(s, `"'`) == "" {
		f.warn("the WKT record is empty")
		return "", false
	}
	return s, true
}

// geoKeys returns the GeoTIFF key directory.
func (f *File) geoKeys() ([]uint16, bool) {
	v, ok := f.vlr(UserProjection, RecordGeoKeys)
	if !ok {
		return nil, false
	}
	if len(v.Data) < 8 {
		f.warn("the GeoTIFF key directory is empty")
		return nil, false
	}
	list := make([]uint16, len(v.Data)/2)
	for i := range list {
		list[i] = binary.LittleEndian.Uint16(v.Data[2*i:])
	}
	return list, true
}

func (f *File) geoDoubles() []float64 {
	v, ok := f.vlr(UserProjection, RecordGeoDoubles)
	if !ok {
		return nil
	}
	list := make([]float64, len(v.Data)/8)
	for i := range list {
		list[i] = math.Float64frombits(binary.LittleEndian.Uint64(v.Data[8*i:]))
	}
	return list
}

func (f *File) geoASCII() []byte {
	v, ok := f.vlr(UserProjection, RecordGeoASCII)
	if !ok {
		return nil
	}
	return v.Data
}

package simulate

import (
	"encoding/binary"
	"fmt"
	"math"
	"strconv"

	"sidelap/las"
)

// EPSG codes. Source: EPSG registry.
const (
	epsgWGS84           = 4326
	epsgUTMNorth        = 32600 // plus zone
	epsgUTMSouth        = 32700
	epsgEGM2008Height   = 3855 // in metres
	epsgMetre           = 9001
	epsgFoot            = 9002
	epsgUSFoot          = 9003
	geoKeyUserDefined   = 32767
	geoKeyTransverse    = 1
	geoKeyModelType     = 1024
	geoKeyRasterType    = 1025
	geoKeyGeographic    = 2048
	geoKeyProjected     = 3072
	geoKeyProjection    = 3074
	geoKeyTransform     = 3075
	geoKeyLinearUnits   = 3076
	geoKeyOriginLon     = 3080
	geoKeyOriginLat     = 3081
	geoKeyFalseEasting  = 3082
	geoKeyFalseNorthing = 3083
	geoKeyScale         = 3092
	geoKeyVertical      = 4096
	geoKeyVerticalUnits = 4099
)

// unit is the EPSG unit of a length.
func unit(m float64) (name string, code int) {
	switch {
	case math.Abs(m-USSurveyFootM) < 1e-9:
		return "US survey foot", epsgUSFoot
	case math.Abs(m-InternationalFootM) < 1e-9:
		return "foot", epsgFoot
	}
	return "metre", epsgMetre
}

// WKT returns the coordinate system of the site in WKT 1 with these units: UTM on
// WGS 84, compound with EGM2008 height unless noVertical.
func (f *Flight) WKT(u Units, noVertical bool) string {
	hName, hCode := unit(u.HorizontalM)
	vName, vCode := unit(u.VerticalM)
	n, base, falseN := "N", epsgUTMNorth, 0.0
	if f.utm.South {
		n, base, falseN = "S", epsgUTMSouth, utmFalseN
	}
	num := func(v float64) string { return strconv.FormatFloat(v, 'g', 17, 64) }
	projAuth := ""
	name := fmt.Sprintf("WGS 84 / UTM zone %d%s", f.utm.Zone, n)
	if hCode == epsgMetre {
		projAuth = fmt.Sprintf(`,AUTHORITY["EPSG","%d"]`, base+f.utm.Zone)
	} else {
		name += " (" + hName + ")"
	}
	proj := fmt.Sprintf(`PROJCS["%s",GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,AUTHORITY["EPSG","7030"]],`+
		`AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0,AUTHORITY["EPSG","8901"]],UNIT["degree",0.0174532925199433,AUTHORITY["EPSG","9122"]],`+
		`AUTHORITY["EPSG","4326"]],PROJECTION["Transverse_Mercator"],PARAMETER["latitude_of_origin",0],PARAMETER["central_meridian",%d],`+
		`PARAMETER["scale_factor",0.9996],PARAMETER["false_easting",%s],PARAMETER["false_northing",%s],`+
		`UNIT["%s",%s,AUTHORITY["EPSG","%d"]],AXIS["Easting",EAST],AXIS["Northing",NORTH]%s]`,
		name, f.utm.Zone*6-183, num(utmFalseE/u.HorizontalM), num(falseN/u.HorizontalM), hName, num(u.HorizontalM), hCode, projAuth)
	if noVertical {
		return proj
	}
	vertAuth := ""
	vertName := "EGM2008 height"
	if vCode == epsgMetre {
		vertAuth = fmt.Sprintf(`,AUTHORITY["EPSG","%d"]`, epsgEGM2008Height)
	} else {
		vertName += " (" + vName + ")"
	}
	return fmt.Sprintf(`COMPD_CS["%s + %s",%s,VERT_CS["%s",VERT_DATUM["EGM2008 geoid",2005,AUTHORITY["EPSG","1027"]],`+
		`UNIT["%s",%s,AUTHORITY["EPSG","%d"]],AXIS["Gravity-related height",UP]%s]]`,
		name, vertName, proj, vertName, vName, num(u.VerticalM), vCode, vertAuth)
}

// geoKeys returns the coordinate system as GeoTIFF keys, for point formats 0 to 5.
func (f *Flight) geoKeys(u Units, noVertical bool) []las.VLR {
	_, hCode := unit(u.HorizontalM)
	_, vCode := unit(u.VerticalM)
	var keys [][4]uint16
	var doubles []float64
	short := func(key, value int) { keys = append(keys, [4]uint16{uint16(key), 0, 1, uint16(value)}) }
	double := func(key int, v float64) {
		keys = append(keys, [4]uint16{uint16(key), las.RecordGeoDoubles, 1, uint16(len(doubles))})
		doubles = append(doubles, v)
	}
	short(geoKeyModelType, 1)
	short(geoKeyRasterType, 1)
	base, falseN := epsgUTMNorth, 0.0
	if f.utm.South {
		base, falseN = epsgUTMSouth, utmFalseN
	}
	if hCode == epsgMetre {
		short(geoKeyProjected, base+f.utm.Zone)
		short(geoKeyLinearUnits, hCode)
	} else {
		short(geoKeyGeographic, epsgWGS84)
		short(geoKeyProjected, geoKeyUserDefined)
		short(geoKeyProjection, geoKeyUserDefined)
		short(geoKeyTransform, geoKeyTransverse)
		short(geoKeyLinearUnits, hCode)
		double(geoKeyOriginLon, float64(f.utm.Zone*6-183))
		double(geoKeyOriginLat, 0)
		double(geoKeyFalseEasting, utmFalseE/u.HorizontalM)
		double(geoKeyFalseNorthing, falseN/u.HorizontalM)
		double(geoKeyScale, utmScale)
	}
	if !noVertical {
		short(geoKeyVertical, epsgEGM2008Height)
		short(geoKeyVerticalUnits, vCode)
	}
	dir := []byte{1, 0, 1, 0, 0, 0}
	dir = binary.LittleEndian.AppendUint16(dir, uint16(len(keys)))
	for _, k := range keys {
		for _, v := range k {
			dir = binary.LittleEndian.AppendUint16(dir, v)
		}
	}
	out := []las.VLR{{UserID: las.UserProjection, RecordID: las.RecordGeoKeys, Description: "GeoTIFF keys", Data: dir}}
	if len(doubles) > 0 {
		var b []byte
		for _, d := range doubles {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(d))
		}
		out = append(out, las.VLR{UserID: las.UserProjection, RecordID: las.RecordGeoDoubles, Description: "GeoTIFF doubles", Data: b})
	}
	return out
}

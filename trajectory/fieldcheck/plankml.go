package fieldcheck

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"slices"
	"strconv"
	"strings"

	"github.com/paulmach/orb"
)

// readKMZ reads the main document of an archive, the first file with the ending
// .kml in its top folder or else the first of all, and, where that only links to
// them, the other documents of the archive. Together they may unpack to maxPlanBytes.
//
// Source: OGC KML 2.3 (12-007r2), annex C.
func (p *Plan) readKMZ(b []byte) error {
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		return fmt.Errorf("a zip archive that cannot be read: %w", err)
	}
	var docs []*zip.File
	for _, f := range z.File {
		if strings.EqualFold(path.Ext(f.Name), ".kml") {
			docs = append(docs, f)
		}
	}
	if len(docs) == 0 {
		return errors.New("a zip archive without a KML document (a zipped shape file?)")
	}
	depth := func(f *zip.File) int { return min(1, strings.Count(f.Name, "/")) }
	slices.SortStableFunc(docs, func(a, b *zip.File) int { return depth(a) - depth(b) })
	left := int64(maxPlanBytes)
	for _, f := range docs {
		r, err := f.Open()
		if err != nil {
			return fmt.Errorf("KMZ: %s: %w", f.Name, err)
		}
		text, err := io.ReadAll(io.LimitReader(r, left+1))
		if err = errors.Join(err, r.Close()); err != nil {
			return fmt.Errorf("KMZ: %s: %w", f.Name, err)
		}
		if left -= int64(len(text)); left < 0 {
			return fmt.Errorf("KMZ: %s: unpacks to more than %d MB, too many for an outline", f.Name, maxPlanBytes>>20)
		}
		if err := p.readKML(bytes.TrimSpace(bytes.TrimPrefix(text, []byte("\xef\xbb\xbf")))); err != nil {
			return fmt.Errorf("%s: %w", f.Name, err)
		}
		if len(p.Area)+len(p.Lines) > 0 && depth(f) == 0 {
			return nil
		}
	}
	return nil
}

// readKML takes every Polygon and LineString, with the name of its Placemark.
func (p *Plan) readKML(b []byte) error {
	p.Geographic = true
	d := xml.NewDecoder(bytes.NewReader(b))
	var path []string
	var name, text string
	var poly orb.Polygon
	known := false
	for {
		t, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			return fmt.Errorf("KML: %w", err)
		}
		switch t := t.(type) {
		case xml.StartElement:
			if len(path) > 200 {
				return errors.New("KML: nested too deeply")
			}
			path = append(path, t.Name.Local)
			known = known || t.Name.Local == "kml"
			text = ""
			switch t.Name.Local {
			case "Placemark":
				name = ""
			case "Polygon":
				poly = nil
			}
		case xml.CharData:
			text += string(t)
		case xml.EndElement:
			in := func(e string) bool { return len(path) > 1 && path[len(path)-2] == e }
			switch t.Name.Local {
			case "name":
				if in("Placemark") {
					name = strings.TrimSpace(text)
				}
			case "coordinates":
				pts, err := kmlPoints(text)
				if err != nil {
					return err
				}
				if in("LinearRing") {
					poly = append(poly, orb.Ring(pts))
				} else if in("LineString") {
					p.add(orb.LineString(pts), name)
				}
			case "LinearRing":
				if !in("outerBoundaryIs") && !in("innerBoundaryIs") { // a ring alone is an outline too
					p.add(poly, name)
					poly = nil
				}
			case "Polygon":
				p.add(poly, name)
				poly = nil
			}
			path = path[:len(path)-1]
			text = ""
		}
	}
	if !known {
		return errors.New("an XML document that is no KML")
	}
	return nil
}

func kmlPoints(s string) ([]orb.Point, error) {
	var out []orb.Point
	for _, tuple := range strings.Fields(s) {
		f := strings.Split(tuple, ",")
		if len(f) < 2 {
			return nil, fmt.Errorf("KML: coordinates %q", tuple)
		}
		lon, err1 := strconv.ParseFloat(f[0], 64)
		lat, err2 := strconv.ParseFloat(f[1], 64)
		if err1 != nil || err2 != nil {
			return nil, fmt.Errorf("KML: coordinates %q", tuple)
		}
		out = append(out, orb.Point{lon, lat})
	}
	return out, nil
}

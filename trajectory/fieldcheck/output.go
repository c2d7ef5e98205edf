package fieldcheck

import (
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
)

// geographic returns a line of the grid in degrees, seven decimals (1 cm).
func (r *Report) geographic(l orb.LineString) (orb.LineString, error) {
	if r.grid == nil {
		return nil, fmt.Errorf("the coordinate system of the path is not known: longitudes and latitudes cannot be written; name it with --crs")
	}
	out := make(orb.LineString, 0, len(l))
	for _, p := range l {
		lat, lon, err := r.grid.Inverse(p[0], p[1])
		if err != nil {
			return nil, err
		}
		const e7 = 1e7
		out = append(out, orb.Point{math.Round(lon*deg*e7) / e7, math.Round(lat*deg*e7) / e7})
	}
	return out, nil
}

// GeoJSON returns the list of strips to repeat as a feature collection of
// lines in longitude and latitude (RFC 7946). Items without a line have a null
// geometry. It needs Input.Grid.
func (r *Report) GeoJSON() ([]byte, error) {
	fc := geojson.NewFeatureCollection()
	fc.ExtraMembers = geojson.Properties{"description": r.ReflyText}
	for _, it := range r.Refly {
		l, err := r.geographic(it.Line)
		if err != nil {
			return nil, err
		}
		f := geojson.NewFeature(l)
		if len(l) == 0 {
			f.Geometry = nil
		}
		f.Properties = geojson.Properties{"strip": it.Strip, "title": it.Title(), "reason": strings.Join(it.Reasons, "; "),
			"length_m": round(it.LengthM, 1), "minutes": round(it.Minutes, 1), "part": it.Part}
		if !it.Planned {
			f.Properties["start_gps_s"], f.Properties["end_gps_s"] = round(it.StartS, 2), round(it.EndS, 2)
		}
		fc.Append(f)
	}
	return fc.MarshalJSON()
}

func round(x float64, digits int) float64 {
	k := math.Pow(10, float64(digits))
	return math.Round(x*k) / k
}

// KML types: OGC KML 2.2 (07-147r2), as far as needed.
type kmlFile struct {
	XMLName  xml.Name    `xml:"http://www.opengis.net/kml/2.2 kml"`
	Document kmlDocument `xml:"Document"`
}

type kmlDocument struct {
	Name        string         `xml:"name"`
	Description string         `xml:"description"`
	Style       kmlStyle       `xml:"Style"`
	Placemarks  []kmlPlacemark `xml:"Placemark"`
}

type kmlStyle struct {
	ID        string `xml:"id,attr"`
	LineStyle struct {
		Color string `xml:"color"`
		Width int    `xml:"width"`
	} `xml:"LineStyle"`
}

type kmlPlacemark struct {
	Name        string `xml:"name"`
	Description string `xml:"description"`
	StyleURL    string `xml:"styleUrl"`
	Line        struct {
		Tessellate  int    `xml:"tessellate"`
		Coordinates string `xml:"coordinates"`
	} `xml:"LineString"`
}

// WriteKML writes the list as KML lines on the ground, for a tablet. Items
// without a line are left out. It needs Input.Grid.
func (r *Report) WriteKML(w io.Writer) error {
	k := kmlFile{Document: kmlDocument{Name: "strips to repeat", Description: r.ReflyText}}
	k.Document.Style.ID = "repeat"
	k.Document.Style.LineStyle.Color, k.Document.Style.LineStyle.Width = "ff0055ff", 4
	for _, it := range r.Refly {
		if len(it.Line) == 0 {
			continue
		}
		l, err := r.geographic(it.Line)
		if err != nil {
			return err
		}
		var b strings.Builder
		for i, p := range l {
			if i > 0 {
				b.WriteByte(' ')
			}
			fmt.Fprintf(&b, "%.7f,%.7f", p[0], p[1])
		}
		m := kmlPlacemark{Name: it.Title(), Description: strings.Join(it.Reasons, "; "), StyleURL: "#repeat"}
		m.Line.Tessellate, m.Line.Coordinates = 1, b.String()
		k.Document.Placemarks = append(k.Document.Placemarks, m)
	}
	if _, err := io.WriteString(w, xml.Header); err != nil {
		return err
	}
	e := xml.NewEncoder(w)
	e.Indent("", "  ")
	if err := e.Encode(k); err != nil {
		return err
	}
	_, err := io.WriteString(w, "\n")
	return err
}

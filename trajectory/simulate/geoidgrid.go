package simulate

import (
	"encoding/binary"
	"io"
	"math"
)

// WriteGeoid writes the geoid of the site as a GTX grid, 0.002 degrees apart, about 0.02 degrees around the
// block: lower left latitude and longitude, steps (big-endian doubles), rows, columns (32-bit), then 32-bit
// floats row by row from the south. The geoid of a site is a plane in map coordinates, invented.
//
// Source: GTX, the raster of a public vertical transformation tool, as GDAL documents it.
func (f *Flight) WriteGeoid(path string) error {
	const (
		step = 0.002
		half = 10
	)
	s := &f.Scenario.Site
	lat, lon := f.utm.Inverse(s.CentreEM, s.CentreNM)
	lat0 := math.Round(lat*180/math.Pi/step)*step - half*step
	lon0 := math.Round(lon*180/math.Pi/step)*step - half*step
	return writeAtomic(path, func(w io.Writer) error {
		head := []any{[4]float64{lat0, lon0, step, step}, [2]int32{2*half + 1, 2*half + 1}}
		for _, h := range head {
			if err := binary.Write(w, binary.BigEndian, h); err != nil {
				return err
			}
		}
		var row [2*half + 1]float32
		for i := range 2*half + 1 {
			for j := range row {
				e, n := f.utm.Forward((lat0+float64(i)*step)*math.Pi/180, (lon0+float64(j)*step)*math.Pi/180)
				row[j] = float32(f.GeoidM(e, n))
			}
			if err := binary.Write(w, binary.BigEndian, row[:]); err != nil {
				return err
			}
		}
		return nil
	})
}

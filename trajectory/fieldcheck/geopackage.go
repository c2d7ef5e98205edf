package fieldcheck

import (
	"database/sql"
	"errors"
	"fmt"
	"sidelap/las/disk"
	"slices"
	"strings"

	"github.com/paulmach/orb/encoding/wkb"
	_ "modernc.org/sqlite" // driver "sqlite"
)

// readGeoPackage takes the polygons and lines of all feature tables.
//
// Source: OGC GeoPackage 1.3, clauses 2.1.5 (geometry columns) and 2.1.3 (binary header).
func (p *Plan) readGeoPackage(path string) error {
	db, err := sql.Open("sqlite", disk.URI(path)+"?mode=ro&immutable=1")
	if err != nil {
		return fmt.Errorf("GeoPackage: %w", err)
	}
	defer db.Close()
	rows, err := db.Query(fmt.Sprintf(`SELECT table_name, column_name, srs_id FROM gpkg_geometry_columns LIMIT %d`, mostLayers+1))
	if err != nil {
		return fmt.Errorf("an SQLite file that is no GeoPackage: %w", err)
	}
	var layers []layer
	for rows.Next() {
		var l layer
		if err := rows.Scan(&l.table, &l.column, &l.srs); err != nil {
			return errors.Join(fmt.Errorf("GeoPackage: %w", err), rows.Close())
		}
		layers = append(layers, l)
	}
	if len(layers) > mostLayers {
		return fmt.Errorf("GeoPackage: more than %d layers, which no plan has", mostLayers)
	}
	if err := rows.Err(); err != nil {
		return fmt.Errorf("GeoPackage: %w", err)
	}
	n := 0
	for _, l := range layers {
		code, geographic := p.srs(db, l.srs)
		if n > 0 && code != p.EPSG {
			return fmt.Errorf("its layers are in different coordinate systems (%d and %d)", p.EPSG, code)
		}
		p.EPSG, p.Geographic = code, geographic
		k, err := p.readLayer(db, l)
		if err != nil {
			return fmt.Errorf("GeoPackage layer %q: %w", l.table, err)
		}
		n += k
	}
	return nil
}

// layer is a feature table.
type layer struct {
	table, column string
	srs           int
}

// What a plan has at most; tables may be views, which have as many rows and bytes as they like, whatever the file has.
const (
	mostLayers   = 1000
	mostFeatures = 100_000
)

// readLayer takes the geometries of one table and returns how many there were.
func (p *Plan) readLayer(db *sql.DB, l layer) (n int, err error) {
	rows, err := db.Query(fmt.Sprintf(`SELECT %s, %s FROM %s LIMIT %d`, quote(l.column), nameColumn(db, l), quote(l.table), mostFeatures+1))
	if err != nil {
		return 0, err
	}
	defer rows.Close()
	bytes := 0
	for k := 1; rows.Next(); k++ {
		var b []byte
		var name sql.NullString
		if err := rows.Scan(&b, &name); err != nil {
			return n, err
		}
		if bytes += len(b) + len(name.String); k > mostFeatures || bytes > maxPlanBytes {
			return n, fmt.Errorf("more than %d features or %d MB, which no plan has", mostFeatures, maxPlanBytes>>20)
		}
		body, err := geoPackageBody(b)
		if err != nil {
			return n, err
		}
		if body == nil {
			continue
		}
		if body, err = flatten(body); err != nil {
			return n, err
		}
		g, err := wkb.Unmarshal(body)
		if err != nil {
			return n, err
		}
		p.add(g, name.String)
		n++
	}
	return n, rows.Err()
}

// nameColumn returns the column that names features, as GeoJSON's properties do, NULL without one.
func nameColumn(db *sql.DB, l layer) string {
	rows, err := db.Query(`SELECT name FROM pragma_table_info(?)`, l.table)
	if err != nil {
		return "NULL"
	}
	defer rows.Close()
	best, rank := "NULL", len(nameKeys)
	for rows.Next() {
		var c string
		if rows.Scan(&c) != nil {
			break
		}
		if k := slices.Index(nameKeys, strings.ToLower(c)); k >= 0 && k < rank {
			best, rank = quote(c), k
		}
	}
	return best
}

func quote(s string) string { return `"` + strings.ReplaceAll(s, `"`, `""`) + `"` }

// srs returns the code of a reference system and whether it is geographic.
func (p *Plan) srs(db *sql.DB, id int) (code int, geographic bool) {
	var def string
	switch id {
	case -1: // undefined, in a plane: taken as the grid of the cloud
		return 0, false
	case 0: // undefined, geographic
		return 0, true
	}
	code = id
	if err := db.QueryRow(`SELECT organization_coordsys_id, definition FROM gpkg_spatial_ref_sys WHERE srs_id = ?`, id).Scan(&code, &def); err != nil {
		return id, id == 4326
	}
	def = strings.ToUpper(strings.TrimSpace(def))
	return code, strings.HasPrefix(def, "GEOG") || code == 4326
}

// geoPackageBody takes the GeoPackage header off a geometry; nil for an empty one.
func geoPackageBody(b []byte) ([]byte, error) {
	if len(b) == 0 {
		return nil, nil
	}
	if len(b) < 8 || b[0] != 'G' || b[1] != 'P' {
		return nil, errors.New("a geometry without a GeoPackage header")
	}
	if b[3]>>4&1 == 1 {
		return nil, nil
	}
	envelope := [8]int{0, 32, 48, 48, 64, -1, -1, -1}[b[3]>>1&7]
	if envelope < 0 || len(b) < 8+envelope {
		return nil, errors.New("a geometry header is cut short")
	}
	return b[8+envelope:], nil
}

package control

import (
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"sidelap/las/disk"
	"strconv"
	"strings"

	_ "modernc.org/sqlite" // the driver of the database in a GeoPackage
)

// isGeoPackage reports whether the bytes begin a SQLite database.
func isGeoPackage(b []byte) bool {
	return strings.HasPrefix(string(b[:min(len(b), 16)]), "SQLite format 3\x00")
}

// readGeoPackage turns the one point table of a GeoPackage into a tab-separated list with headings and
// hands it to ParseList. The file is opened read-only.
//
// Source: OGC 12-128r18, GeoPackage 1.3, geometry columns and binary geometry.
func readGeoPackage(path string, o ListOptions) (*List, error) {
	refuse := func(err error) error {
		return &ListError{Path: path, Err: err, Remedy: "export the points as CSV with headings: name, easting, northing, height"}
	}
	db, err := sql.Open("sqlite", disk.URI(path)+"?mode=ro&immutable=1")
	if err != nil {
		return nil, refuse(err)
	}
	defer db.Close()
	table, geometry, srs, err := pointTable(db)
	if err != nil {
		return nil, refuse(err)
	}
	text, err := tableText(db, table, geometry, srs)
	if err != nil {
		return nil, refuse(err)
	}
	l, err := ParseList(path, []byte(text), o)
	if l != nil {
		l.Choice = fmt.Sprintf("GeoPackage table %q; %s", table, l.Choice)
	}
	return l, err
}

// pointTable finds the one table of points.
func pointTable(db *sql.DB) (table, geometry string, srs int, err error) {
	rows, err := db.Query(`SELECT table_name, column_name, srs_id FROM gpkg_geometry_columns WHERE upper(geometry_type_name) IN ('POINT', 'GEOMETRY', 'MULTIPOINT') ORDER BY table_name`)
	if err != nil {
		return "", "", 0, fmt.Errorf("a database that is no GeoPackage: %w", err)
	}
	defer rows.Close()
	var names []string
	for rows.Next() {
		var t, g string
		var s int
		if err := rows.Scan(&t, &g, &s); err != nil {
			return "", "", 0, err
		}
		names = append(names, t)
		table, geometry, srs = t, g, s
	}
	if err := rows.Err(); err != nil {
		return "", "", 0, err
	}
	switch len(names) {
	case 0:
		return "", "", 0, errors.New("a GeoPackage without a table of points")
	case 1:
		return table, geometry, srs, nil
	}
	return "", "", 0, fmt.Errorf("a GeoPackage with several tables of points: %s", strings.Join(names, ", "))
}

// tableText writes the table as a list; the geometry becomes three columns.
func tableText(db *sql.DB, table, geometry string, srs int) (string, error) {
	rows, err := db.Query(`SELECT * FROM "` + strings.ReplaceAll(table, `"`, `""`) + `" LIMIT 100001`)
	if err != nil {
		return "", err
	}
	defer rows.Close()
	columns, err := rows.Columns()
	if err != nil {
		return "", err
	}
	var b strings.Builder
	if srs > 1000 {
		fmt.Fprintf(&b, "EPSG:%d\n", srs)
	}
	x, y := "geometry x", "geometry y"
	if !hasCoordinates(columns) {
		if x, y = "easting", "northing"; srs >= 4001 && srs <= 4999 {
			x, y = "longitude", "latitude"
		}
	}
	var heads []string
	for _, c := range columns {
		if c == geometry {
			heads = append(heads, x, y, "geometry z")
			continue
		}
		heads = append(heads, c)
	}
	if !hasHeight(columns) {
		heads[indexOf(heads, "geometry z")] = "height"
	}
	writeLine(&b, heads)
	values := make([]any, len(columns))
	for i := range values {
		values[i] = new(any)
	}
	for n := 0; rows.Next(); n++ {
		if n >= 100000 {
			return "", errors.New("more than 100 000 points: give the check points, not a cloud")
		}
		if err := rows.Scan(values...); err != nil {
			return "", err
		}
		var cells []string
		for i, c := range columns {
			v := *values[i].(*any)
			if c == geometry {
				blob, _ := v.([]byte)
				cells = append(cells, pointCells(blob)...)
				continue
			}
			cells = append(cells, cellText(v))
		}
		writeLine(&b, cells)
	}
	return b.String(), rows.Err()
}

func indexOf(s []string, want string) int {
	for i, v := range s {
		if v == want {
			return i
		}
	}
	return 0
}

// hasCoordinates reports whether columns hold coordinates beside the geometry.
func hasCoordinates(columns []string) bool { return headings(columns) != nil }

func hasHeight(columns []string) bool {
	for _, c := range columns {
		if word, _ := foldHeading(c); words[word] != ([2]int{}) && role(words[word][0]) == roleZ {
			return true
		}
	}
	return false
}

func writeLine(b *strings.Builder, cells []string) {
	for i, c := range cells {
		if i > 0 {
			b.WriteByte('\t')
		}
		b.WriteString(strings.Map(func(r rune) rune {
			if r == '\t' || r == '\n' || r == '\r' {
				return ' '
			}
			return r
		}, c))
	}
	b.WriteByte('\n')
}

func cellText(v any) string {
	switch x := v.(type) {
	case nil:
		return ""
	case float64:
		return strconv.FormatFloat(x, 'f', -1, 64)
	case []byte:
		return ""
	}
	return fmt.Sprint(v)
}

// pointCells reads x, y and z of a GeoPackage point; empty cells for anything else.
func pointCells(b []byte) []string {
	empty := []string{"", "", ""}
	if len(b) < 8 || b[0] != 'G' || b[1] != 'P' {
		return empty
	}
	envelope := map[byte]int{0: 0, 1: 32, 2: 48, 3: 48, 4: 64}[b[3]>>1&7]
	if b = b[8:]; len(b) < envelope+21 {
		return empty
	}
	b = b[envelope:]
	var order binary.ByteOrder = binary.LittleEndian
	if b[0] == 0 {
		order = binary.BigEndian
	}
	kind := order.Uint32(b[1:])
	if kind%1000 != 1 {
		return empty
	}
	number := func(i int) string {
		v := math.Float64frombits(order.Uint64(b[i:]))
		if !finite(v) {
			return ""
		}
		return strconv.FormatFloat(v, 'f', -1, 64)
	}
	out := []string{number(5), number(13), ""}
	if (kind/1000 == 1 || kind/1000 == 3) && len(b) >= 29 {
		out[2] = number(21)
	}
	return out
}

// Command gen writes the compact table of EPSG coordinate reference systems that
// package crs embeds. It reads the SQLite database of a PROJ installation, which
// carries the EPSG Geodetic Parameter Dataset.
//
// The table is text, one object a line, fields separated by tabs, compressed with
// gzip. The first field is the kind of object:
//
//	S  name, value                               provenance (EPSG version and date, PROJ version)
//	U  code, factor, type, name                  units (metres or radians in one unit)
//	E  code, a, 1/f, name                        ellipsoids (metres; 1/f 0 = sphere)
//	D  code, ellipsoid, prime meridian deg, name geodetic datums
//	G  code, kind, datum, unit, name             geodetic CRS; kind 2, 3 (geographic) or C (geocentric)
//	X  code, method, parameters, name            conversions; "8801=46.5 8802=3 ..." in degrees, metres, unity
//	P  code, geodetic, conversion, unit, axes, flags, extent, name
//	V  code, unit, flags, extent, datum name, name
//	C  code, horizontal, vertical, name
//	A  code, south, north, west, east, name      extents (degrees)
//	M  code, name                                conversion methods
package main

import (
	"bytes"
	"compress/gzip"
	"database/sql"
	"flag"
	"fmt"
	"log"
	"math"
	"os"
	"strconv"
	"strings"

	_ "modernc.org/sqlite"
)

func main() {
	log.SetFlags(0)
	dbPath := flag.String("db", "/usr/share/proj/proj.db", "SQLite database of a PROJ installation")
	out := flag.String("out", "epsg.tsv.gz", "file to write")
	flag.Parse()
	if err := run(*dbPath, *out); err != nil {
		log.Fatalf("gen: %v", err)
	}
}

func run(dbPath, out string) error {
	if _, err := os.Stat(dbPath); err != nil {
		return err
	}
	db, err := sql.Open("sqlite", "file:"+dbPath+"?mode=ro&immutable=1")
	if err != nil {
		return err
	}
	defer db.Close()
	g := &generator{db: db}
	for _, step := range []func() error{g.provenance, g.units, g.ellipsoids, g.datums, g.geodetic,
		g.methods, g.conversions, g.projected, g.vertical, g.compound, g.extents} {
		if err := step(); err != nil {
			return err
		}
	}
	var z bytes.Buffer
	w, err := gzip.NewWriterLevel(&z, gzip.BestCompression)
	if err != nil {
		return err
	}
	if _, err := w.Write(g.b.Bytes()); err != nil {
		return err
	}
	if err := w.Close(); err != nil {
		return err
	}
	log.Printf("%d bytes of text, %d compressed", g.b.Len(), z.Len())
	return os.WriteFile(out, z.Bytes(), 0o644)
}

type generator struct {
	db *sql.DB
	b  bytes.Buffer
}

// rows writes one line for each row of a query; every column is text already.
func (g *generator) rows(kind, query string) error {
	return g.each(query, func(f []string) error {
		fmt.Fprintf(&g.b, "%s\t%s\n", kind, strings.Join(f, "\t"))
		return nil
	})
}

func (g *generator) each(query string, do func(f []string) error) error {
	rows, err := g.db.Query(query)
	if err != nil {
		return fmt.Errorf("%s: %w", query, err)
	}
	defer rows.Close()
	cols, err := rows.Columns()
	if err != nil {
		return err
	}
	val := make([]any, len(cols))
	ptr := make([]any, len(cols))
	for i := range val {
		ptr[i] = &val[i]
	}
	f := make([]string, len(cols))
	for rows.Next() {
		if err := rows.Scan(ptr...); err != nil {
			return err
		}
		for i, v := range val {
			f[i] = text(v)
		}
		if err := do(f); err != nil {
			return err
		}
	}
	return rows.Err()
}

func text(v any) string {
	switch x := v.(type) {
	case nil:
		return ""
	case float64:
		return strconv.FormatFloat(x, 'g', -1, 64)
	case []byte:
		return strings.NewReplacer("\t", " ", "\n", " ").Replace(string(x))
	default:
		return strings.NewReplacer("\t", " ", "\n", " ").Replace(fmt.Sprint(x))
	}
}

func (g *generator) provenance() error {
	return g.rows("S", `select key, value from metadata where key in ('EPSG.VERSION','EPSG.DATE','PROJ.VERSION') order by key`)
}

func (g *generator) units() error {
	return g.rows("U", `select code, conv_factor, type, name from unit_of_measure
		where auth_name='EPSG' and type in ('length','angle') and conv_factor is not null
		and name not like '%per %' and name not like 'Bin width%' order by code`)
}

func (g *generator) ellipsoids() error {
	return g.each(`select e.code, e.semi_major_axis*u.conv_factor, e.inv_flattening, e.semi_minor_axis*u.conv_factor, e.name
		from ellipsoid e join unit_of_measure u on u.auth_name=e.uom_auth_name and u.code=e.uom_code
		where e.auth_name='EPSG' order by e.code`, func(f []string) error {
		invF := f[2]
		if invF == "" {
			a, err1 := strconv.ParseFloat(f[1], 64)
			b, err2 := strconv.ParseFloat(f[3], 64)
			if err1 != nil || err2 != nil {
				return fmt.Errorf("ellipsoid %s: no axes", f[0])
			}
			invF = "0"
			if a != b {
				invF = strconv.FormatFloat(a/(a-b), 'g', -1, 64)
			}
		}
		fmt.Fprintf(&g.b, "E\t%s\t%s\t%s\t%s\n", f[0], f[1], invF, f[4])
		return nil
	})
}

func (g *generator) datums() error {
	return g.each(`select d.code, d.ellipsoid_code, p.longitude, p.uom_code, d.name from geodetic_datum d
		join prime_meridian p on p.auth_name=d.prime_meridian_auth_name and p.code=d.prime_meridian_code
		where d.auth_name='EPSG' order by d.code`, func(f []string) error {
		lon, err := g.degrees(f[2], f[3])
		if err != nil {
			return fmt.Errorf("prime meridian of datum %s: %w", f[0], err)
		}
		fmt.Fprintf(&g.b, "D\t%s\t%s\t%s\t%s\n", f[0], f[1], lon, f[4])
		return nil
	})
}

func (g *generator) geodetic() error {
	return g.rows("G", `select c.code,
		case c.type when 'geographic 2D' then '2' when 'geographic 3D' then '3' else 'C' end,
		c.datum_code, a.uom_code, c.name from geodetic_crs c
		join axis a on a.coordinate_system_auth_name=c.coordinate_system_auth_name
			and a.coordinate_system_code=c.coordinate_system_code and a.coordinate_system_order=1
		where c.auth_name='EPSG' and c.datum_auth_name='EPSG' order by c.code`)
}

func (g *generator) methods() error {
	return g.rows("M", `select distinct m.code, m.name from conversion_method m join conversion_table c
		on c.method_auth_name=m.auth_name and c.method_code=m.code
		where c.auth_name='EPSG' and m.auth_name='EPSG' order by m.code`)
}

func (g *generator) conversions() error {
	var cols []string
	for i := 1; i <= 7; i++ {
		cols = append(cols, fmt.Sprintf("param%d_code, param%d_value, param%d_uom_code", i, i, i))
	}
	return g.each(`select code, method_code, name, `+strings.Join(cols, ", ")+` from conversion_table
		where auth_name='EPSG' and code in (select conversion_code from projected_crs where auth_name='EPSG')
		or auth_name='EPSG' and code between 10000 and 19999 order by code`,
		func(f []string) error {
			var p []string
			for i := 3; i+2 < len(f); i += 3 {
				if f[i] == "" {
					continue
				}
				v, err := g.degrees(f[i+1], f[i+2])
				if err != nil {
					// One deprecated conversion has 87 minutes of arc; its CRS keep their units.
					log.Printf("conversion %s (%s) left out: %v", f[0], f[2], err)
					return nil
				}
				p = append(p, f[i]+"="+v)
			}
			fmt.Fprintf(&g.b, "X\t%s\t%s\t%s\t%s\n", f[0], f[1], strings.Join(p, " "), f[2])
			return nil
		})
}

func (g *generator) projected() error {
	return g.rows("P", `select p.code, p.geodetic_crs_code, p.conversion_code, a1.uom_code,
		lower(substr(a1.orientation,1,1)||substr(a2.orientation,1,1)),
		case p.deprecated when 1 then 'd' else '' end,
		(select u.extent_code from usage u where u.object_table_name='projected_crs' and u.object_auth_name='EPSG'
			and u.object_code=p.code order by u.code limit 1), p.name
		from projected_crs p
		join axis a1 on a1.coordinate_system_auth_name=p.coordinate_system_auth_name
			and a1.coordinate_system_code=p.coordinate_system_code and a1.coordinate_system_order=1
		join axis a2 on a2.coordinate_system_auth_name=p.coordinate_system_auth_name
			and a2.coordinate_system_code=p.coordinate_system_code and a2.coordinate_system_order=2
		where p.auth_name='EPSG' order by p.code`)
}

func (g *generator) vertical() error {
	return g.rows("V", `select v.code, a.uom_code,
		(case v.deprecated when 1 then 'd' else '' end)||(case a.orientation when 'down' then 'n' else '' end),
		(select u.extent_code from usage u where u.object_table_name='vertical_crs' and u.object_auth_name='EPSG'
			and u.object_code=v.code order by u.code limit 1), v.datum_code||' '||d.name, v.name
		from vertical_crs v
		join vertical_datum d on d.auth_name=v.datum_auth_name and d.code=v.datum_code
		join axis a on a.coordinate_system_auth_name=v.coordinate_system_auth_name
			and a.coordinate_system_code=v.coordinate_system_code and a.coordinate_system_order=1
		where v.auth_name='EPSG' order by v.code`)
}

func (g *generator) compound() error {
	return g.rows("C", `select code, horiz_crs_code, vertical_crs_code, name from compound_crs
		where auth_name='EPSG' and horiz_crs_auth_name='EPSG' and vertical_crs_auth_name='EPSG' order by code`)
}

func (g *generator) extents() error {
	return g.rows("A", `select code, south_lat, north_lat, west_lon, east_lon, name from extent
		where auth_name='EPSG' and code in (select extent_code from usage
			where object_table_name in ('projected_crs','vertical_crs') and object_auth_name='EPSG') order by code`)
}

// degrees turns a value in an EPSG unit into degrees (angles), metres (lengths) or itself.
func (g *generator) degrees(value, unit string) (string, error) {
	v, err := strconv.ParseFloat(value, 64)
	if err != nil {
		return "", err
	}
	switch unit {
	case "9110": // sexagesimal DMS: sign degrees . minutes(2) seconds(2) fraction; digits, not a number
		if v, err = sexagesimal(value); err != nil {
			return "", err
		}
	case "9102", "9122":
	case "9003":
		v = v * 1200 / 3937
	default:
		var typ string
		var factor sql.NullFloat64
		err := g.db.QueryRow(`select type, conv_factor from unit_of_measure where auth_name='EPSG' and code=?`, unit).Scan(&typ, &factor)
		if err != nil {
			return "", fmt.Errorf("unit %s: %w", unit, err)
		}
		switch {
		case !factor.Valid:
			return "", fmt.Errorf("unit %s has no factor", unit)
		case unit == "9105" || unit == "9106":
			v *= 0.9
		case typ == "angle":
			v *= factor.Float64 * 180 / math.Pi
		default:
			v *= factor.Float64
		}
	}
	return strconv.FormatFloat(v, 'g', -1, 64), nil
}

func sexagesimal(s string) (float64, error) {
	sign := 1.0
	if strings.HasPrefix(s, "-") {
		sign, s = -1, s[1:]
	}
	d, frac, _ := strings.Cut(s, ".")
	for len(frac) < 4 {
		frac += "0"
	}
	deg, err1 := strconv.ParseFloat(d, 64)
	minutes, err2 := strconv.ParseFloat(frac[:2], 64)
	sec, err3 := strconv.ParseFloat(frac[2:4]+"."+frac[4:]+"0", 64)
	if err1 != nil || err2 != nil || err3 != nil || minutes >= 60 || sec >= 60 {
		return 0, fmt.Errorf("sexagesimal value %q", s)
	}
	return sign * (deg + minutes/60 + sec/3600), nil
}

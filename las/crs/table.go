package crs

import (
	"bytes"
	"compress/gzip"
	_ "embed" // the EPSG table
	"io"
	"strconv"
	"strings"
	"sync"
)

//go:embed epsg.tsv.gz
var tableGzip []byte

// table indexes the lines of the embedded EPSG table by kind and code; a line is
// parsed when it is asked for. internal/gen describes the fields.
var table = sync.OnceValue(func() map[string]map[int]string {
	t := map[string]map[int]string{}
	z, err := gzip.NewReader(bytes.NewReader(tableGzip))
	if err != nil {
		panic("crs: embedded table: " + err.Error())
	}
	b, err := io.ReadAll(z)
	if err != nil {
		panic("crs: embedded table: " + err.Error())
	}
	for line := range strings.Lines(string(b)) {
		f := strings.SplitN(strings.TrimSuffix(line, "\n"), "\t", 3)
		if len(f) != 3 {
			continue
		}
		if f[0] == "S" {
			f[2], f[1] = f[1]+"\t"+f[2], strconv.Itoa(len(t["S"]))
		}
		code, err := strconv.Atoi(f[1])
		if err != nil {
			continue
		}
		if t[f[0]] == nil {
			t[f[0]] = map[int]string{}
		}
		t[f[0]][code] = f[2]
	}
	return t
})

// TableVersion says which dataset the embedded table comes from.
func TableVersion() string {
	v := map[string]string{}
	for _, s := range table()["S"] {
		k, val, _ := strings.Cut(s, "\t")
		v[k] = val
	}
	return "EPSG " + v["EPSG.VERSION"] + " (" + v["EPSG.DATE"] + "), from PROJ " + v["PROJ.VERSION"]
}

// fields returns the n fields after kind and code, or nil.
func fields(kind string, code, n int) []string {
	line, ok := table()[kind][code]
	if !ok {
		return nil
	}
	f := strings.Split(line, "\t")
	if len(f) != n {
		return nil
	}
	return f
}

// otherKind reports whether the table has a CRS with this code, but not of the kind.
func otherKind(code int, kind string) bool {
	if _, ok := table()[kind][code]; ok {
		return false
	}
	for _, k := range []string{"P", "G", "V", "C"} {
		if _, ok := table()[k][code]; ok {
			return true
		}
	}
	return false
}

func atoi(s string) int {
	n, _ := strconv.Atoi(s)
	return n
}

func atof(s string) float64 {
	v, _ := strconv.ParseFloat(s, 64)
	return v
}

func tableUnit(code int) (Unit, bool) {
	f := fields("U", code, 3)
	if f == nil {
		return Unit{}, false
	}
	u := Unit{Name: f[2]}
	if f[1] == "angle" {
		u.Rad = atof(f[0])
	} else {
		u.M = atof(f[0])
	}
	return u, true
}

func tableEllipsoid(code int) (Ellipsoid, bool) {
	f := fields("E", code, 3)
	if f == nil {
		return Ellipsoid{}, false
	}
	return Ellipsoid{Name: f[2], A: atof(f[0]), InvF: atof(f[1])}, true
}

// geodetic is a geodetic CRS of the table.
type geodetic struct {
	name      string
	kind      byte // '2', '3' or 'C'
	unit      Unit
	datum     string
	ellipsoid Ellipsoid
	pmDeg     float64
}

func tableDatum(code int) (name string, e Ellipsoid, pmDeg float64, ok bool) {
	d := fields("D", code, 3)
	if d == nil {
		return "", Ellipsoid{}, 0, false
	}
	e, ok = tableEllipsoid(atoi(d[0]))
	return d[2], e, atof(d[1]), ok
}

func tableGeodetic(code int) (geodetic, bool) {
	f := fields("G", code, 4)
	if f == nil {
		return geodetic{}, false
	}
	g := geodetic{name: f[3], kind: f[0][0]}
	var ok bool
	if g.unit, ok = unitByCode(atoi(f[2])); !ok {
		return geodetic{}, false
	}
	g.datum, g.ellipsoid, g.pmDeg, ok = tableDatum(atoi(f[1]))
	return g, ok
}

func tableArea(code int) *Area {
	f := fields("A", code, 5)
	if f == nil {
		return nil
	}
	return &Area{Name: f[4], SouthDeg: atof(f[0]), NorthDeg: atof(f[1]), WestDeg: atof(f[2]), EastDeg: atof(f[3])}
}

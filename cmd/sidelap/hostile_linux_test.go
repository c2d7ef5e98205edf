package main

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"fmt"
	"io/fs"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"
)

// hostileBytes is the memory that a hostile input of some kilobytes may cost, the program itself included.
const hostileBytes = 300 << 20

// harmless runs the program and fails when it breaks, takes much memory, or writes what drives a terminal.
func (b *bench) harmless(t *testing.T, args ...string) ended {
	t.Helper()
	c := exec.Command("timeout", append([]string{"60", b.program}, args...)...)
	c.Dir = filepath.Join(b.dir, "out")
	r := b.finish(c)
	if r.code < 0 || r.code > 4 || strings.Contains(r.stderr, "goroutine ") || strings.Contains(r.stderr, "panic") {
		t.Errorf("%q: exit %d, %.2000s", args, r.code, r.stderr)
	}
	if u, ok := c.ProcessState.SysUsage().(*syscall.Rusage); ok && u.Maxrss<<10 > hostileBytes {
		t.Errorf("%q: %d MB of memory", args, u.Maxrss>>10)
	}
	shown := strings.NewReplacer("\x1b[0m", "", "\x1b[1m", "").Replace(r.stdout + r.stderr) // bold on and off are the program's own
	if m := driving.FindString(shown); m != "" {
		t.Errorf("%q: prints %q\n%.1000q", args, m, r.stdout+r.stderr)
	}
	return r
}

// driving is what moves a terminal or turns its text round: control characters, and marks of direction (Unicode 15, section 23.2).
var driving = regexp.MustCompile("[\x00-\x08\x0b-\x1f\x7f\u0080-\u009f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ufeff]")

// Headers whose counts and places are lies cost no memory and end with a message or with the points that are there.
func TestHostileHeaders(t *testing.T) {
	b := newBench(t)
	whole, err := os.ReadFile(filepath.Join(b.dir, "in", "cloud", "strip_101.las"))
	if err != nil {
		t.Fatal(err)
	}
	if r := b.run("repack", "../in/cloud/strip_101.las", "packed.laz"); r.code != 0 {
		t.Fatal(r)
	}
	packed, err := os.ReadFile(filepath.Join(b.dir, "out", "packed.laz"))
	if err != nil {
		t.Fatal(err)
	}
	b.empty()
	le := binary.LittleEndian
	lies := map[string]func(h []byte){
		"points":        func(h []byte) { le.PutUint64(h[247:], 1<<62); le.PutUint32(h[107:], math.MaxUint32) },
		"points, all":   func(h []byte) { le.PutUint64(h[247:], math.MaxUint64) },
		"records":       func(h []byte) { le.PutUint32(h[100:], 1_000_000_000) },
		"long points":   func(h []byte) { le.PutUint16(h[105:], 65535) },
		"short points":  func(h []byte) { le.PutUint16(h[105:], 1) },
		"late points":   func(h []byte) { le.PutUint32(h[96:], math.MaxUint32) },
		"early points":  func(h []byte) { le.PutUint32(h[96:], 1) },
		"late extended": func(h []byte) { le.PutUint64(h[235:], 1<<63); le.PutUint32(h[243:], math.MaxUint32) },
		"many extended": func(h []byte) { le.PutUint64(h[235:], 400); le.PutUint32(h[243:], math.MaxUint32) },
		"header":        func(h []byte) { le.PutUint16(h[94:], 65535) },
		"scale NaN":     func(h []byte) { le.PutUint64(h[131:], math.Float64bits(math.NaN())) },
		"scale huge":    func(h []byte) { le.PutUint64(h[131:], math.Float64bits(1e300)) },
		"scale of 1000 m": func(h []byte) {
			le.PutUint64(h[131:], math.Float64bits(1000))
			le.PutUint64(h[139:], math.Float64bits(1000))
		},
		"offset huge": func(h []byte) { le.PutUint64(h[155:], math.Float64bits(1e18)) },
		"format 255":  func(h []byte) { h[104] = 255 },
		"LAZ on LAS":  func(h []byte) { h[104] ^= 0x80 },
		"length of a record": func(h []byte) { // of the first, behind the header
			at := int(le.Uint16(h[94:]))
			le.PutUint16(h[at+20:], 65535)
		},
	}
	for name, lie := range lies {
		for ending, good := range map[string][]byte{".las": whole, ".laz": packed} {
			t.Run(name+ending, func(t *testing.T) {
				bad := bytes.Clone(good)
				lie(bad)
				path := filepath.Join(b.dir, "lie"+ending)
				if err := os.WriteFile(path, bad, 0o644); err != nil {
					t.Fatal(err)
				}
				b.harmless(t, "strips", path)
				b.harmless(t, "repack", path, "x.las")
				b.empty()
			})
		}
	}
}

// Archives that grow a thousandfold, or whose members have names that lead elsewhere, are refused or read without writing
// anything, in the folder of the run, beside the archive, above either or where temporary files go; nor is what a link leads to read.
func TestHostileArchives(t *testing.T) {
	b := newBench(t)
	zeros := make([]byte, 1<<20)
	bomb := func(name string, first string) {
		var w bytes.Buffer
		z := gzip.NewWriter(&w)
		z.Write([]byte(first))
		for range 2000 {
			z.Write(zeros)
		}
		z.Close()
		b.put(name, w.Bytes())
	}
	bomb("flight.sbet.gz", "")
	bomb("flight.txt.gz", "time,easting,northing,height\n")
	bomb("base.26o.gz", "     3.04           OBSERVATION DATA    M                   RINEX VERSION / TYPE\n")
	zipped := func(name string, members map[string]string, big bool) {
		var w bytes.Buffer
		z := zip.NewWriter(&w)
		for n, text := range members {
			h := &zip.FileHeader{Name: n, Method: zip.Deflate}
			if strings.HasPrefix(text, "->") {
				h.SetMode(os.ModeSymlink | 0o777)
			}
			m, err := z.CreateHeader(h)
			if err != nil {
				t.Fatal(err)
			}
			m.Write([]byte(text))
			for range 2000 {
				if big {
					m.Write(zeros)
				}
			}
		}
		z.Close()
		b.put(name, w.Bytes())
	}
	rinex := "     3.04           OBSERVATION DATA    M                   RINEX VERSION / TYPE\n"
	zipped("bomb.zip", map[string]string{"base.26o": rinex}, true)
	zipped("bomb.kmz", map[string]string{"doc.kml": "<kml>"}, true)
	const secret = "nobody-may-see-this"
	b.put("secret", []byte(secret))
	leadsTo := filepath.Join(b.dir, "in", "secret")
	zipped("outside.zip", map[string]string{"../../evil.26o": rinex, "../evil.26o": rinex, filepath.Join(b.dir, "evil.26o"): rinex, "..\\evil.26o": rinex, "link.26o": "->" + leadsTo, "\x1b[2J\u202e.26o": rinex}, false)
	zipped("outside.kmz", map[string]string{"../doc.kml": "<kml></kml>", "../../doc.kml": "<kml></kml>", "link.kml": "->" + leadsTo}, false)
	b.put("laughs.kml", []byte(`<?xml version="1.0"?><!DOCTYPE k [<!ENTITY a "aaaaaaaaaaaaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;"><!ENTITY f SYSTEM "file://`+leadsTo+`">]><kml><Placemark><name>&b;&f;</name></Placemark></kml>`))
	b.put("deep.geojson", []byte(strings.Repeat(`{"type":"GeometryCollection","geometries":[`, 200_000)))
	b.put("deep.kml", []byte("<kml>"+strings.Repeat("<Folder>", 300_000)))
	b.put("deep.toml", []byte("a = "+strings.Repeat("[", 200_000)))
	b.before = b.inputs()
	above := filepath.Dir(b.dir) // the test's own
	temporary := filepath.Join(b.dir, "temporary")
	if err := os.Mkdir(temporary, 0o755); err != nil {
		t.Fatal(err)
	}
	t.Setenv("TMPDIR", temporary)
	all := everything(t, above)
	for _, args := range [][]string{
		{"assess", "--trajectory", "../in/flight.sbet.gz", "../in/cloud"},
		{"assess", "--trajectory", "../in/flight.txt.gz", "../in/cloud"},
		{"assess", "--base", "../in/base.26o.gz", "../in/cloud"},
		{"assess", "--base", "../in/bomb.zip", "../in/cloud"},
		{"assess", "--base", "../in/outside.zip", "../in/cloud"},
		{"assess", "--limits", "../in/deep.toml", "../in/cloud"},
		{"field", "--plan", "../in/bomb.kmz", "../in/cloud"},
		{"field", "--plan", "../in/outside.kmz", "../in/cloud"},
		{"field", "--plan", "../in/laughs.kml", "../in/cloud"},
		{"field", "--plan", "../in/deep.geojson", "../in/cloud"},
		{"field", "--plan", "../in/deep.kml", "../in/cloud"},
		{"field", "--base", "../in/outside.zip", "../in/cloud"},
		{"checkpoints", "--checkpoints", "../in/bomb.zip", "../in/cloud"},
		{"checkpoints", "--audit", "../in/deep.toml"},
	} {
		t.Run(strings.Join(args[:3], " "), func(t *testing.T) {
			r := b.harmless(t, args...)
			if r.code == 0 && args[0] != "field" && !strings.Contains(args[2], "outside") {
				t.Errorf("exit 0: %s", r.stdout)
			}
			if strings.Contains(r.stdout+r.stderr, secret) {
				t.Errorf("what a link leads to is shown: %s%s", r.stdout, r.stderr)
			}
			b.untouched(t)
			if now := everything(t, above); !slices.Equal(now, all) {
				t.Errorf("there was %q, now there is %q", all, now)
			}
		})
	}
}

// everything lists all below a folder.
func everything(t *testing.T, folder string) (names []string) {
	t.Helper()
	err := filepath.WalkDir(folder, func(path string, _ fs.DirEntry, err error) error {
		names = append(names, path)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return names
}

// put writes an input.
func (b *bench) put(name string, data []byte) {
	b.t.Helper()
	if err := os.WriteFile(filepath.Join(b.dir, "in", name), data, 0o644); err != nil {
		b.t.Fatal(err)
	}
}

// nasty is a name or a text that closes tags and quotes, drives a terminal and turns the text round.
const nasty = "\x1b[31m\u202e\"'><img src=x onerror=alert(1)><script>alert(2)</script>\r\u2028"

// What stands in names of files and in the files themselves is shown as text, on the terminal, in the page and in the
// tables, and nowhere as anything else.
func TestHostileTexts(t *testing.T) {
	b := newBench(t)
	cloud := filepath.Join(b.dir, "in", "cloud")
	first, err := os.ReadFile(filepath.Join(cloud, "strip_101.las"))
	if err != nil {
		t.Fatal(err)
	}
	copy(first[26:58], nasty[:32]) // system identifier
	copy(first[58:90], nasty[7:])  // generating software
	evil := strings.ReplaceAll(nasty, "/", "_") + "\n.las"
	if err := os.WriteFile(filepath.Join(cloud, evil), first, 0o644); err != nil {
		t.Skip("no such names here: ", err)
	}
	if err := os.Remove(filepath.Join(cloud, "strip_101.las")); err != nil {
		t.Fatal(err)
	}
	list, err := os.ReadFile(filepath.Join(b.dir, "in", "checkpoints.csv"))
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.SplitAfter(string(list), "\n")
	for i, l := range lines {
		if _, rest, ok := strings.Cut(l, ","); ok && i > 0 && l[0] != '#' {
			lines[i] = `"` + strings.NewReplacer("\r", "", `"`, `""`).Replace(nasty) + fmt.Sprint(i) + `",` + rest
		}
	}
	b.put("checkpoints.csv", []byte(strings.Join(lines, "")))
	b.put("firm.toml", []byte("[project]\nname = '''<script>alert(3)</script>'''\nclient = \"\\u001b[2J\\u202e<img src=x onerror=alert(4)>\"\n"))
	b.put("limits.toml", []byte("title = \"<script>alert(5)</script>\\u202e\"\nsource = \"<b onclick=alert(6)>\\u001b\"\nunits = \"metres\"\n[[criterion]]\nid = \"swath_rmsd\"\nmax = 0.08\nsource = \"<img src=x>\"\n"))
	b.before = b.inputs()

	b.harmless(t, "strips", "../in/cloud")
	b.harmless(t, "checkpoints", "--checkpoints", "../in/checkpoints.csv", "../in/cloud")
	b.harmless(t, "strips", "../in/cloud/none"+nasty)
	r := b.harmless(t, "assess", "--trajectory", "../in/trajectory/flight.sbet", "--checkpoints", "../in/checkpoints.csv", "--letterhead", "../in/firm.toml", "--limits", "../in/limits.toml", "--out", "results", "../in/cloud")
	if r.code != exitWithin && r.code != exitExceeded {
		t.Fatalf("exit %d: %s", r.code, r.stderr)
	}
	b.harmless(t, "field", "--trajectory", "../in/trajectory/flight.sbet", "--checkpoints", "../in/checkpoints.csv", "--out", "field", "../in/cloud")
	b.harmless(t, "report", "--out", "again", "results")
	active := regexp.MustCompile(`(?i)<script>alert|<img src=x|<b onclick|onerror=alert\(\d\)>`)
	for _, page := range []string{"results/report.html", "field/field.html", "again/report.html"} {
		data, err := os.ReadFile(filepath.Join(b.dir, "out", page))
		if err != nil {
			t.Error(err)
			continue
		}
		if m := active.FindIndex(data); m != nil {
			t.Errorf("%s holds %q", page, data[max(0, m[0]-60):min(len(data), m[1]+60)])
		}
		if m := driving.Find(bytes.ReplaceAll(data, []byte("\r\n"), nil)); m != nil {
			t.Errorf("%s holds %q", page, m)
		}
	}
	for _, name := range b.list("out") {
		if strings.ContainsAny(name, "<>\x1b\n\u202e") {
			t.Errorf("an output is named %q", name)
		}
	}
	b.untouched(t)
}

package las

import (
	"bytes"
	"context"
	"flag"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"
)

var update = flag.Bool("update", false, "rewrite the files of testdata/las")

// smallFiles are the files of testdata/las: an invented strip in each family of formats, plain and
// packed, which the examples read and the fuzz targets start from.
var smallFiles = []struct {
	name   string
	points int
	o      WriterOptions
}{
	{"strip_101.las", 300, WriterOptions{Format: 1, Version: Version{1, 2}}},
	{"strip_101.laz", 300, WriterOptions{Format: 1, Compress: true, ChunkSize: 128}},
	{"strip_102.laz", 1200, WriterOptions{Format: 6, Compress: true, ChunkSize: 500}},
	{"strip_103.las", 40, WriterOptions{Format: 8, ExtraBytes: 2}},
	{"strip_104.laz", 40, WriterOptions{Format: 10, ExtraBytes: 1, Compress: true, ChunkSize: 16}},
	{"strip_105.laz", 60, WriterOptions{Format: 3, ExtraBytes: 3, Compress: true, ChunkSize: 25}},
	{"strip_106.laz", 30, WriterOptions{Format: 7, Version: Version{1, 5}, TimeOffset: 1000, Compress: true, ChunkSize: 10}},
}

// utm32 is EPSG:25832 as GDAL 3 writes it in WKT 1.
const utm32 = `PROJCS["ETRS89 / UTM zone 32N",GEOGCS["ETRS89",DATUM["European_Terrestrial_Reference_System_1989",SPHEROID["GRS 1980",6378137,298.257222101,AUTHORITY["EPSG","7019"]],AUTHORITY["EPSG","6258"]],PRIMEM["Greenwich",0,AUTHORITY["EPSG","8901"]],UNIT["degree",0.0174532925199433,AUTHORITY["EPSG","9122"]],AUTHORITY["EPSG","4258"]],PROJECTION["Transverse_Mercator"],PARAMETER["latitude_of_origin",0],PARAMETER["central_meridian",9],PARAMETER["scale_factor",0.9996],PARAMETER["false_easting",500000],PARAMETER["false_northing",0],UNIT["metre",1,AUTHORITY["EPSG","9001"]],AXIS["Easting",EAST],AXIS["Northing",NORTH],AUTHORITY["EPSG","25832"]]`

// smallDir is where they are.
var smallDir = filepath.Join("..", "testdata", "las")

// writeSmall makes one of the small files.
func writeSmall(t *testing.T, path string, points int, o WriterOptions) {
	t.Helper()
	o.WKT, o.GlobalEncoding = utm32, EncodingAdjustedTime
	if o.Version.Minor == 2 { // no WKT there: model type projected, EPSG code, metres
		o.WKT, o.VLRs = "", NewGeoKeys([]uint16{1, 1, 0, 3, 1024, 0, 1, 1, 3072, 0, 1, 25832, 3076, 0, 1, 9001}, nil, nil)
	}
	o.Offset = [3]float64{600000, 5400000, 0}
	o.Created = time.Date(2024, 5, 6, 0, 0, 0, 0, time.UTC)
	o.SystemID, o.Overwrite = "invented flight", true
	if o.ExtraBytes > 0 {
		v := VLR{UserID: UserSpec, RecordID: RecordExtraBytes, Description: "extra bytes"}
		for i := range o.ExtraBytes {
			v.Data = append(v.Data, describe(string(rune('a'+i)), 1, 0, 0, 0, 0)...)
		}
		o.VLRs = append(o.VLRs, v)
	}
	if o.Version.Minor == 5 || o.Format == 10 {
		o.EVLRs = append(o.EVLRs, VLR{Extended: true, UserID: UserSpec, RecordID: RecordTextArea, Description: "text", Data: []byte("an invented strip")})
	}
	w, err := Create(path, o)
	if err != nil {
		t.Fatal(err)
	}
	g := scanLines{rng: rand.New(rand.NewPCG(4, uint64(o.Format)))}
	var chunk Chunk
	g.fill(&chunk, points, o.Format)
	for i := range points { // exact numbers, so that every machine makes the same bytes
		line, place := int32(i/40), int32(i%40-20)
		chunk.X[i], chunk.Y[i] = line*400, place*2250
		chunk.Z[i] = 100_000 + line*line + place*place*3 + int32(chunk.NumReturns[i]-chunk.ReturnNumber[i])*4000
		chunk.GPSTime[i] = 3e8 + float64(i)/65536
		chunk.ScanAngle[i] = int16(place) * 500
		chunk.Source[i] = 101
	}
	if err := w.Write(&chunk); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

// TestSmallFiles: the writer makes the files of testdata/las again, to the byte.
func TestSmallFiles(t *testing.T) {
	for _, s := range smallFiles {
		kept := filepath.Join(smallDir, s.name)
		if *update {
			writeSmall(t, kept, s.points, s.o)
			continue
		}
		path := filepath.Join(t.TempDir(), s.name)
		writeSmall(t, path, s.points, s.o)
		got, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		want, err := os.ReadFile(kept)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s: the writer makes other bytes; read the change, then run go test ./las -run SmallFiles -update", s.name)
		}
		f := mustOpen(t, kept, OpenOptions{})
		if len(f.Warnings()) > 0 || f.CRS().Horizontal.EPSG != 25832 {
			t.Errorf("%s: warnings %q, CRS %v", s.name, f.Warnings(), f.CRS())
		}
		if n := len(gather(t, f, ColAll).X); n != s.points {
			t.Errorf("%s: %d points, want %d", s.name, n, s.points)
		}
	}
}

// TestParallelSameAsSerial: the same chunks for any number of workers and any size of spans, with any
// columns.
func TestParallelSameAsSerial(t *testing.T) {
	for _, compress := range []bool{false, true} {
		f := mustOpen(t, benchFile(t, 120_000, 7, compress), OpenOptions{})
		want := gather(t, f, ColAll)
		for _, workers := range []int{1, 2, 5, 0} {
			var got Chunk
			for c, err := range f.Chunks(context.Background(), ColAll, workers) {
				if err != nil {
					t.Fatal(err)
				}
				if c.First != int64(got.N) || c.N > MaxChunk || c.Frame != f.Frame() {
					t.Fatalf("chunk of %d points at %d, want it at %d", c.N, c.First, got.N)
				}
				appendChunk(&got, c)
			}
			if !bytes.Equal(got.Record, want.Record) || got.N != want.N || !equalColumns(&got, want) {
				t.Errorf("laz %v, %d workers: other points than serial", compress, workers)
			}
		}
		for _, s := range []Span{{0, 0}, {5, 1}, {49_999, 2}, {119_999, 10}, {-3, 7}, {200_000, 1}, {8191, 100_000}} {
			var got Chunk
			for c, err := range f.Read(context.Background(), s, ColRecord) {
				if err != nil {
					t.Fatal(err)
				}
				appendChunk(&got, c)
			}
			lo := min(max(s.First, 0), 120_000)
			hi := min(lo+s.N, 120_000)
			if !bytes.Equal(got.Record, want.Record[lo*36:hi*36]) {
				t.Errorf("laz %v: span %v gives other points", compress, s)
			}
		}
	}
}

// equalColumns compares the columns that are not records.
func equalColumns(a, b *Chunk) bool {
	for i := range a.X {
		if a.X[i] != b.X[i] || a.Y[i] != b.Y[i] || a.Z[i] != b.Z[i] || a.GPSTime[i] != b.GPSTime[i] || a.ScanAngle[i] != b.ScanAngle[i] ||
			a.Class[i] != b.Class[i] || a.Flags[i] != b.Flags[i] || a.Source[i] != b.Source[i] || a.ReturnNumber[i] != b.ReturnNumber[i] ||
			a.NumReturns[i] != b.NumReturns[i] || a.Intensity[i] != b.Intensity[i] || a.Red[i] != b.Red[i] || a.Blue[i] != b.Blue[i] || a.Green[i] != b.Green[i] {
			return false
		}
	}
	return true
}

// TestColumnsAgree: a column is the same whether it is asked for alone, with the others of a run or
// with all; for LAZ this also shows that layers can be left out.
func TestColumnsAgree(t *testing.T) {
	for _, s := range smallFiles {
		f := mustOpen(t, filepath.Join(smallDir, s.name), OpenOptions{})
		all := gather(t, f, ColAll)
		for col := Columns(1); col <= ColRecord; col <<= 1 {
			checkColumns(t, s.name, gather(t, f, col), all)
		}
		checkColumns(t, s.name, gather(t, f, assessColumns), all)
	}
}

// checkColumns compares the columns of got that are filled with those of want.
func checkColumns(t *testing.T, name string, got, want *Chunk) {
	t.Helper()
	same := func(column string, equal bool) {
		if !equal {
			t.Errorf("%s: %s differs", name, column)
		}
	}
	same("X", equalOrEmpty(got.X, want.X, true))
	same("Y", equalOrEmpty(got.Y, want.Y, true))
	same("Z", equalOrEmpty(got.Z, want.Z, true))
	same("Intensity", equalOrEmpty(got.Intensity, want.Intensity, false))
	same("ReturnNumber", equalOrEmpty(got.ReturnNumber, want.ReturnNumber, false))
	same("NumReturns", equalOrEmpty(got.NumReturns, want.NumReturns, false))
	same("Flags", equalOrEmpty(got.Flags, want.Flags, false))
	same("Channel", equalOrEmpty(got.Channel, want.Channel, false))
	same("Class", equalOrEmpty(got.Class, want.Class, false))
	same("ScanAngle", equalOrEmpty(got.ScanAngle, want.ScanAngle, false))
	same("UserData", equalOrEmpty(got.UserData, want.UserData, false))
	same("Source", equalOrEmpty(got.Source, want.Source, false))
	same("GPSTime", equalOrEmpty(got.GPSTime, want.GPSTime, false))
	same("Red", equalOrEmpty(got.Red, want.Red, false))
	same("Green", equalOrEmpty(got.Green, want.Green, false))
	same("Blue", equalOrEmpty(got.Blue, want.Blue, false))
	same("NIR", equalOrEmpty(got.NIR, want.NIR, false))
	same("Record", equalOrEmpty(got.Record, want.Record, false))
}

func equalOrEmpty[T comparable](got, want []T, must bool) bool {
	if len(got) == 0 && !must {
		return true
	}
	if len(got) != len(want) {
		return false
	}
	for i := range got {
		if got[i] != want[i] {
			return false
		}
	}
	return true
}

// TestCancel: a done context ends reading with its error and no further chunk, also when the workers have decoded all there is, and no
// goroutine stays behind to deadlock.
func TestCancel(t *testing.T) {
	f := mustOpen(t, benchFile(t, 300_000, 1, true), OpenOptions{})
	for _, workers := range []int{1, 3} {
		ctx, cancel := context.WithCancel(context.Background())
		n, last := 0, error(nil)
		for _, err := range f.Chunks(ctx, 0, workers) {
			if last = err; err == nil {
				n++
				time.Sleep(200 * time.Millisecond) // the workers come to their end
			}
			cancel()
		}
		if last != context.Canceled || n != 1 {
			t.Errorf("%d workers: %d chunks after the cancel, error %v", workers, n, last)
		}
		for range f.Chunks(context.Background(), 0, workers) {
			break // leaving early must not hang
		}
		cancel()
	}
}

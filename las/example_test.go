package las_test

import (
	"context"
	"fmt"
	"log"
	"os"
	"path/filepath"

	"sidelap/las"
)

// Open reads the header and the records; the points follow as columns.
func ExampleOpen() {
	f, err := las.Open("../testdata/las/strip_102.laz")
	if err != nil {
		log.Fatal(err)
	}
	defer f.Close()
	h := f.Header()
	fmt.Printf("LAS %s, format %d, %d points, %s\n", h.Version, h.Format, h.Points, f.CRS().Name)
	fmt.Printf("%g m in a unit east and north, %g m in height\n", f.Frame().HorizontalM, f.Frame().VerticalM)
	// Output:
	// LAS 1.4, format 6, 1200 points, ETRS89 / UTM zone 32N
	// 1 m in a unit east and north, 1 m in height
}

// The columns that are needed are named; a chunk is valid until the next step of the loop.
func ExampleFile_Chunks() {
	f, err := las.Open("../testdata/las/strip_102.laz")
	if err != nil {
		log.Fatal(err)
	}
	defer f.Close()
	last, lowest := 0, 0.0
	for c, err := range f.Chunks(context.Background(), las.ColReturn, 2) {
		if err != nil {
			log.Fatal(err)
		}
		for i, z := range c.Z {
			if c.ReturnNumber[i] != c.NumReturns[i] {
				continue
			}
			if h := c.Frame.ZM(z); last == 0 || h < lowest {
				lowest = h
			}
			last++
		}
	}
	fmt.Printf("%d last returns, the lowest at %.3f m\n", last, lowest)
	// Output: 849 last returns, the lowest at 100.001 m
}

// Spans are read at the same time by several goroutines, each with its own Read.
func ExampleFile_Spans() {
	f, err := las.Open("../testdata/las/strip_102.laz")
	if err != nil {
		log.Fatal(err)
	}
	defer f.Close()
	for _, s := range f.Spans(400) {
		n := 0
		for c, err := range f.Read(context.Background(), s, 0) {
			if err != nil {
				log.Fatal(err)
			}
			n += c.N
		}
		fmt.Printf("from point %d: %d points\n", s.First, n)
	}
	// Output:
	// from point 0: 500 points
	// from point 500: 500 points
	// from point 1000: 200 points
}

// The GPS times of a file are judged by their values, not by the bit in its header.
func ExampleAuditTime() {
	var r las.TimeRange
	r.Add([]float64{306234562.5, 306235309.25})
	h := &las.Header{Version: las.Version{Major: 1, Minor: 4}, Format: 6} // the bit says week seconds
	a := las.AuditTime(h, r)
	when, _ := a.Time(r.Min)
	fmt.Println(a.Base, a.Mislabelled, when.Format("2006-01-02 15:04:05"))
	fmt.Println(a.Notes[0])
	// Output:
	// adjusted standard GPS time true 2021-05-28 10:56:02
	// the header says GPS week seconds, but the values 306234562.500 to 306235309.250 are adjusted standard GPS time
}

// Create writes under a temporary name; Close gives the file its own.
func ExampleCreate() {
	dir, err := os.MkdirTemp("", "las")
	if err != nil {
		log.Fatal(err)
	}
	defer os.RemoveAll(dir)
	w, err := las.Create(filepath.Join(dir, "strip.laz"), las.WriterOptions{Format: 6, Compress: true})
	if err != nil {
		log.Fatal(err)
	}
	c := &las.Chunk{N: 2, X: []int32{0, 1000}, Y: []int32{0, 0}, Z: []int32{100_000, 100_250}, GPSTime: []float64{1, 2}}
	if err := w.Write(c); err != nil {
		w.Abort()
		log.Fatal(err)
	}
	if err := w.Close(); err != nil {
		log.Fatal(err)
	}
	f, err := las.Open(filepath.Join(dir, "strip.laz"))
	if err != nil {
		log.Fatal(err)
	}
	defer f.Close()
	fmt.Println(f.Header().Points, f.Header().Max)
	// Output: 2 [1 0 100.25]
}

// Repack turns LAS into LAZ and back; the ending of the output says which.
func ExampleRepack() {
	dir, err := os.MkdirTemp("", "las")
	if err != nil {
		log.Fatal(err)
	}
	defer os.RemoveAll(dir)
	res, err := las.Repack(context.Background(), "../testdata/las/strip_101.las", filepath.Join(dir, "strip_101.laz"), las.RepackOptions{})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(res.Points, "points", len(res.Warnings), "warnings")
	// Output: 300 points 0 warnings
}

package assess

import (
	"context"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"sidelap/report"
)

func TestDrive(t *testing.T) {
	in := os.Getenv("DRIVE")
	if in == "" {
		t.Skip()
	}
	o := DefaultOptions()
	o.Inputs = strings.Fields(in)
	o.Trajectory = os.Getenv("TRAJ")
	o.CheckPoints = os.Getenv("CHK")
	s := time.Now()
	rec, _, err := Run(context.Background(), o)
	if err != nil {
		t.Fatal(err)
	}
	fmt.Println(time.Since(s))
	b, err := report.Marshal(rec)
	if err != nil {
		t.Fatal(err)
	}
	os.WriteFile("/tmp/drv/r.json", b, 0o644)
	report.WriteStrips(os.Stdout, rec, report.TextOptions{Columns: 140})
	report.WriteText(os.Stdout, rec, report.TextOptions{Columns: 140})
}

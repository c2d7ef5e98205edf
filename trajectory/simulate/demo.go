package simulate

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
)

// DemoFiles are the parts of a demonstration folder, as names inside it.
const (
	DemoCloud       = "cloud"
	DemoPath        = "trajectory/flight.sbet"
	DemoAccuracy    = "trajectory/flight.smrmsg"
	DemoBaseLog     = "base/HM01139a.26o"
	DemoCheckPoints = "checkpoints.csv"
	DemoControl     = "control.csv"
	DemoArea        = "area.geojson"
	DemoReadme      = "README.txt"
	DemoTruth       = "TRUTH.txt"
)

// WriteDemo flies DemoScenario into dir: a cloud with a file for each strip, the path and
// its accuracy, the base log, check and control points, a README and, apart, the truth.
// The cloud is LAS; use WriteSurvey for other forms.
func WriteDemo(dir string) (*Flight, error) {
	return WriteSurvey(dir, DemoScenario(), CloudOptions{})
}

// WriteSurvey lays out a survey folder for any scenario. Existing files of the same names are
// an error unless o.Overwrite.
func WriteSurvey(dir string, s Scenario, o CloudOptions) (*Flight, error) {
	return WriteSurveyContext(context.Background(), dir, s, o)
}

// WriteSurveyContext is WriteSurvey that ends with the context's error when ctx is done: files that are
// complete then stay under their names, no other does.
func WriteSurveyContext(ctx context.Context, dir string, s Scenario, o CloudOptions) (*Flight, error) {
	f, err := Fly(s)
	if err != nil {
		return nil, err
	}
	if !o.Overwrite {
		for _, name := range []string{DemoPath, DemoAccuracy, DemoBaseLog, DemoCheckPoints, DemoControl, DemoArea, DemoReadme, DemoTruth} {
			if _, err := os.Stat(filepath.Join(dir, name)); err == nil {
				return nil, fmt.Errorf("%s exists; give an empty folder", filepath.Join(dir, name))
			}
		}
	}
	if _, err := f.WriteCloudContext(ctx, filepath.Join(dir, DemoCloud), o); err != nil {
		return nil, err
	}
	truth := f.Truth()
	steps := []struct {
		name  string
		write func(string) error
	}{
		{DemoPath, f.WriteTrajectory},
		{DemoAccuracy, f.WriteAccuracy},
		{DemoBaseLog, f.WriteBaseLog},
		{DemoCheckPoints, func(p string) error { return f.WriteCheckPoints(p, ListOptions{}) }},
		{DemoControl, func(p string) error { return f.WriteControl(p, ListOptions{}) }},
		{DemoArea, f.WriteArea},
		{DemoReadme, func(p string) error { return writeAtomic(p, f.writeStory) }},
		{DemoTruth, func(p string) error { return writeAtomic(p, truth.WriteText) }},
	}
	for _, st := range steps {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if err := st.write(filepath.Join(dir, st.name)); err != nil {
			return nil, err
		}
	}
	return f, nil
}

// writeStory writes the README of a survey folder; it does not say what is wrong.
func (f *Flight) writeStory(w io.Writer) error {
	s := &f.Scenario
	cross := s.Plan.CrossStrips
	_, err := fmt.Fprintf(w, `%s

THIS SURVEY IS INVENTED. Nobody flew it. The place, the people, the aircraft, the
instruments and every measurement were made by a simulator, for trying out sidelap
and for its tests. The coordinates lie in open country of UTM zone %d; nothing in the
data describes what is really there.

The story: on %s a two-person survey firm flew a small lidar over
meadows, lanes, a few houses and patches of wood for a drainage design. A base station
(%s, %.0f m from the block) logged from before power-on until after power-off. The
flight had a still period, a fast straight run and figure-eights before and after
%d parallel strips and %d cross strip(s) at %.0f m above ground and %.0f m/s.
The client asks: do the strips agree, does the cloud agree with the check points, and if
not, why?

cloud/            the strips, one file each
trajectory/       path (SBET) with its accuracy file
base/             base station log (RINEX 3.04); mark %s, antenna %.4f m above it
checkpoints.csv   surveyed check points, not used in the processing
control.csv       control points
area.geojson      the area that was ordered
TRUTH.txt         what was really done to the data: read it last

Lever arm from the path's reference point to the scanner, forward right down:
%.3f, %.3f, %.3f m. Heights are above the geoid; the path file holds heights above the
ellipsoid, the geoid lies %.2f m above the ellipsoid at the centre of the block.
`, s.Site.Name, s.Site.UTMZone, f.DateOf(s.Site.PowerOnS).Format("2 January 2006"), s.Base.Marker, s.Base.DistanceM,
		s.Plan.Strips, cross, s.Plan.HeightM, s.Plan.SpeedMPS, s.Base.Marker, s.Base.AntennaHeightM,
		f.usedMount.LeverM[0], f.usedMount.LeverM[1], f.usedMount.LeverM[2], s.Site.GeoidM)
	return err
}

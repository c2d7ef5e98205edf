package assess

import (
	"fmt"
	"slices"
	"strings"

	"sidelap/report"
)

// unitCautions say what about the units of the files is assumed or contradictory: every length, height and density
// follows from them. Units that were given for the assessment are neither.
func unitCautions(c *report.CRS, o *Options) []string {
	var out []string
	h, v := !c.HorizontalUnitStated && o.HorizontalM == 0, !c.VerticalUnitStated && o.VerticalM == 0
	switch {
	case h && v:
		out = append(out, fmt.Sprintf("no file states its unit: %s assumed; in another unit every length and height here is wrong by its factor (feet: 3.28); state them with --horizontal-unit and --vertical-unit", plain(c.HorizontalUnit)))
	case h:
		out = append(out, fmt.Sprintf("no file states the unit of x and y: %s assumed; in another unit every length and density here is wrong by its factor (feet: 3.28); state it with --horizontal-unit", plain(c.HorizontalUnit)))
	case v:
		out = append(out, fmt.Sprintf("no file states the unit of heights: %s assumed; in another unit every height difference here is wrong by its factor; state it with --vertical-unit", plain(c.VerticalUnit)))
	}
	for _, n := range c.Notes {
		if o.HorizontalM > 0 && !strings.HasPrefix(n, "vertical") || o.VerticalM > 0 && strings.HasPrefix(n, "vertical") {
			continue
		}
		for _, sign := range unitConflicts {
			if strings.Contains(n, sign) {
				out = append(out, n)
				break
			}
		}
	}
	return out
}

// unitConflicts mark the notes of las/crs in which one statement of a unit contradicts another.
var unitConflicts = []string{"check which one the coordinates are in", "but the unit size key", "but its factor", "has no usable factor", "is neither the international nor the US survey foot", "is a foot of 0.3048 m (international) without"}

func plain(unit report.Text) string {
	switch unit {
	case "metre", "":
		return "metres"
	}
	return strings.Replace(string(unit), "foot", "feet", 1)
}

// settingCautions say which settings were not used, or were taken as zero.
func settingCautions(o *Options) []string {
	var out []string
	for _, x := range []struct {
		flag  string
		given bool
		needs bool // what it belongs to is there
		what  string
	}{
		{"lever", o.LeverGiven, o.Trajectory != "", "--trajectory that it belongs to"},
		{"trajectory-accuracy", o.Accuracy != "", o.Trajectory != "", "--trajectory that it belongs to"},
		{"columns", o.ColumnOrder != "", o.CheckPoints != "" || o.Control != "", "list (--checkpoints, --control) to read with it"},
		{"list-unit", o.ListUnit != "", o.CheckPoints != "" || o.Control != "", "list (--checkpoints, --control) to read with it"},
		{"survey-sd", o.SurveySDm > 0, o.CheckPoints != "", "list of --checkpoints that it tells of"},
		{"geoid", o.GeoidFile != "" || o.GeoidM != 0, o.CheckPoints != "", "list of --checkpoints to explain with it"},
		{"poles", len(o.PolesM) > 0, o.CheckPoints != "", "list of --checkpoints to explain with it"},
		{"base-mark", o.BaseMarkGiven, o.CheckPoints != "", "list of --checkpoints to explain with it"},
		{"flight-date", !o.FlightDate.IsZero(), o.CheckPoints != "", "list of --checkpoints to explain with it"},
		{"targets", o.Target.SizeM > 0, o.CheckPoints != "", "list of --checkpoints with their places"},
	} {
		if x.given && !x.needs {
			out = append(out, fmt.Sprintf("--%s is not used: there is no %s", x.flag, x.what))
		}
	}
	if !o.LeverGiven && o.Trajectory != "" && !o.OnlyChecks {
		out = append(out, "no --lever was given: the points of the trajectory are taken as the place of the scanner, 0,0,0 from it")
	}
	return out
}

// inputWarnings repeat what the files' own warnings say, the same text of several files once.
func inputWarnings(inputs []report.Input) []string {
	var texts []string
	files := map[string][]string{}
	for i := range inputs {
		for _, w := range inputs[i].Warnings {
			if files[w] == nil {
				texts = append(texts, w)
			}
			if !slices.Contains(files[w], inputs[i].Path) {
				files[w] = append(files[w], inputs[i].Path)
			}
		}
	}
	for i, w := range texts {
		f := files[w]
		where := f[0]
		if len(f) > 1 {
			where = fmt.Sprintf("%s and %d more", f[0], len(f)-1)
		}
		texts[i] = where + ": " + w
	}
	return texts
}

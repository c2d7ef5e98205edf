package report

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/BurntSushi/toml"
)

// LetterheadSample is a complete settings file of a firm and job, to copy and edit. Any key may be left out.
const LetterheadSample = `# Letterhead of the reports: sidelap report --letterhead firm.toml DIR. Leave out what does not apply.
logo = "logo.png"                      # PNG or JPEG, relative to this file; stands before the sections

[project]
firm = "Example Survey Ltd"
address = ["1 Example Street", "Example Town"]
name = "Meadow drainage"
number = "2026-117"
client = "Water board"
site = "Lower meadow"
flight_date = "2026-05-12"
sensor = "serial number 0042"
aircraft = "multirotor, 9 kg"
conditions = "dry, wind 3 m/s, leaves off"
notes = ["Grass mown the day before."]

[reference]                            # what the files cannot say; shown in the reference box, used in no computation
vertical_datum = "EGM2008 height"
geoid = "EGM2008"
epoch = "2026.36"
base_mark = "HM01"
base_mark_source = "state survey, sheet of 2025-11-03"
antenna_height_m = 1.812
antenna_height_method = "vertical, to the antenna reference point"
checkpoint_source = "network"          # base, network, level, total-station
checkpoint_independent = true          # false: same base as the trajectory
`

// letterheadKinds are what the keys of a settings file take.
var letterheadKinds = map[string]string{"logo": "text", "project.address": "list", "project.notes": "list", "reference.antenna_height_m": "number", "reference.checkpoint_independent": "answer"}

// letterheadMistake names, in the words of the file, the first value of a kind that its key does not take; "" when there is none.
func letterheadMistake(b []byte) string {
	var raw map[string]any
	if err := toml.Unmarshal(b, &raw); err != nil {
		return ""
	}
	for _, section := range []string{"project", "reference"} {
		x, ok := raw[section]
		if !ok {
			continue
		}
		table, ok := x.(map[string]any)
		if !ok {
			key := map[string]string{"project": "name", "reference": "vertical_datum"}[section]
			return fmt.Sprintf("%s is a section and not a value: write [%s] on a line of its own and below it, for example, %s = %s", section, section, key, inTOML(x))
		}
		for _, k := range slices.Sorted(maps.Keys(table)) {
			if s := wrongKind(section+"."+k, table[k]); s != "" {
				return s
			}
		}
	}
	if x, ok := raw["logo"]; ok {
		return wrongKind("logo", x)
	}
	return ""
}

// inTOML writes a text or number as a TOML text.
func inTOML(x any) string {
	if s, ok := x.(string); ok && !strings.ContainsAny(s, "\"\\\n") {
		return `"` + s + `"`
	}
	return `"..."`
}

// wrongKind says what a key takes when the value is of another kind, else "".
func wrongKind(key string, x any) string {
	name := key[strings.LastIndexByte(key, '.')+1:]
	isText := func(x any) bool { _, ok := x.(string); return ok }
	switch letterheadKinds[key] {
	case "list":
		if all, ok := x.([]any); !ok || slices.ContainsFunc(all, func(x any) bool { return !isText(x) }) {
			return fmt.Sprintf("%s takes a list of texts, for example %s = [\"first line\", \"second line\"]", key, name)
		}
	case "number":
		switch x.(type) {
		case int64, float64:
		default:
			return fmt.Sprintf("%s takes a number without quotes, for example %s = 1.812", key, name)
		}
	case "answer":
		if _, ok := x.(bool); !ok {
			return fmt.Sprintf("%s takes true or false without quotes, for example %s = true", key, name)
		}
	default:
		if !isText(x) {
			return fmt.Sprintf("%s takes a text in quotes, for example %s = \"%v\"", key, name, x)
		}
	}
	return ""
}

package report_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"maps"
	"os"
	"reflect"
	"strings"
	"testing"

	"sidelap/report"
	"sidelap/report/internal/sample"
	"sidelap/report/schema"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

var update = flag.Bool("update", false, "rewrite the schema and the golden files")

// enums are the values that a key may have, by type and key.
var enums = map[string][]any{
	"StripsBy.mode":         {"id", "file", "time"},
	"Path.source":           {"file", "recovered", "none"},
	"Input.time_encoding":   {"adjusted", "week", nil},
	"Finding.severity":      {"note", "warning", "fault"},
	"Field.verdict":         {"go", "caution", "refly", "not_judged"},
	"FieldCheck.result":     {"go", "caution", "refly", "not_judged"},
	"FieldCheck.sense":      {"max", "min", nil},
	"Verdict.result":        {"pass", "fail", "not_judged"},
	"Criterion.result":      {"pass", "fail", "not_judged"},
	"Criterion.sense":       {"max", "min", "report"},
	"Criterion.group":       {"relative", "absolute", "coverage"},
	"Criterion.unit":        {"m", "m2", "pct", "1/m2", "1"},
	"CheckRow.cover":        {"open", "vegetated", "unknown"},
	"Statement.case":        {"tested", "tested_reduced", "produced"},
	"Statement.vva_measure": {"p95_abs", "rmse", nil},
	"Raster.kind":           {"separation", "separation_before", "separation_pair", "flags_pair", "density", "strips", "relief", "used", "used_before", "intensity", "swath_image"},
	"Cause.kind":            causeKinds,
	"Record.schema_version": {report.SchemaVersion},
	"Options.strips_by":     {"auto", "id", "file", "time"},
	"Measure.result":        {"pass", "fail", "not_judged"},
	"Edition.case":          {"tested", "tested_reduced", "produced"},
	"StatementPart.case":    {"tested", "tested_reduced", "produced"},
	"Edition.id":            {"asprs-1", "asprs-2", "nssda"},
	"Subset.group":          {"nva", "vva"},
	"Target.kind":           {"disc", "checkerboard", "chevron", "cross", "ridge"},
}

var causeKinds = []any{"boresight_roll", "boresight_pitch", "boresight_heading", "scan_angle_scale", "range_offset",
	"lever_x", "lever_y", "lever_z", "strip_height", "strip_horizontal", "strip_drift", "attitude_drift", "time_offset", "datum_height"}

// units tell the reader of the schema what the ending of a key means.
var units = []struct{ ending, text string }{
	{"_m_per_m", "metres per metre"}, {"_per_m2", "per square metre"}, {"_m2", "square metres"}, {"_unit_m", "metres in one unit"},
	{"_m", "metres"}, {"_pct", "per cent"}, {"_deg", "degrees"}, {"_gps_s", "GPS seconds, in the time encoding of the file"},
	{"_mps", "metres per second"}, {"_hz", "hertz"},
}

// makeSchema writes the schema of a type; defs collects the struct types.
func makeSchema(t reflect.Type, defs map[string]any) map[string]any {
	switch t.Kind() {
	case reflect.Pointer:
		return nullable(makeSchema(t.Elem(), defs))
	case reflect.Slice:
		return map[string]any{"type": []any{"array", "null"}, "items": makeSchema(t.Elem(), defs)}
	case reflect.Bool:
		return map[string]any{"type": "boolean"}
	case reflect.Int, reflect.Int64:
		return map[string]any{"type": "integer"}
	case reflect.Float64:
		return map[string]any{"type": "number"}
	case reflect.String:
		if t == reflect.TypeFor[report.Text]() {
			return map[string]any{"type": []any{"string", "null"}}
		}
		return map[string]any{"type": "string"}
	case reflect.Struct:
		if _, ok := defs[t.Name()]; !ok {
			defs[t.Name()] = nil // stops recursion
			defs[t.Name()] = structSchema(t, defs)
		}
		return map[string]any{"$ref": "#/$defs/" + t.Name()}
	}
	panic("no schema for " + t.String())
}

func structSchema(t reflect.Type, defs map[string]any) map[string]any {
	props, required := map[string]any{}, []any{}
	for i := range t.NumField() {
		key, opts, _ := strings.Cut(t.Field(i).Tag.Get("json"), ",")
		p := makeSchema(t.Field(i).Type, defs)
		for _, u := range units {
			if strings.HasSuffix(key, u.ending) {
				p["description"] = u.text
				break
			}
		}
		if e, ok := enums[t.Name()+"."+key]; ok {
			p = map[string]any{"enum": e}
		}
		props[key] = p
		if !strings.Contains(opts, "omitempty") {
			required = append(required, key)
		}
	}
	return map[string]any{"type": "object", "properties": props, "required": required}
}

func nullable(s map[string]any) map[string]any {
	if t, ok := s["type"].(string); ok {
		s["type"] = []any{t, "null"}
		return s
	}
	return map[string]any{"anyOf": []any{s, map[string]any{"type": "null"}}}
}

func resultsSchema(strict bool) map[string]any {
	defs := map[string]any{}
	root := makeSchema(reflect.TypeFor[report.Record](), defs)
	if strict {
		for _, d := range defs {
			d.(map[string]any)["additionalProperties"] = false
		}
	}
	root["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	root["$id"] = schema.ID
	root["title"] = "sidelap results record"
	root["$defs"] = maps.Clone(defs)
	return root
}

// The embedded schema is the one of the Go types.
func TestSchemaIsOfTheTypes(t *testing.T) {
	want, err := json.MarshalIndent(resultsSchema(false), "", " ")
	if err != nil {
		t.Fatal(err)
	}
	want = append(want, '\n')
	if *update {
		if err := os.WriteFile("schema/results.schema.json", want, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if !bytes.Equal(want, schema.Results) {
		t.Error("schema/results.schema.json differs from the types of package report: read the difference, then go test ./report -run Schema -update")
	}
}

func compile(t *testing.T, doc any) *jsonschema.Schema {
	t.Helper()
	c := jsonschema.NewCompiler()
	if err := c.AddResource(schema.ID, doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile(schema.ID)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// viaJSON returns v as encoding/json's generic values.
func viaJSON(t *testing.T, v any) any {
	t.Helper()
	b, ok := v.([]byte)
	if !ok {
		var err error
		if b, err = json.Marshal(v); err != nil {
			t.Fatal(err)
		}
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	return doc
}

// Records validate, also when no other key than the schema's is allowed; broken
// ones do not.
func TestSchemaValidates(t *testing.T) {
	loose := compile(t, viaJSON(t, schema.Results))
	strict := compile(t, viaJSON(t, resultsSchema(true)))
	for name, rec := range map[string]*report.Record{
		"pass": sample.Passing().Record, "fail": sample.Failing().Record, "feet": sample.Feet().Record,
		"empty": {SchemaVersion: report.SchemaVersion, Verdict: report.Verdict{Result: report.NotJudged},
			StripsBy: report.StripsBy{Mode: "id"}, Options: report.Options{StripsBy: "auto"}},
	} {
		b, err := report.Marshal(rec)
		if err != nil {
			t.Fatal(name, err)
		}
		if err := loose.Validate(viaJSON(t, b)); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if err := strict.Validate(viaJSON(t, b)); err != nil {
			t.Errorf("%s, strict: %v", name, err)
		}
	}
	for _, damage := range []struct{ name, old, new string }{
		{"a result that is none", `"result": "pass"`, `"result": "good"`},
		{"a text for a number", `"rmsd_m": 0`, `"rmsd_m": "0", "x": 0`},
		{"a missing verdict", `"verdict": {`, `"verdikt": {`},
	} {
		b, err := report.Marshal(sample.Passing().Record)
		if err != nil {
			t.Fatal(err)
		}
		c := bytes.Replace(b, []byte(damage.old), []byte(damage.new), 1)
		if bytes.Equal(b, c) {
			t.Fatalf("%s: %q is not in the record", damage.name, damage.old)
		}
		if loose.Validate(viaJSON(t, c)) == nil {
			t.Errorf("%s: the schema accepts it", damage.name)
		}
	}
}

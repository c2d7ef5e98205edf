package field

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"

	"sidelap/report"
	"sidelap/trajectory/fieldcheck"
)

// additions are what the record's section "field" holds beyond report.Field. Keys are added and never
// renamed; readers of the record ignore those that they do not know.
type additions struct {
	Headline     string        `json:"headline"`
	Reasons      []string      `json:"reasons"`
	Refly        []reflyEntry  `json:"refly"`
	ReflyMinutes float64       `json:"refly_minutes"`
	Events       []eventEntry  `json:"events"`
	Missing      []missingItem `json:"missing"`
	Cautions     []string      `json:"cautions"`
}

type reflyEntry struct {
	Strip     string   `json:"strip"`
	Part      bool     `json:"part"`    // a stretch of the strip only
	Planned   bool     `json:"planned"` // a line of the plan that was not flown
	StartGPSS *float64 `json:"start_gps_s"`
	EndGPSS   *float64 `json:"end_gps_s"`
	Clock     *string  `json:"clock"` // when it was flown, for a person
	LengthM   float64  `json:"length_m"`
	Minutes   float64  `json:"minutes"`
	Reasons   []string `json:"reasons"`
}

type eventEntry struct {
	Kind      string  `json:"kind"`
	StartGPSS float64 `json:"start_gps_s"`
	EndGPSS   float64 `json:"end_gps_s"`
	Clock     string  `json:"clock"`
	LengthM   float64 `json:"length_m"`
	SpeedMPS  float64 `json:"speed_mps"`
	CourseDeg float64 `json:"course_deg"`
	Eights    int     `json:"figure_eights"`
}

type missingItem struct {
	What string `json:"what"`
	Flag string `json:"flag"`
}

func round(v float64, digits int) float64 {
	k := math.Pow(10, float64(digits))
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	return math.Round(v*k) / k
}

func (r *Report) additions() *additions {
	s := &additions{Headline: r.Headline(), Reasons: r.Reasons, Refly: []reflyEntry{}, ReflyMinutes: round(r.ReflyMinutes, 1),
		Events: []eventEntry{}, Missing: []missingItem{}, Cautions: r.cautions()}
	if s.Reasons == nil {
		s.Reasons = []string{}
	}
	for i := range r.Refly {
		s.Refly = append(s.Refly, r.entry(&r.Refly[i]))
	}
	if r.Motion != nil {
		for _, e := range r.Motion.Events {
			s.Events = append(s.Events, eventEntry{Kind: string(e.Kind), StartGPSS: round(r.GPSSeconds(e.StartS), 3), EndGPSS: round(r.GPSSeconds(e.EndS), 3),
				Clock: r.Clock(e.StartS) + " " + r.ClockName(), LengthM: round(e.LengthM, 1), SpeedMPS: round(e.SpeedMPS, 2), CourseDeg: round(e.CourseRad*toDeg, 1), Eights: e.Eights})
		}
	}
	for _, m := range r.Missing {
		s.Missing = append(s.Missing, missingItem(m))
	}
	return s
}

func (r *Report) entry(it *fieldcheck.Item) reflyEntry {
	e := reflyEntry{Strip: it.Strip, Part: it.Part, Planned: it.Planned, LengthM: round(it.LengthM, 1), Minutes: round(it.Minutes, 1), Reasons: it.Reasons}
	if !it.Planned {
		a, b := round(r.GPSSeconds(it.StartS), 3), round(r.GPSSeconds(it.EndS), 3)
		c := r.Clock(it.StartS) + " to " + r.Clock(it.EndS) + " " + r.ClockName()
		e.StartGPSS, e.EndGPSS, e.Clock = &a, &b, &c
	}
	return e
}

// Marshal returns the record as JSON: report.Record with the list of strips, the events, the reasons and the
// cautions added to its section "field".
func Marshal(r *Report) ([]byte, error) {
	b, err := report.Marshal(r.Record)
	if err != nil {
		return nil, err
	}
	d := json.NewDecoder(bytes.NewReader(b))
	if _, err := d.Token(); err != nil {
		return nil, fmt.Errorf("results record: %w", err)
	}
	var out bytes.Buffer
	out.WriteString("{")
	for first := true; d.More(); first = false {
		key, err := d.Token()
		if err != nil {
			return nil, fmt.Errorf("results record: %w", err)
		}
		var value json.RawMessage
		if err := d.Decode(&value); err != nil {
			return nil, fmt.Errorf("results record: %w", err)
		}
		if key == "field" {
			if value, err = mergeField(value, r.additions()); err != nil {
				return nil, err
			}
		}
		if !first {
			out.WriteString(",")
		}
		fmt.Fprintf(&out, "%q:%s", key, value)
	}
	out.WriteString("}")
	var pretty bytes.Buffer
	if err := json.Indent(&pretty, out.Bytes(), "", " "); err != nil {
		return nil, fmt.Errorf("results record: %w", err)
	}
	pretty.WriteByte('\n')
	return pretty.Bytes(), nil
}

// mergeField puts the additions behind what the record wrote, whose numbers keep their form.
func mergeField(written json.RawMessage, a *additions) (json.RawMessage, error) {
	more, err := json.Marshal(a)
	if err != nil {
		return nil, fmt.Errorf("results record: field: %w", err)
	}
	head := bytes.TrimSpace(bytes.TrimSuffix(bytes.TrimSpace(written), []byte("}")))
	return append(append(append(bytes.Clone(head), ','), more[1:len(more)-1]...), '}'), nil
}

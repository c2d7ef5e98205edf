package report

import (
	"encoding/json"
	"math"
)

// Text is a string of the record that is null in JSON when it is empty, that
// is, when nobody gave it. Reports show it as "unknown".
type Text string

// MarshalJSON writes null for the empty text.
func (t Text) MarshalJSON() ([]byte, error) {
	if t == "" {
		return []byte("null"), nil
	}
	return json.Marshal(string(t))
}

// UnmarshalJSON reads null as the empty text.
func (t *Text) UnmarshalJSON(b []byte) error {
	var s *string
	if err := json.Unmarshal(b, &s); err != nil {
		return err
	}
	*t = ""
	if s != nil {
		*t = Text(*s)
	}
	return nil
}

// F returns v as a value of the record, nil (not determined) when v is not finite.
func F(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// I returns v as a count of the record.
func I[T ~int | ~int32 | ~int64 | ~uint16 | ~uint32](v T) *int64 {
	i := int64(v)
	return &i
}

// B returns v as an answer of the record.
func B(v bool) *bool { return &v }

// Get returns the value at p, NaN when it was not determined.
func Get(p *float64) float64 {
	if p == nil {
		return math.NaN()
	}
	return *p
}

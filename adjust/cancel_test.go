package adjust

import (
	"context"
	"errors"
	"testing"

	"sidelap/trajectory/simulate"
)

// askedContext is done when it has been asked so many times; it counts how often it is asked.
type askedContext struct {
	context.Context
	after, asked int
}

func (c *askedContext) Err() error {
	if c.asked++; c.asked > c.after {
		return context.Canceled
	}
	return nil
}

// TestCancelled is a closed form: whenever their context is done, diagnosis and estimation end at once, with its error and
// without a result, and they ask it all the way through.
func TestCancelled(t *testing.T) {
	s := simulate.SmallScenario()
	s.Faults.BoresightRollDeg = 0.04
	f := flyCloud(t, s, 1)
	never := &askedContext{Context: context.Background(), after: 1 << 40}
	d, err := DiagnoseContext(never, f.survey, f.pairs, f.path, FromPath, DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	diagnosing := never.asked
	never.asked = 0
	if _, err := EstimateCorrectionContext(never, f.survey, f.pairs, f.path, d, DefaultCorrectOptions()); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name  string
		asked int
		run   func(ctx context.Context) (bool, error)
	}{
		{"diagnosis", diagnosing, func(ctx context.Context) (bool, error) {
			d, err := DiagnoseContext(ctx, f.survey, f.pairs, f.path, FromPath, DefaultOptions())
			return d != nil, err
		}},
		{"estimation", never.asked, func(ctx context.Context) (bool, error) {
			fit, err := EstimateCorrectionContext(ctx, f.survey, f.pairs, f.path, d, DefaultCorrectOptions())
			return fit != nil, err
		}},
	} {
		if c.asked < 30 {
			t.Errorf("%s asks whether to go on %d times only", c.name, c.asked)
		}
		for _, after := range []int{0, 1, c.asked / 3, c.asked - 1} {
			ctx := &askedContext{Context: context.Background(), after: after}
			result, err := c.run(ctx)
			if !errors.Is(err, context.Canceled) || result || ctx.asked != after+1 {
				t.Errorf("%s, done after %d questions: error %v, a result: %v, asked %d times", c.name, after, err, result, ctx.asked)
			}
		}
	}
}

package overlap_test

import (
	"fmt"

	"sidelap/overlap"
	"sidelap/trajectory/simulate"
)

// A flight with strip 2 processed 5 cm too high: which strips meet, and how far
// apart they lie.
func Example() {
	scenario := simulate.SmallScenario()
	scenario.Faults.Strips = []simulate.StripFault{{Strip: 2, HeightM: 0.05}}
	flight, err := simulate.Fly(scenario)
	if err != nil {
		fmt.Println(err)
		return
	}
	o := overlap.DefaultOptions()
	o.Classified = true
	sums, err := overlap.NewAccumulator(o)
	if err != nil {
		fmt.Println(err)
		return
	}
	for chunk := range flight.Chunks() {
		sums.Add(chunk, 0)
	}
	survey, err := sums.Survey(overlap.DefaultSurveyOptions())
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println("strips by", survey.Mode+":", survey.Why)
	for _, p := range survey.Pairs(overlap.DefaultPairOptions()) {
		if !p.Crossing {
			fmt.Printf("%s over %s: median %.2f m\n", p.IDB, p.IDA, p.Used.MedianM)
		}
	}
	// Output:
	// strips by id: 4 point source IDs, each a pass of its own by GPS time
	// 102 over 101: median 0.05 m
	// 103 over 101: median 0.00 m
	// 103 over 102: median -0.05 m
}

package simulate_test

import (
	"fmt"
	"math"

	"sidelap/trajectory/simulate"
)

func ExampleFly() {
	s := simulate.SmallScenario()
	s.Faults.BoresightRollDeg = 0.04
	f, err := simulate.Fly(s)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, st := range f.Strips {
		fmt.Printf("strip %d, %s, heading %.0f deg, %.0f m, %.0f m/s\n", st.ID, st.Kind, st.HeadingRad*180/math.Pi, st.HeightM, st.SpeedMPS)
	}
	for _, c := range f.Causes() {
		fmt.Printf("%s %+.2f %s\n", c.Kind, c.Value, c.Unit)
	}
	// Output:
	// strip 101, parallel, heading 28 deg, 50 m, 8 m/s
	// strip 102, parallel, heading 208 deg, 50 m, 8 m/s
	// strip 103, parallel, heading 28 deg, 50 m, 8 m/s
	// strip 104, cross, heading 298 deg, 50 m, 8 m/s
	// boresight_roll +0.04 deg
}

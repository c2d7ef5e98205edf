package trajectory

import "testing"

// Closed form: runs and returns around the figure-eights, and slow transits, are no strips; a flight after a battery
// swap keeps its strips on both sides of its eights, and so does a flight that turns eights in the middle.
func TestChooseLines(t *testing.T) {
	at := func(s, e, length float64) Line {
		return Line{Interval{StartS: s, EndS: e}, length, length / (e - s)}
	}
	eight := func(s, e float64) Event {
		return Event{Kind: EventFigureEight, StartS: s, EndS: e, Eights: 2}
	}
	strips := []Line{at(200, 230, 240), at(250, 280, 240), at(300, 330, 240), at(350, 380, 240)}
	for name, c := range map[string]struct {
		m    Motion
		all  []Line
		want string
	}{
		"run and return": {Motion{Air: []Air{{TakeOffS: 50, LandingS: 500}}, Events: []Event{eight(90, 140), eight(400, 450)}},
			append(append([]Line{at(70, 85, 120)}, strips...), at(455, 470, 120)), "-++++-"},
		"transit": {Motion{Air: []Air{{TakeOffS: 50, LandingS: 500}}},
			[]Line{strips[0], strips[1], at(284, 298, 70), strips[2], strips[3]}, "++-++"},
		"two flights": {Motion{Air: []Air{{TakeOffS: 50, LandingS: 290}, {TakeOffS: 292, LandingS: 500}}, Events: []Event{eight(90, 140), eight(293, 298)}},
			strips, "++++"},
		"eights in the middle": {Motion{Air: []Air{{TakeOffS: 0, LandingS: 500}}, Events: []Event{eight(331, 349)}},
			append([]Line{at(100, 130, 240)}, append([]Line{at(150, 180, 240)}, strips...)...), "+++++-"},
	} {
		got := ""
		for _, k := range ChooseLines(&c.m, c.all) {
			got += map[bool]string{true: "+", false: "-"}[k]
		}
		if got != c.want {
			t.Errorf("%s: %s, want %s", name, got, c.want)
		}
	}
}

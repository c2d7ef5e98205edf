package control_test

import (
	"fmt"

	"sidelap/control"
)

// The five vertical residuals of the worked example in annex D of ASPRS Edition 1.
func ExampleSummarize() {
	a, err := control.Summarize([]float64{-0.071, 0.010, 0.102, -0.100, 0.087})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("mean %.3f, std %.3f, RMSE %.3f, 95 %% %.3f m\n", a.MeanM, *a.StdM, a.RMSEM, a.Accuracy95M)
	fmt.Printf("true RMSE between %.3f and %.3f m\n", *a.RMSELowM, *a.RMSEHighM)
	// Output:
	// mean 0.006, std 0.091, RMSE 0.081, 95 % 0.160 m
	// true RMSE between 0.051 and 0.200 m
}

func ExamplePassProbability() {
	fmt.Printf("5 points, 25 %% out of class: passes with probability %.2f\n", control.PassProbability(5, 1.25))
	fmt.Printf("30 points: %.2f\n", control.PassProbability(30, 1.25))
	// Output:
	// 5 points, 25 % out of class: passes with probability 0.33
	// 30 points: 0.06
}

func ExampleParseList() {
	l, err := control.ParseList("list.csv", []byte("Punkt;Rechtswert;Hochwert;Höhe\n0101;512345,12;4500321,10;123,456\n"), control.ListOptions{Unit: "m"})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(l.Columns, l.Delimiter, l.Points[0].ID, l.Points[0].ZM)
	// Output: PENZ semicolon 0101 123.456
}

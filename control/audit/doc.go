// Package audit reads somebody else's table of accuracy figures and says which of them contradict
// each other.
//
// It knows arithmetic, not the data: RMSE cannot be smaller than the mean, RMSE^2 is mean^2 + s^2 (n-1)/n,
// 95 % is 1.96 RMSE, feet times their factor are metres, a verdict follows from figure and limit. All tests
// allow for the rounding that the figures are printed with. A table without a contradiction is not thereby right.
package audit

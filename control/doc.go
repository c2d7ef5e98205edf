// Package control compares a point cloud with surveyed points: it reads point lists,
// keeps the returns near each point while the cloud is read once, finds the height of the
// cloud's surface at each point, and computes the accuracy figures of the open standards
// with their uncertainty.
//
// A check point is surveyed and was not used in processing; a control point was used and
// never enters an accuracy figure. dz is the cloud's height minus the surveyed height:
// positive means the cloud lies above the survey. NVA is the accuracy in the open
// (non-vegetated), VVA in vegetation. A class X is named by its limit on RMSE, in metres
// here and in centimetres in print.
//
// Lengths are metres in the cloud's projected CRS; a missing number is NaN in a Point
// and nil in a result. Nothing is dropped in silence: an excluded point keeps its row and
// says why.
//
// Subpackages: control/blunder looks for the dull reasons of a bad figure, control/audit
// checks somebody else's table of figures, control/geoid reads geoid grids. Out of scope: deciding
// limits of a contract (report/limits), drawing (report), and certifying anything: the
// figures are for a person who may sign. docs/check-points.md has definitions and sources.
package control

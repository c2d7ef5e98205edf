// Package blunder looks for the dull reasons of a bad check point figure: a geoid applied twice or not
// at all, feet for metres, swapped columns, a wrong zone, an antenna height left out, grass taken for
// ground, control used as check.
//
// Every rule predicts the differences that its blunder would leave, and reports what was
// observed, what is left after the prediction is taken away, the share explained, how likely
// a match by chance is, which other rules explain as much, and which measurement would decide. Nothing is ever
// corrected. The rules are numbered B1 to B22 as in docs/blunders.md, where their
// sources stand; tolerances marked "our proposal" there are settings.
//
// dz is cloud minus survey, metres. Not in scope: faults between strips (package adjust).
package blunder

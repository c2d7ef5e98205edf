// Package adjust finds what makes strips disagree and corrects it.
//
// The error model is linear in its parameters, each "used minus true": boresight roll,
// pitch and heading, scan angle scale, range offset, lever arm, time offset of the
// path, and for each strip a height shift, a horizontal shift, a drift of height and of roll
// in time. A parameter displaces a point; on a surface with gradient g the displacement
// shows as an apparent height change up - g . (east, north). One overlap cell gives
// one equation: the change of the later strip minus that of the earlier one.
//
// Diagnose fits nested models of these parameters, keeps the smallest one whose error on
// held-out blocks of ground is within one standard error of the best, and names causes
// with standard deviations from clusters of ground, with what they explain, and with the rivals
// that these data cannot tell apart.
//
// Angles are radians, lengths metres, times seconds; degrees exist in reports only.
// The formulas, with their sources, are in docs/diagnosis.md.
//
// Not in scope: finding strips and overlap cells (package overlap), reading paths (package
// trajectory), comparing with check points (package control).
package adjust

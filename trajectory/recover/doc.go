// Package recover finds the path of the scanner from the points alone.
//
// Two things in a cloud tell where the scanner was. Returns of one pulse share a GPS
// time and lie on one line, which leads to the scanner (a ray). And the scan angle
// with the time tells, for a line scanner, how far to the side of the nadir a return
// lies, and with that how high the scanner was. The package gathers a bounded number
// of pulses for each source and short time bin while the points are read once
// (Collector), and then fits one smooth path to both kinds of evidence (Recover).
//
// Vocabulary: a pulse is all returns with one GPS time of one source and channel; a
// ray is the line through its first and last return; a leg is a run of time without
// a gap; a level says what the path of a leg rests on:
//
//	a  rays: position along and across, and height, within metres or better
//	b  scan angles and time: height and across position; along the flight only as
//	   well as the pitch is known
//	d  points near nadir: where the line was flown, but not how high
//	e  nothing: strips can only be compared with each other
//
// Heading from the scan lines (c) comes with a and b where the scanner sweeps lines.
//
// Lengths are metres in the grid of the cloud, times the GPS seconds stored in it,
// angles radians. docs/path-from-points.md has formulas, assumptions and limits.
//
// Sources: Gatziolis and McGaughey 2019, Remote Sens. 11, 2258 (abstract: rays on
// both sides, cubic spline, errors of seldom more than a few metres); C. F. F. Karney's
// published notes on the estimation of a trajectory from multiple returns (one least
// squares with a spline, widest pulse for each interval, jumps of acceleration pulled
// to zero); P. Hartzell 2020, notes on trajectories from scan angles.
//
// Not in scope: attitude within a leg (roll is inside the LAS scan angle, pitch is
// one number for a leg), splitting the cloud into strips, and path files.
package recover

// Package simulate flies invented lidar surveys whose truth is known.
//
// A Scenario names a site, its terrain, a flight plan, a scanner, a motion and
// a list of faults. Fly lays the terrain out, flies the plan and keeps two
// paths: the true one, from which the pulses leave, and the processed ("used")
// one, with which the points are computed. Both go through the direct
// georeferencing equation
//
//	X(t) = P(t) + M C(roll, pitch, heading) [ a + B s ]
//
// with P the trajectory reference point in the map grid, C body to local level
// (roll, then pitch, then heading), M North-East-Down to East-North-Up, a the
// lever arm, B the boresight and s = range (0, sin angle, cos angle) the
// beam in scanner axes (x forward, y right, z down). Every fault is "used minus
// true". The points then stream as las.Chunk columns, or go to files.
//
// Everything follows from Scenario.Seed: the same scenario gives the same
// points, in any order of reading and with any number of goroutines.
//
// Lengths are metres in the grid of an invented site, times GPS seconds of
// week inside and as the scenario asks in the cloud. Angles are degrees in a
// Scenario, as a flight plan states them, and radians everywhere else.
//
// Not in scope: the physics of a receiver (waveforms, saturation), GNSS and
// inertial processing (its results are modelled as errors of the path), and
// any particular instrument. docs/simulator.md has the models and their limits.
package simulate

// Package trajectory reads where the sensor was: path files of the
// post-processing, their accuracy companions, and delimited text; brings them
// into the grid and the time base of a cloud; and finds in the motion what the
// pilot did.
//
// # Words
//
// A track is a path file as it was read: its own coordinates (geodetic or
// grid), its own time, with what was decided about it and on what evidence
// (Read, Track). A path is what the rest of sidelap uses: metres in the
// cloud's grid, the cloud's time, heading from grid north (Track.ToPath, Path).
// An event is a stretch of time with one kind of motion: still, take-off,
// straight run, figure-eight, strip, turn, landing (FindEvents).
//
// # Frames and signs
//
// Body axes are forward, right, down. Roll is positive right wing down, pitch
// positive nose up, heading clockwise from north; a body vector is turned by
// Rz(heading) Ry(pitch) Rx(roll) into north, east, down. Angles are radians,
// lengths metres, times seconds.
//
// # Not in scope
//
// No satellite positioning is computed: a path file is read, never made from
// raw observations. Package trajectory/rinex reads when the base station
// logged and what it saw; trajectory/recover finds a path from the points;
// trajectory/fieldcheck holds the checks before leaving the site.
//
// docs/trajectory.md has the column conventions and how each is decided.
package trajectory

// Package overlap measures how flight strips lie on each other, and what they
// cover.
//
// A strip is the set of points of one pass of the aircraft. A facet is the plane
// fitted to one strip's last returns in one cell of a grid. A pair is two strips
// with facets in common cells, its separation the height of the later strip over
// the earlier one in a cell, plane against plane at a place both of them support.
//
// The points are read once. An Accumulator keeps, for each source (file, point
// source ID, scanner channel), time segment and cell, sums as integers in
// fixed-point units; so accumulators merge exactly and the result has the same
// bits for any order of points, files and workers. Survey then decides which
// segments make a strip, and everything after it works on facets:
//
//	Accumulator -> Survey -> Pairs          separation, horizontal shift, regions
//	                      -> Repeatability  within one strip, on smooth surfaces
//	                      -> Coverage       density, distribution, voids
//
// Lengths are metres in the file's projected CRS, times GPS seconds as stored,
// angles radians, headings clockwise from grid north. Cells that are too steep,
// too rough or too thin for a vertical difference are flagged, never dropped in
// silence. NaN means "not known"; it never stands for zero.
//
// Not in scope: the causes of a separation (package adjust), the path of the
// sensor (trajectory), check points (control), and any drawing or file
// (report). docs/overlap.md has the definitions, the formulas and the sections
// of the standards they come from.
package overlap

// Package crs reads and writes the coordinate reference system of a point cloud.
//
// A LAS file states its system as GeoTIFF keys or as WKT (WKT 1, the dialect of
// it without AUTHORITY nodes, WKT 2). This package turns either into a CRS: what
// kind of coordinates they are, the horizontal and the vertical unit, EPSG codes,
// vertical datum and geoid model where stated, and the parameters of the map
// projection. What is missing, contradicts itself or had to be assumed is said in
// CRS.Notes: units decide every distance, so none is guessed in silence.
//
// Vocabulary: the horizontal part is the projected, geographic or local system of
// x and y; the vertical part is that of z. A unit is stated when the file names it,
// directly or by an EPSG code that implies it, and assumed otherwise.
//
// An embedded table holds every projected, vertical, compound and geodetic CRS of
// the EPSG Geodetic Parameter Dataset (version from TableVersion), taken from the
// database of a PROJ installation by internal/gen.
//
// Sources: ASPRS LAS 1.4 R15 and 1.5 (section on georeferencing), GeoTIFF 1.0 and
// OGC GeoTIFF 1.1 (19-008r4), OGC 01-009 (WKT 1), OGC 18-010r7 (WKT 2), EPSG
// Guidance Note 7-2 (method and parameter codes).
//
// Not in scope: transformations between datums, geoid grids, time-dependent
// coordinates, and the projection formulas (see trajectory/geodesy).
package crs

//go:generate go run ./internal/gen -out epsg.tsv.gz

// Package report holds the results record of an assessment and everything that
// is rendered from it: results.json, tables, GeoTIFF rasters, the map of
// vectors, report.html and report.pdf.
//
// The rule of the package: every number shown anywhere is a field of Record,
// printed by one of the formatting functions of this package. Nothing is
// computed while rendering except units, rounding and positions on a page.
//
// Vocabulary: a Record is one assessment; Layers are the rasters, outlines,
// histograms and profiles that are too large for the record; a folder is what
// Render writes (results.json, report.html, report.pdf, tables, rasters,
// map.gpkg).
//
// Units: the keys of the record carry their unit (_m, _m2, _deg, _pct, _s,
// _mps, _per_m2). Lengths are metres in the projected CRS of the cloud, whatever
// the units of the files; feet appear when rendering, beside the metres, when
// the cloud is in feet. A value that was not determined is null, never zero.
//
// Not in scope: reading points, computing statistics, judging (report/limits
// judges), and certifying: a report of this package is never a certificate.
package report

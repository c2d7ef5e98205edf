// Package limits holds the limits that an assessment is judged against, and
// judges.
//
// A Set is a list of limits with their sources. Built in are the sets of the open standards, ASPRS
// Positional Accuracy Standards (Edition 1 and 2, any class) and the USGS Lidar
// Base Specification (QL0 to QL3); a contract's own limits are read from a TOML
// file. Judge compares a results record with a set.
//
// Rules: values are compared unrounded; a value equal to its limit passes; a
// criterion without data is not judged, never passed; what a standard only asks
// to report has no verdict.
//
// Lengths are metres, shares per cent, densities per square metre. Not in
// scope: computing the values (control and overlap do), printing (report).
// docs/limits.md has the table of criteria and the sources.
package limits

// Package las reads and writes point clouds in the LAS format, versions 1.0 to 1.5, and its
// compressed form LAZ.
//
// A file is opened with Open, which reads the header, the variable length records, the coordinate
// reference system and, for LAZ, the table of chunks, but no points. Points come as columns
// (Chunk) that are reused from chunk to chunk; the caller names the columns that it needs
// (Columns). Coordinates stay the integers that the file stores; a Frame turns them into metres,
// with the units of the file's coordinate reference system.
//
// A span is a run of consecutive points; spans can be read at the same time by several goroutines.
// A record is the stored bytes of one point. A chunk of the LAZ format is a run of points that
// can be decompressed alone; a Chunk of this package is a piece of it.
//
// Sizes and counts in a header are claims: nothing is allocated by them, and Header.Points counts
// the points that are there. What is odd but readable becomes a warning; what is damaged becomes a
// *FormatError that names the place, after the good points before it.
//
// Times are as stored, in seconds; AuditTime says what they count from. Scan angles are in steps of
// ScanAngleStepDeg for all point formats.
//
// Not in scope: strips, which package overlap forms; waveforms, whose packets are only carried
// along; reprojection.
//
// docs/las-reading.md has the rules, their reasons and their sources.
package las

// Package rinex reads when a base station logged and what it saw: RINEX
// observation files of versions 2, 3 and 4, plain, compact (Hatanaka), and in
// gzip, bzip2, zip or .Z wrappings.
//
// An epoch is one instant of observations; its step is the time to the next;
// the interval is the step met most often; a gap is a step of more than 1.5
// intervals. All of these come from the epochs. What the header claims about
// interval, first and last observation is kept apart (Header) and judged
// nowhere, for it is often wrong.
//
// Times are seconds of GPS time since 1980-01-06; files in GLONASS time, UTC
// or BeiDou time are brought there.
//
// Observations are looked at only for being there: which satellites, on how
// many frequencies. No position is computed.
//
// Sources: RINEX 2.11 (Gurtner and Estey, 2007), RINEX 3.02 (IGS/RTCM-SC104,
// 2013), columns partly from memory and checked on open files; compact RINEX
// from the published description of its inventor, from memory, checked by
// pairs of compact and plain files that must be equal.
package rinex

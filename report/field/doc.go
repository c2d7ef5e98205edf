// Package field runs the check before leaving the site: it reads the files that the crew has, asks
// package trajectory/fieldcheck, and renders the answer for people who stand in the sun.
//
// Run takes a path, base logs, a raw or quick cloud, a plan and check points, each of them optional, and
// returns a Report: the verdict (go, caution, refly, not judged), the checks, the strips to repeat, what
// the pilot did, and the record of it all. WriteText, WriteHTML, WriteJSON and WriteFolder render it.
//
// Times inside a fieldcheck.Report made here are seconds since the recording began; Report.GPSSeconds and
// Report.Clock bring them back. A cloud file that is damaged or cut short is no error: it is read as far as
// it is sound, and is a finding.
//
// Not in scope: what is judged and against which number (trajectory/fieldcheck); the assessment of the
// processed cloud (report/assess). Nothing here plans a flight: the list repeats strips as they were flown.
package field

// Package fieldcheck answers one question before the crew leaves the site: is
// anything missing that can only be mended by flying again?
//
// Run takes whatever is there (a path, a base log, strips of a raw or quick
// cloud, a plan, the coverage) and returns checks, each go, caution, refly or
// not judged, an overall verdict, and the list of strips or stretches to
// repeat. What is missing is not judged, and a verdict that rests on missing
// inputs is never go.
//
// The list repeats strips as they were flown. It plans nothing new and says
// nothing on heights, speeds, weather or airspace: whether and how to fly is
// for the pilot and the rules of the place. No statement on laser safety is made.
//
// Positions are metres in the grid of the path and the cloud, times seconds of
// the cloud. Angles are radians inside, degrees in Check.Value. Nothing is
// printed here. docs/field-checks.md lists every check with its default, and
// whether it comes from a source, from common practice or is a proposal.
package fieldcheck

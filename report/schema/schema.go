// Package schema holds the JSON Schema of the results record (results.json).
//
// The schema is made from the Go types of package report by its test, with
// go test ./report -run Schema -update; the test fails when the two differ.
package schema

import _ "embed"

// ID is the identifier of the schema.
const ID = "urn:sidelap:results:1"

// Results is the JSON Schema (draft 2020-12) of results.json.
//
//go:embed results.schema.json
var Results []byte

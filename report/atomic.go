package report

import (
	"io"

	"sidelap/las/disk"
)

// writeAtomic writes a file under a temporary name beside path and renames it
// when write and the flush to disk succeeded. Nothing is left behind otherwise.
func writeAtomic(path string, write func(io.Writer) error) error { return disk.Write(path, write) }

package las

import "sidelap/las/disk"

// outFile is a file under a temporary name beside its final one.
type outFile struct {
	*disk.File
	path string
}

// newOutFile creates the temporary file. It refuses to replace an existing file unless told to.
func newOutFile(path string, overwrite bool) (*outFile, error) {
	f, err := disk.Create(path, overwrite)
	if err != nil {
		return nil, err
	}
	return &outFile{f, path}, nil
}

// commit writes the file through to the disk and gives it its name.
func (o *outFile) commit() error { return o.Commit() }

// abort removes the file.
func (o *outFile) abort() error { return o.Abort() }

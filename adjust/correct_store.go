package adjust

import (
	"errors"
	"fmt"

	"sidelap/trajectory"
)

// WritePath stores the path that a correction rests on, to the last bit, so that the correction can be applied to other copies of the flight. The file has the
// form of an undo file without points.
func WritePath(file string, p *trajectory.Path) error {
	u := undoFile{Version: CorrectionVersion, Correction: &Correction{Version: CorrectionVersion}, HorizontalM: 1, VerticalM: 1, path: p}
	return u.write(file, false)
}

// ReadPath reads what WritePath wrote.
func ReadPath(file string) (*trajectory.Path, error) {
	u, err := readUndo(file)
	if err != nil {
		return nil, err
	}
	if u.path == nil {
		return nil, fmt.Errorf("%s: %w", file, errors.New("no path in it"))
	}
	return u.path, nil
}

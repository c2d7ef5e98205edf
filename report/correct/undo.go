package correct

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"sidelap/adjust"
	"sidelap/las/disk"
	"sidelap/report"
	"sidelap/report/assess"
)

// UndoFolder gives every corrected file below a folder its old coordinates back, to the last digit, into a new folder. progress may be nil.
func UndoFolder(ctx context.Context, in, out string, workers int, progress func(assess.Progress)) (res *AgainResult, err error) {
	if list, err := os.ReadDir(out); err == nil && len(list) > 0 {
		return nil, fmt.Errorf("%s: %w; name another folder", out, report.ErrExists)
	} else if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	paths, err := assess.Expand([]string{in})
	if err != nil {
		return nil, err
	}
	if err := noneBelow(out, paths); err != nil {
		return nil, err
	}
	folder, err := disk.NewFolder(out, "cloud", "before")
	if err != nil {
		return nil, err
	}
	defer func() {
		err = folder.Named(err, out)
		folder.Close()
	}()
	res = &AgainResult{}
	var done int64
	for i, p := range paths {
		name, err := filepath.Rel(in, p)
		if err != nil {
			return nil, err
		}
		to := filepath.Join(folder.Path, name)
		if err := os.MkdirAll(filepath.Dir(to), 0o777); err != nil {
			return nil, err
		}
		x, err := adjust.UndoFile(ctx, p, to, adjust.ApplyOptions{Workers: workers, Progress: func(n int64) {
			if done += n; progress != nil {
				progress(assess.Progress{Stage: fmt.Sprintf("undo %d of %d", i+1, len(paths)), Done: done})
			}
		}})
		if err != nil {
			return nil, err
		}
		row := rowOf(p, name, x)
		row.Undo = ""
		res.Files = append(res.Files, row)
	}
	return res, folder.Replace()
}

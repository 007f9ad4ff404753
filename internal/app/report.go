package app

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"

	"finwright/internal/compare"
	"finwright/internal/device"
	"finwright/internal/report"
)

// cautionsOf chooses the cautions that go with a study.
func cautionsOf(f *device.File, st *compare.Study) []string {
	w := report.Work{Cell: f.Battery != nil && f.Battery.Part != "", Opened: len(f.Retrofits) > 0, SkinC: math.NaN()}
	for i := range f.Retrofits {
		for k := range f.Retrofits[i].Changes {
			c := &f.Retrofits[i].Changes[k]
			w.Glue = w.Glue || len(c.Rejoin) > 0 || c.Remove != ""
			w.Cutting = w.Cutting || c.Face != nil || len(c.Add) > 0
			w.Outside = w.Outside || len(c.Add) > 0 || len(c.Replace) > 0
		}
	}
	for i := range st.Rows {
		if r := st.Rows[i].Result; r != nil {
			if t := r.Hottest.HighestK - 273.15; !(t <= w.SkinC) {
				w.SkinC = t
			}
		}
	}
	return report.Cautions(w)
}

// pageStart is how every page begins. A file that begins otherwise is not a page, and is not replaced by one.
const pageStart = "<!doctype html>"

// PageFits says whether a page can be written to path: its folder is there, and so far there is nothing of that name, or an
// older page.
func PageFits(path string) error {
	if err := folderOf(path); err != nil {
		return err
	}
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	defer f.Close()
	head := make([]byte, len(pageStart))
	if _, err := io.ReadFull(f, head); err != nil || !strings.EqualFold(string(head), pageStart) {
		return fmt.Errorf("%s is there already and is not a page: it is left as it is; choose another name for the page", path)
	}
	return nil
}

// WriteReport writes a study as one self-contained page to path: whole, or not at all.
func WriteReport(path string, st *compare.Study) error {
	if err := PageFits(path); err != nil {
		return err
	}
	var page bytes.Buffer
	if err := report.HTML(&page, st); err != nil {
		return err
	}
	return WriteWhole(path, page.Bytes(), true)
}

// ErrExists is returned when a file would be overwritten that should not be.
var ErrExists = errors.New("there is a file or folder of that name already")

// WriteWhole writes a file through a temporary one beside it, so that a reader never sees half a file and a full disk never
// costs the old one. overwrite false refuses to replace anything. With overwrite true an old file keeps its permissions, a
// link stays a link and what it leads to is replaced; what is write-protected or no plain file is left alone.
func WriteWhole(path string, data []byte, overwrite bool) error {
	target, perm := path, fs.FileMode(0)
	if _, err := os.Lstat(path); err == nil {
		if !overwrite {
			return fmt.Errorf("%s: %w", path, ErrExists)
		}
		if target, err = filepath.EvalSymlinks(path); err != nil {
			return fmt.Errorf("%s is a link that leads nowhere: it is left as it is", path)
		}
		info, err := os.Stat(target)
		switch {
		case err != nil:
			return err
		case !info.Mode().IsRegular():
			return fmt.Errorf("%s is not a plain file: it is left as it is", path)
		case info.Mode().Perm()&0o200 == 0:
			return fmt.Errorf("%s is write-protected: it is left as it is", path)
		}
		perm = info.Mode().Perm()
	}
	if err := folderOf(target); err != nil {
		return err
	}
	tmp, err := besides(target)
	if err != nil {
		return fmt.Errorf("%s cannot be written: %w", path, err)
	}
	_, err = tmp.Write(data)
	if err == nil && perm != 0 {
		err = tmp.Chmod(perm)
	}
	if err == nil {
		err = tmp.Sync()
	}
	if cerr := tmp.Close(); err == nil {
		err = cerr
	}
	if err == nil {
		err = os.Rename(tmp.Name(), target)
	}
	if err != nil {
		os.Remove(tmp.Name())
		return fmt.Errorf("%s cannot be written: %w", path, err)
	}
	return nil
}

// folderOf says whether the folder that path lies in is there.
func folderOf(path string) error {
	dir := filepath.Dir(path)
	if info, err := os.Stat(dir); err != nil || !info.IsDir() {
		return fmt.Errorf("%s cannot be written: there is no folder %s", path, dir)
	}
	return nil
}

// besides opens a new temporary file in the folder of path, with the permissions the user gives to new files (os.CreateTemp
// would hide it from everybody else).
func besides(path string) (*os.File, error) {
	for n := 0; ; n++ {
		f, err := os.OpenFile(filepath.Join(filepath.Dir(path), fmt.Sprintf(".finwright-%d-%d.tmp", os.Getpid(), n)), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
		if !errors.Is(err, fs.ErrExist) || n >= 100 {
			return f, err
		}
	}
}

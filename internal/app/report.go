package app

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"

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

// WriteReport writes a study as one self-contained page to path: whole, or not at all.
func WriteReport(path string, st *compare.Study) error {
	var page bytes.Buffer
	if err := report.HTML(&page, st); err != nil {
		return err
	}
	return WriteWhole(path, page.Bytes(), true)
}

// ErrExists is returned when a file would be overwritten that should not be.
var ErrExists = errors.New("there is a file of that name already")

// WriteWhole writes a file through a temporary one beside it, so that a reader never sees half a file and a full disk never
// costs the old one. overwrite false refuses to replace.
func WriteWhole(path string, data []byte, overwrite bool) (err error) {
	if !overwrite {
		if _, err := os.Lstat(path); err == nil {
			return fmt.Errorf("%s: %w", path, ErrExists)
		}
	}
	tmp, err := os.CreateTemp(filepath.Dir(path), ".finwright-*")
	if err != nil {
		return fmt.Errorf("%s: cannot write beside it: %w", path, err)
	}
	defer func() {
		if err != nil {
			tmp.Close()
			os.Remove(tmp.Name())
		}
	}()
	if _, err = tmp.Write(data); err != nil {
		return err
	}
	if err = tmp.Chmod(0o644); err != nil {
		return err
	}
	if err = tmp.Sync(); err != nil {
		return err
	}
	if err = tmp.Close(); err != nil {
		return err
	}
	if err = os.Rename(tmp.Name(), path); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return nil
}

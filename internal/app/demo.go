package app

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"

	"finwright/demo"
)

// DemoOptions say which demo to unpack, and where.
type DemoOptions struct {
	Folder string
	Which  int // counted from 1
	Seed   uint64
}

// Demo is an unpacked demo.
type Demo struct{ File string }

// UnpackDemo writes the files of one invented device to a folder, so that its user can read and change them. A file that is
// there already and differs is left as it is, and that is said; then nothing is written.
func UnpackDemo(opt DemoOptions) (*Demo, error) {
	if opt.Which < 1 || opt.Which > len(demo.Devices) {
		return nil, fmt.Errorf("there are %d invented devices: --device is a number from 1 to %d", len(demo.Devices), len(demo.Devices))
	}
	main := demo.Devices[opt.Which-1]
	dir := path.Dir(main)
	var missing []string // files of the demo that are not there yet
	err := fs.WalkDir(demo.Files, dir, func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			return nil
		}
		to := filepath.Join(opt.Folder, filepath.FromSlash(p))
		data, err := demo.Files.ReadFile(p)
		if err != nil {
			return err
		}
		old, err := os.ReadFile(to)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			missing = append(missing, p)
		case err != nil:
			return err
		case !bytes.Equal(old, data):
			return fmt.Errorf("%s has been changed since it was unpacked: the demo would overwrite it. Run it as your own file (finwright compare %s), or give --to another folder", to, to)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	for _, p := range missing {
		to := filepath.Join(opt.Folder, filepath.FromSlash(p))
		data, err := demo.Files.ReadFile(p)
		if err != nil {
			return nil, err
		}
		if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
			return nil, err
		}
		if err := WriteWhole(to, data, false); err != nil {
			return nil, err
		}
	}
	return &Demo{File: filepath.Join(opt.Folder, filepath.FromSlash(main))}, nil
}

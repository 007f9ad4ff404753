package app

import (
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
// there already and differs is left as it is, and that is said.
func UnpackDemo(opt DemoOptions) (*Demo, error) {
	if opt.Which < 1 || opt.Which > len(demo.Devices) {
		return nil, fmt.Errorf("there are %d invented devices: --device is a number from 1 to %d", len(demo.Devices), len(demo.Devices))
	}
	main := demo.Devices[opt.Which-1]
	dir := path.Dir(main)
	err := fs.WalkDir(demo.Files, dir, func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		to := filepath.Join(opt.Folder, filepath.FromSlash(p))
		if d.IsDir() {
			return os.MkdirAll(to, 0o755)
		}
		data, err := demo.Files.ReadFile(p)
		if err != nil {
			return err
		}
		if old, err := os.ReadFile(to); err == nil {
			if string(old) == string(data) {
				return nil
			}
			return fmt.Errorf("%s has been changed since it was unpacked: the demo would overwrite it. Run it as your own file (finwright compare %s), or give --to another folder", to, to)
		}
		return WriteWhole(to, data, false)
	})
	if err != nil {
		return nil, err
	}
	return &Demo{File: filepath.Join(opt.Folder, filepath.FromSlash(main))}, nil
}

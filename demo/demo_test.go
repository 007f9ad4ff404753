package demo_test

import (
	"bytes"
	"io/fs"
	"path"
	"testing"

	"finwright/demo"
	"finwright/internal/benchlog"
	"finwright/internal/device"
)

// Every device file is sound, retrofits included, is marked as invented, and finds its logs' columns inside the program.
func TestDeviceFilesAreSound(t *testing.T) {
	for _, name := range demo.Devices {
		t.Run(path.Dir(name), func(t *testing.T) {
			text, err := fs.ReadFile(demo.Files, name)
			if err != nil {
				t.Fatal(err)
			}
			f, err := device.Parse(name, text)
			if err != nil {
				t.Fatal(err)
			}
			if !f.Invented {
				t.Error("the file does not say invented: true")
			}
			if len(f.Warnings) > 0 {
				t.Errorf("warnings:\n%v", f.Warnings)
			}
			if c := f.Contradictions(); len(c) > 0 {
				t.Errorf("the figures contradict each other: %v", c)
			}
			if len(f.Retrofits) < 5 {
				t.Errorf("%d retrofits, want at least five", len(f.Retrofits))
			}
			logged := false
			for i := range f.Runs {
				r := &f.Runs[i]
				if r.Log == "" {
					continue
				}
				logged = true
				at := path.Join(path.Dir(name), r.Log)
				data, err := fs.ReadFile(demo.Files, at)
				if err != nil {
					t.Fatal(err)
				}
				if !bytes.HasPrefix(data, []byte("# Invented data")) {
					t.Errorf("%s does not begin by saying that it is invented", at)
				}
				l, err := benchlog.Read(at, bytes.NewReader(data))
				if err != nil {
					t.Fatal(err)
				}
				for _, ch := range r.Channels {
					if n := len(l.Traces[ch.Name].TimeS); n < 60 {
						t.Errorf("%s: column %q has %d readings", at, ch.Name, n)
					}
				}
			}
			if !logged {
				t.Error("no stock run has a log")
			}
		})
	}
}

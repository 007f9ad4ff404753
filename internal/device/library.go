package device

import (
	"fmt"
	"strings"

	"finwright/internal/joint"
	"finwright/internal/material"
	"finwright/internal/unit"
)

// What the library knows by name. These are the only places where the file meets it.

func (f *File) knowsMaterial(name string) bool {
	for i := range f.Materials {
		if f.Materials[i].Name == name {
			return true
		}
	}
	_, ok := material.Lookup(name)
	return ok
}

func (f *File) knowsFinish(name string) bool {
	for i := range f.Finishes {
		if f.Finishes[i].Name == name {
			return true
		}
	}
	_, ok := material.LookupFinish(name)
	return ok
}

func (f *File) materialNames() []string {
	var names []string
	for i := range f.Materials {
		names = append(names, f.Materials[i].Name)
	}
	return append(names, material.Names()...)
}

func (f *File) finishNames() []string {
	var names []string
	for i := range f.Finishes {
		names = append(names, f.Finishes[i].Name)
	}
	return append(names, material.FinishNames()...)
}

func jointKinds() []string {
	var names []string
	for _, r := range joint.Ranges() {
		names = append(names, string(r.Kind))
	}
	return names
}

// orNearest words what to write instead of a name that is not known: the nearest, or else all.
func orNearest(name string, among []string, then string) string {
	if near := unit.Nearest(name, among); near != "" {
		return fmt.Sprintf("did you mean %q?", near)
	}
	if len(among) > 40 {
		among = append(among[:40:40], "…")
	}
	return strings.TrimSuffix("known: "+strings.Join(among, ", ")+"; "+then, "; ")
}

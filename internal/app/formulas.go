package app

import (
	"os"
	"path/filepath"

	"finwright/internal/relation"
	"finwright/proofs"
)

// formulas evaluates the tables of published figures that belong to a folder of cases: those in its folder relations, or those in it
// when it is that folder itself (only: then it holds no device files). "" are those that come with the program.
func formulas(folder string) (cases []relation.Case, only bool, err error) {
	if folder == "" {
		cases, err = relation.All(proofs.Files, "proofs")
		return cases, false, err
	}
	info, err := os.Stat(folder)
	if err != nil || !info.IsDir() {
		return nil, false, nil // a device file, or nothing: the reader of devices says so
	}
	if filepath.Base(folder) == relation.Folder {
		folder, only = filepath.Dir(filepath.Clean(folder)), true
	}
	cases, err = relation.All(os.DirFS(folder), filepath.ToSlash(folder))
	return cases, only && len(cases) > 0, err
}

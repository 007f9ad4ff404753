// Package internal_test keeps the floor plan: imports point one way, and the physics knows no file, screen or command.
package internal_test

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// level of each package; a package may import only packages of a lower level. ARCHITECTURE.md shows the same plan.
var level = map[string]int{
	"internal/unit": 0, "internal/cite": 0, "internal/infer": 0, "internal/work": 0,
	"internal/linsolve": 1, "internal/part": 1, "internal/material": 1, "internal/surface": 1, "internal/joint": 1, "internal/benchlog": 1,
	"internal/radiate": 1, "internal/thermocouple": 1, "internal/curve": 1, "internal/follow": 1,
	"internal/grid": 2, "internal/device": 2, "internal/heat": 2,
	"internal/skin": 3, "internal/reduce": 3,
	"internal/ray":   3,
	"internal/model": 4, "internal/relation": 4,
	"internal/session": 5,
	"internal/learn":   6, "internal/prove": 6, "internal/forecast": 6,
	"internal/standin": 6,
	"internal/compare": 7, "internal/benchtest": 7, "internal/advise": 7,
	"internal/report": 8,
	"internal/app":    9,
	"internal/cli":    10,
	"cmd/finwright":   11,
	"proofs":          0, "demo": 0,
}

// pure packages may not touch files, clocks, the network or the terminal.
var pure = []string{"unit", "cite", "thermocouple", "curve", "linsolve", "infer", "part", "material", "surface", "joint", "grid", "heat", "radiate", "ray", "skin", "reduce", "model", "session", "learn", "forecast", "standin", "advise", "compare", "benchtest", "prove", "relation", "report"}

var forbidden = []string{"os", "os/exec", "net", "net/http", "time", "log", "flag", "syscall", "math/rand"}

func TestImportsPointDown(t *testing.T) {
	seen := 0
	err := filepath.WalkDir("..", func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (d.Name() == ".git" || d.Name() == "testdata" || d.Name() == "node_modules") {
			return fs.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return nil
		}
		pkg := strings.TrimPrefix(filepath.ToSlash(filepath.Dir(path)), "../")
		own, known := level[pkg]
		if strings.HasPrefix(pkg, "bench/") {
			return nil // programs that measure: they may look anywhere, and nothing imports them
		}
		if !known {
			if pkg == "demo/generate" {
				return nil // a program of its own, checked below
			}
			t.Errorf("%s: package %s has no level in the floor plan", path, pkg)
			return nil
		}
		f, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		for _, imp := range f.Imports {
			name := strings.Trim(imp.Path.Value, `"`)
			if in, ok := strings.CutPrefix(name, "finwright/"); ok {
				seen++
				if l, ok := level[in]; !ok || l >= own {
					t.Errorf("%s (level %d) imports %s (level %d): imports point down only", path, own, in, l)
				}
			}
			for _, p := range pure {
				if pkg != "internal/"+p {
					continue
				}
				for _, no := range forbidden {
					if name == no {
						t.Errorf("%s imports %s: %s knows no file, clock, network or screen", path, name, pkg)
					}
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if seen < 20 {
		t.Fatalf("only %d imports looked at: the walk is broken", seen)
	}
}

// The generator of the invented logs must not use the program it is there to test.
func TestGeneratorIsSeparate(t *testing.T) {
	files, err := filepath.Glob("../demo/generate/*.go")
	if err != nil || len(files) == 0 {
		t.Fatalf("no generator found: %v", err)
	}
	for _, path := range files {
		src, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.HasSuffix(path, "_test.go") && strings.Contains(string(src), `"finwright/`) {
			t.Errorf("%s imports finwright", path)
		}
	}
}

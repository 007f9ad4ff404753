package relation

import (
	"fmt"
	"io/fs"
	"math"
	"path"
	"strings"

	"finwright/internal/device"
)

// Case is one published figure and ours.
type Case struct {
	ID        string
	File      string
	Title     string // of the file
	Relation  string
	Formula   string
	What      string // "Nu for Ra 1e5"
	Given     string // what holds for the whole table: "Pr 0.71"
	Source    string // the published work the figure stands in
	Status    string // published, published companion, recomputed, from memory
	Note      string // that the formula is used outside its published range, or ""
	Value     float64
	Target    float64
	Tolerance float64
	Unit      string
	Pass      bool
}

// Folder is where All looks for tables.
const Folder = "relations"

// All evaluates every file of the folder relations of a file system, in the order of their names. root goes before the names
// in cases and messages. Without such a folder there are no cases.
func All(fsys fs.FS, root string) ([]Case, error) {
	names, err := fs.Glob(fsys, Folder+"/*.yaml")
	if err != nil {
		return nil, err
	}
	var out []Case
	for _, name := range names {
		data, err := fs.ReadFile(fsys, name)
		if err != nil {
			return nil, fmt.Errorf("%s: the file cannot be read: %w", path.Join(root, name), err)
		}
		cases, err := Cases(path.Join(root, name), data)
		if err != nil {
			return nil, err
		}
		out = append(out, cases...)
	}
	return out, nil
}

// Cases reads one file of tables and evaluates it. name is for messages. An error is about the file and is device.Problems; a
// figure that ours misses is not an error.
func Cases(name string, data []byte) ([]Case, error) {
	title, tables, err := read(name, data)
	if err != nil {
		return nil, err
	}
	var out []Case
	for i := range tables {
		t := &tables[i]
		for j := range t.points {
			p := &t.points[j]
			value, note := t.relation.at(p.in, p.result.name)
			if math.IsNaN(value) || math.IsInf(value, 0) {
				f := &device.File{Path: name, Text: lines(data)}
				return nil, device.Problems{f.Problem(p.pos, fmt.Sprintf("%s: %s has no figure for these inputs", t.relation.name, p.result.name),
					"inputs: "+strings.Join(names(t.relation.in), ", "), "state what is left out, and check what is there")}
			}
			what := p.result.name
			if len(p.own) > 0 {
				what += " for " + strings.Join(p.own, ", ")
			}
			out = append(out, Case{ID: p.id, File: name, Title: title, Relation: t.relation.name, Formula: t.relation.formula, What: what,
				Given: strings.Join(p.given, ", "), Source: t.source, Status: t.status, Note: note,
				Value: p.scale.from(value), Target: p.scale.from(p.target), Tolerance: p.scale.fromDiff(p.within), Unit: p.scale.unit,
				Pass: math.Abs(value-p.target) <= p.within})
		}
	}
	return out, nil
}

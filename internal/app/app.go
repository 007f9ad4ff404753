// Package app holds the use cases: check, run, learn, compare, prove, report and demo. It is the only place where the parts
// meet; a command and, later, a page in the browser call the same functions here, so they cannot disagree. It opens the files
// it is given and returns results; it prints nothing.
package app

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"finwright/internal/compare"
	"finwright/internal/device"
	"finwright/internal/learn"
	"finwright/internal/model"
	"finwright/internal/prove"
	"finwright/internal/relation"
	"finwright/internal/report"
	"finwright/internal/session"
	"finwright/proofs"
)

// Tell is told how far a task is: done of total, in the task's own counts.
type Tell func(task string, done, total float64)

func (t Tell) say(task string, done, total float64) {
	if t != nil {
		t(task, done, total)
	}
}

// CheckReport is what `check` finds out about a file.
type CheckReport struct {
	File        string
	Device      string
	Invented    bool
	Parts       []CheckedPart
	Joints      []CheckedJoint
	Surfaces    []model.Reading
	SealedAirM3 float64
	Cells       int
	Assumptions []compare.Assumption
	Findings    []string        // what does not fit in the user's own figures
	Warnings    device.Problems // what is odd about the file, but can be worked with
	Retrofits   []CheckedRetrofit
	Logs        []report.LogFigures // how the stock runs' logs were read
}

// CheckedPart is one part as the file and the cells have it.
type CheckedPart struct {
	Name, Material, Finish       string
	VolumeM3, MassKg, CapacityJK float64
	HeatW                        float64
	Note                         string
}

// CheckedJoint is one contact between parts with the conductance that will be used.
type CheckedJoint struct {
	A, B, What string
	AreaM2     float64
	HWm2K      float64
	Resistance float64 // K/W
}

// CheckedRetrofit says whether a retrofit can be built.
type CheckedRetrofit struct {
	Name        string
	MassAddedKg float64
	Notes       []string
	Problem     string // empty when it can be built
}

// Check reads and builds the device and all its retrofits. The error is device.Problems when the file itself is wrong.
func Check(path string) (*CheckReport, error) {
	f, err := device.Load(path)
	if err != nil {
		return nil, err
	}
	shape, err := model.NewShape(f, nil, model.Coarse)
	if err != nil {
		return nil, err
	}
	m, err := shape.At(nil, nil, "")
	if err != nil {
		return nil, err
	}
	if err := session.Ready(m, nil); err != nil {
		return nil, err
	}
	logs, err := openLogs(f)
	if err != nil {
		return nil, err
	}
	rep := &CheckReport{File: path, Device: f.Device, Invented: f.Invented, Cells: m.ActiveCells(), Warnings: f.Warnings, Logs: logs.runs}
	stockKg := 0.0
	for i := range m.Parts {
		p := &m.Parts[i]
		cp := CheckedPart{Name: p.Name, Material: p.Material, Finish: p.Finish, VolumeM3: p.VolumeM3, MassKg: p.MassKg, CapacityJK: p.CapacityJK}
		for _, s := range m.Sources {
			if s.Part == i && !s.Cell {
				cp.HeatW += s.FullW
			}
		}
		if p.LibraryKg > 0 {
			cp.Note = fmt.Sprintf("weighed %.3g g, volume × density %.3g g", p.MassKg*1e3, p.LibraryKg*1e3)
			if r := p.MassKg / p.LibraryKg; r < 0.7 || r > 1.4 {
				rep.Findings = append(rep.Findings, fmt.Sprintf("%s weighs %.3g g, but its volume in %s would weigh %.3g g: check its sizes, or it is hollow or of another material.", p.Name, p.MassKg*1e3, p.Material, p.LibraryKg*1e3))
			}
		}
		stockKg += p.MassKg
		rep.Parts = append(rep.Parts, cp)
	}
	for i := range m.Joints {
		j := &m.Joints[i]
		rep.Joints = append(rep.Joints, CheckedJoint{A: m.BodyName(j.A), B: m.BodyName(j.B), What: j.What, AreaM2: j.AreaM2, HWm2K: j.HWm2K, Resistance: 1 / (j.HWm2K * j.AreaM2)})
	}
	rep.Surfaces = m.Readings()
	rep.SealedAirM3 = m.SealedAirM3()
	rep.Assumptions = compare.Assumptions(f, m)
	for _, c := range f.Contradictions() {
		rep.Findings = append(rep.Findings, c.Text)
	}
	rep.Findings = append(rep.Findings, riseAgainstPower(f, m)...)
	for i := range f.Retrofits {
		r := CheckedRetrofit{Name: f.Retrofits[i].Name}
		v, notes, err := f.Variant(r.Name)
		r.Notes = notes
		if err == nil {
			var vs *model.Shape
			if vs, err = model.NewShape(v, nil, model.Coarse); err == nil {
				var vm *model.Model
				if vm, err = vs.At(nil, nil, ""); err == nil {
					kg := 0.0
					for k := range vm.Parts {
						kg += vm.Parts[k].MassKg
					}
					r.MassAddedKg = kg - stockKg
					err = session.Ready(vm, nil)
				}
			}
		}
		if err != nil {
			r.Problem = err.Error()
		}
		rep.Retrofits = append(rep.Retrofits, r)
	}
	return rep, nil
}

// LearnOptions steer Learn.
type LearnOptions struct {
	Seed  uint64
	Draws int // of what was learned; 0: the learner's own number
}

// Learning is what was learned, and how the logs it was learned from were read.
type Learning struct {
	*learn.Result `json:",inline"`
	Logs          []report.LogFigures
}

// Learn narrows the file's unknowns from its stock runs.
func Learn(ctx context.Context, path string, opt LearnOptions, tell Tell) (*Learning, error) {
	f, err := device.Load(path)
	if err != nil {
		return nil, err
	}
	l, logs, err := learnFile(ctx, f, opt, tell)
	if errors.Is(err, learn.ErrNothing) {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	if l == nil {
		return nil, err
	}
	return &Learning{l, logs.runs}, err
}

// learnFile reads the file's logs and learns from its stock runs.
func learnFile(ctx context.Context, f *device.File, opt LearnOptions, tell Tell) (*learn.Result, *fileLogs, error) {
	logs, err := openLogs(f)
	if err != nil {
		return nil, nil, err
	}
	g, read := logs.forLearning(f)
	l, err := learn.Learn(ctx, g, learn.Options{Seed: opt.Seed, ReadLog: read, Draws: opt.Draws,
		Progress: func(done, expected int) { tell.say("learning", float64(done), float64(expected)) }})
	return l, logs, err
}

// RunOptions steer Run.
type RunOptions struct {
	Retrofit string
	UntilS   float64
	CoolS    float64
	Watch    []string
	Learn    bool // learn from the stock runs first, and run at the most likely values
	Seed     uint64
}

// Run simulates one session of one design at its middle values, or at the learned ones.
func Run(ctx context.Context, path string, opt RunOptions, tell Tell) (*session.Result, error) {
	f, err := device.Load(path)
	if err != nil {
		return nil, err
	}
	v, _, err := f.Variant(opt.Retrofit)
	if err != nil {
		return nil, err
	}
	if err := placesFit(v, opt.Watch); err != nil {
		return nil, err // before learning, not after it
	}
	var values device.Values
	if opt.Learn {
		l, _, err := learnFile(ctx, f, LearnOptions{Seed: opt.Seed}, tell)
		if err != nil {
			return nil, err
		}
		values = l.Best
	}
	shape, err := model.NewShape(v, values, model.Fine)
	if err != nil {
		return nil, err
	}
	m, err := shape.At(values, nil, "")
	if err != nil {
		return nil, err
	}
	name := opt.Retrofit
	if name == "" {
		name = "stock"
	}
	return session.Run(ctx, m, session.Spec{Design: name, Values: values, UntilS: opt.UntilS, CoolS: opt.CoolS, Watch: opt.Watch,
		Progress: func(at, of float64) { tell.say("running "+name, at, of) }})
}

// placesFit says whether a design can be built and has all the places that are to be watched.
func placesFit(f *device.File, places []string) error {
	shape, err := model.NewShape(f, nil, model.Coarse)
	if err != nil {
		return err
	}
	m, err := shape.At(nil, nil, "")
	if err != nil {
		return err
	}
	for _, place := range places {
		if _, err := m.Probe(place); err != nil {
			return fmt.Errorf("%s: the place to watch: %w", f.Path, err)
		}
	}
	return nil
}

// CompareOptions steer Compare.
type CompareOptions struct {
	Only   []string
	UntilS float64
	Draws  int
	Seed   uint64
}

// compareDraws is how many draws a comparison makes.
func compareDraws(asked int) int {
	if asked > 0 {
		return asked
	}
	return 200
}

// learningShare is about how much of a comparison's time goes into learning.
const learningShare = 0.5

// Compare learns from the stock runs, then runs stock and retrofits side by side.
func Compare(ctx context.Context, path string, opt CompareOptions, tell Tell) (*compare.Study, error) {
	f, err := device.Load(path)
	if err != nil {
		return nil, err
	}
	for _, name := range opt.Only {
		if name == "" {
			return nil, fmt.Errorf("%s: the retrofit to compare has no name; stock is compared anyway", path)
		}
		if _, _, err := f.Variant(name); err != nil {
			return nil, err
		}
	}
	// one bar for both halves, so that the time left is that of the whole
	learned, logs, err := learnFile(ctx, f, LearnOptions{opt.Seed, compareDraws(opt.Draws)}, func(task string, done, total float64) { tell.say(task, learningShare*done/total, 1) })
	if err != nil && !errors.Is(err, learn.ErrNothing) {
		return nil, err
	}
	st, err := compare.Compare(ctx, f, learned, compare.Options{Only: opt.Only, UntilS: opt.UntilS, Draws: compareDraws(opt.Draws), Seed: opt.Seed,
		Progress: func(done, expected int, what string) {
			tell.say("comparing: "+what, learningShare+(1-learningShare)*float64(done)/float64(expected), 1)
		}})
	if err != nil {
		return st, err
	}
	for _, c := range f.Contradictions() {
		st.Findings = append(st.Findings, c.Text)
	}
	st.Assumptions = append(st.Assumptions, logs.assumed()...)
	st.Cautions = cautionsOf(f, st)
	return st, nil
}

// Proof is the outcome of proving a folder.
type Proof struct {
	Cases          []prove.Case
	Formulas       []relation.Case
	Passed, Failed int // of both
}

// Prove runs every device file with an expect block in a folder (or one file), and evaluates the tables of formulas in its folder
// relations; "" runs what comes with the program.
func Prove(ctx context.Context, folder string, tell Tell) (*Proof, error) {
	cases, only, err := formulas(folder)
	if err != nil {
		return nil, err
	}
	out := &Proof{Cases: []prove.Case{}, Formulas: cases}
	for _, c := range cases {
		if c.Pass {
			out.Passed++
		} else {
			out.Failed++
		}
	}
	if only {
		return out, nil
	}
	files, err := provingFiles(folder)
	if err != nil {
		return nil, err
	}
	for i, f := range files {
		cases, err := prove.Run(ctx, f, prove.Options{Progress: func(what string) { tell.say(what, float64(i), float64(len(files))) }})
		if err != nil {
			if errors.As(err, new(device.Problems)) {
				return nil, err // they name the file themselves
			}
			return nil, fmt.Errorf("%s: %w", f.Path, err)
		}
		for _, c := range cases {
			if c.Pass {
				out.Passed++
			} else {
				out.Failed++
			}
		}
		out.Cases = append(out.Cases, cases...)
		tell.say(f.Device, float64(i+1), float64(len(files)))
	}
	if len(out.Cases)+len(out.Formulas) == 0 {
		return nil, fmt.Errorf("%s: there is no expect block in it, so there is nothing to prove", folder)
	}
	return out, nil
}

// provingFiles reads the device files of a folder, or one file, or those that come with the program.
func provingFiles(folder string) ([]*device.File, error) {
	var files []*device.File
	if folder == "" {
		names, err := fs.Glob(proofs.Files, "*.yaml")
		if err != nil {
			return nil, err
		}
		for _, name := range names {
			data, err := proofs.Files.ReadFile(name)
			if err != nil {
				return nil, err
			}
			f, err := device.Parse("proofs/"+name, data)
			if err != nil {
				return nil, err
			}
			files = append(files, f)
		}
		return files, nil
	}
	info, err := os.Stat(folder)
	if err != nil {
		return nil, fmt.Errorf("%s: there is no such folder or file", folder)
	}
	paths := []string{folder}
	if info.IsDir() {
		paths = nil
		entries, err := os.ReadDir(folder)
		if err != nil {
			return nil, err
		}
		for _, e := range entries {
			if ext := filepath.Ext(e.Name()); !e.IsDir() && (ext == ".yaml" || ext == ".yml") {
				paths = append(paths, filepath.Join(folder, e.Name()))
			}
		}
	}
	if len(paths) == 0 {
		return nil, fmt.Errorf("%s: there are no device files (*.yaml) in it", folder)
	}
	for _, path := range paths {
		f, err := device.Load(path)
		if err != nil {
			return nil, err
		}
		files = append(files, f)
	}
	return files, nil
}

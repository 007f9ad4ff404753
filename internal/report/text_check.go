package report

import (
	"fmt"
	"math"
	"regexp"
	"strings"

	"finwright/internal/model"
	"finwright/internal/unit"
)

// Title prints what device the following is about.
func (p *Printer) Title(device string, invented bool) error {
	if invented {
		device += "  (invented data)"
	}
	p.line(p.paint(p.say(device), strong))
	return p.err
}

// Err is the first write error, if any.
func (p *Printer) Err() error { return p.err }

// JointFigures is one contact between two parts with the conductance that will be used.
type JointFigures struct {
	A, B, What   string
	AreaM2       float64
	HWm2K        float64
	ResistanceKW float64
}

// Joints prints the contacts between parts.
func (p *Printer) Joints(joints []JointFigures) error {
	p.heading("Joints")
	if len(joints) == 0 {
		p.paragraph("  ", faint, "No two parts touch.")
		return p.err
	}
	var rows [][]cell
	for _, j := range joints {
		rows = append(rows, []cell{c(j.A + " | " + j.B), c(j.What), c(unit.Format(j.AreaM2, unit.Area)), c(unit.Format(j.HWm2K, unit.FilmCoefficient)), c(unit.Format(j.ResistanceKW, unit.Resistance))})
	}
	p.table([]column{{head: "between", least: 16}, {head: "what fills it", least: 14}, {head: "touching", right: true}, {head: "conductance", right: true}, {head: "resistance", right: true}}, rows)
	return p.err
}

// Surfaces prints the outer surfaces as they were read from the geometry.
func (p *Printer) Surfaces(list []model.Reading) error {
	if len(list) == 0 {
		return p.err
	}
	p.heading("Outer surfaces, as read from the parts")
	var rows [][]cell
	for _, s := range list {
		rows = append(rows, []cell{c(s.Name), c(unit.Format(s.AreaM2, unit.Area)), c(s.Lies), {s.Smooth, faint}, c(percent(s.ViewOut))})
	}
	p.table([]column{{head: "surface", least: 12}, {head: "area", right: true}, {head: "lies", least: 8}, {head: "smooth run, or channel", least: 16}, {head: "sees out", right: true}}, rows)
	return p.err
}

// RetrofitFigures says whether a retrofit can be built from the file.
type RetrofitFigures struct {
	Name        string
	MassAddedKg float64
	Notes       []string
	Problem     string
}

// Retrofits prints what is to be tried.
func (p *Printer) Retrofits(list []RetrofitFigures) error {
	if len(list) == 0 {
		return p.err
	}
	p.heading("Retrofits to try")
	for _, r := range list {
		if r.Problem != "" {
			p.paragraph("  ! ", bad, r.Name+" cannot be built:")
			p.quoted("      ", r.Problem)
			continue
		}
		mass := "adds " + Grams(r.MassAddedKg)
		switch {
		case math.Abs(r.MassAddedKg) < 5e-5:
			mass = "adds nothing"
		case r.MassAddedKg < 0:
			mass = "takes " + Grams(-r.MassAddedKg) + " off"
		}
		p.paragraph("  · ", plain, r.Name+": "+mass)
		for _, n := range r.Notes {
			p.paragraph("      ", faint, n)
		}
	}
	return p.err
}

// Odd prints what is odd about a file, but can be worked with.
func (p *Printer) Odd(warnings []string) error {
	if len(warnings) > 0 {
		p.heading("What looks odd in the file")
	}
	for _, w := range warnings {
		p.quoted("  ", w)
	}
	return p.err
}

// excerptLine is a line of the user's file within a message, or the caret under it.
var excerptLine = regexp.MustCompile(`^ *\d* \| `)

// quoted prints a message of several lines, such as a problem with an excerpt of the file: lines stay lines, and an excerpt
// is cut rather than wrapped, so that its caret stays under its column.
func (p *Printer) quoted(mark, text string) {
	for _, l := range strings.Split(text, "\n") {
		start := strings.TrimLeft(l, " ")
		if excerptLine.MatchString(l) {
			shown, room := []rune(p.say(l)), p.style.Width-runes(mark)
			if len(shown) > room {
				shown = append(shown[:room-3], '.', '.', '.')
			}
			p.line(mark, p.paint(string(shown), faint))
			continue
		}
		p.paragraph(mark+l[:len(l)-len(start)], plain, start)
	}
}

// Proven is one published figure and ours.
type Proven struct {
	ID        string
	File      string
	What      string
	Source    string
	Value     float64
	Target    float64
	Tolerance float64
	Unit      string
	Pass      bool
	Moved     float64
	Cells     int
	Halvings  int
	Balance   float64
}

// Proof prints published figures beside ours.
func (p *Printer) Proof(cases []Proven) error {
	failed := 0
	file := ""
	var rows [][]cell
	flush := func() {
		if len(rows) > 0 {
			p.table([]column{{head: "figure", least: 10}, {head: "theirs", right: true}, {head: "ours", right: true}, {head: "allowed", right: true}, {head: ""}, {head: "moved", right: true}, {head: "cells", right: true}}, rows)
		}
		rows = nil
	}
	for i, x := range cases {
		if x.File != file {
			flush()
			file = x.File
			p.heading(x.File)
			p.paragraph("  ", faint, x.Source)
		} else if i > 0 && x.Source != cases[i-1].Source {
			flush()
			p.paragraph("  ", faint, x.Source)
		}
		verdict := cell{"agrees", good}
		if !x.Pass {
			verdict = cell{"DIFFERS", bad}
			failed++
		}
		dec := decimals(x.Tolerance)
		moved := "–"
		if finite(x.Moved) {
			moved = fmt.Sprintf("%.2g", x.Moved)
		}
		ours := "none"
		if finite(x.Value) {
			ours = fmt.Sprintf("%.*f %s", dec, x.Value, x.Unit)
		}
		allowed := fmt.Sprintf("± %.3g", x.Tolerance)
		if x.Tolerance >= 1000 {
			allowed = fmt.Sprintf("± %.0f", x.Tolerance)
		}
		rows = append(rows, []cell{c(x.ID), c(fmt.Sprintf("%.*f %s", dec, x.Target, x.Unit)), c(ours), c(allowed), verdict, c(moved), c(fmt.Sprint(x.Cells))})
	}
	flush()
	p.line()
	if len(cases) > 0 {
		p.paragraph("", faint, "Moved: how far the last halving of the cells moved our figure. Cells: of the finest grid.")
	}
	p.line(fmt.Sprintf("%d passed, %d failed", len(cases)-failed, failed))
	return p.err
}

// decimals shows a hundredth of the tolerance.
func decimals(tol float64) int {
	if !(tol > 0) {
		return 3
	}
	return int(math.Max(0, math.Min(8, math.Ceil(1-math.Log10(tol)))))
}

package report

import (
	"fmt"
	"math"

	"finwright/internal/compare"
	"finwright/internal/learn"
)

// Learned prints what the stock runs taught: each unknown before and after, how well the observations are met, warnings.
func (p *Printer) Learned(l *learn.Result) error {
	p.heading("What the stock runs taught")
	if l == nil {
		p.paragraph("  ", faint, "There was nothing to learn from.")
		return p.err
	}
	const barW = 15
	rows := make([][]cell, 0, len(l.Unknowns))
	for _, u := range l.Unknowns {
		rows = append(rows, []cell{c(unknownName(u)), c(learnedWords(u.Dim, u.PriorLo, u.PriorMid, u.PriorHi)),
			c(learnedBar(u, barW)), {learnedWords(u.Dim, u.Lo, u.Mid, u.Hi), strong}, c(percent(u.Narrowed))})
	}
	p.table([]column{{head: "unknown", least: 14}, {head: "before", least: 12}, {head: ""}, {head: "after", least: 12}, {head: "narrowed", right: true}}, rows)
	if len(l.Fits) > 0 {
		p.heading("How well the observations are met")
		rows = rows[:0]
		for _, f := range l.Fits {
			rows = append(rows, []cell{c(f.Run), c(f.What), c(f.Observed), c(f.Modelled), {scoreWords(f.Score), scoreLook(f.Score)}})
		}
		p.table([]column{{head: "run", least: 10}, {head: "what", least: 14}, {head: "observed", least: 10}, {head: "model", least: 10}, {head: "off by", right: true}}, rows)
		p.paragraph("  ", faint, "Off by: in standard deviations of the observation; beyond 2 deserves a second look.")
	}
	if len(l.Warnings) > 0 {
		p.line()
		p.list("  ! ", uneasy, l.Warnings, "")
	}
	p.line()
	p.paragraph("  ", faint, learnedStatus(l))
	return p.err
}

func learnedStatus(l *learn.Result) string {
	text := "Learning: " + l.Status
	if l.Status == "" {
		text = "Learning"
	}
	return text + " after " + plural(l.Iterations, "iteration", "iterations") + " and " + plural(l.Runs, "simulated run", "simulated runs") + "."
}

func unknownName(u learn.Learned) string {
	if u.About != "" {
		return u.About
	}
	return u.Path
}

// scoreWords prints a residual in standard deviations with its sign.
func scoreWords(s float64) string {
	f := figure(s, 0.1)
	if f == dash || f[0] == '-' || f == "0.0" {
		return f
	}
	return "+" + f
}

func scoreLook(s float64) tint {
	if finite(s) && math.Abs(s) > 2 {
		return uneasy
	}
	return plain
}

// unknownScale maps an unknown's values to 0..1 over the prior's and the posterior's intervals, logarithmic when the
// ends are positive and far apart.
func unknownScale(u learn.Learned) func(float64) float64 {
	all := emptySpan()
	all.show(u.PriorLo, u.PriorHi, u.Lo, u.Hi, u.Mid)
	if all.empty() || all.hi <= all.lo {
		return func(float64) float64 { return 0.5 }
	}
	if all.lo > 0 && all.hi/all.lo > 3 {
		logs := span{math.Log(all.lo), math.Log(all.hi)}
		return func(x float64) float64 { return logs.share(math.Log(x)) }
	}
	return all.share
}

// learnedBar draws the interval before (thin) and after (thick) with the middle.
func learnedBar(u learn.Learned, width int) string {
	at := unknownScale(u)
	t := newTrack(width, 1)
	stretch := func(lo, hi float64, r rune) {
		if finite(lo) && finite(hi) {
			t.stretch(at(lo), at(hi), r)
		}
	}
	stretch(u.PriorLo, u.PriorHi, '─')
	stretch(u.Lo, u.Hi, '━')
	if finite(u.Mid) {
		t.mark(at(u.Mid), '●')
	}
	return string(t.cells)
}

// Assumptions prints what the program decided for the user, and on whose word.
func (p *Printer) Assumptions(list []compare.Assumption) error {
	p.heading("What was assumed")
	if len(list) == 0 {
		p.paragraph("  ", faint, "Nothing: the file states everything.")
		return p.err
	}
	rows := make([][]cell, 0, len(list))
	for _, a := range list {
		rows = append(rows, []cell{c(a.About), c(a.Value), {a.Source, faint}})
	}
	p.table([]column{{head: fmt.Sprintf("about (%d)", len(list)), least: 18}, {head: "taken as", least: 14}, {head: "source", least: 18}}, rows)
	return p.err
}

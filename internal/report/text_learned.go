package report

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"

	"finwright/internal/learn"
)

// Learned prints what the stock runs taught: each unknown before and after, how well the observations are met, warnings.
func (p *Printer) Learned(l *learn.Result) error {
	p.heading("What the runs taught")
	if l == nil {
		p.paragraph("  ", faint, "There was nothing to learn from.")
		return p.err
	}
	const barW = 15
	taught, rest := taughtMost(l.Unknowns)
	twice := map[string]int{}
	for _, u := range taught {
		twice[unknownName(u)]++
	}
	rows := make([][]cell, 0, len(taught))
	for _, u := range taught {
		name := unknownName(u)
		if twice[name] > 1 { // such as the ambient temperature of each run
			name += " (" + u.Path + ")"
		}
		rows = append(rows, []cell{c(name), c(learnedWords(u.Dim, u.PriorLo, u.PriorMid, u.PriorHi)),
			c(learnedBar(u, barW)), {learnedWords(u.Dim, u.Lo, u.Mid, u.Hi), strong}, c(percent(u.Narrowed))})
	}
	p.table([]column{{head: "unknown", least: 14}, {head: "before", least: 12}, {head: ""}, {head: "after", least: 12}, {head: "narrowed", right: true}}, rows)
	if words := untaughtWords(rest, l.Silent); words != "" {
		p.paragraph("  ", faint, words)
	}
	if words := beyondWords(l.Unknowns); words != "" {
		p.paragraph("  ", uneasy, words)
	}
	p.cause(l)
	if len(l.Fits) > 0 {
		p.heading("How well the observations are met")
		rows = rows[:0]
		for _, run := range fitsByRun(l.Fits) {
			rows = append(rows, []cell{{run.name, strong}})
			for _, f := range run.lines {
				rows = append(rows, []cell{c("  " + f.what), c(f.observed), c(f.modelled), {f.scores(), scoreLook(f.worst)}})
			}
		}
		p.table([]column{{head: "run, and what was seen", least: 24}, {head: "observed", least: 10}, {head: "model", least: 10}, {head: "off by", right: true}}, rows)
		p.paragraph("  ", faint, fitNote)
	}
	if len(l.Warnings) > 0 {
		p.line()
		p.list("  ! ", uneasy, l.Warnings, "")
	}
	p.line()
	p.paragraph("  ", faint, learnedStatus(l))
	return p.err
}

// cause prints what speaks for and against heat being what stops the device; nothing where no run stopped.
func (p *Printer) cause(l *learn.Result) {
	if l.Cause == nil && !stopSeen(l.Fits) {
		return
	}
	p.heading(causeHead)
	e := l.Cause
	if e == nil {
		p.paragraph("  ", plain, causeUntold)
		return
	}
	rows := [][]cell{{c(e.Reference), c(e.ReferenceSeen), c("(the others are held against it)")}}
	for _, r := range e.Runs {
		rows = append(rows, []cell{c(r.Run), c(r.Seen), c(r.ByHeat), {r.Odds, causeLook(r.Log10Odds)}})
	}
	p.table([]column{{head: "run", least: 12}, {head: "what was seen", least: 12}, {head: "heat would stop it", least: 12}, {head: "speaks", least: 14}}, rows)
	p.paragraph("  ", causeLook(e.Log10Odds), causeVerdict(e))
	p.paragraph("  ", faint, causeNote)
}

// stopSeen says whether a stock run ended with a stop.
func stopSeen(fits []learn.Fit) bool {
	return slices.ContainsFunc(fits, func(f learn.Fit) bool { return strings.HasPrefix(f.What, "stops") })
}

// beforeAFan is the test that tells heat from other causes.
const beforeAFan = "repeat a run that stopped, in front of a fan and all else the same: if it lasts no longer, heat is not what stops it."

const causeUntold = "The runs do not tell. To know it, " + beforeAFan

const causeHead = "Is it heat that stops it?"

// causeNote explains the table of the cause.
const causeNote = "Held against each other: a stop by temperature, and one after the same time whatever the air, the start or the sun (a time limit, a battery that sags). " +
	"Heat would stop it: devices of this file, drawn within its intervals, that meet the first run. No run counts more than a thousand to one."

// causeVerdict is what all runs say together, and what to do where they do not speak for heat. Beyond three to one evidence is "positive",
// beyond twenty to one "strong" in Kass & Raftery, J. Am. Stat. Assoc. 90 (1995), §3.2; ten to one is where learning warns.
func causeVerdict(e *learn.Cause) string {
	text := "Together the runs speak " + e.Odds + "."
	switch {
	case e.Log10Odds >= math.Log10(3):
		return text
	case e.Log10Odds > -math.Log10(3):
		return text + " That decides nothing: " + beforeAFan
	case e.Log10Odds > -1:
		return text + " Before cutting metal, " + beforeAFan
	}
	return text + " Look for a time limit, low voltage or a cracked joint before cutting metal."
}

func causeLook(log10Odds float64) tint {
	if log10Odds < 0 {
		return uneasy
	}
	return plain
}

func learnedStatus(l *learn.Result) string {
	text := "Learning: " + l.Status
	if l.Status == "" {
		text = "Learning"
	}
	text += " after " + plural(l.Iterations, "iteration", "iterations") + " and " + plural(l.Runs, "simulated run", "simulated runs") + "."
	s := l.Sample
	if s == nil {
		return text
	}
	text += " What else is possible: sample " + s.Words + "."
	if s.Confirmed > 0 {
		text += " " + plural(s.Confirmed, "draw", "draws") + " of it were run in 3-D too: the fast model was off by " + figure(s.ApartSD, 0.01) + " standard deviations of an observation at most (root mean square)."
	}
	return text
}

func unknownName(u learn.Learned) string {
	if u.About != "" {
		return u.About
	}
	return u.Path
}

// fitNote explains the last column of the fits.
const fitNote = "Off by: in standard deviations of the observation; beyond 2 deserves a second look. Of several readings the worst is shown, then the range of all."

// taughtMost chooses the unknowns worth a line: narrowed by 3 % or more, or moved by a sixth of their interval, and three at
// the least; most narrowed first. The rest is counted.
func taughtMost(all []learn.Learned) (told []learn.Learned, rest int) {
	told = append(told, all...)
	share := func(u learn.Learned) float64 {
		if !finite(u.Narrowed) {
			return math.Inf(-1)
		}
		return math.Round(100 * u.Narrowed) // as printed, so that no 3 % is left out beside another
	}
	moved := func(u learn.Learned) bool {
		at := unknownScale(u)
		before := at(u.PriorHi) - at(u.PriorLo)
		return finite(u.Mid) && before > 0 && math.Abs(at(u.Mid)-at(u.PriorMid)) > before/6
	}
	sort.SliceStable(told, func(i, j int) bool { return share(told[i]) > share(told[j]) })
	n := 0
	for i, u := range told {
		if i < 3 || share(u) >= 3 || moved(u) {
			told[n] = u
			n++
		}
	}
	return told[:n], len(all) - n
}

// untaughtWords counts the doubtful figures that are not shown one by one.
func untaughtWords(rest, silent int) string {
	text := ""
	if rest > 0 {
		text = plural(rest, "further doubtful figure stays as it was", "further doubtful figures stay as they were") + " (narrowed by less than 3 %)."
	}
	if silent > 0 {
		text += " The runs say nothing about " + strconv.Itoa(silent) + " more" + "."
	}
	return strings.TrimSpace(text)
}

// beyondWords names the figures whose most likely value ends outside the interval it was given.
func beyondWords(all []learn.Learned) string {
	var names []string
	for _, u := range all {
		if finite(u.Mid) && (u.Mid < u.PriorLo || u.Mid > u.PriorHi) {
			names = append(names, unknownName(u))
		}
	}
	if len(names) == 0 {
		return ""
	}
	outside := "its most likely value lies outside the interval it was given"
	if len(names) > 1 {
		outside = "their most likely values lie outside the intervals they were given"
	}
	return strings.Join(names, "; ") + ": " + outside +
		". Either the figure is wrong, or the description lacks something: a source of heat, a way out for it, another cause of a stop."
}

// fitRun is what was seen in one stock run.
type fitRun struct {
	name  string
	lines []fitLine
}

// fitLine is one observation, or the readings of one place in a log with the worst of them.
type fitLine struct {
	what, observed, modelled string
	worst, lo, hi            float64 // scores: of what is shown, and the range of all
	n                        int
}

func (f fitLine) scores() string {
	lo, hi := scoreWords(f.lo), scoreWords(f.hi)
	if f.n < 2 || lo == hi {
		return scoreWords(f.worst)
	}
	return scoreWords(f.worst) + " (" + lo + " to " + hi + ")"
}

// fitsByRun groups observations by run in the order they come, and draws the readings of one place together. A reading's
// words end with its moment, "… after 6 min".
func fitsByRun(fits []learn.Fit) []fitRun {
	const few = 3 // up to so many readings of a place are told one by one
	place := func(f learn.Fit) string {
		if i := strings.LastIndex(f.What, " after "); i > 0 && finite(f.Score) {
			return f.What[:i]
		}
		return ""
	}
	count := map[[2]string]int{}
	for _, f := range fits {
		count[[2]string{f.Run, place(f)}]++
	}
	var out []fitRun
	run, line := map[string]int{}, map[[2]string]int{}
	for _, f := range fits {
		k, seen := run[f.Run]
		if !seen {
			k = len(out)
			run[f.Run] = k
			out = append(out, fitRun{name: f.Run})
		}
		single := fitLine{f.What, f.Observed, f.Modelled, f.Score, f.Score, f.Score, 1}
		key := [2]string{f.Run, place(f)}
		if key[1] == "" || count[key] <= few {
			out[k].lines = append(out[k].lines, single)
			continue
		}
		single.what = fmt.Sprintf("%s, %d readings, worst%s", key[1], count[key], f.What[len(key[1]):])
		i, seen := line[key]
		if !seen {
			line[key] = len(out[k].lines)
			out[k].lines = append(out[k].lines, single)
			continue
		}
		old := &out[k].lines[i]
		lo, hi, n := math.Min(old.lo, f.Score), math.Max(old.hi, f.Score), old.n+1
		if math.Abs(f.Score) > math.Abs(old.worst) {
			*old = single
		}
		old.lo, old.hi, old.n = lo, hi, n
	}
	return out
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

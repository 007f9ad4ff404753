package report

import (
	"math"
	"regexp"
	"sort"
	"strconv"
	"strings"

	"finwright/internal/compare"
)

// assumedGroup is what was assumed on the same kind of word.
type assumedGroup struct {
	word string
	list []compare.Assumption // widest relative doubt first, then those without any
}

// sourceKinds is on whose word a figure stands, weakest first.
var sourceKinds = []string{"Common practice, without a source", "From memory", "Our estimate", "Our default", "Published, or from data sheets"}

// wordOf sorts a source's text by the weakest word in it.
func wordOf(source string) string {
	switch {
	case strings.Contains(source, "common practice"):
		return sourceKinds[0]
	case strings.Contains(source, "from memory"):
		return sourceKinds[1]
	case strings.Contains(source, "our estimate"):
		return sourceKinds[2]
	case strings.Contains(source, "our default"):
		return sourceKinds[3]
	}
	return sourceKinds[4]
}

// bracketed is the 90 % interval at the end of a value in words: "250 W/(m² K) (80 to 900)".
var bracketed = regexp.MustCompile(`\((-?[0-9.]+) to (-?[0-9.]+)[^()]*\)$`)

// relativeDoubt is half the interval over its middle, 0 for a value without doubt, 1 where the interval touches zero.
func relativeDoubt(value string) float64 {
	m := bracketed.FindStringSubmatch(value)
	if m == nil {
		return 0
	}
	lo, errLo := strconv.ParseFloat(m[1], 64)
	hi, errHi := strconv.ParseFloat(m[2], 64)
	if size := math.Abs(lo) + math.Abs(hi); errLo == nil && errHi == nil && size > 0 {
		return math.Abs(hi-lo) / size
	}
	return 0
}

// assumedGroups sorts assumptions by whose word they stand on and by their doubt.
func assumedGroups(list []compare.Assumption) []assumedGroup {
	var out []assumedGroup
	for _, w := range sourceKinds {
		g := assumedGroup{word: w}
		for _, a := range list {
			if wordOf(a.Source) == w {
				g.list = append(g.list, a)
			}
		}
		sort.SliceStable(g.list, func(i, j int) bool { return relativeDoubt(g.list[i].Value) > relativeDoubt(g.list[j].Value) })
		if len(g.list) > 0 {
			out = append(out, g)
		}
	}
	return out
}

// merged draws together neighbours of the same value and the same quantity: "finish of shell", "finish of posts" both
// plastic become "finish of shell, posts".
func merged(list []compare.Assumption) []compare.Assumption {
	var out []compare.Assumption
	at := map[[2]string]int{}
	for _, a := range list {
		quantity, what, ok := strings.Cut(a.About, " of ")
		if !ok {
			out = append(out, a)
			continue
		}
		tail := "" // what stands in brackets at the end is said once
		if i := strings.LastIndex(what, " ("); i > 0 && strings.HasSuffix(what, ")") {
			what, tail = what[:i], what[i:]
		}
		key := [2]string{quantity + tail, a.Value}
		if i, seen := at[key]; seen {
			out[i].About = strings.TrimSuffix(out[i].About, tail) + ", " + what + tail
			continue
		}
		at[key] = len(out)
		out = append(out, a)
	}
	return out
}

// Assumptions prints what the program decided for the user and on whose word: doubtful figures line by line, the widest
// doubt first, the others in one paragraph. The source of each is on the page and in the JSON.
func (p *Printer) Assumptions(list []compare.Assumption) error {
	p.heading("What was assumed")
	if len(list) == 0 {
		p.paragraph("  ", faint, "Nothing: the file states everything.")
		return p.err
	}
	for _, g := range assumedGroups(list) {
		p.paragraph("  ", plain, g.word+" ("+strconv.Itoa(len(g.list))+")")
		var rows [][]cell
		var sure []string
		for _, a := range merged(g.list) {
			if relativeDoubt(a.Value) > 0 {
				rows = append(rows, []cell{c("  " + a.About), c(a.Value)})
			} else {
				sure = append(sure, a.About+": "+a.Value)
			}
		}
		if len(rows) > 0 {
			p.table([]column{{least: 24}, {least: 14}}, rows)
		}
		if len(sure) > 0 {
			p.paragraph("    ", faint, strings.Join(sure, "; ")+".")
		}
	}
	p.paragraph("  ", faint, "Where each figure comes from: on the page that compare writes, and with --json.")
	return p.err
}

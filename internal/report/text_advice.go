package report

import (
	"slices"

	"finwright/internal/advise"
)

// adviceRows is how many measurements are shown.
const adviceRows = 10

// outdone says whether a measurement takes as long as one above it and tells of the same, but not more: another face of the same case.
func outdone(above []advise.Ranked, r *advise.Ranked) bool {
	return slices.ContainsFunc(above, func(x advise.Ranked) bool {
		return x.EffortM == r.EffortM && x.Tells == r.Tells && x.Reads == r.Reads && x.Part >= r.Part
	})
}

// Advice prints what to measure next.
func (p *Printer) Advice(a *advise.Advice) error {
	p.heading("What to measure next")
	p.list("▸ ", strong, a.Words, "")
	if len(a.Ranked) == 0 {
		return p.err
	}
	p.line()
	var rows [][]cell
	rest := 0
	for i := range a.Ranked {
		r := &a.Ranked[i]
		if len(rows) == adviceRows || i > 0 && r.Part < advise.LeastPart || outdone(a.Ranked[:i], r) {
			rest++
			continue
		}
		what := r.What
		if r.Opened {
			what += " (open)"
		}
		look := plain
		if i == 0 {
			look = strong
		}
		rows = append(rows, []cell{{what, look}, c(figure(r.EffortM, 1)), c(figure(100*r.Part, 1) + " ± " + percent(r.PartSE)), c("± " + figure(r.AfterK, 0.1) + " K"), c(figure(10*r.PerMinuteK, 0.01) + " K"),
			c(r.LoHi), c(r.Tells)})
	}
	p.table([]column{{head: "measurement", least: 22}, {head: "min", right: true}, {head: "of the doubt", right: true, least: 9}, {head: "leaves", right: true}, {head: "in 10 min", right: true, least: 6},
		{head: "will read"}, {head: "tells of", least: 10}}, rows)
	if rest > 0 {
		p.paragraph("  ", faint, plural(rest, "more says", "more say")+" no more for the effort: see --json.")
	}
	mode := ""
	if a.Mode != "" {
		mode = "Where it runs, it runs in mode " + a.Mode + ". "
	}
	p.paragraph("  ", faint, mode+"Of the doubt: the part of the variance of what is left to the nearest limit that the reading is expected to take away. Leaves: 90 % half width. In 10 min: what the ± shrinks by, per ten minutes of effort. "+
		"Will read: nine in ten such devices. Effort and errors of readings are common practice, no source; (open) counts 15 min for getting in.")
	if r := &a.Ranked[0]; r.Part >= advise.LeastPart {
		p.paragraph("  ", plain, "Once it is measured, write it into the file: "+r.Write)
	}
	return p.err
}

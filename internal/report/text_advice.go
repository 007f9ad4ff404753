package report

import (
	"fmt"

	"finwright/internal/advise"
)

// adviceRows is how many measurements are shown.
const adviceRows = 12

// Advice prints what to measure next.
func (p *Printer) Advice(a *advise.Advice) error {
	p.heading("What to measure next")
	p.list("▸ ", strong, a.Words, "")
	if len(a.Ranked) == 0 {
		return p.err
	}
	p.line()
	var rows [][]cell
	for i := range a.Ranked {
		if i == adviceRows {
			break
		}
		r := &a.Ranked[i]
		what := r.What
		if r.Opened {
			what += " (open)"
		}
		told := percent(r.Part)
		if r.PartSE > 0 {
			told += " ± " + figure(100*r.PartSE, 1)
		}
		look := plain
		if i == 0 {
			look = strong
		}
		rows = append(rows, []cell{{what, look}, c(figure(r.EffortM, 1)), c(told), c("± " + Kelvins(r.AfterK)), c(fmt.Sprintf("%.2f K", 10*r.PerMinuteK)), c(r.LoHi), c(r.Tells)})
	}
	p.table([]column{{head: "measurement", least: 22}, {head: "min", right: true}, {head: "of the doubt", least: 6}, {head: "leaves", least: 6}, {head: "in 10 min", right: true, least: 6},
		{head: "will read", least: 8}, {head: "tells of", least: 10}}, rows)
	if more := len(a.Ranked) - adviceRows; more > 0 {
		p.paragraph("  ", faint, plural(more, "more that tells", "more that tell")+" less for the effort: see --json.")
	}
	p.paragraph("  ", faint, "Of the doubt: the part of the variance of what is left to the nearest limit that the reading is expected to take away. In 10 min: what the ± then shrinks by, per ten minutes of effort. "+
		"Will read: nine in ten such devices. Effort and errors of readings are common practice, no source; (open) counts 15 min for getting in.")
	if r := &a.Ranked[0]; r.Part > 0 {
		p.paragraph("  ", plain, "Once it is measured, write it into the file: "+r.Write)
	}
	return p.err
}

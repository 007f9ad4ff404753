package report

import "finwright/internal/advise"

// adviceRows is how many measurements are shown.
const adviceRows = 10

// leastPart of the variance is worth a line.
const leastPart = 0.03

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
		if i >= adviceRows || i > 0 && r.Part < leastPart {
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
		p.paragraph("  ", faint, plural(rest, "more that tells", "more that tell")+" less for the effort: see --json.")
	}
	mode := ""
	if a.Mode != "" {
		mode = "All in mode " + a.Mode + ". "
	}
	p.paragraph("  ", faint, mode+"Of the doubt: the part of the variance of what is left to the nearest limit that the reading is expected to take away. Leaves: 90 % half width. In 10 min: what the ± shrinks by, per ten minutes of effort. "+
		"Will read: nine in ten such devices. Effort and errors of readings are common practice, no source; (open) counts 15 min for getting in.")
	if r := &a.Ranked[0]; r.Part >= leastPart {
		p.paragraph("  ", plain, "Once it is measured, write it into the file: "+r.Write)
	}
	return p.err
}

package report

import (
	"fmt"
	"math"
	"strings"

	"finwright/internal/relation"
)

// Formulas prints published figures of formulas beside what the program's own functions give.
func (p *Printer) Formulas(cases []relation.Case) error {
	if len(cases) == 0 {
		return p.err
	}
	var rows [][]cell
	flush := func() {
		if len(rows) > 0 {
			p.table([]column{{head: "figure", least: 16}, {head: "theirs", right: true}, {head: "ours", right: true}, {head: "allowed", right: true}, {head: ""}}, rows)
		}
		rows = nil
	}
	var before relation.Case
	failed := 0
	notes := map[string]bool{}
	for _, x := range cases {
		if x.File != before.File {
			flush()
			p.heading(x.Title)
			p.paragraph("  ", faint, x.File)
			before = relation.Case{File: x.File}
		}
		if x.Relation != before.Relation || x.Source != before.Source || x.Given != before.Given || x.Status != before.Status {
			flush()
			p.line()
			p.paragraph("  ", plain, x.Relation)
			if x.Relation != before.Relation {
				p.paragraph("  ", faint, "ours: "+x.Formula)
			}
			p.paragraph("  ", faint, "theirs, "+x.Status+": "+x.Source)
			if x.Given != "" {
				p.paragraph("  ", faint, "given: "+x.Given)
			}
			before = x
		}
		if x.Note != "" && !notes[x.Note] {
			notes[x.Note] = true
			p.paragraph("  ", faint, "note: "+x.Note)
		}
		verdict := cell{"agrees", good}
		if !x.Pass {
			verdict = cell{"DIFFERS", bad}
			failed++
		}
		show := func(v float64) cell {
			return c(strings.TrimSpace(fmt.Sprintf("%.*f %s", decimals(x.Tolerance), v, x.Unit)))
		}
		if math.Abs(x.Target) >= 1e7 {
			show = func(v float64) cell { return c(strings.TrimSpace(fmt.Sprintf("%.5g %s", v, x.Unit))) }
		}
		rows = append(rows, []cell{c(x.What), show(x.Target), show(x.Value), c(fmt.Sprintf("± %.2g", x.Tolerance)), verdict})
	}
	flush()
	p.line()
	p.line(fmt.Sprintf("%d figures of formulas: %d agree, %d differ", len(cases), len(cases)-failed, failed))
	return p.err
}

package report

import (
	"strings"
	"testing"
	"unicode/utf8"

	"finwright/internal/relation"
	"finwright/proofs"
)

// What comes with the program, as it is printed: each formula with its work and how surely it is known, nothing wider than the
// terminal, and the count at the end.
func TestFormulas(t *testing.T) {
	cases, err := relation.All(proofs.Files, "proofs")
	if err != nil {
		t.Fatal(err)
	}
	cases[0].Pass = false
	out := printed(t, func(p *Printer) error { return p.Formulas(cases) }, Style{Width: 80})
	for _, want := range []string{cases[0].Title, cases[0].File, "ours: ", "theirs, " + cases[0].Status, "DIFFERS", "1 differ"} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is not in it", want)
		}
	}
	if n := strings.Count(out, "agrees"); n != len(cases)-1 {
		t.Errorf("%d of %d cases printed as agreeing", n, len(cases)-1)
	}
	for _, line := range strings.Split(out, "\n") {
		if utf8.RuneCountInString(line) > 80 {
			t.Errorf("wider than the terminal: %s", line)
		}
	}
	if out := printed(t, func(p *Printer) error { return p.Formulas(nil) }, Style{Width: 80}); out != "" {
		t.Errorf("nothing prints %q", out)
	}
}

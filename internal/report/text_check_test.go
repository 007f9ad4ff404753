package report

import (
	"bytes"
	"math"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"
)

// floats is a problem as package device words it, with its excerpt.
const floats = `lamp.yaml:26:15: part "lost" touches no other part
    26 |       - add: {lost: {material: aluminium 6061, finish: black anodised, box: 5 x 5 x 5 mm, at: 200 0 0 mm}}
       |               ^
  every part must touch another one
  the nearest is "shell | front", 140.00 mm away: use 'on: shell.<face>', or check 'at' and sizes`

// checks are the pieces that check and prove print; figures and names are invented, and chosen to be long.
func checks() map[string]func(p *Printer) error {
	const book = "Incropera, DeWitt, Bergman & Lavine, Fundamentals of Heat and Mass Transfer, 6th ed., Table 3.4, case A"
	return map[string]func(p *Printer) error{
		"title":         func(p *Printer) error { return p.Title("diver's \x1b[31mlamp", true) },
		"title-of-real": func(p *Printer) error { return p.Title("diver's lamp", false) },
		"parts": func(p *Printer) error {
			return p.Parts([]PartFigures{
				{"shell", "ABS", 38e-6, 0.052, 68, 0, "weighed 52 g, volume × density 39.8 g"},
				{"heat spreading plate behind the front wall", "aluminium 6061", 5e-6, 0.0136, 12.2, 0, ""},
				{"chip", "silicon", 0.17e-6, 0.0004, 0.3, 3.87, ""}})
		},
		"parts-of-one": func(p *Printer) error { return p.Parts([]PartFigures{{"block", "ABS", 1e-6, 0.001, 1.4, 1, ""}}) },
		"joints": func(p *Printer) error {
			return p.Joints([]JointFigures{
				{"shell", "plate", "stated", 33.6e-4, 1414, 0.21},
				{"heat spreading plate behind the front wall", "printed circuit board", "silicone thermal pad, soft, 0.5 mm", 25e-4, 3688, 0.108},
				{"board", "chip", "plastic press fit (our default)", 1.44e-4, 250, 27.8}})
		},
		"joints-none": func(p *Printer) error { return p.Joints(nil) },
		"retrofits": func(p *Printer) error {
			return p.Retrofits([]RetrofitFigures{
				{Name: "copper plate", MassAddedKg: 0.0762},
				{Name: "thinner shell", MassAddedKg: -0.0051, Notes: []string{`joint "plate-shell" goes with "plate", which is taken off`}},
				{Name: "gentler mode"},
				{Name: "far off", Problem: floats}})
		},
		"retrofits-none": func(p *Printer) error { return p.Retrofits(nil) },
		"odd": func(p *Printer) error {
			return p.Odd([]string{"lamp.yaml: warning: nothing in this device makes heat\n  give a part heat: 3 to 5 W, or heat: unknown", strings.Replace(floats, "part", "warning: part", 1)})
		},
		"odd-none": func(p *Printer) error { return p.Odd(nil) },
		"proof": func(p *Printer) error {
			return p.Proof([]Proven{
				{ID: "flow", File: "proofs/straight-fin-thin.yaml", Source: book, Value: -3.963412, Target: -3.96347, Tolerance: 0.00396347, Unit: "W", Pass: true, Moved: 1.2e-5, Cells: 98304, Halvings: 4},
				{ID: "tip", File: "proofs/straight-fin-thin.yaml", Source: book, Value: 88.35581, Target: 88.3559, Tolerance: 0.05, Unit: "°C", Pass: true, Moved: 0.0004, Cells: 98304, Halvings: 4},
				{ID: "tip-published", File: "proofs/straight-fin-thin.yaml", Source: "read from a chart (from memory)", Value: 88.36, Target: 92, Tolerance: 2, Unit: "°C", Moved: 0.0004, Cells: 98304, Halvings: 4},
				{ID: "temperature-on-the-centre-line-after-an-hour", File: "proofs/network.yaml", Source: "two lumps", Value: 288.1500001, Target: 288.15, Tolerance: 1e-4, Unit: "K", Pass: true, Moved: math.NaN(), Cells: 2},
				{ID: "time", File: "proofs/network.yaml", Source: "two lumps", Value: math.NaN(), Target: 12345678, Tolerance: 12345.678, Unit: "s", Moved: math.NaN(), Cells: 2}})
		},
		"proof-none": func(p *Printer) error { return p.Proof(nil) },
	}
}

func printed(t *testing.T, print func(p *Printer) error, s Style) string {
	t.Helper()
	var b bytes.Buffer
	if err := print(Terminal(&b, s)); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestCheckGolden(t *testing.T) {
	used := map[string]bool{}
	for suffix, style := range map[string]Style{"": {Width: 80}, "-colour": {Width: 80, Colour: true}} {
		var all strings.Builder
		for _, name := range []string{"title", "title-of-real", "parts", "parts-of-one", "joints", "joints-none", "retrofits", "retrofits-none", "odd", "odd-none", "proof", "proof-none"} {
			all.WriteString("== " + name + "\n" + printed(t, checks()[name], style))
		}
		used["check"+suffix] = true
		golden(t, "check/check"+suffix, []byte(all.String()))
	}
	files, err := filepath.Glob("testdata/check/*")
	if err != nil || len(files) != len(used) {
		t.Errorf("golden files %v for %v (%v)", files, used, err)
	}
}

// At every width: inside it, no NaN, no control characters, no trailing blanks; colour changes nothing but the colour.
func TestCheckKeepsItsPromises(t *testing.T) {
	for name, print := range checks() {
		for _, width := range []int{72, 80, 100, 132} {
			text := printed(t, print, Style{Width: width})
			for i, l := range strings.Split(text, "\n") {
				if n := utf8.RuneCountInString(l); n > width {
					t.Errorf("%s at %d: line %d is %d columns: %q", name, width, i+1, n, l)
				}
				if strings.TrimRight(l, " ") != l {
					t.Errorf("%s at %d: trailing blanks in %q", name, width, l)
				}
			}
			if strings.ContainsRune(text, '\x1b') {
				t.Errorf("%s at %d: escape sequence without colour", name, width)
			}
			if m := notAFigure.FindString(text); m != "" {
				t.Errorf("%s at %d: %q in the text", name, width, m)
			}
			bare := sgr.ReplaceAllString(printed(t, print, Style{Width: width, Colour: true}), "")
			if regexp.MustCompile(`(?m) +$`).ReplaceAllString(bare, "") != text { // a painted cell keeps its blanks
				t.Errorf("%s at %d: colour changes the text", name, width)
			}
			for _, r := range printed(t, print, Style{Width: width, ASCII: true}) {
				if r >= utf8.RuneSelf {
					t.Errorf("%s at %d: %q in ASCII text", name, width, r)
				}
			}
		}
	}
}

// The caret of an excerpt stays under its column.
func TestCaretStaysUnderItsColumn(t *testing.T) {
	for _, name := range []string{"retrofits", "odd"} {
		lines := strings.Split(printed(t, checks()[name], Style{Width: 80}), "\n")
		for i, l := range lines {
			if strings.HasSuffix(l, "^") {
				if above := []rune(lines[i-1]); string(above[utf8.RuneCountInString(l)-1:][:4]) != "lost" {
					t.Errorf("%s:\n%s\n%s", name, lines[i-1], l)
				}
			}
		}
	}
}

// A figure that misses is told as such, and counted.
func TestProofCounts(t *testing.T) {
	text := printed(t, checks()["proof"], Style{Width: 80})
	for what, want := range map[string]int{"agrees": 3, "DIFFERS": 2, "3 passed, 2 failed": 1, "proofs/straight-fin-thin.yaml": 1, "read from a chart": 1} {
		if got := strings.Count(text, what); got != want {
			t.Errorf("%q %d times, want %d:\n%s", what, got, want, text)
		}
	}
}

func TestDecimals(t *testing.T) {
	for tol, want := range map[float64]int{10: 0, 2: 1, 0.1: 2, 0.05: 3, 1e-4: 5, 1e-12: 8, 0: 3, math.NaN(): 3} {
		if got := decimals(tol); got != want {
			t.Errorf("± %g: %d decimals, want %d", tol, got, want)
		}
	}
}

func TestCheckReportsWriteErrors(t *testing.T) {
	for name, print := range checks() {
		if strings.HasSuffix(name, "retrofits-none") || name == "odd-none" {
			continue // prints nothing
		}
		if err := print(Terminal(&fullDisk{}, Style{})); err == nil {
			t.Errorf("%s: no error on a full disk", name)
		}
	}
}

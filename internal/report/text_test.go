package report

import (
	"bytes"
	"errors"
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"sort"
	"strings"
	"testing"
	"unicode/utf8"
)

var update = flag.Bool("update", false, "rewrite the golden files")

func texts() map[string]func(p *Printer) error {
	s := inventedStudy()
	return map[string]func(p *Printer) error{
		"study":       func(p *Printer) error { return p.Study(s) },
		"run":         func(p *Printer) error { return p.Run(s.Rows[0].Result) },
		"run-lasting": func(p *Printer) error { return p.Run(s.Rows[3].Result) },
		"run-unknown": func(p *Printer) error { return p.Run(s.Rows[5].Result) },
		"learned":     func(p *Printer) error { return p.Learned(s.Learned) },
		"lists": func(p *Printer) error {
			p.Assumptions(s.Assumptions)
			p.Findings(s.Findings)
			return p.Cautions(s.Cautions)
		},
		"parts": func(p *Printer) error {
			return p.Parts([]PartFigures{{"shell", "PC-ABS", 28.4e-6, 0.0312, 43.7, 0, ""}, {"plate", "aluminium 6061", 9.19e-6, 0.0248, 22.2, 0, "weighed 24.8 g, computed 27.1 g"},
				{"chip", "silicon", 0.235e-6, 0.00055, 0.39, 3.1, ""}})
		},
	}
}

var looks = map[string]Style{"": {Width: 96}, "-colour": {Width: 80, Colour: true}, "-ascii": {Width: 80, ASCII: true}}

// golden compares with testdata/name.golden, or rewrites it with -update.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name+".golden")
	if *update {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		g, w := strings.Split(string(got), "\n"), strings.Split(string(want), "\n")
		for i := range g {
			if i >= len(w) || g[i] != w[i] {
				t.Fatalf("%s, line %d: got\n%s\nwant\n%s", path, i+1, g[i], strings.Join(w[min(i, len(w)):min(i+1, len(w))], ""))
			}
		}
		t.Fatalf("%s: got %d lines, want %d", path, len(g), len(w))
	}
}

func TestTextGolden(t *testing.T) {
	used := map[string]bool{"html": true}
	for name, print := range texts() {
		for suffix, style := range looks {
			if suffix != "" && name != "study" && name != "run" {
				continue
			}
			var b bytes.Buffer
			if err := print(Terminal(&b, style)); err != nil {
				t.Fatal(err)
			}
			used[name+suffix] = true
			golden(t, name+suffix, b.Bytes())
		}
	}
	files, err := filepath.Glob("testdata/*.golden")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if !used[strings.TrimSuffix(filepath.Base(f), ".golden")] {
			t.Errorf("%s is not used by any test", f)
		}
	}
}

var sgr = regexp.MustCompile("\x1b\\[[0-9;]*m")

// notAFigure finds NaN and Inf as words, also signed.
var notAFigure = regexp.MustCompile(`(?i)\b(nan|[+-]?inf|infinity)\b`)

// Every printer at every width and look: inside the width, no escape sequences unless asked, no NaN, no trailing blanks,
// ASCII when asked, and colour changes nothing but the colour.
func TestTextKeepsItsPromises(t *testing.T) {
	for name, print := range texts() {
		for _, width := range []int{0, 40, 60, 72, 80, 100, 132} {
			out := func(s Style) string {
				s.Width = width
				var b bytes.Buffer
				if err := print(Terminal(&b, s)); err != nil {
					t.Fatal(err)
				}
				return b.String()
			}
			bare, coloured, ascii := out(Style{}), out(Style{Colour: true}), out(Style{ASCII: true})
			limit := max(width, 72)
			if width == 0 {
				limit = 80
			}
			for _, text := range []string{bare, ascii} {
				for i, l := range strings.Split(text, "\n") {
					if n := utf8.RuneCountInString(l); n > limit {
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
			}
			stripped := sgr.ReplaceAllString(coloured, "")
			trim := func(s string) string { return regexp.MustCompile(`(?m) +$`).ReplaceAllString(s, "") }
			if trim(stripped) != trim(bare) {
				t.Errorf("%s at %d: colour changes the text", name, width)
			}
			if coloured == bare {
				t.Errorf("%s at %d: no colour when asked", name, width)
			}
			for _, r := range ascii {
				if r >= utf8.RuneSelf {
					t.Errorf("%s at %d: %q in ASCII text", name, width, r)
				}
			}
		}
	}
}

// Every row, its verdict, notes and failure are told.
func TestStudyTextTellsEveryRow(t *testing.T) {
	s := inventedStudy()
	var b bytes.Buffer
	if err := Terminal(&b, Style{Width: 200}).Study(s); err != nil {
		t.Fatal(err)
	}
	wanted := append([]string{}, s.Verdict...)
	for _, r := range s.Rows {
		wanted = append(wanted, r.Name, r.Failed)
		wanted = append(wanted, r.Notes...)
	}
	for _, w := range wanted {
		if !strings.Contains(b.String(), w) {
			t.Errorf("not told: %s", w)
		}
	}
}

func TestTextTakesControlCharactersOutOfNames(t *testing.T) {
	s := inventedStudy()
	s.Device = "evil\x1b[31m\r\x07 name"
	s.Rows[0].Name = "a\x1b]0;title\x07b"
	var b bytes.Buffer
	if err := Terminal(&b, Style{}).Study(s); err != nil {
		t.Fatal(err)
	}
	for _, r := range b.String() {
		if r < ' ' && r != '\n' {
			t.Fatalf("control character %q in the output", r)
		}
	}
}

type fullDisk struct{ left int }

func (f *fullDisk) Write(b []byte) (int, error) {
	if f.left -= len(b); f.left < 0 {
		return 0, errors.New("disk full")
	}
	return len(b), nil
}

func TestTextReportsWriteErrors(t *testing.T) {
	for name, print := range texts() {
		for _, left := range []int{0, 100} {
			if err := print(Terminal(&fullDisk{left}, Style{})); err == nil {
				t.Errorf("%s: no error after %d bytes", name, left)
			}
		}
	}
}

func TestApart(t *testing.T) {
	for _, tc := range []struct{ want, got []float64 }{
		{[]float64{5}, apart([]float64{5}, 2, 0, 10)},
		{[]float64{4, 6}, apart([]float64{5, 5}, 2, 0, 10)},
		{[]float64{0, 2, 4}, apart([]float64{0, 0, 1}, 2, 0, 10)},
		{[]float64{1, 8, 10}, apart([]float64{1, 10, 10}, 2, 0, 10)},
	} {
		if !sort.Float64sAreSorted(tc.got) || len(tc.got) != len(tc.want) {
			t.Fatalf("got %v, want %v", tc.got, tc.want)
		}
		for i := range tc.want {
			if tc.got[i] != tc.want[i] {
				t.Errorf("got %v, want %v", tc.got, tc.want)
			}
		}
	}
}

func TestTicks(t *testing.T) {
	for _, tc := range []struct {
		lo, hi float64
		n      int
		steps  []float64
		want   []float64
	}{
		{0, 67, 5, minutes, []float64{0, 15, 30, 45, 60}},
		{0, 26, 6, minutes, []float64{0, 5, 10, 15, 20, 25}},
		{0, 300, 5, minutes, []float64{0, 60, 120, 180, 240, 300}},
		{0, 1000, 5, minutes, []float64{0, 300, 600, 900}},
		{0, 1.5, 4, minutes, []float64{0, 0.5, 1, 1.5}},
		{22, 96, 5, tens, []float64{40, 60, 80}},
		{0, 0, 5, tens, nil},
	} {
		got := ticks(tc.lo, tc.hi, tc.n, tc.steps)
		if len(got) != len(tc.want) {
			t.Errorf("%v: got %v", tc, got)
			continue
		}
		for i := range got {
			if d := got[i] - tc.want[i]; d > 1e-9 || d < -1e-9 {
				t.Errorf("%v: got %v", tc, got)
			}
		}
	}
}

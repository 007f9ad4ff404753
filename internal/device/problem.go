package device

import (
	"fmt"
	"sort"
	"strings"
	"unicode/utf8"
)

// Severity says whether a file can be used in spite of a problem.
type Severity uint8

const (
	Error   Severity = iota // the file cannot be used
	Warning                 // odd, but it can be worked with
)

// Problem is one thing that is wrong with a file, as data: place, text, suggestion.
type Problem struct {
	File     string
	Pos      Pos
	Excerpt  string // the line, and under it a caret at the column; empty when there is no place
	What     string // what is wrong
	Want     string // what was expected; may be empty
	Hint     string // what to do; may be empty
	Severity Severity
}

// Error writes the problem over several lines: place and what is wrong, the line with a caret, what was expected, what to
// do.
func (p Problem) Error() string {
	var b strings.Builder
	b.WriteString(p.File)
	if p.Pos.Line > 0 {
		fmt.Fprintf(&b, ":%d:%d", p.Pos.Line, p.Pos.Column)
	}
	b.WriteString(": ")
	if p.Severity == Warning {
		b.WriteString("warning: ")
	}
	b.WriteString(p.What)
	for _, part := range []string{p.Excerpt, p.Want, p.Hint} {
		if part != "" {
			b.WriteString("\n  " + strings.ReplaceAll(part, "\n", "\n  "))
		}
	}
	return b.String()
}

// Problems is all that is wrong with a file. It is an error.
type Problems []Problem

func (ps Problems) Error() string {
	texts := make([]string, len(ps))
	for i := range ps {
		texts[i] = ps[i].Error()
	}
	return strings.Join(texts, "\n")
}

// sorted orders problems by place and drops repeated ones.
func (ps Problems) sorted() Problems {
	sort.SliceStable(ps, func(i, j int) bool {
		a, b := ps[i].Pos, ps[j].Pos
		if a.Line != b.Line {
			return a.Line < b.Line
		}
		return a.Column < b.Column
	})
	var out Problems
	seen := map[Problem]bool{}
	for _, p := range ps {
		if !seen[p] {
			seen[p] = true
			out = append(out, p)
		}
	}
	return out
}

// Problem is an error at a place of this file, with its excerpt. want and hint may be empty.
func (f *File) Problem(pos Pos, what, want, hint string) Problem {
	return Problem{File: f.Path, Pos: pos, Excerpt: excerpt(f.Text, pos), What: what, Want: want, Hint: hint}
}

// excerptWidth is the longest piece of a line that is shown, in characters.
const excerptWidth = 100

// excerpt shows the line at pos with a caret under the column. Of a long line the piece around the column is shown.
func excerpt(lines []string, pos Pos) string {
	if pos.Line < 1 || pos.Line > len(lines) {
		return ""
	}
	line := []rune(strings.TrimRight(lines[pos.Line-1], " \t"))
	col := min(max(pos.Column-1, 0), len(line))
	head, tail := "", ""
	if len(line) > excerptWidth {
		start := min(max(col-excerptWidth/2, 0), len(line)-excerptWidth)
		if start > 0 {
			head = "…"
		}
		if start+excerptWidth < len(line) {
			tail = "…"
		}
		line, col = line[start:start+excerptWidth], col-start
	}
	pad := make([]rune, 0, col)
	for _, r := range line[:col] {
		if r != '\t' {
			r = ' '
		}
		pad = append(pad, r)
	}
	number := fmt.Sprintf("%4d | ", pos.Line)
	under := strings.Repeat(" ", len(number)-2) + "| "
	return number + head + string(line) + tail + "\n" +
		under + strings.Repeat(" ", utf8.RuneCountInString(head)) + string(pad) + "^"
}

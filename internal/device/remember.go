package device

import (
	"fmt"
	"strings"

	"github.com/goccy/go-yaml/ast"
)

// RememberLogReading gives back a device file's text with the log reading of one of its runs (an index of Runs) set. All else stays
// as it is, byte for byte: comments, layout and line ends. The error is Problems, also where the entry is written in a way that
// is better changed by hand.
func RememberLogReading(path string, data []byte, run int, reading string) ([]byte, error) {
	f, err := Parse(path, data)
	if err != nil {
		return nil, err
	}
	if run < 0 || run >= len(f.Runs) {
		return nil, Problems{f.Problem(Pos{}, fmt.Sprintf("there is no run %d", run+1), "", "")}
	}
	if r := &f.Runs[run]; r.Log == "" {
		return nil, Problems{f.Problem(r.Pos, r.Nth()+" has no log", "", "add log: and the file's name")}
	}
	quoted := "log reading: " + SingleQuoted(reading)
	entry := runNode(f, data, f.Runs[run].Path)
	log, old := entryOf(entry, "log"), entryOf(entry, "log reading")
	byHand := func(e *ast.MappingValueNode) ([]byte, error) {
		pos := Pos{}
		if e != nil {
			pos = posOf(e.Value)
		}
		return nil, Problems{f.Problem(pos, "the log reading cannot be written into this entry without changing more of it", "expected a value on one line", "write it by hand:\n"+quoted)}
	}
	if log == nil {
		return byHand(nil)
	}
	lines := rawLines(data)
	at := log
	if old != nil {
		at = old
	}
	pos := posOf(at.Value)
	if pos.Line < 1 || pos.Line > len(lines) {
		return byHand(at)
	}
	line := []rune(lines[pos.Line-1])
	if pos.Line == 1 && len(line) > 0 && line[0] == '\ufeff' {
		pos.Column++
	}
	end := scalarEnd(line, pos.Column-1, at.Value)
	if end < 0 {
		return byHand(at)
	}
	flow := false
	if m, ok := entry.(*ast.MappingNode); ok {
		flow = m.IsFlowStyle
	}
	switch key := posOf(at.Key); {
	case old != nil:
		_, value, _ := strings.Cut(quoted, ": ")
		lines[pos.Line-1] = string(line[:pos.Column-1]) + value + string(line[end:])
	case flow:
		lines[pos.Line-1] = string(line[:end]) + ", " + quoted + string(line[end:])
	default:
		text, newline := cutLineEnd(lines[pos.Line-1])
		if newline == "" { // the last line of a file that ends without one
			newline = "\n"
			if pos.Line > 1 {
				_, newline = cutLineEnd(lines[pos.Line-2])
			}
		}
		_, tail := cutLineEnd(lines[pos.Line-1])
		lines[pos.Line-1] = text + newline + strings.Repeat(" ", key.Column-1) + quoted + tail
	}
	out := []byte(strings.Join(lines, ""))
	if g, err := Parse(path, out); err != nil || len(g.Runs) != len(f.Runs) || g.Runs[run].LogReading != reading {
		return byHand(at)
	}
	return out, nil
}

// SingleQuoted writes text as a value in single quotes.
func SingleQuoted(text string) string { return "'" + strings.ReplaceAll(text, "'", "''") + "'" }

// runNode is the mapping of one run, by its path.
func runNode(f *File, data []byte, path string) ast.Node {
	root, _ := tree(&File{Path: f.Path}, data)
	kind, run := runOfPath(path)
	list := entryOf(root, kind+"s")
	if list == nil {
		return nil
	}
	if seq, ok := list.Value.(*ast.SequenceNode); ok && run < len(seq.Values) {
		return seq.Values[run]
	}
	return nil
}

// entryOf is the entry of a mapping with this key, nil if there is none.
func entryOf(n ast.Node, key string) *ast.MappingValueNode {
	var all []*ast.MappingValueNode
	switch m := n.(type) {
	case *ast.MappingNode:
		all = m.Values
	case *ast.MappingValueNode:
		all = []*ast.MappingValueNode{m}
	}
	for _, e := range all {
		if e.Key != nil && keyText(e) == key {
			return e
		}
	}
	return nil
}

// rawLines splits text into lines that keep their ends, as readable does without them.
func rawLines(data []byte) []string {
	var out []string
	text := string(data)
	for len(text) > 0 {
		n := strings.IndexAny(text, "\r\n")
		switch {
		case n < 0:
			n = len(text)
		case strings.HasPrefix(text[n:], "\r\n"):
			n += 2
		default:
			n++
		}
		out, text = append(out, text[:n]), text[n:]
	}
	return out
}

func cutLineEnd(line string) (text, end string) {
	text = strings.TrimRight(line, "\r\n")
	return text, line[len(text):]
}

// scalarEnd is where the single value that starts at a column (from 0) ends, -1 if that is not on this line.
func scalarEnd(line []rune, at int, n ast.Node) int {
	if at < 0 || at >= len(line) {
		return -1
	}
	switch quote := line[at]; quote {
	case '\'', '"':
		for i := at + 1; i < len(line); i++ {
			switch {
			case quote == '"' && line[i] == '\\':
				i++
			case line[i] == quote && quote == '\'' && i+1 < len(line) && line[i+1] == quote:
				i++
			case line[i] == quote:
				return i + 1
			}
		}
		return -1
	}
	s, ok := n.(*ast.StringNode)
	if !ok {
		return -1
	}
	value := []rune(s.Value)
	if at+len(value) > len(line) || string(line[at:at+len(value)]) != s.Value {
		return -1
	}
	return at + len(value)
}

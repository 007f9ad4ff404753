package device

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
)

// Bounds of what is read. A device file of a hundred parts has some 20 kB; the YAML reader takes time and stack in
// proportion to size and nesting (and more than that to lines), so all are bounded before it starts.
const (
	maxBytes  = 128 << 10
	maxLines  = 5000
	maxLine   = 4000 // characters
	maxNested = 24   // brackets open at one time
)

// tree reads the text as YAML. It never panics; what is wrong comes back as problems in plain words.
func tree(f *File, data []byte) (root ast.Node, problems Problems) {
	if p, ok := readable(f, data); !ok {
		return nil, Problems{p}
	}
	defer func() {
		if r := recover(); r != nil {
			root, problems = nil, Problems{f.Problem(Pos{}, "this cannot be read as YAML", "", "look for a stray bracket, quote, & or * near the last change")}
		}
	}()
	// Repeated keys are let through here, because the decoder reports them together with all else.
	file, err := parser.ParseBytes([]byte(strings.Join(f.Text, "\n")+"\n"), 0, parser.AllowDuplicateMapKey())
	if err != nil {
		return nil, Problems{syntaxProblem(f, err)}
	}
	for _, doc := range file.Docs {
		if doc.Body == nil {
			continue
		}
		if _, directive := doc.Body.(*ast.DirectiveNode); directive {
			return nil, Problems{f.Problem(posOf(doc.Body), "lines that start with % are not used in device files", "", "take the line out")}
		}
		if root != nil {
			problems = append(problems, f.Problem(posOf(doc.Body), "a second document starts here", "expected one device in one file", "put it in a file of its own, or take out the --- line"))
			break
		}
		root = doc.Body
	}
	if root == nil {
		problems = append(problems, f.Problem(Pos{}, "the file is empty", "expected at least device and parts, such as", "device: bench lamp"))
	}
	return root, problems
}

// readable splits the text into lines and checks what the YAML reader should not be given.
func readable(f *File, data []byte) (Problem, bool) {
	if len(data) > maxBytes {
		return f.Problem(Pos{}, fmt.Sprintf("the file has %d kB; a device file has at most %d kB", len(data)>>10, maxBytes>>10), "", "is this the right file? Logs belong in files beside it"), false
	}
	if bytes.HasPrefix(data, []byte{0xff, 0xfe}) || bytes.HasPrefix(data, []byte{0xfe, 0xff}) {
		return f.Problem(Pos{}, "the file is saved as UTF-16", "", "save it as UTF-8 text"), false
	}
	text := strings.TrimPrefix(string(data), "\ufeff")
	text = strings.ReplaceAll(text, "\r\n", "\n")
	text = strings.ReplaceAll(text, "\r", "\n")
	f.Text = strings.Split(strings.TrimSuffix(text, "\n"), "\n")
	if n := len(f.Text); n > maxLines {
		return f.Problem(Pos{}, fmt.Sprintf("the file has %d lines; a device file has at most %d", n, maxLines), "", "is this the right file? Logs belong in files beside it"), false
	}
	open := 0
	for i, line := range f.Text {
		at := Pos{i + 1, 1}
		if !utf8.ValidString(line) {
			col := 1
			for rest := line; ; col++ {
				r, n := utf8.DecodeRuneInString(rest)
				if r == utf8.RuneError && n <= 1 {
					break
				}
				rest = rest[n:]
			}
			f.Text[i] = strings.ToValidUTF8(line, "�")
			return f.Problem(Pos{i + 1, col}, "this is not UTF-8 text", "", "save the file as UTF-8 text"), false
		}
		if n := utf8.RuneCountInString(line); n > maxLine {
			return f.Problem(at, fmt.Sprintf("this line has %d characters", n), fmt.Sprintf("expected at most %d", maxLine), "break it up into indented lines"), false
		}
		col := 0
		for _, r := range line {
			col++
			switch {
			case r == '[' || r == '{':
				if open++; open > maxNested {
					return f.Problem(Pos{i + 1, col}, fmt.Sprintf("more than %d brackets are open here", maxNested), "", "close [ with ] and { with }"), false
				}
			case (r == ']' || r == '}') && open > 0:
				open--
			case r < 0x20 && r != '\t' || r == 0x7f || r == 0xfeff || r == 0x2028 || r == 0x2029 || r == 0x85:
				shown := []rune(line)
				shown[col-1] = '�'
				f.Text[i] = string(shown)
				return f.Problem(Pos{i + 1, col}, fmt.Sprintf("a control character (code %d) stands here", r), "", "delete it; is this a text file?"), false
			}
		}
		if tab := strings.IndexByte(line, '\t'); tab >= 0 && strings.TrimSpace(line[:tab]) == "" && strings.TrimSpace(line) != "" {
			return f.Problem(Pos{i + 1, tab + 1}, "a tab stands at the start of this line", "expected spaces: YAML does not allow tabs for indenting", "replace each tab by two spaces"), false
		}
	}
	return Problem{}, true
}

var afterBracket = regexp.MustCompile(`\[[^\[\]]*\]\s*(mm|cm|m|in)\b`)

// syntaxWords puts the YAML reader's messages into words for a person who does not know YAML. The first pattern found in a
// message counts; "" is any.
var syntaxWords = []struct{ in, what, hint string }{
	{"could not find flow mapping end token", "a { is never closed", "add the missing }"},
	{"sequence end token", "a [ is never closed", "add the missing ]"},
	{"',' or '}' must be specified", "inside { } a comma or the closing } is missing here", "put a comma between entries; write sizes with x, as in 60 x 90 x 22 mm"},
	{"',' or ']' must be specified", "inside [ ] a comma or the closing ] is missing here", "put a comma between entries"},
	{"corresponding to ']'", "a ] stands here without its [", "take it out, or add the ["},
	{"corresponding to '}'", "a } stands here without its {", "take it out, or add the {"},
	{"could not find end character of double-quoted", "a \" is never closed", "add the missing \""},
	{"could not find end character of single-quoted", "a ' is never closed", "add the missing ', or put text with an apostrophe into \"double quotes\""},
	{"mapping value is not allowed", "a second colon stands here, or a line that is not indented like its neighbours", "one key: value per line, keys of one mapping below each other; put text with a colon into quotes"},
	{"map key-value is pre-defined", "this line belongs to nothing: a key: value list has begun above it", "every line needs key: value, and lines that belong together the same indent"},
	{"non-map value is specified", "this line is not of the form key: value", "add a colon and a space after the key"},
	{"block sequence entries are not allowed", "a list entry (-) cannot start here", "begin the list on a new line below its key"},
	{"found character", "a character that cannot start a value stands here", "put the text into quotes"},
	{"anchor", "& and * (anchors and aliases) are not used in device files", "write the value out; put text that begins with & or * into quotes"},
	{"alias", "& and * (anchors and aliases) are not used in device files", "write the value out; put text that begins with & or * into quotes"},
	{"directive", "lines that start with % are not used in device files", "take the line out; put text that begins with % into quotes"},
	{"document separator", "text after --- is not used in device files", "take it out"},
	{"", "this line cannot be read as YAML", "check its indent, colons, brackets and quotes against the lines around it"},
}

// syntaxProblem puts a YAML error into the form of all others.
func syntaxProblem(f *File, err error) Problem {
	pos, message := Pos{}, err.Error()
	var ye yaml.Error
	if errors.As(err, &ye) {
		message = ye.GetMessage()
		if tk := ye.GetToken(); tk != nil && tk.Position != nil {
			pos = Pos{min(max(tk.Position.Line, 1), max(len(f.Text), 1)), max(tk.Position.Column, 1)}
		}
	}
	for i := max(pos.Line-2, 0); i < min(pos.Line+1, len(f.Text)); i++ {
		if m := afterBracket.FindStringIndex(f.Text[i]); m != nil {
			return f.Problem(Pos{i + 1, utf8.RuneCountInString(f.Text[i][:m[0]]) + 1}, "a unit stands behind a list in brackets", "expected sizes such as 60 x 90 x 22 mm, or [60 mm, 90 mm, 22 mm]", "write it with x and without brackets")
		}
	}
	for _, w := range syntaxWords {
		if strings.Contains(message, w.in) {
			return f.Problem(pos, w.what, "", w.hint)
		}
	}
	return f.Problem(pos, message, "", "")
}

// posOf is where a node starts in the file.
func posOf(n ast.Node) Pos {
	if n == nil {
		return Pos{}
	}
	switch m := n.(type) {
	case *ast.MappingNode:
		if !m.IsFlowStyle && len(m.Values) > 0 {
			return posOf(m.Values[0].Key)
		}
	case *ast.MappingValueNode:
		return posOf(m.Key)
	}
	tk := n.GetToken()
	if tk == nil || tk.Position == nil {
		return Pos{}
	}
	return Pos{tk.Position.Line, tk.Position.Column}
}

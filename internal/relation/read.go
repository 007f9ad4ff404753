package relation

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"

	"finwright/internal/device"
	"finwright/internal/unit"
)

// Bounds of what is read: the YAML reader takes time and stack in proportion to size and nesting.
const (
	maxBytes  = 64 << 10
	maxLines  = 2000
	maxNested = 8
	maxShown  = 20 // problems of one file
)

// The states a figure can have, surest first.
var states = []struct{ key, means string }{
	{"published", "seen in the work itself"},
	{"published companion", "seen in a second public work that repeats it"},
	{"recomputed", "the published problem or formula evaluated by other means than this program"},
	{"from memory", "the figure, or the coefficients behind it, remembered and not looked up"},
}

// table is one relation with its points.
type table struct {
	relation       *relation
	source, status string
	points         []point
}

// point is one published figure.
type point struct {
	pos    device.Pos
	id     string
	in     values
	own    []string // inputs that this point states itself, as written: "Ra 1e5"
	given  []string // those of the whole table
	result *quantity
	scale  scale
	target float64 // SI
	within float64 // SI
}

type reader struct {
	f        *device.File // path and lines, for excerpts
	problems device.Problems
	ids      map[string]int
}

func (r *reader) bad(pos device.Pos, what, want, hint string) {
	r.problems = append(r.problems, r.f.Problem(pos, what, want, hint))
}

// read reads a file of tables. All problems come back together as device.Problems; then there are no tables.
func read(path string, data []byte) (title string, tables []table, err error) {
	r := &reader{f: &device.File{Path: path}, ids: map[string]int{}}
	if root := r.tree(data); root != nil {
		title, tables = r.file(root)
	}
	if n := len(r.problems) - maxShown; n > 0 {
		r.problems = append(r.problems[:maxShown], r.f.Problem(r.problems[maxShown].Pos, fmt.Sprintf("and %d more problems", n), "", "mend those above first"))
	}
	if len(r.problems) > 0 {
		return "", nil, r.problems
	}
	return title, tables, nil
}

// tree reads the text as YAML and never panics.
func (r *reader) tree(data []byte) (root ast.Node) {
	r.f.Text = lines(data)
	switch {
	case len(data) > maxBytes:
		r.f.Text = nil
		r.bad(device.Pos{}, fmt.Sprintf("the file has %d kB; a file of tables has at most %d kB", len(data)>>10, maxBytes>>10), "", "is this the right file?")
		return nil
	case !utf8.Valid(data):
		r.f.Text = nil
		r.bad(device.Pos{}, "this is not UTF-8 text", "", "save the file as UTF-8 text")
		return nil
	case len(r.f.Text) > maxLines:
		r.bad(device.Pos{}, fmt.Sprintf("the file has %d lines; a file of tables has at most %d", len(r.f.Text), maxLines), "", "split it")
		return nil
	case bytes.ContainsFunc(data, func(c rune) bool { return c < 0x20 && c != '\n' && c != '\r' && c != '\t' || c == 0x7f }):
		r.f.Text = nil
		r.bad(device.Pos{}, "there are control characters in it", "", "is this a text file?")
		return nil
	}
	open := 0
	for i, line := range r.f.Text {
		for j, c := range line {
			switch {
			case c == '[' || c == '{':
				if open++; open > maxNested {
					r.bad(device.Pos{Line: i + 1, Column: utf8.RuneCountInString(line[:j]) + 1}, fmt.Sprintf("more than %d brackets are open here", maxNested), "", "close [ with ] and { with }")
					return nil
				}
			case (c == ']' || c == '}') && open > 0:
				open--
			}
		}
	}
	defer func() {
		if recover() != nil {
			root = nil
			r.bad(device.Pos{}, "this cannot be read as YAML", "", "look for a stray bracket, quote, & or * near the last change")
		}
	}()
	file, err := parser.ParseBytes([]byte(strings.Join(r.f.Text, "\n")+"\n"), 0, parser.AllowDuplicateMapKey())
	if err != nil {
		pos, message := device.Pos{}, err.Error()
		var ye yaml.Error
		if errors.As(err, &ye) {
			message = ye.GetMessage()
			if tk := ye.GetToken(); tk != nil && tk.Position != nil {
				pos = device.Pos{Line: tk.Position.Line, Column: tk.Position.Column}
			}
		}
		r.bad(pos, "this cannot be read as YAML: "+message, "", "check indent, colons, brackets and quotes of this line against those around it")
		return nil
	}
	for _, doc := range file.Docs {
		switch {
		case doc.Body == nil:
		case root != nil:
			r.bad(posOf(doc.Body), "a second document starts here", "", "put it in a file of its own")
			return nil
		default:
			root = doc.Body
		}
	}
	if root == nil {
		r.bad(device.Pos{}, "the file is empty", "expected title, source, status and tables", "")
	}
	return root
}

func posOf(n ast.Node) device.Pos {
	switch m := n.(type) {
	case nil:
		return device.Pos{}
	case *ast.MappingNode:
		if !m.IsFlowStyle && len(m.Values) > 0 {
			return posOf(m.Values[0].Key)
		}
	case *ast.MappingValueNode:
		return posOf(m.Key)
	}
	if tk := n.GetToken(); tk != nil && tk.Position != nil {
		return device.Pos{Line: tk.Position.Line, Column: tk.Position.Column}
	}
	return device.Pos{}
}

// entry is one key: value of a mapping.
type entry struct {
	key      string
	pos, val device.Pos
	node     ast.Node
}

// entries lists a mapping; ok is false when the node is none.
func (r *reader) entries(n ast.Node, what string) (out []entry, ok bool) {
	var all []*ast.MappingValueNode
	switch m := n.(type) {
	case *ast.MappingNode:
		all = m.Values
	case *ast.MappingValueNode:
		all = []*ast.MappingValueNode{m}
	default:
		r.bad(posOf(n), what+" should have keys with values", "expected key: value", "")
		return nil, false
	}
	line := map[string]int{}
	for _, e := range all {
		if e.Key == nil || e.Key.GetToken() == nil {
			continue
		}
		key := e.Key.GetToken().Value
		if s, is := e.Key.(*ast.StringNode); is {
			key = s.Value
		}
		pos := posOf(e.Key)
		if first, again := line[key]; again {
			r.bad(pos, fmt.Sprintf("%q is given twice", key), "", fmt.Sprintf("it is also on line %d: keep one", first))
			continue
		}
		line[key] = pos.Line
		val := posOf(e.Value)
		if val.Line == 0 {
			val = pos
		}
		out = append(out, entry{key, pos, val, e.Value})
	}
	return out, true
}

// text reads a single value.
func (r *reader) text(e entry) (string, bool) {
	switch m := e.node.(type) {
	case *ast.StringNode:
		if strings.TrimSpace(m.Value) != "" {
			return strings.TrimSpace(m.Value), true
		}
	case *ast.LiteralNode:
		if m.Value != nil && strings.TrimSpace(m.Value.Value) != "" {
			return strings.Join(strings.Fields(m.Value.Value), " "), true
		}
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode:
		return e.node.GetToken().Value, true
	case nil, *ast.NullNode:
	default:
		r.bad(e.val, e.key+": a single value should stand here", "", "")
		return "", false
	}
	r.bad(e.pos, e.key+": nothing is written here", "", "fill it in, or take the key out")
	return "", false
}

// unknown reports a key that is not among names.
func (r *reader) unknown(e entry, names []string) {
	hint := ""
	if near := unit.Nearest(e.key, names); near != "" {
		hint = fmt.Sprintf("did you mean %q?", near)
	}
	r.bad(e.pos, fmt.Sprintf("there is no key %q here", e.key), "expected one of "+strings.Join(names, ", "), hint)
}

func (r *reader) status(e entry) string {
	text, ok := r.text(e)
	if !ok {
		return ""
	}
	var names []string
	for _, s := range states {
		if text == s.key {
			return text
		}
		names = append(names, s.key+" ("+s.means+")")
	}
	r.bad(e.val, fmt.Sprintf("%q is no status", text), "expected one of "+strings.Join(names, "; "), "")
	return ""
}

// list gives the items of a list.
func (r *reader) list(e entry) []ast.Node {
	s, ok := e.node.(*ast.SequenceNode)
	if !ok || len(s.Values) == 0 {
		r.bad(e.pos, e.key+" should be a list", "expected lines that begin with -", "")
		return nil
	}
	return s.Values
}

func (r *reader) file(root ast.Node) (title string, tables []table) {
	es, ok := r.entries(root, "the file")
	if !ok {
		return "", nil
	}
	var source, status string
	var list []ast.Node
	before := len(r.problems)
	for _, e := range es {
		switch e.key {
		case "title":
			title, _ = r.text(e)
		case "source":
			source, _ = r.text(e)
		case "status":
			status = r.status(e)
		case "tables":
			list = r.list(e)
		default:
			r.unknown(e, []string{"title", "source", "status", "tables"})
		}
	}
	if len(r.problems) == before && (title == "" || list == nil) {
		r.bad(device.Pos{}, "a file of tables needs a title and tables", "expected title: ..., source: ..., status: ..., tables: and a list", "")
	}
	for _, n := range list {
		if t, ok := r.table(n, source, status); ok {
			tables = append(tables, t)
		}
	}
	return title, tables
}

func (r *reader) table(n ast.Node, source, status string) (t table, ok bool) {
	es, ok := r.entries(n, "a table")
	if !ok {
		return t, false
	}
	t.source, t.status = source, status
	before := len(r.problems)
	var given, within, points *entry
	for i, e := range es {
		switch e.key {
		case "relation":
			name, ok := r.text(e)
			if !ok {
				break
			}
			if t.relation = registry[name]; t.relation == nil {
				hint := ""
				if near := unit.Nearest(name, Names()); near != "" {
					hint = fmt.Sprintf("did you mean %q?", near)
				}
				r.bad(e.val, fmt.Sprintf("there is no relation %q", name), "expected one of: "+strings.Join(Names(), "; "), hint)
			}
		case "source":
			t.source, _ = r.text(e)
		case "status":
			t.status = r.status(e)
		case "given":
			given = &es[i]
		case "within":
			within = &es[i]
		case "points":
			points = &es[i]
		default:
			r.unknown(e, []string{"relation", "source", "status", "given", "within", "points"})
		}
	}
	if len(r.problems) > before {
		return t, false
	}
	for _, need := range []struct {
		there bool
		what  string
	}{{t.relation != nil, "relation"}, {t.source != "", "source"}, {t.status != "", "status"}, {points != nil, "points"}} {
		if !need.there {
			r.bad(posOf(n), "this table has no "+need.what, "", "add "+need.what+": ..."+map[bool]string{true: " here, or for the whole file"}[need.what == "source" || need.what == "status"])
			return t, false
		}
	}
	common := point{in: values{}}
	if given != nil {
		es, _ := r.entries(given.node, "given")
		for _, e := range es {
			if q := find(t.relation.in, e.key); q != nil {
				r.input(&common, q, e)
			} else {
				r.unknown(e, names(t.relation.in))
			}
		}
	}
	for _, n := range r.list(*points) {
		if p, ok := r.point(n, &t, &common, within); ok {
			t.points = append(t.points, p)
		}
	}
	return t, len(r.problems) == before
}

func names(qs []quantity) []string {
	var out []string
	for _, q := range qs {
		out = append(out, q.name)
	}
	return out
}

func (r *reader) input(p *point, q *quantity, e entry) {
	text, ok := r.text(e)
	if !ok {
		return
	}
	si, _, err := q.kind.read(text)
	switch {
	case err != nil:
		r.bad(e.val, e.key+": "+err.Error(), q.kind.want(), "")
	case !(si > 0) && !q.signed:
		r.bad(e.val, e.key+" must be above zero", q.kind.want(), "")
	default:
		p.in[q.name] = si
		p.own = append(p.own, q.name+" "+text)
	}
}

func (r *reader) point(n ast.Node, t *table, common *point, within *entry) (p point, ok bool) {
	es, ok := r.entries(n, "a point")
	if !ok {
		return p, false
	}
	p.pos, p.in, p.given = posOf(n), values{}, common.own
	for name, si := range common.in {
		p.in[name] = si
	}
	before := len(r.problems)
	var target entry
	for i, e := range es {
		q := find(t.relation.out, e.key)
		switch {
		case e.key == "id":
			p.id, _ = r.text(e)
		case e.key == "within":
			within = &es[i]
		case q != nil && p.result != nil:
			r.bad(e.pos, fmt.Sprintf("this point states both %s and %s", p.result.name, q.name), "expected one figure to check", "make two points of it")
		case q != nil:
			p.result, target = q, e
		case find(t.relation.in, e.key) != nil:
			r.input(&p, find(t.relation.in, e.key), e)
		default:
			r.unknown(e, append([]string{"id", "within"}, append(names(t.relation.in), names(t.relation.out)...)...))
		}
	}
	if len(r.problems) > before {
		return p, false
	}
	for i := range t.relation.in {
		q := &t.relation.in[i]
		if _, there := p.in[q.name]; !there && !q.optional {
			r.bad(p.pos, fmt.Sprintf("%s is not stated", q.name), q.kind.want(), "add it here, or under given for the whole table")
			return p, false
		}
	}
	switch {
	case p.id == "":
		r.bad(p.pos, "this point has no id", "", "add id: and a short name of its own")
		return p, false
	case p.result == nil:
		r.bad(p.pos, "this point has no figure to check", "expected one of "+strings.Join(names(t.relation.out), ", "), "")
		return p, false
	case within == nil:
		r.bad(p.pos, "nothing says how far ours may be off", "expected within: and a share in % or a figure with its unit", "add it here, or for the whole table")
		return p, false
	}
	if line, again := r.ids[p.id]; again {
		r.bad(p.pos, fmt.Sprintf("the id %q is taken", p.id), "", fmt.Sprintf("by line %d", line))
		return p, false
	}
	r.ids[p.id] = p.pos.Line
	text, ok := r.text(target)
	if !ok {
		return p, false
	}
	var err error
	if p.target, p.scale, err = p.result.kind.read(text); err != nil {
		r.bad(target.val, target.key+": "+err.Error(), p.result.kind.want(), "")
		return p, false
	}
	if text, ok = r.text(*within); !ok {
		return p, false
	}
	if p.within, err = p.result.kind.tolerance(text, p.target); err != nil {
		r.bad(within.val, "within: "+err.Error(), "", "")
		return p, false
	}
	return p, true
}

// lines are those of a text, for excerpts.
func lines(data []byte) []string {
	text := strings.ReplaceAll(strings.TrimPrefix(string(data), "\ufeff"), "\r\n", "\n")
	return strings.Split(strings.TrimSuffix(text, "\n"), "\n")
}

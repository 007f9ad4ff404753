package device

import (
	"errors"
	"fmt"
	"math"
	"os"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"

	"finwright/internal/unit"
)

// Load reads the device file at path. All problems of the file come back together as Problems.
func Load(path string) (*File, error) {
	if info, err := os.Stat(path); err == nil && info.Size() > maxBytes {
		return nil, Problems{{File: path, What: fmt.Sprintf("the file has %d kB; a device file has at most %d kB", info.Size()>>10, maxBytes>>10), Hint: "is this the right file? Logs belong in files beside it"}}
	}
	data, err := os.ReadFile(path)
	if err != nil {
		what := "the file cannot be read: " + err.Error()
		var pe *os.PathError
		if errors.As(err, &pe) {
			what = "the file cannot be read: " + pe.Err.Error()
		}
		return nil, Problems{{File: path, What: what, Hint: "check the name and the folder"}}
	}
	return Parse(path, data)
}

// Parse reads a device file's text. path is for messages, and logs are looked for beside it. All problems come back
// together as Problems; then there is no file. What is only odd is in the file's Warnings.
func Parse(path string, data []byte) (*File, error) {
	f := &File{Path: path}
	f.places = map[string]Pos{}
	root, problems := tree(f, data)
	if root != nil {
		d := &decoder{f: f}
		d.mapping(root, reflect.ValueOf(f).Elem(), scope{})
		problems = append(problems, d.problems...)
		f.gatherRuns()
		problems = append(problems, f.check(d.broken)...)
	}
	var errs, warnings Problems
	for _, p := range problems.sorted() {
		if p.Severity == Warning {
			warnings = append(warnings, p)
		} else {
			errs = append(errs, p)
		}
	}
	if n := len(errs) - maxShown; n > 0 {
		errs = append(errs[:maxShown], f.Problem(errs[maxShown].Pos, fmt.Sprintf("and %d more problems from here on", n), "", "mend those above first; many come from one cause"))
	}
	if len(errs) > 0 {
		return nil, errs
	}
	f.Warnings = warnings
	f.assumeDefaults()
	return f, nil
}

// maxShown is how many problems of one file are shown. A hundred faults usually come from one slip.
const maxShown = 40

// decoder fills the types of spec.go from the YAML tree.
type decoder struct {
	f        *File
	problems Problems
	// broken are paths whose value had an error: what hangs on them is not reported as well.
	broken map[string]bool
}

// scope is where in the file the decoder is.
type scope struct {
	path  string // "parts.chip"
	about string // `part "chip"`, for messages; "" at the top
	pos   Pos
}

func (s scope) in() string {
	if s.about == "" {
		return ""
	}
	return " in " + s.about
}

func (s scope) join(name string) string {
	if s.path == "" {
		return name
	}
	return s.path + "." + name
}

func (d *decoder) bad(path string, pos Pos, what, want, hint string) {
	d.problems = append(d.problems, d.f.Problem(pos, what, want, hint))
	if d.broken == nil {
		d.broken = map[string]bool{}
	}
	for p := path; ; {
		d.broken[p] = true
		i := strings.LastIndexByte(p, '.')
		if i < 0 {
			break
		}
		p = p[:i]
	}
}

// nodeWords says what a node is, for messages.
func nodeWords(n ast.Node) string {
	switch n.(type) {
	case *ast.MappingNode, *ast.MappingValueNode:
		return "a mapping (key: value)"
	case *ast.SequenceNode:
		return "a list"
	case *ast.NullNode, nil:
		return "nothing"
	}
	return "a single value"
}

// plain refuses the YAML features that device files do without.
func (d *decoder) plain(n ast.Node, path string) bool {
	switch m := n.(type) {
	case *ast.AnchorNode, *ast.AliasNode, *ast.MergeKeyNode:
		d.bad(path, posOf(n), "& and * (anchors and aliases) are not used in device files", "", "write the value out; put text that begins with & or * into quotes")
	case *ast.TagNode:
		d.bad(path, posOf(n), "! (a tag) is not used in device files", "", "take it out; put text that begins with ! into quotes")
	case *ast.MappingKeyNode:
		d.bad(path, posOf(n), "? (a long key) is not used in device files", "", "write key: value")
	case *ast.MappingValueNode:
		return d.plain(m.Key, path)
	default:
		return true
	}
	return false
}

// entries lists the key: value pairs of a mapping; repeated and odd keys are reported and left out.
func (d *decoder) entries(n ast.Node, path string) []*ast.MappingValueNode {
	var all []*ast.MappingValueNode
	switch m := n.(type) {
	case *ast.MappingNode:
		all = m.Values
	case *ast.MappingValueNode:
		all = []*ast.MappingValueNode{m}
	}
	first := map[string]int{}
	var out []*ast.MappingValueNode
	for _, e := range all {
		if e.Key == nil || !d.plain(e.Key, path) {
			continue
		}
		name := keyText(e)
		pos := posOf(e.Key)
		if line, again := first[name]; again {
			d.bad(path, pos, fmt.Sprintf("%q is given twice", name), "", fmt.Sprintf("it is also on line %d: keep one", line))
			continue
		}
		first[name] = pos.Line
		out = append(out, e)
	}
	return out
}

func keyText(e *ast.MappingValueNode) string {
	if s, ok := e.Key.(*ast.StringNode); ok {
		return s.Value
	}
	return e.Key.GetToken().Value
}

// absent says whether nothing is written after a key.
func absent(n ast.Node) bool {
	_, null := n.(*ast.NullNode)
	return n == nil || null
}

// mapping decodes a YAML mapping into a struct of spec.go.
func (d *decoder) mapping(n ast.Node, v reflect.Value, sc scope) {
	ks := keysOf(v.Type())
	if !d.plain(n, sc.path) {
		return
	}
	switch n.(type) {
	case *ast.MappingNode, *ast.MappingValueNode:
	default:
		var egs []string
		for i := range ks {
			if k := &ks[i]; k.need || i == 0 && !ks[len(ks)-1].need {
				egs = append(egs, k.name+": "+k.example())
			}
		}
		want := "expected a mapping such as {" + strings.Join(egs, ", ") + "}"
		what := "expected keys with values, but here is " + nodeWords(n)
		if sc.about != "" {
			what = sc.about + " should have keys with values, but here is " + nodeWords(n)
		} else {
			want = "expected a mapping such as"
			for _, k := range ks {
				if k.need {
					want += "\n" + k.shown()
				}
			}
		}
		hint := ""
		if v.Type() == reflect.TypeFor[Retrofit]() {
			want, hint = "expected a mapping such as {changes: [{remove: rubber skin}]}", "put changes: above the list"
		}
		d.bad(sc.path, posOf(n), what, want, hint)
		return
	}
	setPos(v, sc.pos)
	known := map[string]*key{}
	for i := range ks {
		known[ks[i].name] = &ks[i]
	}
	seen, meant := map[string]bool{}, map[string]bool{}
	for _, e := range d.entries(n, sc.path) {
		name := keyText(e)
		k := known[name]
		if k == nil {
			hint := ""
			if near := unit.Nearest(name, keyNames(ks)); near != "" {
				hint, meant[near] = fmt.Sprintf("did you mean %q?", near), true
			}
			d.bad(sc.path, posOf(e.Key), fmt.Sprintf("there is no key %q%s", name, sc.in()), "expected one of "+strings.Join(keyNames(ks), ", "), hint)
			continue
		}
		seen[name] = true
		pos := posOf(e.Value)
		if absent(e.Value) {
			pos = posOf(e.Key)
		}
		path := sc.join(k.name)
		if k.typ == reflect.TypeFor[[]Change]() {
			path = sc.path // changes are counted within their retrofit: "retrofits.finned back.2"
		}
		d.f.places[path] = pos
		d.value(e.Value, v.FieldByIndex(k.index), k, scope{path: path, about: sc.about, pos: pos}, posOf(e.Key))
	}
	for i := range ks {
		if k := &ks[i]; k.need && !seen[k.name] && !meant[k.name] {
			about := sc.about
			if about == "" {
				about = "the file"
			}
			d.bad(sc.path, sc.pos, fmt.Sprintf("%s has no %q", about, k.name), "expected "+k.name+": "+k.doc, "add "+k.shown())
		}
	}
}

// setPos fills the Pos field of v and of what is inlined in it.
func setPos(v reflect.Value, pos Pos) {
	for i := range v.NumField() {
		f := v.Type().Field(i)
		if f.Name == "Pos" && f.Type == typePos {
			v.Field(i).Set(reflect.ValueOf(pos))
		}
		if f.Tag.Get("key") == ",inline" {
			setPos(v.Field(i), pos)
		}
	}
}

// value decodes what stands after one key. keyPos is where the key itself stands.
func (d *decoder) value(n ast.Node, v reflect.Value, k *key, sc scope, keyPos Pos) {
	if !absent(n) && !d.plain(n, sc.path) {
		return
	}
	container := v.Kind() == reflect.Pointer || v.Kind() == reflect.Slice && v.Type() != typeVec || v.Kind() == reflect.Struct && !k.hasDim() && v.Type() != typeDirection
	if absent(n) {
		// A list or mapping with nothing in it is as good as left out; a value is not.
		if !container || k.need {
			d.bad(sc.path, keyPos, fmt.Sprintf("%s: nothing is written here", k.name), k.want(), "fill it in, or take the key out")
		}
		return
	}
	switch v.Type() {
	case typeQ:
		if text, ok := d.scalar(n, k, sc); ok {
			if q, ok := d.quantity(text, n, k, sc); ok {
				v.Set(reflect.ValueOf(q))
			}
		}
		return
	case typeVec:
		d.vec(n, v, k, sc)
		return
	case typeByMode:
		d.byMode(n, v, k, sc)
		return
	case typeAir:
		d.air(n, v, k, sc)
		return
	case typeDirection:
		d.direction(n, v, k, sc)
		return
	}
	switch v.Kind() {
	case reflect.String:
		if text, ok := d.scalar(n, k, sc); ok && d.word(text, k, sc) {
			v.SetString(text)
		}
	case reflect.Bool:
		d.yesNo(n, v, k, sc)
	case reflect.Pointer:
		p := reflect.New(v.Type().Elem())
		d.mapping(n, p.Elem(), scope{path: sc.path, about: within(k.name, sc), pos: sc.pos})
		v.Set(p)
	case reflect.Struct:
		d.mapping(n, v, scope{path: sc.path, about: within(k.name, sc), pos: sc.pos})
	case reflect.Slice:
		switch {
		case v.Type().Elem().Kind() == reflect.String:
			d.words(n, v, k, sc)
		case k.named != "":
			d.namedList(n, v, k, sc)
		default:
			d.list(n, v, k, sc)
		}
	default:
		panic("device: the reader does not know fields of type " + v.Type().String())
	}
}

// within words a mapping inside another for messages: `turn of part "fins"`.
func within(name string, sc scope) string {
	if sc.about == "" {
		return name
	}
	return name + " of " + sc.about
}

// scalar gives the text of a single value.
func (d *decoder) scalar(n ast.Node, k *key, sc scope) (string, bool) {
	switch m := n.(type) {
	case *ast.StringNode:
		return m.Value, true
	case *ast.LiteralNode:
		if m.Value != nil {
			return strings.TrimRight(m.Value.Value, "\n"), true
		}
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.InfinityNode, *ast.NanNode:
		return m.GetToken().Value, true
	}
	hint := ""
	if _, mapped := n.(*ast.MappingNode); mapped && k.typ.Kind() == reflect.String {
		hint = "put text with a colon into quotes"
	}
	d.bad(sc.path, sc.pos, fmt.Sprintf("%s: here is %s", k.name, nodeWords(n)), k.want(), hint)
	return "", false
}

// word checks a word or text.
func (d *decoder) word(text string, k *key, sc scope) bool {
	if strings.TrimSpace(text) == "" {
		d.bad(sc.path, sc.pos, k.name+": nothing is written here", k.want(), "fill it in, or take the key out")
		return false
	}
	if len(k.enum) == 0 {
		return true
	}
	for _, e := range k.enum {
		if e == text {
			return true
		}
	}
	hint := ""
	if near := unit.Nearest(text, k.enum); near != "" {
		hint = "did you mean " + near + "?"
	}
	d.bad(sc.path, sc.pos, fmt.Sprintf("%s: %q is not known here", k.name, text), k.want(), hint)
	return false
}

// quantity reads a quantity and checks it against the key's limit.
func (d *decoder) quantity(text string, n ast.Node, k *key, sc scope) (Q, bool) {
	q, err := unit.Parse(text, k.dim)
	if err != nil {
		d.badQuantity(err, n, k, sc)
		return Q{}, false
	}
	return d.settle(q, text, k, sc)
}

// settle gives a quantity its place, its prior when it is unknown, and checks its limit.
func (d *decoder) settle(q unit.Quantity, text string, k *key, sc scope) (Q, bool) {
	if q.Kind == unit.Unknown {
		prior, ok := unknowns[k.prior]
		if !ok {
			d.bad(sc.path, sc.pos, k.name+`: "unknown" will not do here`, k.want(), measure(k))
			return Q{}, false
		}
		q = prior.quantity()
		d.f.assumed = append(d.f.assumed, Assumption{About: aboutPath(sc.path), Value: unit.FormatInterval(q.Lo, q.Mid, q.Hi, q.Dim), Source: "unknown in the file; " + prior.source, Path: sc.path})
	}
	if broken := limitOf(k.limit, q.Lo, q.Hi); broken != "" {
		what, hint := fmt.Sprintf("%s: %q %s", k.name, text, broken), ""
		if q.Doubtful() && limitOf(k.limit, q.Mid, q.Mid) == "" {
			what = fmt.Sprintf("%s: %q reaches too far: it %s", k.name, text, broken)
			hint = "write it as a range that keeps inside"
		}
		d.bad(sc.path, sc.pos, what, k.want(), hint)
		return Q{}, false
	}
	return Q{Quantity: q, Pos: sc.pos, Path: sc.path}, true
}

// badQuantity reports what unit found wrong, with the caret at the very character.
func (d *decoder) badQuantity(err error, n ast.Node, k *key, sc scope) {
	var pe *unit.ParseError
	if !errors.As(err, &pe) {
		d.bad(sc.path, sc.pos, k.name+": "+err.Error(), k.want(), "")
		return
	}
	pos := sc.pos
	if s, ok := n.(*ast.StringNode); ok && pe.Offset <= len(pe.Text) {
		// Inside a value that stands on one line as written, the caret can go to the very place.
		skip := 0
		if t := s.Token.Type; t == token.DoubleQuoteType || t == token.SingleQuoteType {
			skip = 1
		}
		line := []rune(d.lineAt(pos.Line))
		start := pos.Column - 1 + skip
		text := []rune(pe.Text)
		if start >= 0 && start+len(text) <= len(line) && string(line[start:start+len(text)]) == pe.Text {
			pos.Column = start + utf8.RuneCountInString(pe.Text[:pe.Offset]) + 1
		}
	}
	d.bad(sc.path, pos, fmt.Sprintf("%s: %q: %s", k.name, pe.Text, pe.What), k.want(), pe.Hint)
}

func (d *decoder) lineAt(line int) string {
	if line < 1 || line > len(d.f.Text) {
		return ""
	}
	return d.f.Text[line-1]
}

// vecNames are the path names of a vector's components.
var vecNames = map[int][]string{2: {"first", "second"}, 3: {"x", "y", "z"}}

// vec decodes "60 x 90 x 22 mm", or a list of as many lengths.
func (d *decoder) vec(n ast.Node, v reflect.Value, k *key, sc scope) {
	var text string
	var pos []Pos // of each component, when they are a list
	if list, ok := n.(*ast.SequenceNode); ok {
		var texts []string
		item := *k
		for _, e := range list.Values {
			isc := scope{path: sc.path, about: sc.about, pos: posOf(e)}
			if e == nil || !d.plain(e, sc.path) {
				return
			}
			t, ok := d.scalar(e, &item, isc)
			if !ok {
				return
			}
			texts = append(texts, t)
			pos = append(pos, isc.pos)
		}
		text = strings.Join(texts, ", ")
	} else {
		var ok bool
		if text, ok = d.scalar(n, k, sc); !ok {
			return
		}
	}
	if strings.EqualFold(strings.TrimSpace(text), "unknown") {
		d.bad(sc.path, sc.pos, k.name+`: "unknown" will not do here`, k.want(), measure(k))
		return
	}
	qs, err := unit.ParseVec(text, k.dim)
	if err != nil {
		var pe *unit.ParseError
		if errors.As(err, &pe) && len(pos) > 0 {
			sc.pos = pos[min(strings.Count(text[:min(pe.Offset, len(text))], ", "), len(pos)-1)]
		}
		d.badQuantity(err, n, k, sc)
		return
	}
	if len(qs) != k.n {
		d.bad(sc.path, sc.pos, fmt.Sprintf("%s: %q has %d lengths", k.name, text, len(qs)), k.want(), "")
		return
	}
	var out Vec
	for i, q := range qs {
		isc := scope{path: sc.path + "." + vecNames[k.n][i], about: sc.about, pos: sc.pos}
		if len(pos) == k.n {
			isc.pos = pos[i]
		}
		one, ok := d.settle(q, q.Text, k, isc)
		if !ok {
			return
		}
		out = append(out, one)
	}
	v.Set(reflect.ValueOf(out))
}

// byMode decodes a power that may differ by mode.
func (d *decoder) byMode(n ast.Node, v reflect.Value, k *key, sc scope) {
	out := ByMode{Pos: sc.pos}
	switch n.(type) {
	case *ast.MappingNode, *ast.MappingValueNode:
		entries := d.entries(n, sc.path)
		if len(entries) == 0 {
			d.bad(sc.path, sc.pos, k.name+": no mode is given", k.want(), "")
			return
		}
		for _, e := range entries {
			mode := keyText(e)
			if !d.name(mode, "mode", "true", posOf(e.Key), sc.path) {
				continue
			}
			msc := scope{path: sc.join(mode), about: sc.about, pos: posOf(e.Value)}
			if absent(e.Value) {
				d.bad(msc.path, posOf(e.Key), fmt.Sprintf("%s of mode %q: nothing is written here", k.name, mode), "expected a power such as "+k.example(), "")
				continue
			}
			item := *k
			item.typ = typeQ
			text, ok := d.scalar(e.Value, &item, msc)
			if !ok {
				continue
			}
			if q, ok := d.quantity(text, e.Value, &item, msc); ok {
				out.Modes = append(out.Modes, ModePower{Name: mode, Q: q})
			}
		}
	default:
		text, ok := d.scalar(n, k, sc)
		if !ok {
			return
		}
		if out.All, ok = d.quantity(text, n, k, sc); !ok {
			return
		}
	}
	v.Set(reflect.ValueOf(out))
}

// air decodes "still" or a speed.
func (d *decoder) air(n ast.Node, v reflect.Value, k *key, sc scope) {
	text, ok := d.scalar(n, k, sc)
	if !ok {
		return
	}
	out := Air{Given: true, Pos: sc.pos}
	switch {
	case text == "still":
		out.Still = true
	case unit.Nearest(text, []string{"still"}) != "":
		d.bad(sc.path, sc.pos, fmt.Sprintf("%s: %q is not known here", k.name, text), k.want(), "did you mean still?")
		return
	default:
		if out.Speed, ok = d.quantity(text, n, k, sc); !ok {
			return
		}
		if out.Speed.Mid == 0 {
			d.bad(sc.path, sc.pos, k.name+": no speed at all", k.want(), "write still")
			return
		}
	}
	v.Set(reflect.ValueOf(out))
}

// yesNo decodes true or false, which YAML knows, and yes or no, which it takes for words.
func (d *decoder) yesNo(n ast.Node, v reflect.Value, k *key, sc scope) {
	text := ""
	switch m := n.(type) {
	case *ast.BoolNode:
		v.SetBool(m.Value)
		return
	case *ast.StringNode:
		text = m.Value
	}
	switch text {
	case "yes":
		v.SetBool(true)
	case "no":
		v.SetBool(false)
	default:
		d.bad(sc.path, sc.pos, k.name+": this is neither true nor false", "expected true or false, or yes or no", "")
	}
}

// direction decodes an axis such as +x, or three numbers.
func (d *decoder) direction(n ast.Node, v reflect.Value, k *key, sc scope) {
	out := Direction{Given: true, Pos: sc.pos}
	list, ok := n.(*ast.SequenceNode)
	if !ok {
		text, ok := d.scalar(n, k, sc)
		if !ok {
			return
		}
		if !slices.Contains(axisWords, text) {
			hint := ""
			if near := unit.Nearest(text, axisWords); near != "" {
				hint = "did you mean " + near + "?"
			}
			d.bad(sc.path, sc.pos, fmt.Sprintf("%s: %q is not known here", k.name, text), k.want(), hint)
			return
		}
		out.Dir[axisOf(text)] = 1
		if text[0] == '-' {
			out.Dir[axisOf(text)] = -1
		}
		v.Set(reflect.ValueOf(out))
		return
	}
	if len(list.Values) != 3 {
		d.bad(sc.path, sc.pos, fmt.Sprintf("%s: here are %d numbers", k.name, len(list.Values)), k.want(), "")
		return
	}
	largest := 0.0
	for i, e := range list.Values {
		isc := scope{path: sc.path, about: sc.about, pos: posOf(e)}
		if absent(e) {
			d.bad(sc.path, sc.pos, k.name+": an entry of the list is empty", k.want(), "")
			return
		}
		if !d.plain(e, sc.path) {
			return
		}
		text, ok := d.scalar(e, k, isc)
		if !ok {
			return
		}
		x, err := strconv.ParseFloat(text, 64)
		if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
			d.bad(sc.path, isc.pos, fmt.Sprintf("%s: %q is not a plain number", k.name, text), k.want(), "")
			return
		}
		out.Dir[i] = x
		largest = math.Max(largest, math.Abs(x))
	}
	if largest == 0 {
		d.bad(sc.path, sc.pos, k.name+": three zeros point nowhere", k.want(), "")
		return
	}
	// By the largest first, so that no square overflows or vanishes.
	sum := 0.0
	for i := range out.Dir {
		out.Dir[i] /= largest
		sum += out.Dir[i] * out.Dir[i]
	}
	for i := range out.Dir {
		out.Dir[i] /= math.Sqrt(sum)
	}
	v.Set(reflect.ValueOf(out))
}

// words decodes a list of words.
func (d *decoder) words(n ast.Node, v reflect.Value, k *key, sc scope) {
	list, ok := n.(*ast.SequenceNode)
	if !ok {
		d.bad(sc.path, sc.pos, fmt.Sprintf("%s: here is %s, not a list", k.name, nodeWords(n)), k.want(), "")
		return
	}
	for _, e := range list.Values {
		isc := scope{path: sc.path, about: sc.about, pos: posOf(e)}
		if absent(e) {
			d.bad(sc.path, sc.pos, k.name+": an entry of the list is empty", k.want(), "")
			continue
		}
		if !d.plain(e, sc.path) {
			continue
		}
		if text, ok := d.scalar(e, k, isc); ok && d.word(text, k, isc) {
			v.Set(reflect.Append(v, reflect.ValueOf(text)))
		}
	}
	if v.Len() == 0 && k.need && !d.broken[sc.path] {
		d.bad(sc.path, sc.pos, k.name+": the list is empty", k.want(), "")
	}
}

// list decodes a list of mappings.
func (d *decoder) list(n ast.Node, v reflect.Value, k *key, sc scope) {
	seq, ok := n.(*ast.SequenceNode)
	if !ok && k.alone {
		switch n.(type) {
		case *ast.MappingNode, *ast.MappingValueNode:
			item := reflect.New(v.Type().Elem()).Elem()
			isc := scope{path: sc.join("0"), about: within(k.name, sc), pos: sc.pos}
			d.f.places[isc.path] = isc.pos
			d.mapping(n, item, isc)
			v.Set(reflect.Append(v, item))
		default:
			d.bad(sc.path, sc.pos, fmt.Sprintf("%s: here is %s", k.name, nodeWords(n)), "expected keys with values such as "+strings.TrimPrefix(k.eg, "- ")+", or a list of such", "")
		}
		return
	}
	if !ok {
		d.bad(sc.path, sc.pos, fmt.Sprintf("%s: here is %s, not a list", k.name, nodeWords(n)), "expected a list such as\n"+k.name+":\n  "+k.eg, "begin each "+k.noun+" with a dash")
		return
	}
	if k.alone {
		v.Set(reflect.MakeSlice(v.Type(), 0, len(seq.Values))) // an empty list says something: none
	}
	for i, e := range seq.Values {
		about := fmt.Sprintf("%s %d", k.noun, i+1)
		if sc.about != "" {
			about += " of " + sc.about
		}
		isc := scope{path: sc.join(strconv.Itoa(i)), about: about, pos: posOf(e)}
		d.f.places[isc.path] = isc.pos
		if absent(e) {
			d.bad(isc.path, sc.pos, about+" is empty", "expected a list such as\n"+k.name+":\n  "+k.eg, "fill it in, or take the dash out")
			continue
		}
		item := reflect.New(v.Type().Elem()).Elem()
		d.mapping(e, item, isc)
		v.Set(reflect.Append(v, item))
	}
	if v.Len() == 0 && k.need && !d.broken[sc.path] {
		d.bad(sc.path, sc.pos, within(k.name, sc)+": the list is empty", "expected a list such as\n"+k.name+":\n  "+k.eg, "")
	}
}

// namedList decodes a mapping from names to mappings (or, for channels, to places).
func (d *decoder) namedList(n ast.Node, v reflect.Value, k *key, sc scope) {
	want := "expected names with values such as\n" + k.name + ":\n  " + k.eg
	switch n.(type) {
	case *ast.MappingNode, *ast.MappingValueNode:
	default:
		hint := ""
		if k.noun != "" {
			hint = "give each " + k.noun + " a name and a colon, without a dash"
		}
		d.bad(sc.path, sc.pos, fmt.Sprintf("%s: here is %s, not names with values", k.name, nodeWords(n)), want, hint)
		return
	}
	for _, e := range d.entries(n, sc.path) {
		name, pos := keyText(e), posOf(e.Key)
		noun := k.noun
		if noun == "" {
			noun = "channel"
		}
		if !d.name(name, noun, k.named, pos, sc.path) {
			continue
		}
		about := fmt.Sprintf("%s %q", noun, name)
		isc := scope{path: sc.join(name), about: about, pos: pos}
		d.f.places[isc.path] = pos
		if absent(e.Value) {
			d.bad(isc.path, pos, about+" has nothing in it", want, "")
			continue
		}
		item := reflect.New(v.Type().Elem()).Elem()
		item.FieldByName("Name").SetString(name)
		if v.Type().Elem() == typeChannel {
			ck := &key{name: name, doc: "a place", eg: "plate.front centre", typ: reflect.TypeFor[string]()}
			isc.pos = posOf(e.Value)
			if !d.plain(e.Value, isc.path) {
				continue
			}
			text, ok := d.scalar(e.Value, ck, isc)
			if !ok || !d.word(text, ck, isc) {
				continue
			}
			item.FieldByName("At").SetString(text)
			setPos(item, isc.pos)
		} else {
			d.mapping(e.Value, item, isc)
		}
		v.Set(reflect.Append(v, item))
	}
	if v.Len() == 0 && k.need && !d.broken[sc.path] {
		d.bad(sc.path, sc.pos, k.name+": nothing is in it", want, "")
	}
}

// name checks a name that the user gives. Dots are kept out where names become part of places and paths.
func (d *decoder) name(name, noun, kind string, pos Pos, path string) bool {
	switch {
	case strings.TrimSpace(name) == "":
		d.bad(path, pos, "a "+noun+" has no name", "", "write a name before the colon")
	case name != strings.TrimSpace(name) || strings.ContainsAny(name, "\n\t"):
		d.bad(path, pos, fmt.Sprintf("the name %q has spaces or line ends at its edges", name), "", "write it without")
	case kind != "free" && strings.Contains(name, "."):
		d.bad(path, pos, fmt.Sprintf("the name %q has a dot in it", name), "expected a name without a dot: places are written part.face", "did you mean "+strings.ReplaceAll(name, ".", "-")+"?")
	case noun == "part" && (strings.HasSuffix(name, " centre") || strings.HasSuffix(name, " highest")):
		d.bad(path, pos, fmt.Sprintf("the part's name %q ends in a word that places use", name), "", "choose another name")
	default:
		return true
	}
	return false
}

// aboutPath words a path for a person: "heat of chip (tracking)".
func aboutPath(path string) string {
	words := strings.Split(path, ".")
	switch n := len(words); {
	case n >= 3 && (words[0] == "materials" || words[0] == "finishes"):
		return words[n-1] + " of " + strings.Join(words[1:n-1], ".")
	case n >= 3 && (words[0] == "parts" || words[0] == "joints" || words[0] == "sensors"):
		s := words[2] + " of " + words[1]
		if n > 3 {
			s += " (" + strings.Join(words[3:], " ") + ")"
		}
		return s
	case n >= 3 && (words[0] == "stock runs" || words[0] == "retrofit runs"):
		return aboutCondition(words[2:]) + " of " + nthRun(words[0]+"."+words[1])
	case n >= 3 && words[0] == "conditions":
		return aboutCondition(words[1:])
	}
	return strings.Join(words, " ")
}

// aboutCondition words what stands below a run: "share of support 1".
func aboutCondition(words []string) string {
	if len(words) == 3 && words[0] == "rests on" {
		if i, err := strconv.Atoi(words[1]); err == nil {
			return fmt.Sprintf("%s of support %d", words[2], i+1)
		}
	}
	return strings.Join(words, " ")
}

package device

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
)

func schemaTree(t *testing.T) map[string]any {
	t.Helper()
	b, err := Schema()
	if err != nil {
		t.Fatal(err)
	}
	again, err := Schema()
	if err != nil || !bytes.Equal(b, again) {
		t.Fatal("two calls give different bytes")
	}
	var s map[string]any
	if err := json.Unmarshal(b, &s); err != nil {
		t.Fatal(err)
	}
	return s
}

// The keys in the schema, and those that the struct tags hold as read here by themselves, are the same, mapping by mapping.
func TestSchemaHasEveryKeyAndNoOther(t *testing.T) {
	s := schemaTree(t)
	defs := s["$defs"].(map[string]any)
	var tags func(reflect.Type) []string
	tags = func(typ reflect.Type) (out []string) {
		for i := range typ.NumField() {
			switch tag := typ.Field(i).Tag.Get("key"); tag {
			case "", "-":
			case ",inline":
				out = append(out, tags(typ.Field(i).Type)...)
			default:
				out = append(out, tag)
			}
		}
		return out
	}
	checked := 0
	for typ := range structs() {
		node := s
		if typ != reflect.TypeFor[File]() {
			var ok bool
			if node, ok = defs[strings.ToLower(typ.Name())].(map[string]any); !ok {
				t.Errorf("%s is not in the schema", typ.Name())
				continue
			}
		}
		var got []string
		for k := range node["properties"].(map[string]any) {
			got = append(got, k)
		}
		want := tags(typ)
		slices.Sort(got)
		slices.Sort(want)
		if !slices.Equal(got, want) {
			t.Errorf("%s: schema has %q, the file has %q", typ.Name(), got, want)
		}
		if node["additionalProperties"] != false {
			t.Errorf("%s: unknown keys are let through", typ.Name())
		}
		checked += len(got)
	}
	if checked < 150 {
		t.Errorf("only %d keys were compared", checked)
	}
}

// checkJSON is a small JSON Schema checker: type, required, additionalProperties, enum, pattern, items and how many, anyOf,
// $ref.
func checkJSON(root, s map[string]any, v any, path string) (errs []string) {
	bad := func(format string, a ...any) { errs = append(errs, path+": "+fmt.Sprintf(format, a...)) }
	if ref, ok := s["$ref"].(string); ok {
		def := root["$defs"].(map[string]any)[strings.TrimPrefix(ref, "#/$defs/")].(map[string]any)
		errs = append(errs, checkJSON(root, def, v, path)...)
	}
	if choices, ok := s["anyOf"].([]any); ok {
		for _, one := range choices {
			if len(checkJSON(root, one.(map[string]any), v, path)) == 0 {
				return errs
			}
		}
		bad("%v fits none", v)
		return errs
	}
	kind := map[reflect.Kind]string{reflect.String: "string", reflect.Bool: "boolean", reflect.Map: "object", reflect.Slice: "array", reflect.Uint64: "number", reflect.Int64: "number", reflect.Float64: "number"}[reflect.ValueOf(v).Kind()]
	switch types := s["type"].(type) {
	case string:
		if types != kind {
			bad("%v is no %s", v, types)
		}
	case []any:
		if !slices.Contains(types, any(kind)) {
			bad("%v is none of %v", v, types)
		}
	}
	if enum, ok := s["enum"].([]any); ok && !slices.Contains(enum, v) {
		bad("%v is none of %v", v, enum)
	}
	if pattern, ok := s["pattern"].(string); ok && kind == "string" && !regexp.MustCompile(pattern).MatchString(v.(string)) {
		bad("%q does not match %s", v, pattern)
	}
	if list, ok := v.([]any); ok {
		least, bounded := s["minItems"].(float64)
		most, _ := s["maxItems"].(float64)
		if bounded && (len(list) < int(least) || len(list) > int(most)) {
			bad("%d entries are not %v to %v", len(list), least, most)
		}
		if item, ok := s["items"].(map[string]any); ok {
			for i, e := range list {
				errs = append(errs, checkJSON(root, item, e, fmt.Sprintf("%s.%d", path, i))...)
			}
		}
	}
	if m, ok := v.(map[string]any); ok {
		props, _ := s["properties"].(map[string]any)
		if need, ok := s["required"].([]any); ok {
			for _, n := range need {
				if _, ok := m[n.(string)]; !ok {
					bad("no %v", n)
				}
			}
		}
		for name, e := range m {
			if p, ok := props[name].(map[string]any); ok {
				errs = append(errs, checkJSON(root, p, e, path+"."+name)...)
			} else if rest, ok := s["additionalProperties"].(map[string]any); ok {
				errs = append(errs, checkJSON(root, rest, e, path+"."+name)...)
			} else if s["additionalProperties"] == false {
				bad("%q is not known", name)
			}
		}
	}
	return errs
}

func yamlTree(t *testing.T, data []byte) any {
	t.Helper()
	var v any
	if err := yaml.Unmarshal(data, &v); err != nil {
		t.Fatal(err)
	}
	return v
}

// outdoors has the forms that testdata/every.yaml does not use.
const outdoors = `conditions:
  air: 5 m/s
  wind from: -x
  sun from: [1, 2, 0.5]
  sun: 800 W/m2
  sky: unknown
  rests on: []
stock runs:
  - {rests on: {face: a.back, what: tripod, share: 0.1}, leaning: {by: -45 deg, about: z}, still running after: 9 min}
  - {rests on: {what: nothing}, sky light: unknown, ground reflects: 0.3, still running after: 9 min}
`

func TestSchemaAcceptsGoodFiles(t *testing.T) {
	s := schemaTree(t)
	every, err := os.ReadFile("testdata/every.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for name, data := range map[string][]byte{"starter": Starter(""), "every": every, "lamp": []byte(lampBase), "outdoors": []byte(lampBase + outdoors)} {
		for _, e := range checkJSON(s, s, yamlTree(t, data), name) {
			t.Error(e)
		}
	}
}

func TestSchemaRefusesBadFiles(t *testing.T) {
	s := schemaTree(t)
	for name, want := range map[string]string{
		"unknown key": "is not known", "needed key missing": "no material", "no parts": "no parts", "parts as a list": "is no object",
		"stock runs as a mapping": "is no array", "word not known": "none of", "no unit": "is no string", "unknown size": "does not match", "unknown energy": "does not match",
		"direction that is no axis": "fits none", "direction of two numbers": "fits none", "rests on a word": "fits none", "rests on something unheard of": "fits none",
		"neither true nor false": "none of [true false yes no]",
	} {
		i := slices.IndexFunc(badFiles, func(tc struct{ name, in, want string }) bool { return tc.name == name })
		if i < 0 {
			t.Fatalf("no row is called %q", name)
		}
		if errs := checkJSON(s, s, yamlTree(t, []byte(badFiles[i].in)), ""); len(errs) == 0 || !strings.Contains(strings.Join(errs, "\n"), want) {
			t.Errorf("%s: %q, want %q", name, errs, want)
		}
	}
}

// The examples shown to people must themselves be read: each quantity, and each word that the library or an enum knows.
func TestExamplesAreRight(t *testing.T) {
	n := 0
	for typ := range structs() {
		for _, k := range keysOf(typ) {
			d := &decoder{f: &File{places: map[string]Pos{}}}
			var v reflect.Value
			switch {
			case k.typ == typeQ || k.typ == typeByMode || k.typ == typeVec || k.typ == typeAir || k.typ == typeDirection:
				v = reflect.New(k.typ).Elem()
			case k.typ.Kind() == reflect.Pointer || k.typ.Kind() == reflect.Slice || len(k.enum) > 0:
				v = reflect.New(k.typ).Elem()
			default:
				continue
			}
			f := &File{Path: "x", places: map[string]Pos{}}
			d.f = f
			text := "x: " + k.example() + "\n"
			if k.typ.Kind() == reflect.Slice && k.typ != typeVec && k.typ.Elem().Kind() != reflect.String {
				text = "x:\n  " + k.example() + "\n"
			}
			root, problems := tree(f, []byte(text))
			if len(problems) > 0 {
				t.Errorf("%s.%s: %v", typ.Name(), k.name, problems)
				continue
			}
			d.value(d.entries(root, "")[0].Value, v, &k, scope{path: "x", pos: Pos{1, 4}}, Pos{1, 1})
			if len(d.problems) > 0 || v.IsZero() {
				t.Errorf("%s.%s: its own example is refused: %v", typ.Name(), k.name, d.problems)
			}
			n++
		}
	}
	if n < 90 {
		t.Errorf("only %d examples were tried", n)
	}
}

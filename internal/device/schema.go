package device

import (
	"bytes"
	"encoding/json"
	"reflect"
	"strings"

	"finwright/internal/unit"
)

// Schema describes the device file as a JSON Schema, draft 2020-12, for editors that complete and check YAML. It is made
// from the tags of spec.go, in their order, so the same bytes come out each time. It is looser than the reader: quantities
// are text of roughly the right form, and rules between keys are left to the reader.
func Schema() ([]byte, error) {
	g := &schemaMaker{}
	root := object{{"$schema", "https://json-schema.org/draft/2020-12/schema"}, {"title", "finwright device file"}}
	root = append(root, g.mapping(reflect.TypeFor[File]())...)
	root = append(root, member{"$defs", g.defs})
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(root); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// object is a JSON object that keeps the order of its members.
type object []member

type member struct {
	name  string
	value any
}

// MarshalJSON writes the members in order.
func (o object) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, m := range o {
		if i > 0 {
			b.WriteByte(',')
		}
		for k, v := range []any{m.name, m.value} {
			var one bytes.Buffer
			enc := json.NewEncoder(&one)
			enc.SetEscapeHTML(false)
			if err := enc.Encode(v); err != nil {
				return nil, err
			}
			if k == 1 {
				b.WriteByte(':')
			}
			b.Write(bytes.TrimSpace(one.Bytes()))
		}
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// schemaMaker gathers the mappings that are used in several places.
type schemaMaker struct {
	defs object
	done map[reflect.Type]bool
}

// mapping is the schema of a struct, without its doc.
func (g *schemaMaker) mapping(t reflect.Type) object {
	var need []string
	props := object{}
	for _, k := range keysOf(t) {
		props = append(props, member{k.name, g.key(&k)})
		if k.need {
			need = append(need, k.name)
		}
	}
	o := object{{"type", "object"}, {"properties", props}}
	if len(need) > 0 {
		o = append(o, member{"required", need})
	}
	return append(o, member{"additionalProperties", false})
}

// ref is a reference to the schema of a struct, which is made at its first use.
func (g *schemaMaker) ref(t reflect.Type) object {
	name := strings.ToLower(t.Name())
	if !g.done[t] {
		if g.done == nil {
			g.done = map[reflect.Type]bool{}
		}
		g.done[t] = true
		at := len(g.defs)
		g.defs = append(g.defs, member{name, nil})
		g.defs[at].value = g.mapping(t)
	}
	return object{{"$ref", "#/$defs/" + name}}
}

// key is the schema of what stands after a key.
func (g *schemaMaker) key(k *key) object {
	o := object{{"description", k.doc}}
	switch t := k.typ; {
	case t == typeQ:
		return append(o, quantitySchema(k)...)
	case t == typeVec:
		item := object{{"type", []string{"string", "number"}}}
		return append(o, member{"anyOf", []object{
			{{"type", "string"}, {"examples", []string{k.example()}}},
			{{"type", "array"}, {"items", item}, {"minItems", k.n}, {"maxItems", k.n}},
		}})
	case t == typeByMode:
		q := quantitySchema(k)
		return append(o, member{"anyOf", []object{q, {{"type", "object"}, {"additionalProperties", q}, {"minProperties", 1}}}})
	case t == typeAir:
		return append(o, member{"anyOf", []object{{{"enum", []string{"still"}}}, quantitySchema(k)}})
	case t == typeDirection:
		return append(o, member{"anyOf", []object{
			{{"enum", axisWords}},
			{{"type", "array"}, {"items", object{{"type", "number"}}}, {"minItems", 3}, {"maxItems", 3}},
		}})
	case t.Kind() == reflect.Bool:
		return append(o, member{"enum", []any{true, false, "yes", "no"}})
	case t.Kind() == reflect.String:
		o = append(o, member{"type", []string{"string", "number"}})
		if len(k.enum) > 0 {
			return append(o, member{"enum", k.enum})
		}
		if k.eg != "" {
			o = append(o, member{"examples", []string{k.eg}})
		}
		return o
	case t.Kind() == reflect.Pointer:
		return append(o, g.ref(t.Elem())...)
	case t.Kind() == reflect.Struct:
		return append(o, g.ref(t)...)
	case t.Elem().Kind() == reflect.String:
		return append(o, object{{"type", "array"}, {"items", object{{"type", "string"}}}}...)
	}
	item := object{{"type", "string"}}
	if k.typ.Elem() != typeChannel {
		item = g.ref(k.typ.Elem())
	}
	if k.named == "" {
		list := object{{"type", "array"}, {"items", item}}
		if k.alone {
			return append(o, member{"anyOf", []object{item, list}})
		}
		return append(o, list...)
	}
	if k.named != "free" {
		o = append(o, member{"propertyNames", object{{"pattern", `^[^.]+$`}}})
	}
	return append(o, object{{"type", "object"}, {"additionalProperties", item}}...)
}

// quantitySchema is the schema of one quantity. Only ratios may be bare numbers.
func quantitySchema(k *key) object {
	number := `[-+−]?(\d|\.\d).*`
	if k.dim != unit.Ratio {
		number += `[A-Za-z°µ"″²³)].*`
	}
	examples := []string{k.example()}
	if k.prior != "" {
		number = "unknown|" + number
		examples = append(examples, "unknown")
	}
	kind := any("string")
	if k.dim == unit.Ratio {
		kind = []string{"string", "number"}
	}
	return object{{"type", kind}, {"pattern", "^(" + number + ")$"}, {"examples", examples}}
}

package device

import (
	"fmt"
	"reflect"
	"strconv"
	"strings"
	"sync"

	"finwright/internal/unit"
)

// key is one key of a mapping, as its struct tags describe it.
type key struct {
	name  string
	doc   string
	need  bool
	enum  []string
	named string // "", "true" or "free"
	dim   unit.Dim
	n     int
	limit string
	prior string
	noun  string
	alone bool // a list's only entry may stand without a dash
	eg    string
	index []int // of the field, through inlined structs
	typ   reflect.Type
}

// example is what could be written after the key.
func (k *key) example() string {
	switch {
	case k.eg != "":
		return k.eg
	case len(k.enum) > 0:
		return k.enum[0]
	case k.hasDim():
		return k.dim.Example()
	case k.typ.Kind() == reflect.Bool:
		return "true"
	}
	return "some words"
}

// shown is the key with an example as it would stand in a file: on the same line, or for names and lists on the next.
func (k *key) shown() string {
	if k.typ.Kind() == reflect.Slice && k.typ != typeVec && k.typ.Elem().Kind() != reflect.String {
		return k.name + ":\n  " + k.example()
	}
	return k.name + ": " + k.example()
}

// hasDim says whether the key holds a quantity in some form.
func (k *key) hasDim() bool {
	return k.typ == typeQ || k.typ == typeVec || k.typ == typeByMode || k.typ == typeAir
}

// want words what belongs after the key.
func (k *key) want() string {
	switch {
	case len(k.enum) > 0:
		return "expected one of " + strings.Join(k.enum, ", ")
	case k.typ == typeVec:
		return fmt.Sprintf("expected %d lengths such as %s", k.n, k.example())
	case k.typ == typeByMode:
		return fmt.Sprintf("expected a power such as %s, or one for each mode such as {on: %s, standby: 0.2 W}", k.example(), k.example())
	case k.typ == typeAir:
		return "expected still, or a speed such as 5 m/s"
	case k.typ == typeDirection:
		return "expected one of " + strings.Join(axisWords, ", ") + ", or three numbers along x, y and z such as [1, 2, 0.5]"
	case k.typ == typeQ:
		want := k.dim.Want()
		if k.eg != "" {
			article, _, _ := strings.Cut(want, " such as ")
			want = article + " such as " + k.eg
		}
		return "expected " + want
	}
	if strings.Contains(k.doc, "such as") {
		return "expected " + k.doc
	}
	return "expected " + k.doc + ", such as " + k.example()
}

var (
	typeQ         = reflect.TypeFor[Q]()
	typeVec       = reflect.TypeFor[Vec]()
	typeByMode    = reflect.TypeFor[ByMode]()
	typeAir       = reflect.TypeFor[Air]()
	typeDirection = reflect.TypeFor[Direction]()
	typePos       = reflect.TypeFor[Pos]()
	typeChannel   = reflect.TypeFor[Channel]()
)

var keyCache sync.Map // reflect.Type to []key

// keysOf lists the keys of a struct of the file in the order of its fields.
func keysOf(t reflect.Type) []key {
	if ks, ok := keyCache.Load(t); ok {
		return ks.([]key)
	}
	var ks []key
	for i := range t.NumField() {
		f := t.Field(i)
		tag, tagged := f.Tag.Lookup("key")
		if !tagged || tag == "-" {
			continue
		}
		if tag == ",inline" {
			for _, k := range keysOf(f.Type) {
				k.index = append([]int{i}, k.index...)
				ks = append(ks, k)
			}
			continue
		}
		k := key{
			name: tag, doc: f.Tag.Get("doc"), need: f.Tag.Get("need") == "true", named: f.Tag.Get("named"), limit: f.Tag.Get("limit"),
			prior: f.Tag.Get("prior"), noun: f.Tag.Get("noun"), alone: f.Tag.Get("alone") == "true", eg: f.Tag.Get("eg"), index: []int{i}, typ: f.Type,
		}
		if e := f.Tag.Get("enum"); e != "" {
			k.enum = strings.Split(e, "|")
		}
		if d := f.Tag.Get("dim"); d != "" {
			dim, ok := unit.DimNamed(d)
			if !ok {
				panic("device: no dimension is called " + d)
			}
			k.dim = dim
		}
		if f.Type == typeAir {
			k.dim = unit.Velocity
		}
		if n := f.Tag.Get("n"); n != "" {
			var err error
			if k.n, err = strconv.Atoi(n); err != nil {
				panic("device: tag n of " + tag)
			}
		}
		ks = append(ks, k)
	}
	keyCache.Store(t, ks)
	return ks
}

// keyNames lists the names of keys.
func keyNames(ks []key) []string {
	names := make([]string, len(ks))
	for i := range ks {
		names[i] = ks[i].name
	}
	return names
}

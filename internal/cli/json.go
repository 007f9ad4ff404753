package cli

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"reflect"
	"slices"
	"strings"
	"unicode"
)

// writeJSON prints any result as JSON: keys in lower camel case, in the order of the Go fields; numbers that are not finite
// as null (not a number) or as the words "infinite" and "-infinite". Maps are sorted by key, so the same result gives the
// same bytes.
func writeJSON(w io.Writer, v any) error {
	var b bytes.Buffer
	if err := encode(&b, reflect.ValueOf(v)); err != nil {
		return err
	}
	var out bytes.Buffer
	if err := json.Indent(&out, b.Bytes(), "", " "); err != nil {
		return err
	}
	out.WriteByte('\n')
	_, err := w.Write(out.Bytes())
	return err
}

// writeJSONLine is writeJSON on a single line, for results that follow each other.
func writeJSONLine(w io.Writer, v any) error {
	var b bytes.Buffer
	if err := encode(&b, reflect.ValueOf(v)); err != nil {
		return err
	}
	b.WriteByte('\n')
	_, err := w.Write(b.Bytes())
	return err
}

func encode(b *bytes.Buffer, v reflect.Value) error {
	switch v.Kind() {
	case reflect.Invalid:
		b.WriteString("null")
	case reflect.Pointer, reflect.Interface:
		if v.IsNil() {
			b.WriteString("null")
			return nil
		}
		return encode(b, v.Elem())
	case reflect.Float64, reflect.Float32:
		x := v.Float()
		switch {
		case math.IsNaN(x):
			b.WriteString("null")
		case math.IsInf(x, 1):
			b.WriteString(`"infinite"`)
		case math.IsInf(x, -1):
			b.WriteString(`"-infinite"`)
		default:
			s, err := json.Marshal(x)
			if err != nil {
				return err
			}
			b.Write(s)
		}
	case reflect.Slice, reflect.Array:
		b.WriteByte('[')
		for i := 0; i < v.Len(); i++ {
			if i > 0 {
				b.WriteByte(',')
			}
			if err := encode(b, v.Index(i)); err != nil {
				return err
			}
		}
		b.WriteByte(']')
	case reflect.Map:
		return encodeMap(b, v)
	case reflect.Struct:
		return encodeStruct(b, v)
	default:
		s, err := json.Marshal(v.Interface())
		if err != nil {
			return err
		}
		b.Write(s)
	}
	return nil
}

func encodeMap(b *bytes.Buffer, v reflect.Value) error {
	keys := map[string]reflect.Value{}
	var names []string
	for _, k := range v.MapKeys() {
		name := fmt.Sprint(k.Interface())
		keys[name] = k
		names = append(names, name)
	}
	slices.Sort(names)
	b.WriteByte('{')
	for i, name := range names {
		if i > 0 {
			b.WriteByte(',')
		}
		s, _ := json.Marshal(name)
		b.Write(s)
		b.WriteByte(':')
		if err := encode(b, v.MapIndex(keys[name])); err != nil {
			return err
		}
	}
	b.WriteByte('}')
	return nil
}

func encodeStruct(b *bytes.Buffer, v reflect.Value) error {
	b.WriteByte('{')
	first := true
	if err := encodeFields(b, v, &first); err != nil {
		return err
	}
	b.WriteByte('}')
	return nil
}

// encodeFields writes a struct's fields; those of a struct with the tag ",inline" stand among them.
func encodeFields(b *bytes.Buffer, v reflect.Value, first *bool) error {
	t := v.Type()
	for i := 0; i < t.NumField(); i++ {
		f := t.Field(i)
		name, opts, _ := strings.Cut(f.Tag.Get("json"), ",")
		if !f.IsExported() || name == "-" || opts == "omitempty" && v.Field(i).IsZero() {
			continue
		}
		if opts == "inline" {
			if err := encodeFields(b, reflect.Indirect(v.Field(i)), first); err != nil {
				return err
			}
			continue
		}
		if name == "" {
			name = lowerCamel(f.Name)
		}
		if !*first {
			b.WriteByte(',')
		}
		*first = false
		s, _ := json.Marshal(name)
		b.Write(s)
		b.WriteByte(':')
		if err := encode(b, v.Field(i)); err != nil {
			return err
		}
	}
	return nil
}

// lowerCamel turns TimeS into timeS and ID into id.
func lowerCamel(s string) string {
	r := []rune(s)
	for i := range r {
		if i > 0 && i+1 < len(r) && unicode.IsLower(r[i+1]) {
			break
		}
		if !unicode.IsUpper(r[i]) {
			break
		}
		r[i] = unicode.ToLower(r[i])
	}
	return string(r)
}

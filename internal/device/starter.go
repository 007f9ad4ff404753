package device

import (
	"bytes"
	_ "embed"
)

//go:embed starter.yaml
var starter []byte

// Starter is a commented device file of an invented device, to change into one's own. name becomes the device's name.
func Starter(name string) []byte {
	if name == "" {
		return bytes.Clone(starter)
	}
	return bytes.Replace(starter, []byte("device: hand lamp\n"), []byte("device: "+quoted(name)+"\n"), 1)
}

// quoted writes a text so that YAML reads it back as it is.
func quoted(s string) string {
	var b []byte
	b = append(b, '"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b = append(b, '\\', byte(r))
		case r < 0x20 || r == 0x7f:
			b = append(b, ' ')
		default:
			b = append(b, string(r)...)
		}
	}
	return string(append(b, '"'))
}

package benchlog

import (
	"bytes"
	"sort"
	"strings"
)

// dialect is how a line falls into fields and a field's digits into a number.
type dialect struct {
	delim   byte // ',' ';' '\t' '|' or ' ' (any run of spaces)
	decimal byte // '.' or ','
	cut     cut
}

// cut tells which numbers were cut in two at their decimal comma by a comma that also parts the fields.
type cut uint8

const (
	cutNone cut = iota
	cutTime     // only the first, a day number
	cutAll      // all
)

// dialects in order of preference when they fit equally well.
var dialects = []dialect{{',', '.', 0}, {';', ',', 0}, {';', '.', 0}, {'\t', '.', 0}, {'\t', ',', 0}, {'|', '.', 0}, {'|', ',', 0}, {',', ',', 0}, {' ', '.', 0}, {' ', ',', 0}}

var delimiterNames = map[byte]string{',': "comma", ';': "semicolon", '\t': "tab", '|': "pipe", ' ': "space"}
var decimalNames = map[byte]string{'.': "point", ',': "comma"}

func named(names map[byte]string, name string) byte {
	for b, n := range names {
		if n == name {
			return b
		}
	}
	return 0
}

// split cuts a line into trimmed fields without their quotes, appended to dst; the fields point into the line (and into join,
// where numbers cut in two are put together again).
func (d dialect) split(line []byte, dst [][]byte) [][]byte {
	first := len(dst)
	if d.delim == ' ' {
		line = bytes.TrimRight(line, " \t")
	}
	quoted := bytes.IndexByte(line, '"') >= 0
	for {
		if d.delim == ' ' {
			for len(line) > 0 && (line[0] == ' ' || line[0] == '\t') {
				line = line[1:]
			}
			if len(line) == 0 {
				break
			}
		}
		end := -1
		var field []byte
		if quoted {
			start := 0
			for start < len(line) && (line[start] == ' ' || line[start] == '\t' && d.delim != '\t') {
				start++
			}
			if start < len(line) && line[start] == '"' {
				i := start + 1
				for i < len(line) && (line[i] != '"' || i+1 < len(line) && line[i+1] == '"') {
					if line[i] == '"' {
						i++
					}
					i++
				}
				field = line[start+1 : min(i, len(line))]
				if i < len(line) {
					if end = bytes.IndexByte(line[i:], d.delim); end >= 0 {
						end += i
					}
				}
				dst = append(dst, trim(field))
				if end < 0 {
					break
				}
				line = line[end+1:]
				continue
			}
		}
		if end = bytes.IndexByte(line, d.delim); end < 0 {
			dst = append(dst, trim(line))
			break
		}
		dst = append(dst, trim(line[:end]))
		line = line[end+1:]
	}
	if d.cut != cutNone {
		dst = append(dst[:first], d.mend(dst[first:])...)
	}
	return dst
}

// mend joins numbers cut in two: 45363 | 5866898 -> 45363,5866898.
func (d dialect) mend(f [][]byte) [][]byte {
	var out [][]byte
	for i := 0; i < len(f); i++ {
		if i+1 < len(f) && (i == 0 || d.cut == cutAll) && allDigits(f[i], true) && allDigits(f[i+1], false) {
			out = append(out, append(append(append([]byte(nil), f[i]...), d.decimal), f[i+1]...))
			i++
			continue
		}
		out = append(out, f[i])
	}
	return out
}

func allDigits(f []byte, signed bool) bool {
	if signed && len(f) > 0 && (f[0] == '-' || f[0] == '+') {
		f = f[1:]
	}
	for _, c := range f {
		if c < '0' || c > '9' {
			return false
		}
	}
	return len(f) > 0
}

func trim(f []byte) []byte {
	for len(f) > 0 && (f[0] == ' ' || f[0] == '\t') {
		f = f[1:]
	}
	for len(f) > 0 && (f[len(f)-1] == ' ' || f[len(f)-1] == '\t') {
		f = f[:len(f)-1]
	}
	if len(f) > 1 && f[0] == 0xc2 && f[1] == 0xa0 || len(f) > 1 && f[len(f)-1] == 0xa0 && f[len(f)-2] == 0xc2 {
		return bytes.Trim(f, "\u00a0 \t")
	}
	return f
}

// fieldKind is what a field can be read as.
type fieldKind uint8

const (
	fieldText fieldKind = iota
	fieldEmpty
	fieldNumber
	fieldGrouped  // a number with thousands separators
	fieldWithUnit // a number and a unit
	fieldCode     // stands for a missing reading
	fieldStamp    // a date, a time of day or both
	fieldUnit     // a unit alone
	numFieldKinds
)

func (d dialect) classify(f []byte) fieldKind {
	if len(f) == 0 {
		return fieldEmpty
	}
	if _, grouped, ok := parseNumber(f, d.decimal); ok {
		if grouped {
			return fieldGrouped
		}
		return fieldNumber
	}
	if _, ok := parseStamp(f); ok {
		return fieldStamp
	}
	if _, ok := textCode(f); ok {
		return fieldCode
	}
	if _, _, ok := numberWithUnit(f, d.decimal); ok {
		return fieldWithUnit
	}
	if _, ok := parseUnit(firstWord(f)); ok {
		return fieldUnit
	}
	return fieldText
}

// firstWord of a unit field such as "mV DC" or "degC".
func firstWord(f []byte) string {
	s := string(f)
	if strings.HasPrefix(strings.ToLower(s), "deg ") {
		return s
	}
	if i := strings.IndexByte(s, ' '); i > 0 {
		return s[:i]
	}
	return s
}

// understood is how much of a field's kind counts towards having read a line right.
var understood = [numFieldKinds]float64{fieldText: 0.2, fieldEmpty: 0.8, fieldNumber: 1, fieldGrouped: 0.9, fieldWithUnit: 0.95, fieldCode: 0.9, fieldStamp: 1, fieldUnit: 0.6}

// table is a head's lines seen through one dialect, and the body found in them.
type table struct {
	dialect
	fields [][][]byte    // of each line
	kinds  [][]fieldKind // of each line's fields
	n      int           // fields of a body row
	column []fieldKind   // what each column of the body mostly is
	first  int           // index of the body's first row; -1: none
	last   int           // index of its last row in the head
	rows   int           // body rows in the head
	score  float64
	mark   string
	fewer  int // lines like data that have another number of fields
	least  int
	most   int
}

// look reads the lines through a dialect. from is the first line that may belong to the body (0: find it); mark, if given, is
// what a row's first field must be.
func look(lines [][]byte, d dialect, from int, mark string) *table {
	t := &table{dialect: d, fields: make([][][]byte, len(lines)), kinds: make([][]fieldKind, len(lines)), mark: mark, first: -1}
	counts := map[int]float64{}
	score := make([]float64, len(lines))
	for i, line := range lines {
		f := d.split(line, nil)
		t.fields[i] = f
		k := make([]fieldKind, len(f))
		sum, numbers := 0.0, 0
		for j := range f {
			k[j] = d.classify(f[j])
			sum += understood[k[j]]
			switch k[j] {
			case fieldNumber, fieldGrouped, fieldWithUnit:
				numbers++
			}
		}
		t.kinds[i] = k
		share := sum / float64(len(f))
		if numbers > 0 && share > 0.3 && i >= from && (mark == "" || string(f[0]) == mark) {
			score[i] = share * share * (1 + 0.1*float64(min(len(f), 10)))
			counts[len(f)] += score[i]
		}
	}
	var ns []int
	for n := range counts {
		ns = append(ns, n)
	}
	sort.Ints(ns)
	best := 0.0
	for _, n := range ns {
		if counts[n] > best*1.0000001 {
			t.n, best = n, counts[n]
		}
	}
	if t.n == 0 {
		return t
	}
	t.score = best
	// What the columns mostly are.
	votes := make([][numFieldKinds]int, t.n)
	for i := range lines {
		if score[i] > 0 && len(t.fields[i]) == t.n {
			for j, k := range t.kinds[i] {
				votes[j][k]++
			}
		}
	}
	t.column = make([]fieldKind, t.n)
	for j := range votes {
		v := &votes[j]
		v[fieldNumber] += v[fieldGrouped]
		all := v[fieldNumber] + v[fieldWithUnit] + v[fieldCode] + v[fieldStamp] + v[fieldUnit] + v[fieldText]
		if d.delim == ' ' && v[fieldCode] == all && t.dashes(j, score) {
			t.column[j] = fieldText // 14:05 - 23 °C
			continue
		}
		switch most := max(v[fieldNumber], v[fieldWithUnit], v[fieldStamp], v[fieldUnit], v[fieldText]); {
		case v[fieldStamp] == most && most > 0:
			t.column[j] = fieldStamp
		case v[fieldWithUnit] == most && most > 0:
			t.column[j] = fieldWithUnit
		case v[fieldNumber] == most && most > 0 || v[fieldNumber]+v[fieldCode] > all*6/10:
			t.column[j] = fieldNumber
		case v[fieldUnit] == most && most > 0:
			t.column[j] = fieldUnit
		case all == 0:
			t.column[j] = fieldEmpty
		default:
			t.column[j] = fieldText
		}
	}
	t.least, t.most = t.n, t.n
	begin := t.afterHeading(score, from)
	for i := begin; i < len(lines); i++ {
		if score[i] == 0 {
			continue
		}
		if t.matches(i) {
			if t.first < 0 {
				t.first = i
			}
			t.last = i
			t.rows++
		} else if t.first >= 0 && t.kinds[i][0] == t.column[0] && t.column[0] != fieldText && len(t.fields[i]) != t.n {
			t.fewer++
			t.least, t.most = min(t.least, len(t.fields[i])), max(t.most, len(t.fields[i]))
		}
	}
	return t
}

// dashes tells whether a column is nothing but a dash between others.
func (t *table) dashes(j int, score []float64) bool {
	for i, f := range t.fields {
		if score[i] > 0 && len(f) == t.n && string(f[j]) != "-" {
			return false
		}
	}
	return true
}

// afterHeading is the first line that may be a row: rows of ranges and the like stand above the units, with nothing where a row
// has its number or time.
func (t *table) afterHeading(score []float64, from int) int {
	begin, unfit := 0, 0
	for i := from; i < len(score) && i < from+2*headingReach; i++ {
		f := t.fields[i]
		switch {
		case score[i] > 0 && t.matches(i):
			if len(f[0]) > 0 || t.column[0] != fieldNumber && t.column[0] != fieldStamp {
				return begin
			}
			unfit++
		case unfit > 0 && len(f) >= t.n-1 && t.unitsOnly(i):
			begin = i + 1
		}
	}
	return begin
}

// unitsOnly tells whether a line has units and no numbers.
func (t *table) unitsOnly(i int) bool {
	units := 0
	for j, k := range t.kinds[i] {
		switch k {
		case fieldNumber, fieldGrouped, fieldWithUnit, fieldStamp:
			return false
		}
		if _, ok := parseUnit(string(t.fields[i][j])); ok {
			units++
		}
	}
	return units > 1
}

// matches tells whether a line looks like a row of the body.
func (t *table) matches(i int) bool {
	k := t.kinds[i]
	if t.mark != "" && string(t.fields[i][0]) != t.mark {
		return false
	}
	for len(k) > t.n && k[len(k)-1] == fieldEmpty {
		k = k[:len(k)-1]
	}
	if len(k) > t.n || len(k) < t.n-1 || len(k) == t.n-1 && (len(k) < 2 || t.delim == ' ') {
		return false
	}
	good := 0
	for j := range k {
		switch t.column[j] {
		case fieldStamp:
			if k[j] != fieldStamp {
				return false
			}
			good++
		case fieldNumber, fieldWithUnit:
			switch k[j] {
			case fieldNumber, fieldGrouped, fieldWithUnit:
				good++
			case fieldCode, fieldEmpty:
			default:
				return false
			}
		}
	}
	return good > 0
}

package unit

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// ParseError says what is wrong with a written quantity, where, and what to write instead.
type ParseError struct {
	Text   string // what was read
	Offset int    // byte position of the trouble in Text
	What   string // what is wrong
	Want   string // what was expected, such as "a length such as 12 mm"
	Hint   string // what to do; may be empty
}

func (e *ParseError) Error() string {
	s := fmt.Sprintf("%q: %s; expected %s", e.Text, e.What, e.Want)
	if e.Hint != "" {
		s += "; " + e.Hint
	}
	return s
}

// Parse reads one quantity of the given dimension:
//
//	number unit                          12 mm
//	number unit ± number [unit]          12 mm ± 0.1, 93 °C ± 3 K
//	number unit ± number %               3.4 W ± 15 %
//	number [unit] to number unit         20 to 30 min
//	number .. number unit                20..30 min
//	unknown
//
// ± may be written +/- or +-. A ratio may have no unit; the spread of one written in % is in points (90 % ± 5 % is 85 to
// 95 %). Errors are *ParseError.
func Parse(text string, dim Dim) (Quantity, error) {
	s := &scanner{text: text, dim: dim}
	if q, ok := s.word(); ok {
		return q, nil
	}
	r, err := s.quantity()
	if err != nil {
		return Quantity{}, err
	}
	if s.space(); s.i < len(text) {
		return Quantity{}, s.leftover()
	}
	return s.resolve(r, nil, strings.TrimSpace(text))
}

// ParseVec reads several quantities in a row, set apart by x, ×, a comma with a space, or a space:
// "60 x 90 x 22 mm", "22, 56, 15.2 mm". One without a unit has that of the next one that has; the last must have one.
// Each may carry its own doubt, which then needs its own unit. Errors are *ParseError.
func ParseVec(text string, dim Dim) ([]Quantity, error) {
	s := &scanner{text: text, dim: dim, row: true}
	var raws []raw
	for {
		r, err := s.quantity()
		if err != nil {
			return nil, err
		}
		raws = append(raws, r)
		if s.space(); s.i == len(text) {
			break
		}
		switch c, n := s.peek(); {
		case c == 'x' || c == 'X' || c == '×' || c == ',' || c == '*':
			s.i += n
		case c >= '0' && c <= '9' || c == '.' || c == '-' || c == '−':
		default:
			return nil, s.leftover()
		}
	}
	out := make([]Quantity, len(raws))
	var u *unitDef
	for i := len(raws) - 1; i >= 0; i-- {
		r := raws[i]
		last := r.op == 0 && r.unit == "" || r.op == opTo && r.unit2 == ""
		if r.op == opSpread && r.unit == "" {
			return nil, s.fail(r.unitAt, "a number with ± in a row has no unit of its own", "write it for each, such as 60 mm ± 0.1 x 90 mm ± 0.1")
		}
		if i == len(raws)-1 && r.op == opSpread && len(raws) > 1 && raws[i-1].unit == "" && raws[i-1].op != opTo {
			return nil, s.fail(r.opAt, "it is not clear which of the numbers the ± belongs to", "write it for each, such as 60 mm ± 0.1 x 90 mm ± 0.1")
		}
		fallback := u
		if !last {
			fallback = nil
		}
		q, err := s.resolve(r, fallback, strings.TrimSpace(text[r.at:r.end]))
		if err != nil {
			return nil, err
		}
		out[i] = q
		if r.op == opTo {
			r.unit = r.unit2
		}
		if r.unit != "" {
			u = spellings[dim][squeeze(r.unit)]
		}
	}
	return out, nil
}

const (
	opSpread = 1
	opTo     = 2
)

// raw is a quantity as it stands, before its units are known.
type raw struct {
	at, end int
	num     float64
	unit    string
	unitAt  int
	op      int
	opAt    int
	num2    float64
	num2At  int
	unit2   string
	unit2At int
}

type scanner struct {
	text string
	i    int
	dim  Dim
	row  bool // several quantities in a row
}

func (s *scanner) fail(at int, what, hint string) *ParseError {
	want := s.dim.Want()
	if s.row {
		want += ", several in a row"
	}
	return &ParseError{Text: s.text, Offset: at, What: what, Want: want, Hint: hint}
}

func (s *scanner) peek() (rune, int) { return utf8.DecodeRuneInString(s.text[s.i:]) }

func (s *scanner) space() {
	for s.i < len(s.text) {
		c, n := s.peek()
		if !unicode.IsSpace(c) {
			return
		}
		s.i += n
	}
}

// word reads "unknown".
func (s *scanner) word() (Quantity, bool) {
	if !strings.EqualFold(strings.TrimSpace(s.text), "unknown") {
		return Quantity{}, false
	}
	return s.dim.Wide(), true
}

func (s *scanner) quantity() (r raw, err error) {
	s.space()
	r.at = s.i
	if r.num, err = s.number(); err != nil {
		return r, err
	}
	r.unit, r.unitAt = s.unitText()
	r.end = s.i
	s.space()
	r.opAt = s.i
	if r.op = s.operator(); r.op == 0 {
		s.i = r.end
		return r, nil
	}
	s.space()
	r.num2At = s.i
	if r.num2, err = s.number(); err != nil {
		return r, err
	}
	r.unit2, r.unit2At = s.unitText()
	r.end = s.i
	return r, nil
}

// operator reads ± or to; 0 when there is neither.
func (s *scanner) operator() int {
	rest := s.text[s.i:]
	for _, o := range []struct {
		text string
		op   int
	}{{"±", opSpread}, {"+/-", opSpread}, {"+/−", opSpread}, {"+-", opSpread}, {"+−", opSpread}, {"..", opTo}, {"…", opTo}} {
		if strings.HasPrefix(rest, o.text) {
			s.i += len(o.text)
			if o.text == ".." && strings.HasPrefix(s.text[s.i:], ".") {
				s.i++ // three points are as good as two
			}
			return o.op
		}
	}
	if s.toWord(s.i) {
		s.i += 2
		return opTo
	}
	return 0
}

// toWord says whether the word "to" stands at i.
func (s *scanner) toWord(i int) bool {
	if len(s.text) < i+2 || !strings.EqualFold(s.text[i:i+2], "to") {
		return false
	}
	c, _ := utf8.DecodeRuneInString(s.text[i+2:])
	return !unicode.IsLetter(c)
}

func startsDigit(s string) bool { return s != "" && s[0] >= '0' && s[0] <= '9' }

// number reads a decimal number. A point that is followed by another belongs to "..".
func (s *scanner) number() (float64, error) {
	start := s.i
	var b strings.Builder
	switch c, n := s.peek(); c {
	case '-', '−':
		b.WriteByte('-')
		s.i += n
	case '+':
		s.i += n
	}
	digits := 0
	take := func() {
		for s.i < len(s.text) && startsDigit(s.text[s.i:]) {
			b.WriteByte(s.text[s.i])
			s.i++
			digits++
		}
	}
	take()
	if strings.HasPrefix(s.text[s.i:], ".") && !strings.HasPrefix(s.text[s.i:], "..") {
		b.WriteByte('.')
		s.i++
		take()
	}
	if digits == 0 {
		s.i = start
		return 0, s.noNumber()
	}
	if rest := s.text[s.i:]; strings.HasPrefix(rest, ",") && startsDigit(rest[1:]) {
		end := s.i + 1
		for end < len(s.text) && startsDigit(s.text[end:]) {
			end++
		}
		frac := s.text[s.i+1 : end]
		hint := "use a decimal point: " + b.String() + "." + frac
		if len(frac) == 3 {
			hint += " (or " + b.String() + frac + " if thousands were meant)"
		}
		if s.row {
			hint += "; between numbers in a row put x, or a comma and a space"
		}
		return 0, s.fail(s.i, "a comma inside a number", hint)
	}
	if rest := s.text[s.i:]; rest != "" && (rest[0] == 'e' || rest[0] == 'E') {
		n := 1
		if len(rest) > 1 && (rest[1] == '+' || rest[1] == '-') {
			n = 2
		}
		if startsDigit(rest[n:]) {
			b.WriteString(rest[:n])
			s.i += n
			take()
		}
	}
	v, err := strconv.ParseFloat(b.String(), 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, s.fail(start, "the number is too large", "")
	}
	return v, nil
}

func (s *scanner) noNumber() *ParseError {
	rest := strings.ToLower(strings.TrimSpace(s.text[s.i:]))
	c, _ := utf8.DecodeRuneInString(rest)
	switch {
	case rest == "":
		if s.i == 0 || strings.TrimSpace(s.text) == "" {
			return s.fail(s.i, "nothing is written here", "")
		}
		return s.fail(s.i, "a number is missing at the end", "")
	case strings.HasPrefix(rest, "unknown"):
		return s.fail(s.i, `"unknown" stands alone`, "leave out the rest")
	case c == '<' || c == '>' || c == '~' || c == '≈' || c == '≤' || c == '≥' || strings.HasPrefix(rest, "about") || strings.HasPrefix(rest, "ca"):
		return s.fail(s.i, "a number should stand here", `say how sure it is: a range such as "3 to 5", or ± with a spread`)
	case c == ',':
		return s.fail(s.i, "a number should stand here", "a number below one starts with 0. and a decimal point is a point")
	}
	return s.fail(s.i, "a number should stand here", "")
}

// unitText reads as far as a unit can reach: up to ±, "to", "..", a sign, a comma, an x that is not part of a word, or a
// number after a space.
func (s *scanner) unitText() (string, int) {
	s.space()
	start := s.i
	var prev rune = ' '
scan:
	for s.i < len(s.text) {
		c, n := s.peek()
		next, _ := utf8.DecodeRuneInString(s.text[s.i+n:])
		switch {
		case c == '±' || c == '+' || c == ',' || c == '×' || c == '…' || c == ';':
			break scan
		case strings.HasPrefix(s.text[s.i:], ".."):
			break scan
		case (c == 'x' || c == 'X') && (s.row || !unicode.IsLetter(prev)):
			break scan
		case unicode.IsSpace(prev) && (startsDigit(s.text[s.i:]) || c == '-' || c == '−' || c == '–' || c == '—' || c == '.' || c == '*' && s.row):
			break scan
		case !unicode.IsLetter(prev) && s.toWord(s.i):
			break scan
		case c == '.' && startsDigit(string(next)):
			break scan
		}
		prev = c
		s.i += n
	}
	return strings.TrimRightFunc(s.text[start:s.i], unicode.IsSpace), start
}

// leftover is the error for text after a complete quantity.
func (s *scanner) leftover() *ParseError {
	rest := s.text[s.i:]
	c, _ := utf8.DecodeRuneInString(rest)
	what := fmt.Sprintf("%q is left over", rest)
	switch {
	case c == '-' || c == '–' || c == '—' || c == '−':
		return s.fail(s.i, what, `write a range with "to": 3 to 5`)
	case !s.row && (c == 'x' || c == 'X' || c == '×' || c == ','):
		return s.fail(s.i, what, "one quantity is wanted here, not several")
	case startsDigit(rest):
		return s.fail(s.i, what, "write one number with one unit, such as 90 min for 1 h 30 min")
	case c == '±' || strings.HasPrefix(rest, "+"):
		return s.fail(s.i, what, "one ± is enough, and a range has none of its own")
	}
	return s.fail(s.i, what, "")
}

// unitNamed finds a unit by its spelling, or says what would do.
func (s *scanner) unitNamed(text string, at int, num float64, fallback *unitDef) (*unitDef, *ParseError) {
	if text == "" && fallback != nil {
		return fallback, nil
	}
	key := squeeze(text)
	if u, ok := spellings[s.dim][key]; ok {
		return u, nil
	}
	names := s.dim.Units()
	if text == "" {
		could := make([]string, 0, 3)
		for _, n := range names[:min(3, len(names))] {
			could = append(could, trim(num)+" "+n)
		}
		return nil, s.fail(at, "the unit is missing", "write "+orList(could))
	}
	what := fmt.Sprintf("%q is not a unit of %s", text, s.dim.Name())
	hint := "units that would do: " + strings.Join(names, ", ")
	switch c, _ := utf8.DecodeRuneInString(text); {
	case s.dim == Energy && (key == "mAh" || key == "Ah"):
		wh := num * 3.7
		if key == "mAh" {
			wh /= 1000
		}
		return nil, s.fail(at, text+" is a charge, and needs a voltage to become an energy",
			fmt.Sprintf("multiply by the cell's mean voltage: %s %s at 3.7 V is %s Wh", trim(num), text, trim(wh)))
	case c == '-' || c == '–' || c == '—' || c == '−':
		return nil, s.fail(at, "a dash is not read as a range", `write "to", such as 3 to 5 `+names[0])
	}
	for d := Dim(0); d < numDims; d++ {
		if _, ok := spellings[d][key]; ok && d != s.dim {
			what = fmt.Sprintf("%s is a unit of %s, not of %s", text, d.Name(), s.dim.Name())
			if s.dim == Time && key == "m" {
				hint = "m is metre: for minutes write min"
			}
			return nil, s.fail(at, what, hint)
		}
	}
	for _, n := range names {
		if strings.EqualFold(squeeze(n), key) {
			return nil, s.fail(at, what, "did you mean "+n+"? (upper and lower case count: mW is not MW)")
		}
	}
	if near := Nearest(text, names); near != "" {
		hint = "did you mean " + near + "? " + hint
	}
	return nil, s.fail(at, what, hint)
}

// resolve turns a raw quantity into SI. fallback is the unit of a number that has none, or nil.
func (s *scanner) resolve(r raw, fallback *unitDef, text string) (Quantity, error) {
	q := Quantity{Dim: s.dim, Text: text}
	switch r.op {
	case opTo:
		hi, err := s.unitNamed(r.unit2, r.unit2At, r.num2, fallback)
		if err != nil {
			return Quantity{}, err
		}
		lo := hi
		if r.unit != "" {
			if lo, err = s.unitNamed(r.unit, r.unitAt, r.num, nil); err != nil {
				return Quantity{}, err
			}
		}
		a, b := lo.si(r.num), hi.si(r.num2)
		if a > b {
			return Quantity{}, s.fail(r.num2At, "the range runs downwards", "write the smaller number first")
		}
		q = RangeSI(a, b, s.dim)
		q.Text = text
	case opSpread:
		u, err := s.unitNamed(r.unit, r.unitAt, r.num, nil)
		if err != nil {
			return Quantity{}, err
		}
		half, err := s.half(r, u)
		if err != nil {
			return Quantity{}, err
		}
		q.Kind, q.Mid = Spread, u.si(r.num)
		q.Lo, q.Hi = q.Mid-half, q.Mid+half
	default:
		u, err := s.unitNamed(r.unit, r.unitAt, r.num, fallback)
		if err != nil {
			return Quantity{}, err
		}
		q.Kind, q.Mid = Exact, u.si(r.num)
		q.Lo, q.Hi = q.Mid, q.Mid
	}
	if err := s.sound(q, r); err != nil {
		return Quantity{}, err
	}
	return q, nil
}

// half is the half width of a spread, SI.
func (s *scanner) half(r raw, u *unitDef) (float64, *ParseError) {
	if r.num2 < 0 {
		return 0, s.fail(r.num2At, "a spread cannot be negative", "")
	}
	unit2 := squeeze(r.unit2)
	switch {
	case unit2 == "%" || unit2 == "percent":
		switch {
		case s.dim == Temperature:
			return 0, s.fail(r.unit2At, "a temperature's spread in % has no meaning, since its zero is arbitrary", "write it in kelvin, such as ± 3 K")
		case s.dim == Ratio && u.name == "%":
			return u.diff(r.num2), nil
		case r.num2 > 100:
			return 0, s.fail(r.num2At, "a spread above 100 % reaches past zero", "write a range instead, such as 1 to 7 "+s.dim.Units()[0])
		}
		return math.Abs(u.diff(r.num)) * r.num2 / 100, nil
	case unit2 == "":
		return u.diff(r.num2), nil
	}
	of := *s
	if s.dim == Temperature {
		of.dim = TemperatureDiff
	}
	u2, err := of.unitNamed(r.unit2, r.unit2At, r.num2, nil)
	if err != nil {
		return 0, err
	}
	return u2.diff(r.num2), nil
}

// sound checks what no quantity may be.
func (s *scanner) sound(q Quantity, r raw) error {
	for _, v := range []float64{q.Lo, q.Mid, q.Hi} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return s.fail(r.at, "the number is too large", "")
		}
	}
	switch {
	case s.dim == Temperature && q.Lo < 0:
		return s.fail(r.at, "this is below absolute zero", "")
	case !s.dim.info().signed && q.Mid < 0:
		return s.fail(r.at, fmt.Sprintf("%s cannot be negative", s.dim.Name()), "")
	case !s.dim.info().signed && q.Lo < 0:
		return s.fail(r.at, fmt.Sprintf("the interval reaches below zero, which %s cannot", s.dim.Name()), "write a range instead, such as 0.1 to 2 "+s.dim.Units()[0])
	}
	return nil
}

func orList(words []string) string {
	if n := len(words); n > 1 {
		return strings.Join(words[:n-1], ", ") + " or " + words[n-1]
	}
	return strings.Join(words, "")
}

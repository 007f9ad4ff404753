package benchlog

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Options override what is guessed. The zero value guesses everything. String and ParseOptions write and read all but the
// function, so that a file can remember how its log is to be read.
type Options struct {
	Encoding    Encoding
	Delimiter   string // comma, semicolon, tab, pipe, space
	Decimal     string // point, comma
	HeadingLine int    // line of the names, from 1; -1: there is none
	FirstLine   int    // line of the first row of numbers, from 1
	Mark        string // only rows whose first field is this
	Clock       ClockKind
	TimeFields  []int   // fields that together tell the time, from 1
	IntervalS   float64 // between rows, for a log without a clock, s
	CloseJumps  bool    // jumps forward are the clock being set, not gaps
	StartS      float64 // the log's time at which the run began, s; times are counted from there
	Rate        float64 // seconds of the run in one second of the log's clock; 0: one
	ColdC       float64 // cold junction of thermocouple voltages when no column has it, °C
	HasCold     bool
	Codes       []string // more texts or numbers that stand for a missing reading
	Columns     []ColumnOption

	// Convert turns a thermocouple's voltage (mV) and its cold junction's temperature (°C) into its own temperature (°C). Not
	// part of the text form.
	Convert func(letter string, mV, coldC float64) (tC float64, err error)
}

// ColumnOption overrides one column; empty members stay guessed.
type ColumnOption struct {
	Field        int // from 1
	Name         string
	Unit         string
	Role         Role
	Thermocouple string // its letter, such as K
	Class        string // the thermocouple's tolerance class, such as IEC 2
}

// Setting is one thing that can be said about a log, for help texts.
type Setting struct {
	Name, Doc, Example string
	Often              bool // may be said several times
}

// Settings lists what Options' text form can say. ParseOptions and the commands' flags know no other.
var Settings = []Setting{
	{"encoding", "how the bytes are text: utf-8, utf-16le, utf-16be or windows-1252", "windows-1252", false},
	{"delimiter", "what parts the fields: comma, semicolon, tab, pipe or space", "semicolon", false},
	{"decimal", "the decimal mark: point or comma", "comma", false},
	{"heading", "the line of the names, counted from 1, or none", "3", false},
	{"first", "the line of the first row of numbers", "5", false},
	{"mark", "read only rows whose first field is this", "D", false},
	{"clock", "how it tells the time: " + clockChoices(), "d-m-y", false},
	{"time", "the numbers of the fields that together tell the time, counted from 1", "1 2", false},
	{"interval", "the time between rows, for a log without a clock", "10 s", false},
	{"jumps", "closed: the clock was set where it jumps forward; kept: that is a gap", "closed", false},
	{"start", "the log's time at which the run began; times are counted from there", "312 s", false},
	{"rate", "seconds of the run in one second of a clock that drifts", "1.01", false},
	{"cold", "the cold junction's temperature, for thermocouple voltages without a column of it", "23 °C", false},
	{"code", "a text or number that stands for a missing reading", "-1", true},
	{"column", `what the column with this number is: name, unit, role, thermocouple (K, T, J, E or N) and its class (IEC 1, IEC 2, IEC 3, ASTM special or ASTM standard)`, `4 name chip unit °F`, true},
}

func settingNames() string {
	s := make([]string, len(Settings))
	for i, x := range Settings {
		s[i] = x.Name
	}
	return strings.Join(s[:len(s)-1], ", ") + " and " + s[len(s)-1]
}

func (o *Options) column(field int) ColumnOption {
	for _, c := range o.Columns {
		if c.Field == field {
			return c
		}
	}
	return ColumnOption{}
}

// String is the text form: settings parted by semicolons, texts in quotes.
//
//	delimiter semicolon; decimal comma; heading 3; first 5; clock "d-m-y"; time 1 2; column 4 name "chip" unit "°F"
func (o Options) String() string {
	var s []string
	add := func(format string, a ...any) { s = append(s, fmt.Sprintf(format, a...)) }
	if o.Encoding != "" {
		add("encoding %s", o.Encoding)
	}
	if o.Delimiter != "" {
		add("delimiter %s", o.Delimiter)
	}
	if o.Decimal != "" {
		add("decimal %s", o.Decimal)
	}
	if o.HeadingLine > 0 {
		add("heading %d", o.HeadingLine)
	} else if o.HeadingLine < 0 {
		add("heading none")
	}
	if o.FirstLine > 0 {
		add("first %d", o.FirstLine)
	}
	if o.Mark != "" {
		add("mark %q", o.Mark)
	}
	if o.Clock != "" {
		add("clock %q", o.Clock)
	}
	if len(o.TimeFields) > 0 {
		add("time %s", strings.Trim(fmt.Sprint(o.TimeFields), "[]"))
	}
	if o.IntervalS > 0 {
		add("interval %s s", strconv.FormatFloat(o.IntervalS, 'g', -1, 64))
	}
	if o.CloseJumps {
		add("jumps closed")
	}
	if o.StartS != 0 {
		add("start %s s", strconv.FormatFloat(o.StartS, 'g', -1, 64))
	}
	if o.Rate != 0 {
		add("rate %s", strconv.FormatFloat(o.Rate, 'g', -1, 64))
	}
	if o.HasCold {
		add("cold %s °C", strconv.FormatFloat(o.ColdC, 'g', -1, 64))
	}
	for _, c := range o.Codes {
		add("code %q", c)
	}
	for _, c := range o.Columns {
		t := fmt.Sprintf("column %d", c.Field)
		for _, kv := range [][2]string{{"name", c.Name}, {"unit", c.Unit}, {"role", string(c.Role)}, {"thermocouple", c.Thermocouple}, {"class", c.Class}} {
			if kv[1] != "" {
				t += fmt.Sprintf(" %s %q", kv[0], kv[1])
			}
		}
		s = append(s, t)
	}
	return strings.Join(s, "; ")
}

// ParseOptions reads the text form. Settings stand in any order; what is said of one column in several adds up.
func ParseOptions(text string) (Options, error) {
	var o Options
	words, err := optionWords(text)
	if err != nil {
		return o, err
	}
	for _, w := range words {
		bad := func(want string) error {
			return fmt.Errorf("how to read a log: %q: %s", strings.Join(w, " "), want)
		}
		key, rest := w[0], w[1:]
		if len(rest) == 0 {
			return o, bad("a value is missing")
		}
		one := rest[0]
		switch key {
		case "encoding":
			switch o.Encoding = Encoding(one); o.Encoding {
			case UTF8, UTF16LE, UTF16BE, Windows1252:
			default:
				return o, bad("the encoding may be utf-8, utf-16le, utf-16be or windows-1252")
			}
		case "delimiter":
			if o.Delimiter = one; named(delimiterNames, one) == 0 {
				return o, bad("the delimiter may be comma, semicolon, tab, pipe or space")
			}
		case "decimal":
			if o.Decimal = one; named(decimalNames, one) == 0 {
				return o, bad("the decimal mark may be point or comma")
			}
		case "heading", "first":
			n, err := strconv.Atoi(one)
			if key == "heading" && one == "none" {
				n, err = -1, nil
			} else if n < 1 {
				return o, bad("a line's number is wanted, counted from 1")
			}
			if err != nil {
				return o, bad("a line's number is wanted, counted from 1")
			}
			if key == "heading" {
				o.HeadingLine = n
			} else {
				o.FirstLine = n
			}
		case "mark":
			o.Mark = one
		case "clock":
			o.Clock = ClockKind(strings.Join(rest, " "))
			if clockWords[o.Clock] == "" {
				return o, bad("the clock may be " + clockChoices())
			}
		case "time":
			for _, r := range rest {
				n, err := strconv.Atoi(r)
				if err != nil || n < 1 || n > maxFields {
					return o, bad("the numbers of the time's fields are wanted, counted from 1")
				}
				o.TimeFields = append(o.TimeFields, n)
			}
		case "interval":
			if o.IntervalS, err = optionTime(rest); err != nil || !(o.IntervalS > 0 && o.IntervalS < 1e6) {
				return o, bad("a time such as 1 s is wanted")
			}
		case "start":
			if o.StartS, err = optionTime(rest); err != nil || !(math.Abs(o.StartS) < 1e8) {
				return o, bad("a time such as 312 s is wanted; negative if the log began after the run")
			}
		case "rate":
			if o.Rate, err = strconv.ParseFloat(one, 64); err != nil || len(rest) > 1 || !(o.Rate >= 0.5 && o.Rate <= 2) {
				return o, bad("a number from 0.5 to 2 such as 1.01 is wanted")
			}
		case "jumps":
			if o.CloseJumps = one == "closed"; !o.CloseJumps && one != "kept" {
				return o, bad("jumps may be kept or closed")
			}
		case "cold":
			v, err := strconv.ParseFloat(one, 64)
			if err != nil || !(v > lowestC && v < highestC) || len(rest) > 1 && rest[1] != "°C" {
				return o, bad("a temperature such as 23 °C is wanted")
			}
			o.ColdC, o.HasCold = v, true
		case "code":
			o.Codes = append(o.Codes, one)
		case "column":
			c := ColumnOption{}
			n, err := strconv.Atoi(one)
			if err != nil || n < 1 || n > maxFields || len(rest)%2 != 1 {
				return o, bad(`such as column 3 name "chip" unit "°C" is wanted`)
			}
			c.Field = n
			for k := 1; k+1 < len(rest); k += 2 {
				v := rest[k+1]
				switch rest[k] {
				case "name":
					c.Name = v
				case "unit":
					if _, ok := parseUnit(v); !ok {
						return o, bad(fmt.Sprintf("%q is not a unit that is known here", v))
					}
					c.Unit = v
				case "role":
					if c.Role = Role(v); !c.Role.known() {
						return o, bad("the role may be " + roleChoices())
					}
				case "thermocouple":
					c.Thermocouple = v
				case "class":
					c.Class = v
				default:
					return o, bad("a column may have name, unit, role, thermocouple and class")
				}
			}
			o.say(c)
		default:
			return o, bad("there is no such setting; there are " + settingNames())
		}
	}
	return o, nil
}

// say adds what is said of a column to what was said of it before.
func (o *Options) say(c ColumnOption) {
	for i := range o.Columns {
		old := &o.Columns[i]
		if old.Field != c.Field {
			continue
		}
		for _, x := range []struct{ from, to *string }{{&c.Name, &old.Name}, {&c.Unit, &old.Unit}, {(*string)(&c.Role), (*string)(&old.Role)}, {&c.Thermocouple, &old.Thermocouple}, {&c.Class, &old.Class}} {
			if *x.from != "" {
				*x.to = *x.from
			}
		}
		return
	}
	o.Columns = append(o.Columns, c)
}

// optionTime reads a time with its unit; without one it is in s.
func optionTime(words []string) (float64, error) {
	v, err := strconv.ParseFloat(words[0], 64)
	u := seconds
	if len(words) > 1 {
		var ok bool
		if u, ok = parseUnit(words[1]); !ok || u.Kind != Duration {
			err = strconv.ErrSyntax
		}
	}
	return u.SI(v), err
}

// optionWords cuts the text into settings and these into words.
func optionWords(text string) ([][]string, error) {
	var all [][]string
	var words []string
	for text = strings.TrimSpace(text); text != ""; text = strings.TrimSpace(text) {
		switch {
		case text[0] == ';':
			if len(words) > 0 {
				all = append(all, words)
			}
			words = nil
			text = text[1:]
		case text[0] == '"':
			q, err := strconv.QuotedPrefix(text)
			if err != nil {
				return nil, fmt.Errorf("how to read a log: the quotes of %s do not close", text)
			}
			w, _ := strconv.Unquote(q)
			words = append(words, w)
			text = text[len(q):]
		default:
			end := strings.IndexAny(text, "; \t\n\"")
			if end < 0 {
				end = len(text)
			}
			words = append(words, text[:end])
			text = text[end:]
		}
	}
	if len(words) > 0 {
		all = append(all, words)
	}
	return all, nil
}

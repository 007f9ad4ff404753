package benchlog

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"finwright/internal/unit"
)

// HeadBytes is how much of a file is looked at to guess how it is to be read.
const HeadBytes = 512 << 10

const (
	headLines = 4000 // lines of the head that are looked at
	tryLines  = 600  // of these, to choose the dialect
	maxFields = 2000 // fields that a row may have
)

// Guess is how a log is understood. Its exported members are for showing; to change something, guess again with Options.
type Guess struct {
	Path        string
	Encoding    Encoding
	Delimiter   string // "" for notes in words
	Decimal     string
	HeadingLine int // line of the names, from 1; 0: there is none
	UnitLine    int // line of the units
	FirstLine   int // line of the first row
	Clock       ClockKind
	TimeFields  []int // from 1
	IntervalS   float64
	StepS       float64 // usual step between rows, s; 0 if there is one row
	Columns     []Column
	LongForm    int      // fields from 1: the number of the channel, when each row has one reading; 0: no
	Picture     int      // rows that make one sample, when rows are lines of a picture; 0: no
	Notes       bool     // written by hand, in words
	Questions   []string // what had to be assumed and the reader should confirm
	Findings    []Finding
	First       []string // the first five understood rows

	opt      Options
	dialect  dialect
	end      byte
	n        int // fields of a row
	clock    clock
	found    findings
	channels []Column
	indices  []float64 // LongForm: the channels' numbers
	codes    map[string]bool
	textual  bool // the first field of a row is text
	bare     bool // some notes have no units
}

func (g *Guess) fail(line int, excerpt, what, do string) *Error {
	return &Error{Path: g.Path, Line: line, What: what, Excerpt: excerpt, Do: do}
}

// NewGuess looks at a file's first bytes (HeadBytes of them, or all) and says how the file is to be read. Path is for messages.
func NewGuess(path string, head []byte, opt Options) (*Guess, error) {
	g := &Guess{Path: path, opt: opt, codes: map[string]bool{}}
	for _, c := range opt.Codes {
		g.codes[strings.ToUpper(c)] = true
	}
	if what := notText(head); what != "" {
		return nil, g.fail(0, "", "it is "+what+", not a text file", "save the readings as CSV or text and name that file")
	}
	if g.Encoding = opt.Encoding; g.Encoding == "" {
		g.Encoding = sniffEncoding(head)
	}
	text, err := io.ReadAll(newDecoder(bytes.NewReader(head), g.Encoding))
	if err != nil {
		return nil, g.fail(0, "", err.Error(), "")
	}
	if g.Encoding != UTF16LE && g.Encoding != UTF16BE && bytes.IndexByte(head, 0) >= 0 {
		g.found.add("zero bytes", 0, "zero bytes are left out: the logger probably lost its power while it wrote")
	}
	if opt.Encoding == "" && g.Encoding == Windows1252 && japanese(head) {
		g.found.add("code page", 0, "the words are probably in a Japanese code page, which is not understood here: numbers, units and times are read, names come out as other signs; name the columns, such as: column 2 name \"chip\"")
	}
	if len(bytes.TrimSpace(text)) == 0 {
		return nil, g.fail(0, "", "the log is empty", "")
	}
	g.end = lineEnd(text)
	if end := bytes.LastIndexByte(text, g.end); len(head) >= HeadBytes && end >= 0 {
		text = text[:end+1] // the last line is cut in two
	}
	var lines [][]byte
	for lr := newLineReader(bytes.NewReader(text), g.end); len(lines) < headLines; {
		line, err := lr.next()
		if err == errLongLine {
			return nil, g.fail(lr.n, excerpt(line), "the line is longer than a million characters, so this is no table of readings", "")
		}
		if err != nil {
			break
		}
		lines = append(lines, append([]byte(nil), line...))
	}
	t, err := g.table(lines)
	if err != nil {
		return nil, err
	}
	notes, share := noteLines(lines)
	if opt.Delimiter == "" && notes > 0 && notes <= 500 && share >= 0.6 && (t == nil || t.rows < notes || !t.hasTime()) {
		return g, g.guessNotes(text, lines)
	}
	if t == nil || t.rows == 0 {
		return nil, g.noBody(lines)
	}
	if err := g.body(t, lines); err != nil {
		return nil, err
	}
	return g, g.preview(text)
}

// noBody says what is missing where no rows of numbers were found.
func (g *Guess) noBody(lines [][]byte) error {
	for i, l := range lines {
		if len(bytes.TrimSpace(l)) > 0 && l[0] != '#' {
			_, stamped := parseStamp([]byte(firstWord(l)))
			if h := string(l); looksLike(h, timeWords, temperatureWords) && len(lines) < 40 && !stamped {
				return g.fail(i+1, excerpt(l), "there is a heading but no readings", "")
			}
			return g.fail(i+1, excerpt(l), "no rows of numbers were found", `if there are some, say how they are written, such as: delimiter semicolon; decimal comma; first 12`)
		}
	}
	return g.fail(0, "", "the log has remarks but no readings", "")
}

// table chooses the dialect and finds the body.
func (g *Guess) table(lines [][]byte) (*table, error) {
	opt := g.opt
	from := 0
	if opt.FirstLine > 0 {
		if from = opt.FirstLine - 1; from >= len(lines) {
			return nil, g.fail(0, "", fmt.Sprintf("the first row should be in line %d, but the beginning of the file has %d lines", opt.FirstLine, len(lines)), "correct the number behind first")
		}
	}
	delim, decimal := named(delimiterNames, opt.Delimiter), named(decimalNames, opt.Decimal)
	var best *table
	try := func(lines [][]byte) {
		for _, d := range dialects {
			if delim != 0 && d.delim != delim || decimal != 0 && d.decimal != decimal {
				continue
			}
			if t := look(lines, d, from, opt.Mark); best == nil || t.score > best.score*1.0001 {
				best = t
			}
		}
	}
	try(lines[:min(len(lines), max(tryLines, from+tryLines))])
	if len(lines) > tryLines {
		if best == nil || best.rows == 0 {
			try(lines)
		} else {
			best = look(lines, best.dialect, from, opt.Mark)
		}
	}
	if best == nil || best.rows == 0 {
		return best, nil
	}
	if cut := g.cutDays(best, lines); cut != cutNone {
		d := best.dialect
		d.cut = cut
		best = look(lines, d, from, opt.Mark)
	}
	if mark, others := best.marked(); mark != "" && opt.Mark == "" {
		g.opt.Mark = mark
		g.found.add("mark", best.first+1, fmt.Sprintf("only rows that begin with %q are read; others begin with %s; to read those, say such as: mark %s", mark, strings.Join(others, ", "), others[0]))
		best = look(lines, best.dialect, from, mark)
	}
	if best.n > maxFields {
		return nil, g.fail(best.first+1, excerpt(lines[best.first]), fmt.Sprintf("a row has %d fields, more than the %d that are read", best.n, maxFields), "")
	}
	if best.fewer*10 > (best.rows+best.fewer)*3 && best.delim == ',' && best.fewer > 2 && opt.Mark == "" && best.column[0] != fieldText {
		return nil, g.fail(best.first+1, excerpt(lines[best.first]), fmt.Sprintf("the rows have from %d to %d fields: a comma that parts the fields is probably also the decimal comma of some column", best.least, best.most), "let the logger write semicolons between the fields, or points in the numbers")
	}
	return best, nil
}

// hasTime tells whether a column is a time beyond doubt.
func (t *table) hasTime() bool {
	for j, k := range t.column {
		if k == fieldWithUnit {
			if _, u, ok := numberWithUnit(firstWithUnit(t, j), t.decimal); ok && u.Kind == Duration {
				return true
			}
		}
	}
	return t.hasStamp()
}

func (t *table) hasStamp() bool {
	for _, k := range t.column {
		if k == fieldStamp {
			return true
		}
	}
	return false
}

// cutDays tells whether spreadsheet day numbers were cut in two at their decimal comma.
func (g *Guess) cutDays(t *table, lines [][]byte) cut {
	if t.delim != ',' || t.n < 3 || t.column[0] != fieldNumber || t.column[1] != fieldNumber {
		return cutNone
	}
	pairs, last, rows := t.n%2 == 0, -1.0, 0
	for i := t.first; i <= t.last; i++ {
		f := t.fields[i]
		if len(f) != t.n {
			continue
		}
		day, ok := plainNumber(f[0], '.')
		if !ok || !allDigits(f[0], false) || day < 20000 || day >= 80000 || last >= 0 && day != last && day != last+1 || !allDigits(f[1], false) || len(f[1]) < 4 {
			if rows > 0 && ok && len(f[1]) < 4 {
				continue // the fraction's last digits were zeros
			}
			return cutNone
		}
		last = day
		rows++
		for j := 2; j+1 < len(f) && pairs; j += 2 {
			_, code := textCode(f[j])
			pairs = allDigits(f[j], true) && allDigits(f[j+1], false) && len(f[j+1]) <= 3 || code
		}
	}
	if rows == 0 {
		return cutNone
	}
	all := *t
	if h := readHeading(&all, lines, g.namesAt()); h.nameLine >= 0 {
		switch shown := headingWidth(t, lines[h.nameLine]); {
		case shown == t.n/2 && pairs:
			return cutAll
		case shown == t.n-1:
			return cutTime
		case shown == t.n:
			return cutNone
		}
	}
	if pairs {
		return cutAll
	}
	return cutTime
}

func headingWidth(t *table, line []byte) int {
	f := t.dialect.split(line, nil)
	for len(f) > 0 && len(f[len(f)-1]) == 0 {
		f = f[:len(f)-1]
	}
	return len(f)
}

// namesAt is the index of the line that is said to have the names; see readHeading.
func (g *Guess) namesAt() int {
	switch {
	case g.opt.HeadingLine > 0:
		return g.opt.HeadingLine - 1
	case g.opt.HeadingLine < 0:
		return -2
	}
	return -1
}

// body settles everything about a table whose body is found.
func (g *Guess) body(t *table, lines [][]byte) error {
	g.dialect, g.n = t.dialect, t.n
	g.Delimiter, g.Decimal = delimiterNames[t.delim], decimalNames[t.decimal]
	g.FirstLine = t.first + 1
	g.textual = t.column[0] == fieldText
	h := readHeading(t, lines, g.namesAt())
	if t.cut != cutNone {
		g.found.add("cut", t.first+1, "numbers are cut in two at their decimal comma and are put together again: "+map[cut]string{cutTime: "the day number", cutAll: "all of them"}[t.cut])
	}
	if h.nameLine >= 0 {
		g.HeadingLine = h.nameLine + 1
	}
	g.UnitLine = h.unitLine + 1
	for _, s := range h.scaling {
		g.found.add("scaling "+s, 0, fmt.Sprintf("the file states a scaling (%s); the numbers are taken as already scaled", s))
	}
	for i := t.first - 1; i >= 0 && h.nameLine >= 0; i-- {
		if i == h.nameLine && t.cut == cutNone {
			n := headingWidth(t, lines[i])
			if (n >= 3 && t.n > n+1 || n >= 2 && t.n > n && t.wholeOnly()) && t.delim == ',' && t.column[t.n-1] != fieldEmpty && t.column[t.n-1] != fieldText && g.opt.HeadingLine == 0 {
				return g.fail(t.first+1, excerpt(lines[t.first]), fmt.Sprintf("the rows have %d fields under %d names: a comma that parts the fields is probably also the decimal comma of some column", t.n, n), "let the logger write semicolons between the fields, or points in the numbers; if the row is right, say: heading none")
			}
			if t.delim != ' ' && (n > t.n || n < t.n && t.column[t.n-1] != fieldEmpty && t.column[t.n-1] != fieldText) {
				g.found.add("heading width", i+1, fmt.Sprintf("the heading has %d fields where a row has %d", n, t.n))
			}
		}
	}
	if h.nameLine < 0 && t.delim == ',' && t.cut == cutNone && t.n >= 3 && t.n%2 == 1 && t.wholeOnly() {
		g.Questions = append(g.Questions, "all numbers are whole: if the comma is also the decimal comma, they are cut in two; let the logger write semicolons between the fields")
	}
	for _, r := range h.remarks {
		g.found.add("remark "+r[0], 0, fmt.Sprintf("the file states %q; the readings are taken as they are", r[1]))
	}
	bracketed := len(t.fields[t.first]) > 0 && len(t.fields[t.first][0]) > 1 && t.fields[t.first][0][0] == '['
	if bracketed && !t.hasStamp() {
		return g.picture(t, h, lines)
	}
	if t.n >= 8 && h.nameLine < 0 && h.unitLine < 0 && !t.hasStamp() && g.opt.Clock == "" && g.opt.TimeFields == nil && t.allNumbers() && !t.risingFirst() {
		said := ""
		for _, r := range h.remarks {
			said += "; it says " + r[1]
		}
		return g.fail(t.first+1, excerpt(lines[t.first]), fmt.Sprintf("this is one picture of %d × %d temperatures without a time, not a log%s", t.rows, t.n, said), "note the temperatures of its places with their times, one row a picture")
	}
	if err := g.findClock(t, h, lines, g.opt); err != nil {
		return err
	}
	timeFields := append([]int(nil), g.TimeFields...)
	if err := g.columns(t, h, timeFields, g.opt); err != nil {
		return err
	}
	g.longForm(t)
	if h.nameLine < 0 && h.unitLine < 0 {
		ask := `there is no heading; the columns are called ch1, ch2 and so on. Name them, such as: column 2 name "chip"`
		if g.LongForm > 0 {
			ask = fmt.Sprintf("there is no heading; the channels are called by the numbers in field %d: ch%g, ch%g and so on", g.LongForm, g.indices[0], g.indices[1])
		}
		g.Questions = append([]string{ask}, g.Questions...)
	}
	g.thermocouples()
	g.askUnits()
	g.channels = nil
	for _, c := range g.Columns {
		if c.Role.read() {
			g.channels = append(g.channels, c)
		}
	}
	if g.LongForm > 0 {
		value := g.channels[0]
		g.channels = nil
		for _, k := range g.indices {
			c := value
			c.Name = fmt.Sprintf("ch%g", k)
			g.channels = append(g.channels, c)
		}
	}
	if len(g.channels) == 0 {
		return g.fail(t.first+1, excerpt(lines[t.first]), "there is a time but no readings beside it", "say which column is one, such as: column 2 role temperature unit \"°C\"")
	}
	return nil
}

// marked finds the mark that most rows of a table begin with, where other rows begin with other marks.
func (t *table) marked() (mark string, others []string) {
	if t.n < 3 || t.column[0] != fieldText {
		return "", nil
	}
	count, all := map[string]int{}, 0
	var seen []string
	for i := t.first; i <= t.last; i++ {
		if len(t.fields[i]) < 3 || len(t.fields[i][0]) > 8 {
			continue
		}
		m := string(t.fields[i][0])
		if count[m]++; count[m] == 1 {
			seen = append(seen, m)
		}
		all++
	}
	for _, m := range seen {
		if m != "" && count[m]*10 >= all*5 && count[m] > count[mark] {
			mark = m
		}
	}
	for _, m := range seen {
		if m != mark && m != "" && len(others) < 5 {
			others = append(others, strconv.Quote(m))
		}
	}
	if mark == "" || len(others) == 0 {
		return "", nil
	}
	return mark, others
}

// wholeOnly tells whether no number of the body has decimals.
func (t *table) wholeOnly() bool {
	for i := t.first; i <= t.last; i++ {
		for j, k := range t.kinds[i] {
			if (k == fieldNumber || k == fieldGrouped || k == fieldWithUnit) && !allDigits(t.fields[i][j], true) {
				return false
			}
		}
	}
	return true
}

func (t *table) allNumbers() bool {
	for _, k := range t.column {
		if k != fieldNumber && k != fieldEmpty {
			return false
		}
	}
	return true
}

// risingFirst tells whether the first column may be a time.
func (t *table) risingFirst() bool {
	last, rows := 0.0, 0
	for i := t.first; i <= t.last; i++ {
		v, _, ok := field(t.fields[i], 0, t.decimal)
		if !ok || rows > 0 && v <= last {
			return false
		}
		last = v
		rows++
	}
	return rows > 2
}

// picture settles a log of pictures of temperatures, printed as lists, several rows to a sample.
func (g *Guess) picture(t *table, h headed, lines [][]byte) error {
	block := 0
	for i := t.first; i <= t.last && t.matches(i); i++ {
		block++
	}
	if t.rows > block { // something stands between the pictures
		if t.rows%block != 0 && t.rows < block {
			return g.fail(t.first+1, excerpt(lines[t.first]), "rows of pictures of different sizes", "")
		}
	} else if block%t.n == 0 {
		block = t.n
	}
	g.Picture = block
	g.clock.intervalS = g.opt.IntervalS
	if g.clock.intervalS == 0 {
		g.clock.intervalS = h.intervalS
	}
	if !(g.clock.intervalS > 0) {
		return g.fail(t.first+1, excerpt(lines[t.first]), fmt.Sprintf("pictures of %d × %d temperatures, but nothing tells the time between them", block, t.n), "say it, such as: interval 0.5 s")
	}
	g.clock.kind, g.clock.msField, g.clock.decimal = ClockSample, -1, t.decimal
	g.Clock, g.IntervalS, g.StepS = ClockSample, g.clock.intervalS, g.clock.intervalS
	u, assumed := celsius, true
	for r := 0; r < block; r++ {
		for j := 0; j < t.n; j++ {
			if len(g.channels) >= maxFields {
				return g.fail(t.first+1, excerpt(lines[t.first]), fmt.Sprintf("a picture of %d × %d temperatures is more than the %d that are read", block, t.n, maxFields), "")
			}
			c := Column{Field: j + 1, Name: fmt.Sprintf("r%dc%d", r+1, j+1), Unit: u, Assumed: assumed, Role: RoleTemperature}
			g.channels = append(g.channels, c)
		}
	}
	g.Columns = g.channels
	g.Questions = append(g.Questions, fmt.Sprintf("the pictures have no unit: taken as °C; their places are called r1c1 to r%dc%d", block, t.n))
	return nil
}

// longForm finds rows that have the number of a channel and its reading.
func (g *Guess) longForm(t *table) {
	index, value := -1, -1
	for i, c := range g.Columns {
		switch {
		case c.Role == RoleTime || c.Role == RoleText || c.Role == RoleUnit:
		case t.column[c.Field-1] == fieldNumber && index < 0 && value < 0:
			index = i
		case index >= 0 && value < 0 && c.Role.read():
			value = i
		default:
			return
		}
	}
	if index < 0 || value < 0 || g.Clock == ClockSample {
		return
	}
	seen := map[float64]int{}
	var order []float64
	cycles, same, rows := 0, 0, 0
	last, lastTime := -1.0, ""
	for i := t.first; i <= t.last; i++ {
		f := t.fields[i]
		if !t.matches(i) || g.Columns[index].Field > len(f) || g.TimeFields[0] > len(f) {
			continue
		}
		k, ok := plainNumber(f[g.Columns[index].Field-1], t.decimal)
		if !ok || k < 0 || k > 999 || k != float64(int(k)) {
			return
		}
		if seen[k]++; seen[k] == 1 {
			order = append(order, k)
		}
		at := string(f[g.TimeFields[0]-1])
		if rows > 0 && (k > last) != (at == lastTime) && (k > last || at == lastTime) {
			same++
		}
		if k <= last {
			cycles++
		}
		last, lastTime = k, at
		rows++
	}
	if len(order) < 2 || cycles < 2 || len(order) > 64 || cycles > rows/len(order)+2 || same > cycles {
		return
	}
	for _, k := range order {
		if seen[k]*len(order)*2 < rows {
			return
		}
	}
	g.LongForm, g.indices = g.Columns[index].Field, order
	g.Columns[index].Role = RoleIndex
	v := &g.Columns[value]
	if v.Role == RoleQuantity && v.Unit.Kind == Number {
		v.Role, v.Unit, v.Assumed = RoleTemperature, celsius, true
	}
	g.found.add("long form", 0, fmt.Sprintf("each row has one channel's reading: field %d is the channel, %d of them", g.LongForm, len(order)))
	g.found.forget("shared stamps")
}

// thermocouples settles which voltages become temperatures.
func (g *Guess) thermocouples() {
	cold := g.opt.HasCold
	for _, c := range g.Columns {
		cold = cold || c.Role == RoleColdJunction && c.Unit.Kind == Temperature
	}
	temperatures := 0
	for _, c := range g.Columns {
		if c.Role == RoleTemperature {
			temperatures++
		}
	}
	for i := range g.Columns {
		c := &g.Columns[i]
		if c.Role == RoleQuantity && c.Unit.Name == "mV" && temperatures == 0 && c.UnitField == 0 {
			c.Role = RoleThermocouple
		}
		if c.Role != RoleThermocouple {
			continue
		}
		switch {
		case c.Thermocouple == "":
			g.Questions = append(g.Questions, fmt.Sprintf(`column %q is in mV: if it is a thermocouple's voltage, say its type, such as: column %d thermocouple "K"`, c.Name, c.Field))
		case !cold:
			g.Questions = append(g.Questions, fmt.Sprintf(`column %q: without the cold junction's temperature the voltage stays a voltage; say it, such as: cold 23 °C`, c.Name))
		default:
			c.Converted = g.opt.Convert != nil
		}
	}
}

// Channels are the columns whose readings Stream hands on, in the order of a row's values.
func (g *Guess) Channels() []Column { return g.channels }

// Options are those that make the same guess again without looking: what a file should remember.
func (g *Guess) Options() Options {
	o := g.opt
	o.Encoding = g.Encoding
	if g.Notes {
		if g.bare {
			o.Columns = nil
			for _, c := range g.Columns {
				o.Columns = append(o.Columns, ColumnOption{Field: c.Field, Name: c.Name, Unit: c.Unit.Name})
			}
		}
		return o
	}
	o.Delimiter, o.Decimal = g.Delimiter, g.Decimal
	o.FirstLine = g.FirstLine
	if o.HeadingLine = g.HeadingLine; g.HeadingLine == 0 {
		o.HeadingLine = -1
		if g.UnitLine > 0 {
			o.HeadingLine = 0
		}
	}
	if g.Picture > 0 {
		o.IntervalS = g.IntervalS
		return o
	}
	o.Clock, o.TimeFields, o.IntervalS = g.Clock, g.TimeFields, g.IntervalS
	o.Columns = nil
	for _, c := range g.Columns {
		if c.Role == RoleTime || c.Role == RoleUnit || c.Role == RoleText {
			continue
		}
		co := ColumnOption{Field: c.Field, Name: c.Name, Role: c.Role, Thermocouple: c.Thermocouple, Class: c.Class}
		if c.UnitField == 0 && !c.InField {
			co.Unit = c.Unit.Name
		}
		o.Columns = append(o.Columns, co)
	}
	return o
}

// Words says how the file, its heading and its clock are understood. The columns have words of their own (Column.What).
func (g *Guess) Words() []string {
	var s []string
	add := func(format string, a ...any) { s = append(s, fmt.Sprintf(format, a...)) }
	if g.Notes {
		add("notes in words, %s.", g.Encoding)
	} else {
		delim := map[string]string{"comma": "commas", "semicolon": "semicolons", "tab": "tabs", "pipe": "pipes", "space": "spaces"}[g.Delimiter]
		add("%s, fields parted by %s, decimal %s.", g.Encoding, delim, g.Decimal)
		head := "no heading"
		if g.HeadingLine > 0 {
			head = fmt.Sprintf("names in line %d", g.HeadingLine)
		}
		if g.UnitLine > 0 {
			head += fmt.Sprintf(", units in line %d", g.UnitLine)
		}
		add("First row in line %d; %s.", g.FirstLine, head)
		if g.Picture > 0 {
			add("%d rows make one picture.", g.Picture)
		}
		clock := clockWords[g.Clock]
		if len(g.TimeFields) > 0 {
			clock += " in field " + strings.Trim(strings.ReplaceAll(fmt.Sprint(g.TimeFields), " ", " and "), "[]")
		}
		if g.Clock == ClockSample {
			clock += ", every " + unit.Format(g.IntervalS, unit.Time)
		} else if g.StepS > 0 {
			clock += ", usually every " + unit.Format(g.StepS, unit.Time)
		}
		add("Time: %s.", clock)
	}
	if g.opt.StartS != 0 || g.opt.Rate != 0 {
		add("Times are counted from %s of the log%s.", unit.Format(g.opt.StartS, unit.Time), map[bool]string{true: fmt.Sprintf(", one second of its clock being %g s", g.opt.Rate)}[g.opt.Rate != 0])
	}
	return s
}

// Lines says the guess in words, with the first five understood rows.
func (g *Guess) Lines() []string {
	s := g.Words()
	s[0] = g.Path + ": " + s[0]
	add := func(format string, a ...any) { s = append(s, fmt.Sprintf(format, a...)) }
	shown := g.Columns
	if g.LongForm > 0 {
		shown = g.channels
	}
	for i, c := range shown {
		if c.Role == RoleTime {
			continue
		}
		if i >= 20 && len(shown) > 24 {
			add("  and %d more like this", len(shown)-i)
			break
		}
		add("  %s", c)
	}
	for _, f := range g.Findings {
		add("Note: %s.", f)
	}
	for _, q := range g.Questions {
		add("Question: %s.", q)
	}
	for _, r := range g.First {
		add("> %s", r)
	}
	return s
}

// String is Lines as one text.
func (g *Guess) String() string { return strings.Join(g.Lines(), "\n") }

// firstRows is a Sink that says the first rows in words and then stops.
type firstRows struct {
	g    *Guess
	rows []string
}

var errEnough = errors.New("enough rows")

func (f *firstRows) Event(Event) {}

func (f *firstRows) Row(tS float64, value []float64, why []Reason) error {
	s := unit.Format(tS, unit.Time)
	for i, c := range f.g.channels {
		if i == 8 && len(f.g.channels) > 10 {
			s += fmt.Sprintf(" | and %d more", len(f.g.channels)-i)
			break
		}
		s += " | " + c.Name + " "
		switch {
		case why[i] != Present:
			s += "missing (" + why[i].String() + ")"
		case c.Kind() == Temperature:
			s += unit.Format(value[i], unit.Temperature)
		default:
			s += strings.TrimSpace(fmt.Sprintf("%.5g %s", c.Unit.Written(value[i]), c.Unit.Name))
		}
	}
	f.rows = append(f.rows, s)
	if len(f.rows) == 5 {
		return errEnough
	}
	return nil
}

// preview reads the head itself for the first five rows.
func (g *Guess) preview(text []byte) error {
	rows := &firstRows{g: g}
	_, err := g.stream(bytes.NewReader(text), rows)
	if err != nil && !errors.Is(err, errEnough) {
		return err
	}
	g.First = rows.rows
	g.Findings = append([]Finding(nil), g.found.list...)
	return nil
}

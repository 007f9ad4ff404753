package benchlog

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strings"
)

// Sink takes a log's rows as they are read.
type Sink interface {
	// Row has one value for each of Guess.Channels, in the unit of its Kind (K for temperatures), and why it is missing: where
	// why is not Present the value is 0 and means nothing. Times never go back. The slices are reused. An error stops the reading.
	Row(tS float64, value []float64, why []Reason) error
	Event(Event)
}

// Summary is what was found while a log was read.
type Summary struct {
	Rows     int
	Missing  []Missing
	Findings []Finding // about the rows; the Guess has those about the whole
	LastS    float64   // time of the last row
}

// Missing tells how many readings of a column are missing for one reason.
type Missing struct {
	Column string
	Reason Reason
	Times  int
	Line   int    // the first
	Text   string // as written there
}

func (m Missing) String() string {
	s := fmt.Sprintf("%s: %d missing: %s", m.Column, m.Times, m.Reason)
	if m.Text != "" {
		s += fmt.Sprintf(" (%q in line %d)", m.Text, m.Line)
	}
	return s
}

// maxShared is how many rows may share one time before the clock is taken to stand still.
const maxShared = 2000

// Stream reads the whole file, from its beginning, in one pass. The guess is not changed and may be used again.
func (g *Guess) Stream(r io.Reader, sink Sink) (*Summary, error) {
	return g.stream(newDecoder(r, g.Encoding), sink)
}

// reading is one pass over a log.
type reading struct {
	g       *Guess
	sink    Sink
	sum     Summary
	found   findings
	ticker  ticker
	clock   clock
	missing [][numReasons]Missing

	fields [][]byte
	value  []float64
	why    []Reason
	heldK  []float64 // last reading of each channel, K, NaN before there is one
	held   []bool
	unit   []Unit // of each channel, of the row before when it stands in the rows
	unitOf []string
	cold   int // channel of the cold junction, -1: none
	twins  []int

	// Rows that share a stamp wait here until the next stamp tells how far apart they are.
	waiting []waitingRow
	spare   []waitingRow
	stampS  float64

	texts      []string // last text of each text column
	broken     int
	brokenLine int
	textRows   int // rows with a time and nothing but words
	firstText  *Error
	line       int
	cut        bool // the line has no end
	pictureRow int
	longTime   float64
	longAny    bool
}

type waitingRow struct {
	value []float64
	why   []Reason
}

func (g *Guess) stream(text io.Reader, sink Sink) (*Summary, error) {
	if rate := g.opt.Rate; g.opt.StartS != 0 || rate != 0 {
		if rate == 0 {
			rate = 1
		}
		run := runClock{sink, g.opt.StartS, rate}
		sum, err := g.pass(text, run)
		if sum != nil {
			sum.LastS = run.at(sum.LastS)
		}
		return sum, err
	}
	return g.pass(text, sink)
}

// runClock counts a log's times from the start of the run, by the run's clock.
type runClock struct {
	Sink
	startS, rate float64
}

func (c runClock) at(logS float64) float64 { return (logS - c.startS) * c.rate }

// Row hands on a row.
func (c runClock) Row(tS float64, value []float64, why []Reason) error {
	return c.Sink.Row(c.at(tS), value, why)
}

// Event hands on a line of text.
func (c runClock) Event(e Event) {
	e.TimeS = c.at(e.TimeS)
	c.Sink.Event(e)
}

// pass reads the text once.
func (g *Guess) pass(text io.Reader, sink Sink) (*Summary, error) {
	if g.Notes {
		return g.streamNotes(text, sink)
	}
	n := len(g.channels)
	r := &reading{g: g, sink: sink, clock: g.clock, missing: make([][numReasons]Missing, n), value: make([]float64, n), why: make([]Reason, n),
		heldK: make([]float64, n), held: make([]bool, n), unit: make([]Unit, n), unitOf: make([]string, n), twins: make([]int, n), cold: -1,
		texts: make([]string, len(g.Columns))}
	r.ticker = ticker{kind: g.Clock, stepS: g.StepS, closing: g.opt.CloseJumps, found: &r.found}
	for i, c := range g.channels {
		r.heldK[i], r.unit[i], r.twins[i] = math.NaN(), c.Unit, -1
		if c.Role == RoleColdJunction && c.Unit.Kind == Temperature {
			r.cold = i
		}
		for k := range g.channels {
			if c.Role == RoleTwin && g.channels[k].Field == c.TwinOf {
				r.twins[i] = k
			}
		}
	}
	lr := newLineReader(text, g.end)
	for {
		line, err := lr.next()
		r.line, r.cut = lr.n, lr.cut
		if err == io.EOF {
			break
		}
		if err == errLongLine {
			return nil, g.fail(lr.n, excerpt(line), "the line is longer than a million characters", "mend the file at this line, or cut it off before")
		}
		if err != nil {
			return nil, g.fail(lr.n, "", err.Error(), "")
		}
		if lr.n < g.FirstLine {
			continue
		}
		if err := r.row(line); err != nil {
			return nil, err
		}
	}
	if err := r.flush(); err != nil {
		return nil, err
	}
	if r.sum.Rows == 0 {
		return nil, g.fail(g.FirstLine, "", "not one row could be read", "")
	}
	if r.textRows >= r.sum.Rows {
		r.firstText.Do = `if the word stands for a missing reading, say such as: code "--"`
		return nil, r.firstText
	}
	if r.broken > r.sum.Rows {
		return nil, g.fail(r.brokenLine, "", fmt.Sprintf("%d of %d rows do not fit the guess of how the file is written", r.broken, r.broken+r.sum.Rows), "say how it is, such as: delimiter semicolon; decimal comma; time 1 2")
	}
	for i := range r.missing {
		for why := range r.missing[i] {
			if m := r.missing[i][why]; m.Times > 0 && Reason(why) != Present {
				m.Column, m.Reason = g.channels[i].Name, Reason(why)
				r.sum.Missing = append(r.sum.Missing, m)
			}
		}
	}
	r.sum.Findings = r.found.list
	return &r.sum, nil
}

// row takes one line.
func (r *reading) row(line []byte) error {
	g := r.g
	if len(line) == 0 || len(trim(line)) == 0 {
		return nil
	}
	r.fields = g.dialect.split(line, r.fields[:0])
	f := r.fields
	if g.opt.Mark != "" && string(f[0]) != g.opt.Mark {
		for _, x := range f[1:] {
			if g.dialect.classify(x) == fieldText && len(x) > 2 {
				r.event(line)
				break
			}
		}
		return nil
	}
	if r.cut && len(f) < g.n {
		r.bad(line, fmt.Sprintf("the last line was not written to its end: %q", excerpt(line)))
		return nil
	}
	if len(f) > maxFields {
		r.bad(line, fmt.Sprintf("%d fields where a row has %d", len(f), g.n))
		return nil
	}
	tail := f
	if len(f) > g.n {
		f, tail = f[:g.n], f[g.n:]
	} else {
		tail = nil
	}
	rawS, changed, ok := 0.0, false, false
	if g.Picture > 0 {
		ok = len(f) == g.n
		rawS = float64(r.clock.rows) * r.clock.intervalS
		if ok {
			_, _, ok = parseNumber(f[0], g.dialect.decimal)
			_, code := textCode(f[0])
			ok = ok || code
		}
	} else if len(f) >= g.n-1 {
		rawS, changed, ok = r.clock.raw(f)
	}
	numbers := 0
	if !ok || len(f) < g.n-1 {
		for _, x := range f {
			if _, _, isNumber := parseNumber(x, g.dialect.decimal); isNumber {
				numbers++
			}
		}
		_, dated := parseStamp(f[0])
		if numbers*2 < len(g.channels)+1 || dated && len(f) < g.n-1 || line[0] == '#' {
			r.event(line)
		} else {
			r.bad(line, fmt.Sprintf("a row that cannot be read: %q", excerpt(line)))
		}
		return nil
	}
	if changed {
		r.found.add("order", r.line, fmt.Sprintf("the date changes here and tells that dates are to be read as %s", r.clock.order.words()))
	}
	for _, x := range tail {
		if len(x) > 0 {
			if _, _, number := parseNumber(x, g.dialect.decimal); number {
				r.bad(line, fmt.Sprintf("%d fields where a row has %d: %q", len(r.fields), g.n, excerpt(line)))
				return nil
			}
			r.sink.Event(Event{r.ticker.prevS, r.line, validUTF8(x)})
		}
	}
	if g.LongForm > 0 {
		return r.long(rawS, f)
	}
	at := 0
	if g.Picture > 0 {
		at = r.pictureRow * g.n
	}
	allText := true
	n := len(g.channels)
	if g.Picture > 0 {
		n = at + g.n
	}
	for i := at; i < n; i++ {
		r.read(i, f)
		allText = allText && (r.why[i] == UnknownText || r.why[i] == Blank)
	}
	if k := r.textAt(); allText && k >= 0 {
		if r.textRows++; r.textRows == 1 {
			c := g.channels[k]
			r.firstText = g.fail(r.line, excerpt(line), fmt.Sprintf("%q in column %q is not a %s", excerpt(f[c.Field-1]), c.Name, c.Unit.Kind), "")
		}
		r.event(line)
		return nil
	}
	for i := at; i < n; i++ {
		r.count(i, f)
	}
	if g.Picture > 0 {
		if r.pictureRow++; r.pictureRow < g.Picture {
			return nil
		}
		r.pictureRow = 0
		r.clock.rows++
	}
	if err := r.push(rawS); err != nil {
		return err
	}
	for i, c := range g.Columns {
		if c.Role == RoleText && c.Field <= len(f) {
			if x := f[c.Field-1]; string(x) != r.texts[i] {
				if r.texts[i] = validUTF8(x); wordy(x) && r.sum.Rows > 0 {
					r.sink.Event(Event{r.ticker.prevS, r.line, r.texts[i]})
				}
			}
		}
	}
	return nil
}

// textAt is the first channel that has a word in place of a number, -1 if none has.
func (r *reading) textAt() int {
	for i, why := range r.why {
		if why == UnknownText {
			return i
		}
	}
	return -1
}

// wordy tells a text that says something from a code that changes with every row.
func wordy(x []byte) bool {
	run := 0
	for _, c := range x {
		if c|32 >= 'a' && c|32 <= 'z' || c >= 0x80 {
			if run++; run == 3 {
				return true
			}
		} else {
			run = 0
		}
	}
	return false
}

// event hands on a line of text.
func (r *reading) event(line []byte) {
	r.sink.Event(Event{r.ticker.prevS, r.line, strings.TrimSpace(validUTF8(line))})
	r.found.add("text", r.line, "text between the rows is kept as an event: "+excerpt(line))
}

// bad counts a row that is left out.
func (r *reading) bad(line []byte, what string) {
	if r.broken++; r.broken == 1 {
		r.brokenLine = r.line
	}
	r.found.add("broken", r.line, what+"; left out")
}

// read sets value and why of channel i from a row's fields.
func (r *reading) read(i int, f [][]byte) {
	c := &r.g.channels[i]
	r.value[i], r.why[i] = 0, Present
	k := c.Field - 1
	if k >= len(f) || len(f[k]) == 0 {
		r.why[i] = Blank
		return
	}
	x := f[k]
	u := r.unit[i]
	v, ok := plainNumber(x, r.g.dialect.decimal)
	if !ok {
		v, ok = r.slowNumber(i, x, &u)
		if !ok {
			return
		}
	}
	if c.UnitField > 0 {
		if c.UnitField <= len(f) && string(f[c.UnitField-1]) != r.unitOf[i] {
			text := validUTF8(f[c.UnitField-1])
			if nu, known := parseUnit(firstWord([]byte(text))); known {
				if r.unit[i], r.unitOf[i] = nu, text; r.unit[i].Kind != c.Unit.Kind {
					r.found.add("autorange "+text, r.line, fmt.Sprintf("%q goes over to %s; rows in another quantity than %s are left out", c.Name, nu.Name, c.Unit.Kind))
				}
			} else {
				r.why[i] = OtherUnit
				return
			}
		}
		u = r.unit[i]
	}
	if math.Abs(v) >= 9.9e36 {
		r.why[i] = AboveRange
		return
	}
	if u.Kind != c.Unit.Kind {
		r.why[i] = OtherUnit
		return
	}
	if len(r.g.codes) > 0 && r.g.isCode(x, v) {
		r.why[i] = CodeNumber
		return
	}
	si := u.SI(v)
	if u.Kind == Temperature {
		tC := si - 273.15
		if code, is := codeNumber(v, tC); is {
			r.why[i] = code
			return
		}
		if !(tC >= lowestC && tC <= highestC) {
			r.why[i] = OutOfRange
			return
		}
		if c.Role == RoleTemperature {
			if round := math.Round(tC*1e6) / 1e6; heldCode(round) {
				if r.held[i] = r.held[i] || !(math.Abs(si-r.heldK[i]) <= heldStepK); r.held[i] {
					r.why[i] = HeldCode
					return
				}
			}
			r.held[i] = false
			r.heldK[i] = si
		}
	}
	if c.Converted {
		coldC := r.g.opt.ColdC
		if r.cold >= 0 {
			if r.cold > i { // it stands to the right
				r.read(r.cold, f)
			}
			if r.why[r.cold] != Present {
				r.why[i] = NoConversion
				return
			}
			coldC = r.value[r.cold] - 273.15
		}
		tC, err := r.g.opt.Convert(c.Thermocouple, si*1e3, coldC)
		if err != nil || math.IsNaN(tC) || math.IsInf(tC, 0) {
			r.why[i] = NoConversion
			if err != nil {
				r.found.add("conversion "+c.Name, r.line, fmt.Sprintf("%q: %v", c.Name, err))
			}
			return
		}
		si = tC + 273.15
	}
	if math.IsNaN(si) || math.IsInf(si, 0) {
		r.why[i] = OutOfRange
		return
	}
	r.value[i] = si
	if k := r.twins[i]; k >= 0 && k < i && r.why[k] == Present {
		a, b := f[r.g.channels[k].Field-1], x
		tolerance := 0.01 + halfDigit(a, r.g.dialect.decimal)*r.g.channels[k].Unit.scale + halfDigit(b, r.g.dialect.decimal)*u.scale
		if d := si - r.value[k]; math.Abs(d) > tolerance {
			r.found.add("twins", r.line, disagree(r.g.channels[k].Unit, r.value[k], u, si))
		}
	}
}

// disagree says that one reading noted in two units does not agree with itself.
func disagree(ua Unit, aK float64, ub Unit, bK float64) string {
	return fmt.Sprintf("%.4g %s beside %.4g %s, which is %.1f %s: one of them is wrong; %.4g %s is used", ua.Written(aK), ua.Name, ub.Written(bK), ub.Name, ua.Written(bK), ua.Name, ua.Written(aK), ua.Name)
}

// halfDigit is half of the last digit that a number was written with.
func halfDigit(f []byte, decimal byte) float64 {
	half := 0.5
	if i := bytes.IndexByte(f, decimal); i >= 0 {
		for _, c := range f[i+1:] {
			if c < '0' || c > '9' {
				break
			}
			half /= 10
		}
	}
	return half
}

// slowNumber reads what is no plain number.
func (r *reading) slowNumber(i int, x []byte, u *Unit) (float64, bool) {
	if len(r.g.codes) > 0 && r.g.isCode(x, math.NaN()) {
		r.why[i] = OpenSensor
		return 0, false
	}
	if v, _, ok := parseNumber(x, r.g.dialect.decimal); ok {
		return v, true
	}
	if v, nu, ok := numberWithUnit(x, r.g.dialect.decimal); ok {
		*u = nu
		return v, true
	}
	if code, ok := textCode(x); ok {
		r.why[i] = code
		return 0, false
	}
	r.why[i] = UnknownText
	return 0, false
}

// isCode tells whether a field is one of the codes that were named.
func (g *Guess) isCode(x []byte, v float64) bool {
	if g.codes[strings.ToUpper(string(bytes.Trim(x, " '\"")))] {
		return true
	}
	for c := range g.codes {
		if n, ok := plainNumber([]byte(c), g.dialect.decimal); ok && n == v {
			return true
		}
	}
	return false
}

// count notes a missing reading.
func (r *reading) count(i int, f [][]byte) {
	why := r.why[i]
	if why == Present {
		return
	}
	m := &r.missing[i][why]
	if m.Times++; m.Times == 1 {
		m.Line = r.line
		if k := r.g.channels[i].Field - 1; k < len(f) {
			m.Text = excerpt(f[k])
		}
	}
}

// long gathers a long form's rows of one time into one.
func (r *reading) long(rawS float64, f [][]byte) error {
	v, _, ok := field(f, r.g.LongForm-1, r.g.dialect.decimal)
	k := -1
	for i, index := range r.g.indices {
		if ok && index == v {
			k = i
		}
	}
	if k < 0 {
		r.found.add("channel", r.line, "a row of a channel that does not occur at the beginning; left out")
		return nil
	}
	if r.longAny && (rawS != r.longTime || r.why[k] != Blank) {
		if err := r.push(r.longTime); err != nil {
			return err
		}
		r.longAny = false
	}
	if !r.longAny {
		for i := range r.why {
			r.value[i], r.why[i] = 0, Blank
		}
		r.longAny, r.longTime = true, rawS
	}
	r.read(k, f)
	r.count(k, f)
	return nil
}

// push hands a row on, or lets it wait for others of the same stamp.
func (r *reading) push(rawS float64) error {
	if len(r.waiting) > 0 && rawS == r.ticker.prevRawS {
		if len(r.waiting) >= maxShared {
			return r.g.fail(r.line, "", fmt.Sprintf("%d rows on end have the same time", maxShared), "the clock stands still; say how far apart the rows are, such as: clock sample; interval 1 s")
		}
		r.wait()
		return nil
	}
	if len(r.waiting) == 0 {
		r.stampS = r.ticker.tick(rawS, r.line)
		r.wait()
		return nil
	}
	nextS := r.ticker.tick(rawS, r.line)
	if err := r.release(nextS - r.stampS); err != nil {
		return err
	}
	r.stampS = nextS
	r.wait()
	return nil
}

func (r *reading) wait() {
	var w waitingRow
	if k := len(r.spare); k > 0 {
		w, r.spare = r.spare[k-1], r.spare[:k-1]
	} else {
		w = waitingRow{make([]float64, len(r.value)), make([]Reason, len(r.why))}
	}
	copy(w.value, r.value)
	copy(w.why, r.why)
	r.waiting = append(r.waiting, w)
}

// release spreads the waiting rows over the step to the next stamp, or over the usual one if that is a gap.
func (r *reading) release(stepS float64) error {
	if usual := r.g.StepS; usual > 0 && stepS > 3*usual {
		stepS = usual
	}
	for k, w := range r.waiting {
		tS := r.stampS + stepS*float64(k)/float64(len(r.waiting))
		r.sum.Rows++
		r.sum.LastS = tS
		if err := r.sink.Row(tS, w.value, w.why); err != nil {
			return err
		}
		r.spare = append(r.spare, w)
	}
	r.waiting = r.waiting[:0]
	return nil
}

// flush hands on what is left at the end.
func (r *reading) flush() error {
	if r.longAny {
		if err := r.push(r.longTime); err != nil {
			return err
		}
		r.longAny = false
	}
	if r.pictureRow > 0 {
		r.found.add("picture", r.line, "the last picture is not complete; left out")
	}
	return r.release(r.g.StepS)
}

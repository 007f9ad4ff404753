package benchlog

import (
	"fmt"
	"io"
	"math"
	"regexp"
	"sort"
	"strconv"
	"strings"

	"finwright/internal/unit"
)

// A note is a line that a person wrote at the bench: "after 10 min chip 41 °C, 106 °F". It has a time, as time of day or since
// the start, and one or more temperatures with their units; what stands before a temperature is the place it was read at.
type note struct {
	timeS    float64
	hasTime  bool
	ofDay    bool // timeS counts from midnight
	bare     bool // its reading has no unit
	readings []noteReading
}

type noteReading struct {
	place string
	u     Unit
	k     float64
	twin  string // why the same reading in another unit disagrees
}

var (
	noteTemperature = regexp.MustCompile(`([+-]?\d+(?:[.,]\d+)?)\s*(°\s*[CF]|º\s*[CF]|degrees?\s+[CF]\b|deg\.?\s*[CF]\b|[CF]\b)`)
	noteOfDay       = regexp.MustCompile(`(?i)\b(\d{1,2}:\d{2}(?::\d{2})?)(\s*[ap]\.?m\b)?`)
	noteElapsed     = regexp.MustCompile(`(?i)(\d+(?:[.,]\d+)?)\s*(seconds?|secs?|s|minutes?|mins?|min|hours?|hrs?|hr|h)\b`)
	noteStart       = regexp.MustCompile(`(?i)^\W*(start|begin|switched on|on)\b`)
	noteBare        = regexp.MustCompile(`([^0-9+-]*)([+-]?\d+(?:[.,]\d+)?)`)
	noteBares       = regexp.MustCompile(`^[^0-9+-]*[+-]?\d+(?:[.,]\d+)?(?:\W+[A-Za-z][^0-9+-]*[+-]?\d+(?:[.,]\d+)?)*\W*$`)
	noteFiller      = regexp.MustCompile(`(?i)\b(at|after|the|is|was|reads?|and|start|end|on|off|about|begin|time|temp|temperature|stop|stopped)\b`)
)

func parseNote(line string) (note, bool) {
	var n note
	if strings.HasPrefix(strings.TrimSpace(line), "#") {
		return n, false
	}
	rest := line
	if m := noteOfDay.FindStringSubmatchIndex(rest); m != nil {
		if st, ok := parseStamp([]byte(rest[m[0]:m[1]])); ok {
			n.timeS, n.hasTime, n.ofDay = st.todS, true, true
			rest = rest[:m[0]] + "," + rest[m[1]:]
		}
	}
	for !n.hasTime || !n.ofDay {
		m := noteElapsed.FindStringSubmatchIndex(rest)
		if m == nil {
			break
		}
		v, err := strconv.ParseFloat(strings.Replace(rest[m[2]:m[3]], ",", ".", 1), 64)
		u, ok := parseUnit(strings.ToLower(rest[m[4]:m[5]]))
		if err != nil || !ok || u.Kind != Duration {
			break
		}
		n.timeS += u.SI(v) // "1 h 20 min" adds up
		n.hasTime = true
		rest = rest[:m[0]] + "," + rest[m[1]:]
	}
	if !n.hasTime && noteStart.MatchString(rest) {
		n.hasTime = true
	}
	from := 0
	for _, m := range noteTemperature.FindAllStringSubmatchIndex(rest, -1) {
		v, err := strconv.ParseFloat(strings.Replace(rest[m[2]:m[3]], ",", ".", 1), 64)
		letter := strings.TrimSpace(rest[m[4]:m[5]])
		u := celsius
		if strings.HasSuffix(letter, "F") {
			u = fahrenheit
		}
		if err != nil {
			continue
		}
		between := notePlace(rest[from:m[0]])
		from = m[1]
		k := u.SI(v)
		if last := len(n.readings) - 1; last >= 0 && between == "" && n.readings[last].u.Name != u.Name && n.readings[last].twin == "" {
			a := &n.readings[last]
			tolerance := 0.01 + halfDigit([]byte(fmt.Sprint(a.u.Written(a.k))), '.')*a.u.scale + 0.5*u.scale
			if math.Abs(k-a.k) > math.Max(tolerance, 0.5*a.u.scale+0.5*u.scale+0.01) {
				a.twin = disagree(a.u, a.k, u, k)
			}
			continue
		}
		n.readings = append(n.readings, noteReading{between, u, k, ""})
	}
	if n.hasTime && !n.ofDay && len(n.readings) == 0 && noteBares.MatchString(rest) { // 10 min: chip 35, case 28
		for _, m := range noteBare.FindAllStringSubmatch(rest, -1) {
			if v, err := strconv.ParseFloat(strings.Replace(m[2], ",", ".", 1), 64); err == nil {
				n.bare = true
				n.readings = append(n.readings, noteReading{notePlace(m[1]), celsius, celsius.SI(v), ""})
			}
		}
	}
	return n, n.hasTime && len(n.readings) > 0
}

// notePlace is what stands before a reading, without the words and signs between.
func notePlace(text string) string {
	return strings.Join(strings.FieldsFunc(noteFiller.ReplaceAllString(text, " "), func(r rune) bool { return strings.ContainsRune(" ,;:./()=|-+>*~\u2013\u2014\u2192\t\"", r) }), " ")
}

// noteLines tells how many lines are notes, and their share of those that are not blank or remarks.
func noteLines(lines [][]byte) (notes int, share float64) {
	all := 0
	for _, l := range lines {
		s := strings.TrimSpace(string(l))
		if s == "" || s[0] == '#' {
			continue
		}
		if all++; all > 2000 {
			return 0, 0
		}
		if len(s) < 200 {
			if _, ok := parseNote(s); ok {
				notes++
			}
		}
	}
	return notes, float64(notes) / math.Max(1, float64(all))
}

// guessNotes settles a log of notes: its channels are the places named, in order.
func (g *Guess) guessNotes(text []byte, lines [][]byte) error {
	g.Notes = true
	g.clock.kind = ClockSeconds
	at := map[string]int{}
	bare := "" // the first note without units
	for i, l := range lines {
		n, ok := parseNote(string(l))
		if !ok {
			continue
		}
		if n.bare && bare == "" {
			bare = excerpt(l)
		}
		if g.FirstLine == 0 {
			g.FirstLine = i + 1
		}
		if n.ofDay {
			g.clock.kind = ClockOfDay
		}
		for k := range n.readings {
			name := placeName(n.readings[k].place, k)
			if at[name] == 0 && len(g.channels) < maxFields {
				at[name] = len(g.channels) + 1
				g.channels = append(g.channels, Column{Field: len(g.channels) + 1, Name: name, Unit: n.readings[k].u, InField: true, Role: RoleTemperature})
			}
		}
	}
	for i := range g.channels {
		c, o := &g.channels[i], g.opt.column(i+1)
		if o.Name != "" {
			c.Name = o.Name
		}
		if u, ok := parseUnit(o.Unit); ok && u.Kind == Temperature {
			c.Unit = u // of notes without one
		} else if bare != "" {
			g.Questions = append(g.Questions, fmt.Sprintf(`readings of %q are noted without a unit, such as in %q: taken as °C; if that is wrong, say: column %d unit "°F"`, c.Name, bare, i+1))
		}
	}
	g.Clock, g.Columns, g.bare = g.clock.kind, g.channels, bare != ""
	return g.preview(text)
}

func placeName(place string, k int) string {
	switch {
	case place != "":
		return place
	case k == 0:
		return "reading"
	}
	return fmt.Sprintf("reading %d", k+1)
}

// streamNotes hands on the notes as rows, in order of time.
func (g *Guess) streamNotes(text io.Reader, sink Sink) (*Summary, error) {
	var sum Summary
	var found findings
	type row struct {
		atS   float64
		line  int
		value []float64
		why   []Reason
	}
	var rows []row
	at := map[string]int{}
	index := 0
	tick := ticker{kind: ClockOfDay, stepS: 1200, found: &found}
	lr := newLineReader(text, g.end)
	for {
		line, err := lr.next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, g.fail(lr.n, excerpt(line), err.Error(), "")
		}
		n, ok := parseNote(string(line))
		if !ok {
			if s := strings.TrimSpace(validUTF8(line)); s != "" && s[0] != '#' {
				if len(rows) > 0 {
					sink.Event(Event{rows[len(rows)-1].atS, lr.n, s})
				}
				if noteTemperature.MatchString(s) {
					found.add("no time", lr.n, "a temperature without a time is left out: "+excerpt(line))
				}
			}
			continue
		}
		if n.ofDay {
			n.timeS = tick.tick(n.timeS, lr.n)
		}
		r := row{n.timeS, lr.n, make([]float64, len(g.channels)), make([]Reason, len(g.channels))}
		for i := range r.why {
			r.why[i] = Blank
		}
		for k, x := range n.readings {
			name := placeName(x.place, k)
			i, known := at[name]
			if !known {
				if i = index; i >= len(g.channels) {
					found.add("place", lr.n, fmt.Sprintf("a place %q that does not occur at the beginning; left out", name))
					continue
				}
				at[name] = i
				index++
			}
			if x.twin != "" {
				found.add("twins", lr.n, x.twin)
			}
			if n.bare {
				x.k = g.channels[i].Unit.SI(celsius.Written(x.k))
			}
			if tC := x.k - 273.15; !(tC >= lowestC && tC <= highestC) {
				r.why[i] = OutOfRange
				continue
			}
			r.value[i], r.why[i] = x.k, Present
		}
		rows = append(rows, r)
	}
	if len(rows) == 0 {
		return nil, g.fail(0, "", "not one note could be read", "write such as: after 10 min chip 41 °C")
	}
	if !sort.SliceIsSorted(rows, func(a, b int) bool { return rows[a].atS < rows[b].atS }) {
		found.add("order", 0, "the notes are not in order of time; they are put so")
		sort.SliceStable(rows, func(a, b int) bool { return rows[a].atS < rows[b].atS })
	}
	kept := rows[:0]
	for i, r := range rows {
		if i > 0 && r.atS == kept[len(kept)-1].atS { // two lines of one time are one row
			into := kept[len(kept)-1]
			for k := range r.why {
				if into.why[k] != Present {
					into.value[k], into.why[k] = r.value[k], r.why[k]
				} else if r.why[k] == Present {
					found.add("again", r.line, fmt.Sprintf("%s is noted twice at %s; the first is used", g.channels[k].Name, unit.Format(r.atS, unit.Time)))
				}
			}
			continue
		}
		kept = append(kept, r)
	}
	for _, r := range kept {
		sum.Rows++
		sum.LastS = r.atS
		if err := sink.Row(r.atS, r.value, r.why); err != nil {
			return nil, err
		}
	}
	sum.Findings = found.list
	return &sum, nil
}

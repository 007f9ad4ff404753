package benchlog

import (
	"bytes"
	"fmt"
	"math"
	"sort"
	"strings"

	"finwright/internal/unit"
)

// clock reads the raw seconds of a row.
type clock struct {
	kind      ClockKind
	fields    []int // from 0; date and time in either order, then milliseconds
	decimal   byte
	order     order
	alt       order // the other way to read the dates, as long as they do not tell
	intervalS float64
	msField   int // from 0; -1: none

	rows    int
	prev    stamp
	begun   bool
	rebaseS float64 // what a change of order takes off the raw time
}

// raw is a row's clock reading, s, from an origin of the clock's own. changed tells that the dates settled the order just now.
func (c *clock) raw(f [][]byte) (s float64, changed, ok bool) {
	c.rows++
	if c.kind == ClockSample {
		if len(c.fields) == 0 {
			return float64(c.rows-1) * c.intervalS, false, true
		}
		v, _, ok := field(f, c.fields[0], c.decimal)
		return v * c.intervalS, false, ok
	}
	if scale, numeric := c.kind.scaleS(); numeric {
		v, _, ok := field(f, c.fields[0], c.decimal)
		if !ok && c.fields[0] < len(f) {
			var u Unit
			if v, u, ok = numberWithUnit(f[c.fields[0]], c.decimal); ok && u.Kind == Duration {
				return u.SI(v), false, math.Abs(v) < 1e12
			}
			return 0, false, false
		}
		return v * scale, false, ok && math.Abs(v*scale) < 1e15
	}
	var st stamp
	for _, k := range c.fields {
		if k >= len(f) {
			return 0, false, false
		}
		one, ok := parseStamp(f[k])
		if !ok {
			return 0, false, false
		}
		if one.hasDate {
			time, parts, had, mer, z, zs := st.todS, st.parts, st.hasTime, st.meridiem, st.zoned, st.zoneS
			st = one
			if !one.hasTime && had {
				st.todS, st.parts, st.hasTime, st.meridiem, st.zoned, st.zoneS = time, parts, had, mer, z, zs
			}
		} else {
			st.todS, st.parts, st.hasTime, st.zoned, st.zoneS = one.todS, one.parts, true, one.zoned, one.zoneS
		}
	}
	if c.kind.dated() && !st.hasDate || !c.kind.dated() && st.hasDate && len(c.fields) > 0 && !st.hasTime {
		return 0, false, false
	}
	if !c.kind.dated() {
		st.hasDate = false
	}
	if c.kind == ClockMMSS && st.parts == 2 {
		fraction := math.Mod(st.todS, 60) // of a second, also in minutes:seconds
		st.todS = (st.todS-fraction)/60 + fraction
	}
	if c.msField >= 0 {
		v, _, ok := field(f, c.msField, c.decimal)
		if !ok || v < 0 || v >= 1000 {
			return 0, false, false
		}
		st.todS += v / 1000
	}
	if c.alt != "" && c.begun && st.d != c.prev.d {
		// The first change of the date tells: the right order is the one that makes the smaller step forward.
		o1, ok1 := st.seconds(c.order)
		p1, _ := c.prev.seconds(c.order)
		o2, ok2 := st.seconds(c.alt)
		p2, _ := c.prev.seconds(c.alt)
		step := func(s float64) float64 {
			if s < 0 {
				return -10 * s
			}
			return s
		}
		if ok2 && (!ok1 || step(o2-p2) < step(o1-p1)) {
			c.order, c.rebaseS = c.alt, p1-p2
			changed = true
		}
		c.alt = ""
	}
	s, ok = st.seconds(c.order)
	c.prev, c.begun = st, true
	return s + c.rebaseS, changed, ok
}

func field(f [][]byte, k int, decimal byte) (float64, bool, bool) {
	if k >= len(f) {
		return 0, false, false
	}
	if v, ok := plainNumber(f[k], decimal); ok {
		return v, false, true
	}
	return parseNumber(f[k], decimal)
}

// findClock decides which fields tell the time and how.
func (g *Guess) findClock(t *table, h headed, lines [][]byte, opt Options) error {
	c := &g.clock
	c.decimal, c.intervalS, c.msField = t.decimal, opt.IntervalS, -1
	if c.intervalS == 0 {
		c.intervalS = h.intervalS
	}
	name := func(j int) string { return h.names[j] }
	stamps := func(j int) (first stamp, all []stamp) {
		for i := t.first; i <= t.last; i++ {
			if t.matches(i) && j < len(t.fields[i]) {
				if st, ok := parseStamp(t.fields[i][j]); ok {
					all = append(all, st)
				}
			}
		}
		if len(all) > 0 {
			first = all[0]
		}
		return first, all
	}
	if opt.TimeFields != nil {
		for _, f := range opt.TimeFields {
			if f > t.n {
				return g.fail(t.first+1, excerpt(lines[t.first]), fmt.Sprintf("there is no field %d for the time: a row has %d", f, t.n), "name other fields, such as: time 1")
			}
			if len(c.fields) > 0 && t.column[f-1] == fieldNumber {
				c.msField = f - 1
			} else {
				c.fields = append(c.fields, f-1)
			}
		}
	} else if opt.Clock != ClockSample {
		dateAt, timeAt := -1, -1
		for j := range t.column {
			if t.column[j] != fieldStamp {
				continue
			}
			st, _ := stamps(j)
			if st.hasDate && st.hasTime {
				dateAt, timeAt = j, j
				break
			}
			if st.hasDate && dateAt < 0 {
				dateAt = j
			}
			if st.hasTime && timeAt < 0 {
				timeAt = j
			}
		}
		switch {
		case dateAt >= 0 && timeAt >= 0 && dateAt != timeAt:
			c.fields = []int{dateAt, timeAt}
		case dateAt >= 0 && timeAt < 0:
			c.fields = []int{dateAt}
		case timeAt >= 0:
			c.fields = []int{timeAt}
		}
		if k := max(dateAt, timeAt) + 1; len(c.fields) > 0 && k < t.n && t.column[k] == fieldNumber {
			n := strings.ToLower(name(k))
			thousand := n == "" || n == "ms" || strings.HasPrefix(n, "msec") || strings.HasPrefix(n, "milli")
			if n == "" && h.hasUnit[k] {
				thousand = h.units[k].Name == "ms"
			}
			whole, past60 := true, false
			for i := t.first; i <= t.last && thousand; i++ {
				if k < len(t.fields[i]) {
					v, ok := plainNumber(t.fields[i][k], t.decimal)
					whole = whole && (!ok || v >= 0 && v < 1000 && v == math.Trunc(v) && allDigits(t.fields[i][k], false))
					past60 = past60 || v >= 150
				}
			}
			if thousand && whole && (n != "" || past60) {
				c.msField = k
			}
		}
	}
	if len(c.fields) > 0 && t.column[c.fields[0]] == fieldStamp {
		if err := g.stampKind(t, h, stamps, opt, lines); err != nil {
			return err
		}
	} else if err := g.numericKind(t, h, lines, opt); err != nil {
		return err
	}
	if opt.Clock != "" {
		c.kind = opt.Clock
	}
	if c.kind.dated() {
		c.order = order(c.kind)
	}
	if _, numeric := c.kind.scaleS(); numeric && len(c.fields) == 0 {
		return g.fail(t.first+1, excerpt(lines[t.first]), "no column tells the time", "say which one does, such as: time 1")
	}
	if c.kind == ClockSample && !(c.intervalS > 0) {
		return g.fail(t.first+1, excerpt(lines[t.first]), "no column tells the time, and no line says how far apart the rows are", "say it, such as: interval 1 s")
	}
	g.Clock, g.IntervalS = c.kind, 0
	if c.kind == ClockSample {
		g.IntervalS = c.intervalS
	}
	g.TimeFields = nil
	for _, f := range c.fields {
		g.TimeFields = append(g.TimeFields, f+1)
	}
	if c.msField >= 0 {
		g.TimeFields = append(g.TimeFields, c.msField+1)
	}
	// The usual step: the median of those forward.
	probe := *c
	var steps []float64
	var all []float64
	for i := t.first; i <= t.last; i++ {
		if !t.matches(i) {
			continue
		}
		if s, _, ok := probe.raw(t.fields[i]); ok {
			if n := len(all); n > 0 && s > all[n-1] {
				steps = append(steps, s-all[n-1])
			}
			all = append(all, s)
		}
	}
	if len(all) == 0 {
		return g.fail(t.first+1, excerpt(lines[t.first]), fmt.Sprintf("the time cannot be read as %s", clockWords[c.kind]), "name another clock, such as: clock \"d-m-y\", or other fields, such as: time 1 2")
	}
	if len(all) >= 3 && len(steps) == 0 {
		if all[0] == all[len(all)-1] {
			return g.fail(t.first+1, excerpt(lines[t.first]), fmt.Sprintf("all times are equal (field %d): a spreadsheet has probably rounded them when it saved the file", c.fields[0]+1), "take the logger's own file, or widen the time column to all its digits before saving, or say how far apart the rows are, such as: clock sample; interval 1 s")
		}
		return g.fail(t.first+1, excerpt(lines[t.first]), fmt.Sprintf("field %d never rises, so it is not the time", c.fields[0]+1), "say which field is, such as: time 2")
	}
	sort.Float64s(steps)
	if len(steps) > 0 {
		g.StepS = steps[len(steps)/2]
		if share := float64(len(all)-1) / float64(len(steps)); share >= 2 { // several rows share a stamp
			g.found.add("shared stamps", t.first+1, fmt.Sprintf("about %.0f rows share one time; they are spread evenly up to the next", share))
		}
	}
	if c.kind.dated() && all[0] < 86400*365*20 {
		g.found.add("never set", t.first+1, "the logger's clock was never set (it begins before 1990); only differences of time are used")
	}
	return nil
}

// stampKind settles a clock of dates and times of day.
func (g *Guess) stampKind(t *table, h headed, stamps func(int) (stamp, []stamp), opt Options, lines [][]byte) error {
	c := &g.clock
	var dates, times []stamp
	for _, j := range c.fields {
		_, all := stamps(j)
		if len(all) > 0 && all[0].hasDate {
			dates = all
		}
		if len(all) > 0 && all[0].hasTime {
			times = all
		}
	}
	if dates == nil {
		low := strings.ToLower(h.names[c.fields[0]])
		most, two := 0.0, len(times) > 0 && times[0].parts == 2
		for _, st := range times {
			most = math.Max(most, st.todS)
		}
		elapsed := most >= 86400 || len(times) > 0 && times[0].todS < 61 && !times[0].meridiem || looksLike(low, []string{"elapsed", "run", "since", "laufzeit", "duration", "dauer", "after"})
		switch {
		case two && (strings.Contains(low, "mm:ss") && !strings.Contains(low, "hh:mm") || elapsed && !strings.Contains(low, "h:mm") && !strings.Contains(low, "hh:mm")):
			c.kind = ClockMMSS
			if !strings.Contains(low, "mm:ss") {
				g.Questions = append(g.Questions, `the time is taken as minutes:seconds; if it is hours:minutes, say: clock "hh:mm:ss"`)
			}
		case elapsed:
			c.kind = ClockElapsed
		default:
			c.kind = ClockOfDay
		}
		return nil
	}
	var can []order
	for _, o := range []order{orderYMD, orderDMY, orderMDY} {
		good := 0
		for i := range dates {
			if dates[i].fits(o) {
				good++
			}
		}
		if good*10 >= len(dates)*9 {
			can = append(can, o)
		}
	}
	if len(can) == 0 {
		return g.fail(t.first+1, excerpt(lines[t.first]), "the dates fit none of year-month-day, day-month-year and month-day-year", "say which fields tell the time, such as: time 2")
	}
	first := dates[0]
	c.order = can[0]
	if first.named {
		can = can[:1]
		if c.order = orderYMD; first.width[0] < 3 {
			c.order = orderDMY
		}
	}
	if len(can) > 1 {
		chosen, why := order(""), ""
		above := ""
		for i := max(0, t.first-headingReach); i < t.first; i++ {
			above += strings.ToLower(string(lines[i])) + "\n"
		}
		for _, hint := range []struct {
			text string
			o    order
		}{{"dd?mm", orderDMY}, {"mm?dd", orderMDY}, {"yy?mm", orderYMD}, {"tt?mm", orderDMY}} {
			for _, sep := range []string{"/", "-", "."} {
				if strings.Contains(above, strings.Replace(hint.text, "?", sep, 1)) {
					chosen, why = hint.o, "as the heading says"
				}
			}
		}
		span := func(o order) float64 {
			lo, hi := math.Inf(1), math.Inf(-1)
			for i := range dates {
				if s, ok := dates[i].seconds(o); ok {
					lo, hi = math.Min(lo, s), math.Max(hi, s)
				}
			}
			return hi - lo
		}
		if chosen == "" {
			sort.SliceStable(can, func(a, b int) bool { return span(can[a]) < span(can[b]) })
			if span(can[0]) < span(can[1]) && first.d != dates[len(dates)-1].d && span(can[1])-span(can[0]) > 5*86400 {
				chosen, why = can[0], "as the rows then follow each other"
			}
		}
		has := func(o order) bool {
			for _, k := range can {
				if k == o {
					return true
				}
			}
			return false
		}
		if chosen == "" {
			switch {
			case first.quoted && has(orderYMD):
				chosen, why = orderYMD, "as an apostrophe stands before the year"
			case first.sep == '.' && has(orderDMY):
				chosen, why = orderDMY, "as dates with points usually are"
			}
		}
		if chosen == "" {
			us := len(times) > 0 && times[0].meridiem
			switch {
			case first.sep == '-' && has(orderYMD) && first.d[0] >= 20:
				chosen = orderYMD
			case (us || first.sep == '-') && has(orderMDY):
				chosen = orderMDY
			case has(orderDMY):
				chosen = orderDMY
			default:
				chosen = can[0]
			}
			for _, o := range can {
				if o != chosen && c.alt == "" {
					c.alt = o
				}
			}
			g.Questions = append(g.Questions, fmt.Sprintf("the dates can be read as %s or %s; they are read as %s until one of them tells. Say which, such as: clock %q", chosen.words(), c.alt.words(), chosen.words(), string(c.alt)))
		} else {
			g.found.add("date order", 0, fmt.Sprintf("the dates are read as %s, %s", chosen.words(), why))
		}
		c.order = chosen
	}
	if opt.Clock != "" {
		c.alt = ""
	}
	c.kind = ClockKind(c.order)
	return nil
}

// numericKind settles a clock that is a number, or that there is none.
func (g *Guess) numericKind(t *table, h headed, lines [][]byte, opt Options) error {
	c := &g.clock
	type series struct {
		j            int
		v            []float64
		rising, flat bool
		stepsOfOne   bool
		fraction     bool
		marked       bool // decimals are written
	}
	read := func(j int) series {
		s := series{j: j, flat: true, stepsOfOne: true}
		down := 0
		for i := t.first; i <= t.last; i++ {
			if !t.matches(i) || j >= len(t.fields[i]) {
				continue
			}
			v, _, ok := parseNumber(t.fields[i][j], t.decimal)
			if !ok {
				continue
			}
			s.fraction = s.fraction || v != math.Trunc(v)
			s.marked = s.marked || bytes.IndexByte(t.fields[i][j], t.decimal) >= 0
			if n := len(s.v); n > 0 {
				d := v - s.v[n-1]
				s.flat = s.flat && d == 0
				s.stepsOfOne = s.stepsOfOne && (d >= 1 && d <= 5 || v <= 1) && d == math.Trunc(d)
				if d < 0 {
					down++
				}
			}
			s.v = append(s.v, v)
		}
		s.rising = len(s.v) > 0 && down*50 <= len(s.v) && (!s.flat || len(s.v) == 1) // up to a restart in fifty rows
		return s
	}
	var chosen *series
	if len(c.fields) > 0 {
		s := read(c.fields[0])
		if t.column[c.fields[0]] == fieldWithUnit {
			c.kind = ClockSeconds
			return nil
		}
		if len(s.v) == 0 {
			return g.fail(t.first+1, excerpt(lines[t.first]), fmt.Sprintf("field %d is not a time", c.fields[0]+1), "name another, such as: time 1")
		}
		chosen = &s
	} else if opt.Clock != ClockSample && t.numbers() > 1 { // a lone column is a reading
		var named, index, unnamed, epoch *series
		for j := range t.column {
			if t.column[j] == fieldWithUnit && named == nil {
				if _, u, ok := numberWithUnit(firstWithUnit(t, j), t.decimal); ok && u.Kind == Duration && roleByName(h.names[j]) == "" {
					c.fields, c.kind = []int{j}, ClockSeconds
					return nil
				}
			}
			if t.column[j] != fieldNumber {
				continue
			}
			n := h.names[j]
			timeUnit := h.hasUnit[j] && h.units[j].Kind == Duration
			_, unitName := parseUnit(n)
			role := roleByName(n)
			s := read(j)
			if len(s.v) == 0 {
				continue
			}
			switch first := s.v[0]; {
			case role != "" && role != RoleIndex && n != "":
			case n == "" && !timeUnit && h.nameLine < 0 && s.flat && len(s.v) >= 3 && (first >= 1e9 && first < 4.2e9 || first >= 1e12 && first < 4.2e12):
				named = &s
			case h.hasUnit[j] && !timeUnit:
				// a unit of something else
			case timeUnit || looksLike(n, timeWords) && !plainChannelNumbered(n) || unitName && roleTime(n):
				if named == nil {
					named = &s
				}
			case role == RoleIndex:
				if index == nil && s.rising {
					index = &s
				}
			case s.rising && s.v[len(s.v)-1] > first && (first >= 1e9 && first < 4.2e9 || first >= 1e12 && first < 4.2e12):
				if epoch == nil {
					epoch = &s
				}
			case unnamed == nil && s.rising && j == t.firstNumber() && t.numbers() > 1 && !h.hasUnit[j] && !looksLike(n, temperatureWords) && (n == "" || !plainChannel(n)) && (opt.IntervalS == 0 || s.stepsOfOne):
				unnamed = &s
			}
		}
		for _, s := range []*series{named, epoch, unnamed, index} {
			if s != nil {
				chosen = s
				break
			}
		}
	}
	if chosen == nil {
		c.kind = ClockSample
		return nil
	}
	j := chosen.j
	c.fields = []int{j}
	n, u := h.names[j], h.units[j]
	hasUnit := h.hasUnit[j]
	if pu, ok := parseUnit(n); !hasUnit && ok && pu.Kind == Duration {
		u, hasUnit = pu, true
	}
	first, last := chosen.v[0], chosen.v[len(chosen.v)-1]
	median := (last - first) / math.Max(1, float64(len(chosen.v)-1))
	switch {
	case first >= 1e9 && first < 4.2e9 && !(hasUnit && u.Name == "ms"):
		c.kind = ClockUnixS
	case first >= 1e12 && first < 4.2e12:
		c.kind = ClockUnixMS
	case first >= 20000 && first < 80000 && last-first < 400 && (chosen.fraction || t.cut != cutNone) && median < 0.2 && (!hasUnit || u.Name != "s"):
		c.kind = ClockDayNumber
	case hasUnit && u.Kind == Duration:
		switch u.Name {
		case "ms":
			c.kind = ClockMilliseconds
			switch {
			case chosen.marked && median > 0 && median < 5:
				c.kind = ClockSeconds
				g.Questions = append(g.Questions, fmt.Sprintf(`the heading says milliseconds, but the rows would then be %s apart and have fractions of one: taken as seconds; if they are not, say: clock "ms"`, unit.Format(median*1e-3, unit.Time)))
			case chosen.marked:
				g.Questions = append(g.Questions, fmt.Sprintf(`the heading says milliseconds, and the times have decimals as times in seconds have: if the rows are %s apart and not %s, say: clock "s"`, unit.Format(median, unit.Time), unit.Format(median*1e-3, unit.Time)))
			}
		case "min":
			c.kind = ClockMinutes
		case "h":
			c.kind = ClockHours
		default:
			c.kind = ClockSeconds
		}
	case chosen.stepsOfOne && !chosen.fraction && (roleByName(n) == RoleIndex || n == "" && c.intervalS > 0):
		c.kind = ClockSample
	case roleByName(n) == RoleIndex:
		c.kind = ClockSample
	default:
		c.kind = ClockSeconds
		g.Questions = append(g.Questions, fmt.Sprintf(`field %d is taken as the time in seconds; if it is not, say such as: clock "min", or clock sample; interval 2 s`, j+1))
	}
	return nil
}

// roleTime tells whether a name that is a unit is one of time.
func roleTime(n string) bool {
	u, ok := parseUnit(n)
	return ok && u.Kind == Duration
}

// plainChannelNumbered is a name like T1, which is a temperature, where T alone may be the time.
func plainChannelNumbered(n string) bool {
	return plainChannel(n) && strings.ContainsAny(n, "0123456789")
}

// numbers is how many columns of numbers there are.
func (t *table) numbers() int {
	n := 0
	for _, k := range t.column {
		if k == fieldNumber || k == fieldWithUnit {
			n++
		}
	}
	return n
}

// firstNumber is the first column of numbers.
func (t *table) firstNumber() int {
	for j, k := range t.column {
		if k == fieldNumber {
			return j
		}
	}
	return -1
}

func clockChoices() string {
	return `s, ms, min, h, "hh:mm:ss", "mm:ss", "time of day", "y-m-d", "d-m-y", "m-d-y", "unix s", "unix ms", "day number", sample`
}

package benchlog

import (
	"bytes"
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"
)

// Role is what a column is for.
type Role string

// The roles. Only Temperatures are used unless more is asked for.
const (
	RoleTime         Role = "time"
	RoleTemperature  Role = "temperature"
	RoleThermocouple Role = "thermocouple voltage"
	RoleColdJunction Role = "cold junction"
	RoleSetPoint     Role = "set point"
	RoleOutput       Role = "output"
	RoleBattery      Role = "battery"
	RoleExtreme      Role = "extreme" // minimum or maximum of an interval whose mean stands beside it
	RoleTwin         Role = "twin"    // the same reading again in another unit
	RoleQuantity     Role = "other quantity"
	RoleIndex        Role = "index"
	RoleUnit         Role = "unit"
	RoleText         Role = "text"
	RoleIgnored      Role = "ignored"
)

var roles = []Role{RoleTime, RoleTemperature, RoleThermocouple, RoleColdJunction, RoleSetPoint, RoleOutput, RoleBattery, RoleExtreme, RoleTwin, RoleQuantity, RoleIndex, RoleUnit, RoleText, RoleIgnored}

func (r Role) known() bool {
	for _, k := range roles {
		if r == k {
			return true
		}
	}
	return false
}

func roleChoices() string {
	s := make([]string, len(roles))
	for i, r := range roles {
		s[i] = string(r)
	}
	return strings.Join(s, ", ")
}

// read tells whether a role's values are handed on.
func (r Role) read() bool {
	switch r {
	case RoleTime, RoleIndex, RoleUnit, RoleText, RoleIgnored:
		return false
	}
	return true
}

// Column is one column of a log as it is understood.
type Column struct {
	Field        int // from 1
	Name         string
	Unit         Unit
	UnitField    int  // field that has each row's own unit; 0: none
	InField      bool // the unit stands behind each number
	Role         Role
	Thermocouple string // letter, when it is said
	Class        string // the thermocouple's tolerance class, when it is said
	Converted    bool   // the voltage is turned into a temperature: values are K
	Assumed      bool   // the unit is not written anywhere
	TwinOf       int    // field of which a RoleTwin is the copy

	guessedBy string  // what in its numbers its role was guessed from
	lowest    float64 // reading in the head, as written, when the unit is assumed
}

// Kind is the kind of the values that are handed on.
func (c Column) Kind() Kind {
	if c.Converted {
		return Temperature
	}
	return c.Unit.Kind
}

func (c Column) String() string { return fmt.Sprintf("field %d: %q, %s", c.Field, c.Name, c.What()) }

// What says what the column is taken as.
func (c Column) What() string {
	s := string(c.Role)
	switch {
	case c.UnitField > 0:
		s += fmt.Sprintf(", unit from field %d", c.UnitField)
	case c.InField:
		s += fmt.Sprintf(" in %s, written with each number", c.Unit.Name)
	case c.Unit.Name != "":
		s += " in " + c.Unit.Name
		if c.Assumed {
			s += " (assumed)"
		}
	}
	if c.Thermocouple != "" {
		s += ", thermocouple type " + c.Thermocouple
	}
	if c.Class != "" {
		s += " of class " + c.Class
	}
	return s
}

// roleWords are looked for in names, first hit first.
var roleWords = []struct {
	role  Role
	words []string
}{
	{RoleSetPoint, []string{"setpoint", "sollwert", "soll", "set", "sp", "target", "setp"}},
	{RoleColdJunction, []string{"cold", "cj", "cjc", "internal", "kaltstelle", "vergleichsstelle", "refjunction", "onboard"}},
	{RoleBattery, []string{"batt", "bat", "akku", "battery"}},
	{RoleOutput, []string{"output", "out", "duty", "valve", "ventil", "fan", "pwm", "alarm", "relay", "stellgrad"}},
	{RoleIndex, []string{"no", "nr", "index", "record", "sample", "idx", "point", "row", "scan", "lfd"}},
	{RoleQuantity, []string{"humid", "humidity", "feuchte", "rh", "count", "counts", "interval", "duration", "dauer", "pressure"}},
}

// columns decides names, units and roles of a table's columns, except which is the time.
func (g *Guess) columns(t *table, h headed, timeFields []int, opt Options) error {
	isTime := map[int]bool{}
	for _, f := range timeFields {
		isTime[f] = true
	}
	channel := 0
	explicit := map[string]int{}
	for j := range t.column {
		c := Column{Field: j + 1, Name: h.names[j]}
		o := opt.column(j + 1)
		switch k := t.column[j]; {
		case isTime[j+1]:
			c.Role = RoleTime
			if h.hasUnit[j] {
				c.Unit = h.units[j]
			}
		case k == fieldEmpty && !h.hasUnit[j] && o == (ColumnOption{}):
			if c.Name != "" {
				g.found.add("empty column", 0, fmt.Sprintf("column %q has nothing in it", c.Name))
			}
			continue
		case k == fieldUnit:
			c.Role = RoleUnit
			if n := len(g.Columns); n > 0 && g.Columns[n-1].Role.read() {
				g.Columns[n-1].UnitField = j + 1
				if u, ok := parseUnit(firstWord(t.firstField(j))); ok {
					g.Columns[n-1].Unit = u
					if g.Columns[n-1].Assumed = false; g.Columns[n-1].Role == "" || g.Columns[n-1].Role == RoleQuantity || g.Columns[n-1].Role == RoleTemperature {
						g.Columns[n-1].Role = roleOf(u)
					}
				}
			}
		case k == fieldText || k == fieldStamp:
			c.Role = RoleText
		default:
			channel++
			c.Unit = plain
			switch {
			case h.hasUnit[j]:
				c.Unit = h.units[j]
			case k == fieldWithUnit:
				c.InField = true
				_, c.Unit, _ = numberWithUnit(firstWithUnit(t, j), t.decimal)
			default:
				c.Assumed = true
			}
			if c.Name == "" {
				c.Name = fmt.Sprintf("ch%d", channel)
				if h.nameLine >= 0 {
					g.found.add(fmt.Sprintf("no name %d", j), 0, fmt.Sprintf("field %d has no heading; it is called %q", j+1, c.Name))
				}
			}
			if c.Role = roleByName(c.Name); c.Role == "" || c.Role == RoleIndex && !c.Assumed {
				if c.Role = roleOf(c.Unit); c.Assumed {
					c.Role = "" // decided when all explicit units are known
				}
			}
			if c.Unit.Name == "mV" && (looksLike(c.Name, []string{"tc", "thermo", "thermocouple"}) || o.Thermocouple != "") {
				c.Role = RoleThermocouple
			}
			if !c.Assumed {
				explicit[c.Unit.Name]++
			}
		}
		if o.Name != "" {
			c.Name = o.Name
		}
		if o.Unit != "" {
			u, ok := parseUnit(o.Unit)
			if !ok {
				return g.fail(0, "", fmt.Sprintf("%q, given for field %d, is not a unit that is known here", o.Unit, j+1), "give a unit such as °C, °F, mV")
			}
			c.Unit, c.Assumed, c.InField = u, false, false
			if c.Role == "" {
				c.Role = roleOf(u)
			}
		}
		if o.Role != "" {
			c.Role = o.Role
			if c.Role == RoleTemperature && c.Unit.Kind != Temperature {
				c.Unit, c.Assumed = celsius, true
			}
		}
		c.Thermocouple, c.Class = o.Thermocouple, o.Class
		if o.Thermocouple != "" && (c.Unit.Kind != Temperature || c.Assumed) { // a logger may have turned the voltage into a temperature itself
			if c.Role = RoleThermocouple; c.Unit.Kind != Voltage {
				c.Unit, _ = parseUnit("mV")
				c.Assumed = false
			}
		}
		g.Columns = append(g.Columns, c)
	}
	if h.nameLine < 0 {
		g.unnamed(t)
	}
	for i := range g.Columns {
		c := &g.Columns[i]
		if c.Role == "" || c.Role == RoleTemperature && c.Unit.Kind != Temperature || (c.Role == RoleSetPoint || c.Role == RoleColdJunction) && c.Assumed {
			c.assume(t, explicit)
		}
		if c.Role == "" {
			return g.fail(0, "", fmt.Sprintf("column %q has no unit, while other columns are in °F", c.Name), fmt.Sprintf(`say which it is, such as: column %d unit "°F"`, c.Field))
		}
	}
	g.triples()
	g.twins()
	g.distinct()
	return nil
}

// askUnits asks once for all the columns whose unit was assumed.
func (g *Guess) askUnits() {
	var names []string
	var first int
	american := true // all begin where a room in °F does
	for _, c := range g.Columns {
		if c.guessedBy != "" && c.Role != RoleTemperature && c.Field != g.LongForm {
			g.Questions = append(g.Questions, fmt.Sprintf(`field %d %s and is taken as %s; if it is a temperature, say: column %d role "temperature"`, c.Field, c.guessedBy, c.Role, c.Field))
		}
		if c.Assumed && c.Role == RoleTemperature {
			if names = append(names, strconv.Quote(c.Name)); len(names) == 1 {
				first = c.Field
			}
			american = american && c.lowest >= 59 && c.lowest <= 95
		}
	}
	if len(names) > 6 {
		names = append(names[:5], fmt.Sprintf("%d more", len(names)-5))
	}
	if g.LongForm > 0 && len(names) > 0 {
		names = []string{"the channels"}
	}
	doubt := ""
	if american {
		doubt = ", though the lowest readings would be a room's in °F"
	}
	if len(names) > 0 {
		g.Questions = append(g.Questions, fmt.Sprintf(`no unit is given for %s: taken as °C%s; if that is wrong, say such as: column %d unit "°F", or column %d role "set point"`, strings.Join(names, ", "), doubt, first, first))
	}
}

// firstField is the first row's field of a column that has something in it.
func (t *table) firstField(j int) []byte {
	for i := t.first; i <= t.last; i++ {
		if t.matches(i) && j < len(t.fields[i]) && len(t.fields[i][j]) > 0 {
			return t.fields[i][j]
		}
	}
	return nil
}

func firstWithUnit(t *table, j int) []byte {
	for i := t.first; i <= t.last; i++ {
		if j < len(t.kinds[i]) && t.kinds[i][j] == fieldWithUnit {
			return t.fields[i][j]
		}
	}
	return nil
}

func roleOf(u Unit) Role {
	if u.Kind == Temperature {
		return RoleTemperature
	}
	return RoleQuantity
}

func roleByName(name string) Role {
	low := " " + strings.ToLower(name) + " "
	if strings.Contains(low, "set point") || strings.Contains(low, "set temp") {
		return RoleSetPoint
	}
	for _, w := range strings.FieldsFunc(low, func(r rune) bool { return strings.ContainsRune(" _-./,:;()[]", r) }) {
		for _, rw := range roleWords {
			for _, want := range rw.words {
				if w == want || len(want) >= 4 && strings.HasPrefix(w, want) {
					return rw.role
				}
			}
		}
		if w == "#" {
			return RoleIndex
		}
	}
	return ""
}

// assume settles a column without a unit: a temperature in °C, if its numbers can be that and nothing else in the file
// speaks against it.
func (c *Column) assume(t *table, explicit map[string]int) {
	was := c.Role
	var seen []float64
	for i := t.first; i <= t.last && len(seen) < 2000; i++ {
		if t.matches(i) && c.Field-1 < len(t.fields[i]) {
			if v, _, ok := parseNumber(t.fields[i][c.Field-1], t.decimal); ok {
				if _, code := codeNumber(v, v); !code {
					seen = append(seen, v)
				}
			}
		}
	}
	temperatures := explicit["°C"] + explicit["°F"] + explicit["K"]
	named := looksLike(c.Name, temperatureWords) || plainChannel(c.Name)
	sort.Float64s(seen)
	if len(seen) > 0 {
		c.lowest = seen[0]
	}
	likely := len(seen) == 0 || seen[0] > -60 && seen[len(seen)-1] < 450
	switch {
	case temperatures == 0 && likely || temperatures > 0 && named && explicit["°F"] == 0 && explicit["K"] == 0:
		c.Unit, c.Assumed = celsius, true
		if was == "" || was == RoleQuantity {
			c.Role = RoleTemperature
		}
	case temperatures > 0 && named && explicit["°F"] > 0:
		c.Role = ""
	default:
		if c.Unit, c.Assumed = plain, true; was == "" || was == RoleTemperature {
			c.Role = RoleQuantity
		}
	}
}

// unnamed looks at columns that have neither name nor unit: whole numbers that rise row by row are a running number, and
// whole numbers beside columns with decimals are more likely a set point (if they never change), a battery or an output. A number
// that never changes while others do is a set point too.
func (g *Guess) unnamed(t *table) {
	type shape struct{ whole, constant, counting, long bool }
	shapes := map[int]shape{}
	decimals, moves := false, false
	for _, c := range g.Columns {
		if c.Role != "" {
			continue
		}
		s := shape{true, true, true, false}
		last, rows := 0.0, 0
		for i := t.first; i <= t.last; i++ {
			if !t.matches(i) {
				continue
			}
			v, _, ok := field(t.fields[i], c.Field-1, t.decimal)
			if !ok {
				continue
			}
			if rows++; rows > 1 {
				s.constant = s.constant && v == last
				s.counting = s.counting && v > last && v <= last+5
			}
			s.whole = s.whole && v == math.Trunc(v) && bytes.IndexByte(t.fields[i][c.Field-1], t.decimal) < 0
			last = v
		}
		if s.counting = s.counting && rows >= 3; rows < 5 && !s.counting {
			continue
		}
		s.long = rows >= 8
		shapes[c.Field] = s
		decimals = decimals || !s.whole
		moves = moves || !s.whole && !s.constant
	}
	for i := range g.Columns {
		c := &g.Columns[i]
		s, ok := shapes[c.Field]
		switch {
		case ok && !s.whole && s.constant && s.long && moves:
			c.Role, c.guessedBy = RoleSetPoint, "never changes"
			continue
		case !ok || !s.whole || !decimals:
			continue
		case s.counting:
			c.Role = RoleIndex
		case s.constant:
			c.Role = RoleSetPoint
		default:
			c.Role = RoleOutput
		}
		c.guessedBy = "has whole numbers only"
	}
}

// plainChannel is a name like T1, ch2, CH 03, A.
func plainChannel(name string) bool {
	n := strings.TrimRight(strings.ToLower(strings.ReplaceAll(name, " ", "")), "0123456789-")
	return n == "t" || n == "ch" || n == "tc" || n == "temp" || n == "probe" || n == "channel" || n == "kanal" || n == ""
}

// triples marks the minimum and maximum of a quantity whose mean stands beside them.
func (g *Guess) triples() {
	base := func(name string) (b, which string) {
		for _, w := range strings.FieldsFunc(name, func(r rune) bool { return strings.ContainsRune(" _-./,:;()[]", r) }) {
			switch strings.ToLower(w) {
			case "min", "minimum":
				which = "min"
			case "max", "maximum", "peak":
				which = "max"
			case "mean", "avg", "average", "ave", "mittel", "mittelwert":
				which = "mean"
			default:
				low := strings.ToLower(w)
				for _, end := range [][2]string{{"min", "min"}, {"max", "max"}, {"avg", "mean"}, {"mean", "mean"}} { // Tmin, Tavg
					if rest := strings.TrimSuffix(low, end[0]); rest != low && rest != "" {
						low, which = rest, end[1]
						break
					}
				}
				b += " " + low
			}
		}
		return b, which
	}
	hasMean := map[string]bool{}
	for _, c := range g.Columns {
		if b, w := base(c.Name); w == "mean" {
			hasMean[b] = true
		}
	}
	for i := range g.Columns {
		c := &g.Columns[i]
		if b, w := base(c.Name); (w == "min" || w == "max") && hasMean[b] && c.Role == RoleTemperature {
			c.Role = RoleExtreme
		}
	}
}

// twins finds a column of °F that says the same as the column of °C before it.
func (g *Guess) twins() {
	bare := func(c Column) string {
		if strings.HasPrefix(c.Name, "ch") && strings.Trim(c.Name[2:], "0123456789") == "" {
			return ""
		}
		return strings.ToLower(strings.TrimSuffix(c.Name, " (2)"))
	}
	for i := 1; i < len(g.Columns); i++ {
		a, b := &g.Columns[i-1], &g.Columns[i]
		if a.Role == RoleTemperature && b.Role == RoleTemperature && a.Unit.Name != b.Unit.Name && bare(*a) == bare(*b) && !a.Assumed && !b.Assumed {
			b.Role, b.TwinOf = RoleTwin, a.Field
		}
	}
}

// distinct makes sure that no two columns have one name.
func (g *Guess) distinct() {
	at := map[string]int{}
	for i := range g.Columns {
		c := &g.Columns[i]
		if !c.Role.read() {
			continue
		}
		old := c.Name
		for n := 2; at[c.Name] > 0; n++ {
			c.Name = fmt.Sprintf("%s (%d)", old, n)
		}
		if c.Name != old {
			g.found.add("renamed "+c.Name, g.HeadingLine, fmt.Sprintf("equal headings: field %d is called %q", c.Field, c.Name))
		}
		at[c.Name] = c.Field
	}
}

package report

import (
	"fmt"
	"math"
	"strings"

	"finwright/internal/curve"
	"finwright/internal/unit"
)

// LogFigures is one logger's file: how it was understood, what had to be assumed, what was found in it.
type LogFigures struct {
	Run        string // the stock run that it belongs to; empty for a file read on its own
	File       string
	Understood []string // how the file, its heading and its clock were read
	FirstRows  []string // the first five rows as they were understood
	Assumed    []string // what the file does not say, and how to say it
	Notes      []string // what was put right, left out or looks wrong
	Rows       int
	EndS       float64 // time of the last row
	Columns    []LogColumn
	Events     []LogEvent
	Reading    string // the settings that read it the same way again
}

// LogColumn is one column of a log.
type LogColumn struct {
	Field       int // from 1
	Name        string
	What        string         // what it is taken as, with its unit
	Place       string         // where it was measured, when a device file says so
	Temperature bool           // the following is given
	Readings    int            // in the file, without those that are missing
	LowK, HighK float64        // of the readings kept; NaN without any
	ErrorK      float64        // half width of the 90 % interval; 0: not known here
	ErrorSource string         // where it comes from
	Dropped     []LogDrop      // readings that are no temperatures of the thing
	Switches    []curve.Switch // where the power was switched on and off
}

// LogDrop is how many readings of a column were dropped for one reason.
type LogDrop struct {
	Reason      string
	Readings    int
	FirstS      float64
	FirstReason string // the first one's, in words
}

// LogEvent is a line of text between the readings.
type LogEvent struct {
	TimeS float64
	Line  int
	Text  string
}

// LogAlignment puts the clock of one log on that of another.
type LogAlignment struct {
	File, Column     string // the one that is moved
	OnFile, OnColumn string // the one that it is put on
	OffsetS, Rate    float64
	RateTellsBy      float64 // half width of the rates that fit nearly as well
	Explained        float64 // share of the variance that the curves have in common
	Words            string
	Settings         string // that read the moved log by the other's clock
}

// Log prints everything about one log.
func (p *Printer) Log(l *LogFigures) error {
	p.heading(l.File)
	for _, s := range l.Understood {
		p.paragraph("  ", plain, s)
	}
	p.paragraph("  ", plain, logExtent(l))
	p.line()
	var rows [][]cell
	for i, x := range l.Columns {
		if i == mostColumns {
			rows = append(rows, []cell{c(""), {fmt.Sprintf("and %d more", len(l.Columns)-i), faint}})
			break
		}
		rows = append(rows, []cell{c(fmt.Sprint(x.Field)), c(x.Name), c(x.What), c(logCount(x)), c(logRange(x)), c(logError(x))})
	}
	p.table([]column{{head: "field", right: true}, {head: "name", least: 8}, {head: "taken as", least: 16}, {head: "readings", right: true}, {head: "from, to", right: true}, {head: "error", right: true}}, rows)
	if len(l.FirstRows) > 0 {
		p.line()
		p.paragraph("  ", faint, "The first rows, as they were understood:")
		p.list("  > ", plain, l.FirstRows, "")
	}
	p.logAssumed(l, "  ", `with a flag, such as --column '2 unit "°F"'`)
	p.logNotes(l, "  ")
	for _, x := range l.Columns {
		for _, w := range switchWords(x) {
			p.paragraph("  · ", plain, w)
		}
	}
	for i, e := range l.Events {
		if i == mostEvents {
			p.paragraph("  · ", faint, fmt.Sprintf("and %d more lines of text", len(l.Events)-i))
			break
		}
		p.paragraph("  · ", plain, fmt.Sprintf("at %s, line %d: %s", unit.Format(e.TimeS, unit.Time), e.Line, e.Text))
	}
	if l.Reading != "" {
		p.paragraph("  ", faint, "Read so: "+l.Reading)
	}
	return p.err
}

const (
	mostColumns = 24
	mostEvents  = 20
)

// Logs prints, for the logs of a device file, how they were understood, what was used of them and what had to be assumed.
func (p *Printer) Logs(list []LogFigures) error {
	if len(list) == 0 {
		return p.err
	}
	p.heading("How the logs were read")
	for i := range list {
		l := &list[i]
		p.paragraph("  ", strong, l.Run+": "+l.File)
		p.paragraph("    ", plain, strings.Join(l.Understood, " ")+" "+logExtent(l))
		for _, x := range l.Columns {
			if x.Place == "" {
				continue
			}
			text := fmt.Sprintf("%s at %s: %s, %s, %s", x.Name, x.Place, logCount(x), logRange(x), logError(x))
			if x.ErrorSource != "" {
				text += " (" + x.ErrorSource + ")"
			}
			p.paragraph("    ", plain, text)
		}
		for _, r := range l.FirstRows {
			p.paragraph("    > ", faint, r)
		}
		p.logAssumed(l, "    ", `in the device file, such as log reading: 'column 2 unit "°F"'`)
		p.logNotes(l, "    ")
	}
	return p.err
}

// Aligned prints how logs of one run were put on one clock.
func (p *Printer) Aligned(list []LogAlignment) error {
	for _, a := range list {
		p.heading(a.File + ", by the clock of " + a.OnFile)
		p.paragraph("  ", plain, fmt.Sprintf("By %s and %s: %s.", a.Column, a.OnColumn, a.Words))
		p.paragraph("  ", plain, "Read so: "+a.Settings)
	}
	return p.err
}

// logAssumed prints what was assumed; how says where it can be said otherwise.
func (p *Printer) logAssumed(l *LogFigures, indent, how string) {
	if len(l.Assumed) > 0 {
		p.paragraph(indent, uneasy, "Assumed. Where it is otherwise, say it "+how+":")
		p.list(indent+"? ", uneasy, l.Assumed, "")
	}
}

func (p *Printer) logNotes(l *LogFigures, indent string) {
	for _, n := range l.Notes {
		p.paragraph(indent+"· ", plain, n)
	}
	for _, x := range l.Columns {
		for _, d := range x.Dropped {
			p.paragraph(indent+"· ", plain, fmt.Sprintf("%s: %s not used, %s: %s", x.Name, plural(d.Readings, "reading", "readings"), d.Reason, d.FirstReason))
		}
	}
}

func logExtent(l *LogFigures) string {
	return fmt.Sprintf("%s, the last at %s.", plural(l.Rows, "row", "rows"), unit.Format(l.EndS, unit.Time))
}

func logCount(x LogColumn) string {
	if !x.Temperature {
		return dash
	}
	return plural(x.Readings, "reading", "readings")
}

func logRange(x LogColumn) string {
	if !x.Temperature || math.IsNaN(x.LowK) {
		return dash
	}
	return DegC(x.LowK) + " to " + DegC(x.HighK)
}

func logError(x LogColumn) string {
	if !x.Temperature || x.ErrorK == 0 {
		return dash
	}
	return "± " + unit.Format(x.ErrorK, unit.TemperatureDiff)
}

// switchWords says where a curve shows that the power was switched.
func switchWords(x LogColumn) []string {
	var out []string
	for _, s := range x.Switches {
		what := "begins to warm"
		if !s.On {
			what = "stops warming and begins to cool"
		}
		if !s.AtS.Given() {
			continue
		}
		at := unit.Format(s.AtS.Mid, unit.Time)
		if s.AtS.Hi > s.AtS.Lo {
			at += fmt.Sprintf(" (%s to %s)", unit.Format(s.AtS.Lo, unit.Time), unit.Format(s.AtS.Hi, unit.Time))
		}
		out = append(out, fmt.Sprintf("%s %s at %s", x.Name, what, at))
	}
	return out
}

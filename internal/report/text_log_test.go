package report

import (
	"math"
	"path/filepath"
	"strings"
	"testing"

	"finwright/internal/curve"
)

// inventedLog is a log with everything in it that can be told; names are long, and one has an escape sequence.
func inventedLog() LogFigures {
	return LogFigures{
		Run: "first afternoon", File: "runs/first.csv", Rows: 240, EndS: 2390, Reading: `decimal comma; column 2 unit "°F"`,
		Understood: []string{"windows-1252, fields parted by semicolons, decimal comma.", "First row in line 2; names in line 1.", "Time: time of day without a date in field 1, usually every 10 s."},
		FirstRows:  []string{"0 min | chip 21.5 °C | sk\x1b[31min missing (above the range)", "10 s | chip 23 °C | skin 21 °C"},
		Assumed:    []string{`no unit is given for "chip": taken as °C, though the lowest readings would be a room's in °F; if that is wrong, say such as: column 2 unit "°F", or column 2 role "set point"`},
		Notes:      []string{`skin: 1 missing: above the range ("OL" in line 2)`},
		Columns: []LogColumn{
			{Field: 1, Name: "Zeit", What: "time", LowK: math.NaN(), HighK: math.NaN()},
			{Field: 2, Name: "chip", What: "temperature in °F", Place: "board.front centre", Temperature: true, Readings: 240, LowK: 294.65, HighK: 335.15, ErrorK: 2.5, ErrorSource: "type K by IEC 60584-1 class 2, for new wire",
				Dropped:  []LogDrop{{Reason: "spike", Readings: 2, FirstS: 1200, FirstReason: "at 20 min 111.4 K away from the readings around it and back"}},
				Switches: []curve.Switch{{On: true, AtS: curve.Estimate{Lo: 397, Mid: 402, Hi: 407}}, {AtS: curve.Estimate{Lo: 1795, Mid: 1800, Hi: 1805}}, {On: true, AtS: curve.Estimate{Lo: math.NaN(), Mid: math.NaN(), Hi: math.NaN(), Refused: "not to be told"}}}},
			{Field: 3, Name: "sk\x1b[31min behind the printed label", What: "temperature in °C, written with each number", Place: "skin.back centre", Temperature: true, LowK: math.NaN(), HighK: math.NaN()},
			{Field: 4, Name: "set", What: "set point in °C (assumed)", Temperature: true, Readings: 240, LowK: 353.15, HighK: 353.15},
		},
		Events: []LogEvent{{TimeS: 1800, Line: 182, Text: "#3 ERR sen\x1bsor"}},
	}
}

func TestLogGolden(t *testing.T) {
	quiet := inventedLog()
	quiet.Assumed, quiet.Notes, quiet.Run = nil, nil, "stock run 2"
	wide := LogFigures{File: "wide.csv", Understood: []string{"utf-8."}, Rows: 1, EndS: 0}
	for i := range 30 {
		wide.Columns = append(wide.Columns, LogColumn{Field: i + 1, Name: "ch" + strings.Repeat("1", i%3), What: "temperature in °C", Temperature: true, Readings: 1, LowK: 293.15, HighK: 293.15})
		wide.Events = append(wide.Events, LogEvent{Line: i, Text: "mark"})
	}
	one := inventedLog()
	var all strings.Builder
	for _, p := range []struct {
		name  string
		print func(p *Printer) error
	}{
		{"log", func(p *Printer) error { return p.Log(&one) }},
		{"log of many columns", func(p *Printer) error { return p.Log(&wide) }},
		{"logs", func(p *Printer) error { return p.Logs([]LogFigures{one, quiet}) }},
		{"no logs", func(p *Printer) error { return p.Logs(nil) }},
		{"aligned", func(p *Printer) error {
			return p.Aligned([]LogAlignment{{File: "b.csv", Column: "probe", OnFile: "a.csv", OnColumn: "chip", Words: "the second log is moved by 2.17 min and its clock stretched by +1.00 %; the curves then share 100.0 % of their variance", Settings: "start -128.7 s; rate 1.01"}})
		}},
	} {
		all.WriteString("== " + p.name + "\n" + printed(t, p.print, Style{Width: 80}))
	}
	text := all.String()
	if strings.ContainsAny(text, "\x1b") || strings.Contains(text, "NaN") {
		t.Errorf("a control character or a figure that is none:\n%s", text)
	}
	golden(t, "log/log", []byte(text))
	if files, err := filepath.Glob("testdata/log/*"); err != nil || len(files) != 1 {
		t.Errorf("golden files %v (%v)", files, err)
	}
}

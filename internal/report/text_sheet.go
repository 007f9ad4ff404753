package report

import (
	"fmt"
	"strings"

	"finwright/internal/benchtest"
	"finwright/internal/session"
	"finwright/internal/unit"
)

// SheetWidth and SheetLines are what one page of paper holds in a fixed-width type of 9 points, A4 or Letter with margins of 15 mm.
const (
	SheetWidth = 96
	SheetLines = 70
)

// PlannedTest is a run sheet with what the use case adds to it.
type PlannedTest struct {
	*benchtest.RunSheet
	Cautions []string
	File     string // the device file, for the command at the end
}

// RunSheet prints the plan of a test on one page, with room to write.
func (p *Printer) RunSheet(t *PlannedTest) error {
	s := t.RunSheet
	width := p.style.Width
	p.style.Width = SheetWidth // a page is a page, however wide the terminal
	defer func() { p.style.Width = width }()
	p.paragraph("", strong, fmt.Sprintf("RUN SHEET  %s: %s", s.Device, s.Design))
	invented := ""
	if s.Invented {
		invented = " The device and its figures are invented."
	}
	p.paragraph("", plain, fmt.Sprintf("Expected in a room of %s in still air%s, built as planned: %s.%s", DegC(s.RoomK), inMode(s.Mode), endingWords(s.End, s.FedByBattery), invented))

	p.sheetPart("Probes", "")
	var rows [][]cell
	last := len(s.Table) - 1
	for i, c0 := range s.Probes {
		reads, fault := dash, dash
		if last >= 0 {
			reads = fmt.Sprintf("%s to %s °C", tenth(s.Table[last].Lo[i]), tenth(s.Table[last].Hi[i]))
		}
		if s.MainBond != nil {
			fault = signed(drop(c0.FaultK))
		}
		row := []cell{c(fmt.Sprintf("P%d", i+1)), c(c0.Words), c(c0.Why), c(reads)}
		if s.MainBond != nil {
			row = append(row, c(fault))
		}
		rows = append(rows, row)
	}
	cols := []column{{head: ""}, {head: "where", least: 26}, {head: "why there", least: 18}, {head: "reads at the end", right: true}}
	if s.MainBond != nil {
		cols = append(cols, column{head: "bad bond", right: true})
	}
	p.table(cols, rows)
	p.item(fmt.Sprintf("R, the room: %s beside the device, level with its middle, never above it (its radiation warms the bead there by %s). With one probe only take P1 and read the room by hand; with two add R; P2 next, then P3.",
		unit.Format(s.Room.AwayM, unit.Length), atMost(s.Room.WarmedK)))
	if s.Inside != nil {
		p.item(fmt.Sprintf("Better still, %s: there the bad bond shows as %s; with P1 it puts the test %.1f instead of %.1f standard deviations off.", s.Inside.Words, signed(drop(s.Inside.FaultK)), s.Inside.AtSd, s.Probes[min(1, len(s.Probes)-1)].AtSd))
	}
	var ways []string
	for _, f := range s.Fixings {
		ways = append(ways, fmt.Sprintf("%s (%s) reads %s low", f.Way, f.How, atMost(f.LowK)))
	}
	p.item("How to fix them, and what each way costs at P1: " + strings.Join(ways, "; ") + ". Insulate every bead from metal: a bare one may close a loop through a charger.")

	p.sheetPart("Logger", fmt.Sprintf("one reading every %s, all probes in one file; start it 2 min before switch-on, stop it 10 min after the end. Before switch-on all probes should agree: what they differ by then is taken off.", unit.Format(s.EveryS, unit.Time)))
	stand := fmt.Sprintf("%s up, in free air: on two corks or thin strips of wood, 15 cm from any wall, no sun, no draught, nobody leaning over it.", s.Up)
	if s.LyingOn != "" && finite(s.LyingK) {
		stand += fmt.Sprintf(" %s on cloth instead would warm the sensor by %s.", upperFirst(s.LyingOn), signed(drop(s.LyingK)))
	}
	p.sheetPart("Stand", stand)
	start := "within 1 K of the room; the device needs longer than 6 h to get there after a run."
	if finite(s.CoolS) {
		start = fmt.Sprintf("within 1 K of the room: %s after the last run.", AtMinute(s.CoolS))
	}
	if finite(s.WarmStartS) {
		start += fmt.Sprintf(" Starting %s warmer costs %s of the run.", Kelvins(s.WarmStartK), AtMinute(s.WarmStartS))
	}
	if s.FedByBattery {
		start += " Battery full."
	}
	p.sheetPart("Start", start)
	p.sheetPart("How long", sheetLength(s))

	if len(s.Table) > 0 {
		p.sheetTable(s)
	}
	if s.Sensors {
		var pairs []string
		for _, r := range s.Pairs {
			pairs = append(pairs, pairWords(r))
		}
		p.sheetPart("Runs that decide", "same room, same start, one change at a time: "+strings.Join(pairs, "; ")+". If the fan does not move the minutes, heat is not what stops it.")
	}
	var stops []string
	for _, x := range s.SafetyStops {
		at := ""
		if finite(x.ProbeK) {
			at = fmt.Sprintf(" (P1 at about %s)", DegC(x.ProbeK))
		}
		stops = append(stops, fmt.Sprintf("%s reaches %s%s", x.What, DegC(x.LimitK), at))
	}
	if stops = append(stops, "there is any smell, smoke, hiss or swelling"); len(s.SafetyStops) == 0 {
		stops = append([]string{"it gets too hot to hold"}, stops...)
	}
	p.sheetPart("Switch off at once", "when "+strings.Join(stops, "; ")+".")
	for _, x := range t.Cautions {
		p.item(x)
	}
	p.sheetPart("Write down", "")
	for _, l := range []string{
		"date ____________  switched on at ________  room at start ______ at the end ______ °C",
		"last run ended at ________  device warm to the hand at start?  yes / no     battery ______ %",
		"stood on __________________  up: ________  mode __________  anything different: __________",
		"ended after ________ min by:  its own stop / dimming / empty battery / my hand / still running",
	} {
		p.paragraph("  ", plain, l)
	}
	var ch []string
	for i := range s.Probes {
		ch = append(ch, fmt.Sprintf("--channel 'P%d=%s'", i+1, s.Probes[i].At))
	}
	design := ""
	if s.Design != "stock" {
		design = fmt.Sprintf(" --design '%s'", s.Design)
	}
	p.paragraph("", faint, fmt.Sprintf("Then: finwright bench judge %s LOG%s %s --room-column R", t.File, design, strings.Join(ch, " ")))
	return p.err
}

// sheetPart prints a part of a sheet under its name, close together.
func (p *Printer) sheetPart(name, text string) {
	if text == "" {
		p.paragraph("", strong, name)
		return
	}
	p.paragraph("", plain, name+": "+text)
}

func (p *Printer) item(text string) { p.paragraph("  · ", plain, text) }

func inMode(mode string) string {
	if mode == "" {
		return ""
	}
	return ", mode " + mode
}

// endingWords says how a run is expected to end.
func endingWords(e benchtest.Ending, battery bool) string {
	end := "it runs on"
	switch e.Kind {
	case "trip":
		end = "it stops itself"
	case "step":
		end = "it dims itself"
	case "battery":
		end = "it runs until the battery is empty"
	}
	if e.Kind == "time" {
		return end + fmt.Sprintf(" for %s and longer", AtMinute(e.S))
	}
	span := fmt.Sprintf(" after %s", AtMinute(e.S))
	if finite(e.HiS) {
		span += fmt.Sprintf(" (%s to %s)", AtMinute(e.LoS), AtMinute(e.HiS))
	} else {
		span += fmt.Sprintf(" (%s at the earliest; it may last)", AtMinute(e.LoS))
	}
	if battery && e.Kind != "battery" && finite(e.EmptyS) {
		span += fmt.Sprintf("; the battery would hold for %s", AtMinute(e.EmptyS))
	}
	return end + span
}

// sheetLength says when the test has told enough.
func sheetLength(s *benchtest.RunSheet) string {
	var out []string
	if s.End.Kind == "trip" || s.End.Kind == "battery" {
		out = append(out, "to its end")
	} else {
		out = append(out, "for "+AtMinute(s.LengthS))
	}
	if b := s.MainBond; b != nil {
		bad := fmt.Sprintf("a bond %s worse by %.0f times (%s in the table)", b.Name, benchtest.ProbeFactor, "\"bad\"")
		if finite(s.JointS) {
			out = append(out, fmt.Sprintf("%s shows after %s", bad, AtMinute(s.JointS)))
		} else {
			out = append(out, bad+" does not show beyond doubt in this test")
		}
	}
	var seen, unseen []string
	for _, b := range s.Bonds {
		if finite(b.LeastFactor) {
			seen = append(seen, fmt.Sprintf("%s from %.0f times", b.Name, b.LeastFactor))
		} else {
			unseen = append(unseen, b.Name)
		}
	}
	if len(seen) > 0 {
		out = append(out, "at its end these probes show "+strings.Join(seen, ", "))
	}
	if len(unseen) > 0 {
		out = append(out, "they say nothing of "+strings.Join(unseen, ", "))
	}
	if s.Sensors {
		lasts := "stops itself"
		if s.Lasts {
			lasts = "lasts"
		}
		if s.LastS == 0 {
			out = append(out, fmt.Sprintf("the model is sure beforehand that it %s: the test is to see whether that is true", lasts))
		} else if finite(s.LastS) {
			out = append(out, fmt.Sprintf("if the readings are as expected, after %s they say that it %s", AtMinute(s.LastS), lasts))
		} else {
			out = append(out, "only its own end says whether it lasts")
		}
	}
	return strings.Join(out, "; ") + "."
}

// sheetTable is what to compare with while the test runs, with room to write.
func (p *Printer) sheetTable(s *benchtest.RunSheet) {
	cols := []column{{head: "after", right: true}}
	for i := range s.Probes {
		cols = append(cols, column{head: fmt.Sprintf("P%d expected", i+1), right: true})
		if s.MainBond != nil {
			cols = append(cols, column{head: "bad", right: true})
		}
		cols = append(cols, column{head: "read"})
	}
	cols = append(cols, column{head: "R read"})
	var rows [][]cell
	for _, x := range s.Table {
		row := []cell{c(unit.Format(x.AtS, unit.Time))}
		for i := range s.Probes {
			row = append(row, c(tenth(x.Lo[i])+" – "+tenth(x.Hi[i])))
			if s.MainBond != nil {
				row = append(row, c(tenth(x.Fault[i])))
			}
			row = append(row, c("_____"))
		}
		rows = append(rows, append(row, c("_____")))
	}
	p.sheetPart("Compare while it runs", "°C, nine of ten runs lie between"+map[bool]string{true: "; \"bad\" is with the bond " + bondName(s) + " bad", false: ""}[s.MainBond != nil])
	p.table(cols, rows)
}

func bondName(s *benchtest.RunSheet) string {
	if s.MainBond == nil {
		return ""
	}
	return s.MainBond.Name
}

// tenth is a temperature in °C to half a degree or so, without its unit.
func tenth(tK float64) string { return fmt.Sprintf("%.1f", tK-273.15) }

// pairWords says one of the runs that decide.
func pairWords(r benchtest.PairRun) string {
	air := "still air"
	if r.WindMS > 0 {
		air = fmt.Sprintf("a strong fan at 0.5 m (%s)", unit.Format(r.WindMS, unit.Velocity))
	}
	what := r.Design + ", " + air + ": "
	if r.Failed != "" {
		return what + "cannot be run: " + r.Failed
	}
	switch r.Kind {
	case session.BatteryEmpty:
		return what + "battery empty, " + AtMinute(r.EndS)
	case session.TimeOver:
		return what + "still running after " + AtMinute(r.EndS)
	case session.Dimmed:
		return what + "dims after " + AtMinute(r.EndS)
	}
	return what + "stops after " + AtMinute(r.EndS)
}

// atMost is a small error: "under 0.1 K", "0.4 K".
func atMost(k float64) string {
	if k < 0.1 {
		return "under 0.1 K"
	}
	return drop(k)
}

// SheetCautions are the cautions of a bench test, short enough for its sheet.
func SheetCautions(w Work) []string {
	out := []string{"Hot metal burns before it hurts: touch with the back of a finger, keep children away. Burn thresholds: ISO 13732-1; limits: local codes."}
	if w.Cell {
		out = append(out, "Lithium cell: never charge it warm or unwatched; the cell maker's limits come first.")
	}
	if w.Glue {
		out = append(out, "Adhesives, solvents: safety data sheet, air, gloves, no flame; full cure before the first warm run.")
	}
	return append(out, "Stay beside it with a way to cut the power. Local codes and licensed practice come first.")
}

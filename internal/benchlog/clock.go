package benchlog

import (
	"fmt"
	"math"

	"finwright/internal/unit"
)

// ClockKind is how a log tells the time.
type ClockKind string

// The clocks. The words are those of Options' text form.
const (
	ClockSeconds      ClockKind = "s"
	ClockMilliseconds ClockKind = "ms"
	ClockMinutes      ClockKind = "min"
	ClockHours        ClockKind = "h"
	ClockElapsed      ClockKind = "hh:mm:ss"    // since the start
	ClockMMSS         ClockKind = "mm:ss"       // since the start
	ClockOfDay        ClockKind = "time of day" // without a date; midnight is rolled over
	ClockYMD          ClockKind = "y-m-d"
	ClockDMY          ClockKind = "d-m-y"
	ClockMDY          ClockKind = "m-d-y"
	ClockUnixS        ClockKind = "unix s"
	ClockUnixMS       ClockKind = "unix ms"
	ClockDayNumber    ClockKind = "day number" // days since 30 December 1899, as spreadsheets count
	ClockSample       ClockKind = "sample"     // no clock: row number × interval
)

var clockWords = map[ClockKind]string{
	ClockSeconds: "seconds since the start", ClockMilliseconds: "milliseconds since the start", ClockMinutes: "minutes since the start",
	ClockHours: "hours since the start", ClockElapsed: "hours:minutes:seconds since the start", ClockMMSS: "minutes:seconds since the start",
	ClockOfDay: "time of day without a date", ClockYMD: "date as year-month-day", ClockDMY: "date as day-month-year", ClockMDY: "date as month-day-year",
	ClockUnixS: "seconds since 1970", ClockUnixMS: "milliseconds since 1970", ClockDayNumber: "spreadsheet day number", ClockSample: "row number × interval",
}

// numeric clocks: scale to s.
func (k ClockKind) scaleS() (scale float64, ok bool) {
	switch k {
	case ClockSeconds, ClockUnixS:
		return 1, true
	case ClockMilliseconds, ClockUnixMS:
		return 1e-3, true
	case ClockMinutes:
		return 60, true
	case ClockHours:
		return 3600, true
	case ClockDayNumber:
		return 86400, true
	}
	return 0, false
}

// absolute clocks count from something other than the start; their first row is taken as the start.
func (k ClockKind) absolute() bool {
	switch k {
	case ClockOfDay, ClockYMD, ClockDMY, ClockMDY, ClockUnixS, ClockUnixMS, ClockDayNumber, ClockSample:
		return true
	}
	return false
}

func (k ClockKind) dated() bool { return k == ClockYMD || k == ClockDMY || k == ClockMDY }

// local clocks may jump with summer time.
func (k ClockKind) local() bool { return k.dated() || k == ClockOfDay || k == ClockDayNumber }

// ticker turns the raw seconds of a clock into seconds since the start that never go back, and tells what it had to put right.
type ticker struct {
	kind    ClockKind
	stepS   float64 // usual step
	closing bool    // forward jumps are taken as the clock being set
	found   *findings

	begun    bool
	firstS   float64
	prevRawS float64
	shiftS   float64
	prevS    float64
}

// tick returns the time of a row with raw clock reading rawS.
func (k *ticker) tick(rawS float64, line int) float64 {
	if !k.begun {
		k.begun = true
		k.firstS, k.prevRawS = rawS, rawS
		if k.kind.absolute() {
			k.shiftS = -rawS
		}
		k.prevS = rawS + k.shiftS
		return k.prevS
	}
	step := rawS - k.prevRawS
	usual := k.stepS
	if usual <= 0 {
		usual = 1
	}
	const hour, day = 3600, 86400
	near := func(x, want float64) bool { return math.Abs(x-want) <= math.Min(math.Max(2*usual, 2), hour/2) }
	switch {
	case step >= 0 && step <= math.Max(10*usual, 5):
		// as it should be
	case k.kind == ClockOfDay && (step < -12*hour-60 || near(step+day, usual)):
		k.shiftS += day
		k.found.add("midnight", line, "the time of day passed midnight")
	case k.kind == ClockOfDay && near(step+day/2, usual):
		k.shiftS += day / 2
		k.found.add("noon", line, "the 12-hour clock began anew")
	case step < 0 && !k.kind.absolute() && rawS <= k.firstS+10*usual:
		k.shiftS = k.prevS + usual - rawS
		k.found.add("restart", line, "the time starts again at its beginning: joined runs, or the logger was started anew; it is counted on from there")
	case k.kind.local() && near(step, usual-hour):
		k.shiftS += hour
		k.found.add("summer time", line, "the clock went back one hour (end of summer time, or it was set); taken out")
	case step < 0:
		k.shiftS = k.prevS + usual - rawS
		k.found.add("set back", line, fmt.Sprintf("the clock went back %s: it was set, or rows are out of order; counted on with the usual step", unit.Format(-step, unit.Time)))
	case k.kind.local() && near(step, usual+hour) && summerBegins(k.prevRawS, rawS, k.kind):
		k.shiftS -= hour
		k.found.add("summer time", line, "the clock went forward one hour on a Sunday at two (begin of summer time); taken out")
	case k.closing:
		k.shiftS = k.prevS + usual - rawS
		k.found.add("set forward", line, fmt.Sprintf("the clock went forward %s, taken as set and closed as asked", unit.Format(step, unit.Time)))
	default:
		k.found.add("gap", line, fmt.Sprintf("%s without rows (usual step %s): a gap, or the clock was set; nothing is filled in; if it was set, say: jumps closed", unit.Format(step, unit.Time), unit.Format(usual, unit.Time)))
	}
	if rawS+k.shiftS < k.prevS { // an hour or a day put right was not enough
		k.shiftS = k.prevS + usual - rawS
	}
	k.prevRawS = rawS
	k.prevS = rawS + k.shiftS
	return k.prevS
}

// summerBegins tells whether the hour from 1 or 2 to 3 o'clock of a Sunday in March, April, September or October is the one
// left out. Raw seconds of a day number count from 1899, of dates from 1970.
func summerBegins(fromS, toS float64, kind ClockKind) bool {
	if kind == ClockOfDay {
		return false
	}
	if kind == ClockDayNumber {
		const days1899to1970 = 25569
		fromS, toS = fromS-days1899to1970*86400, toS-days1899to1970*86400
	}
	day := math.Floor(fromS / 86400)
	if weekday := math.Mod(day+4, 7); weekday != 0 { // 1 January 1970 was a Thursday
		return false
	}
	from, to := math.Floor((fromS-day*86400)/3600+1e-9), (toS-day*86400)/3600
	return (from == 0 || from == 1) && to >= 2 && to < 4
}

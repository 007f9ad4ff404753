package report

import (
	"math"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"finwright/internal/benchtest"
	"finwright/internal/curve"
	"finwright/internal/session"
	"finwright/internal/unit"
)

// inventedSheet is as long as a sheet gets: three probes, a place inside, three bonds, eight rows. All figures are made up.
func inventedSheet() PlannedTest {
	foot := benchtest.Bond{Name: "post foot", A: "post", B: "finned back", What: "thermal epoxy, 0.1 mm", HWm2K: 9000, LoWm2K: 4500, HiWm2K: 18000, New: true}
	s := &benchtest.RunSheet{
		Device: "pocket receiver", Design: "finned back", Invented: true, RoomK: zeroC + 23, Mode: "tracking", Up: "top", EveryS: 5,
		Probes: []benchtest.Chosen{
			{Place: benchtest.Place{At: "35.00 67.90 -9.20 mm", Words: "finned back.back, 32 mm from its left edge, 42 mm from its top edge", Metal: true}, Why: "the hottest place a hand can reach", FaultK: -1.81, AtSd: 2.5},
			{Place: benchtest.Place{At: "window.front centre", Words: "middle of window.front"}, Why: "with the first, tells most of the bond post foot", FaultK: 3.2, AtSd: 5.4},
			{Place: benchtest.Place{At: "keel.left centre", Words: "middle of keel.left"}, Why: "tells most of how near the stop is", FaultK: -1.02, AtSd: 5.6},
		},
		Inside:   &benchtest.Chosen{Place: benchtest.Place{At: "post", Words: "on post, before the case is closed, the wire led out by the seam", Inside: true}, FaultK: 8.8, AtSd: 7.6},
		Room:     benchtest.RoomProbe{AwayM: 0.2, WarmedK: 0.04},
		Fixings:  []benchtest.Fixing{{Way: "paste in a hole", How: "hole 0.8 mm, 3 mm deep, filled with thermal paste; only where metal may be drilled", LowK: 0.03}, {Way: "wire run, insulated bead", How: "varnished bead flat on the surface, 5 mm (25 diameters) of wire along it under polyimide tape", LowK: 0.41}, {Way: "bead under tape, wire up", How: "the same bead, but the wire leaves at once", LowK: 5.4}},
		MainBond: &foot,
		Bonds:    []benchtest.Suspicion{{Bond: foot, LeastFactor: 7}, {Bond: benchtest.Bond{Name: "post bond"}, LeastFactor: 6}, {Bond: benchtest.Bond{Name: "back bond"}, LeastFactor: math.Inf(1)}},
		End:      benchtest.Ending{By: "", Kind: "battery", LoS: 6700, S: 7240, HiS: 7800, EmptyS: 7240, ChanceOf: 0.98},
		LengthS:  7240, JointS: 724, LastS: 1090, Lasts: true, WarmStartK: 5, WarmStartS: math.NaN(), CoolS: 4210, LyingOn: "shell.front", LyingK: 1.1,
		SafetyStops:  []benchtest.SafetyStop{{What: "hand on the hottest place", LimitK: zeroC + 48, ProbeK: zeroC + 48}, {What: "cell", LimitK: zeroC + 60, ProbeK: zeroC + 60}, {What: "glue post | finned back (thermal epoxy)", LimitK: zeroC + 120, ProbeK: math.NaN()}},
		Pairs:        []benchtest.PairRun{{Design: "stock", Kind: session.Stopped, EndS: 1500}, {Design: "stock", WindMS: 3, Kind: session.BatteryEmpty, EndS: 7240}, {Design: "finned back", Kind: session.BatteryEmpty, EndS: 7240}, {Design: "finned back", WindMS: 3, Failed: "it cannot be built"}},
		Sensors:      true,
		FedByBattery: true,
	}
	for k := 1; k <= 8; k++ {
		t := zeroC + 23 + 20*(1-math.Exp(-float64(k)/2))
		s.Table = append(s.Table, benchtest.SheetRow{AtS: 900 * float64(k), Lo: []float64{t - 2, t - 8, t - 6}, Hi: []float64{t + 2, t - 4, t}, Fault: []float64{t - 1.8, t - 2.5, t - 4}})
	}
	return PlannedTest{RunSheet: s, File: "receiver.yaml", Cautions: SheetCautions(Work{Cell: true, Glue: true})}
}

// inventedVerdict has a bond at fault, one that is not cleared and one the test says nothing of.
func inventedVerdict() JudgedTest {
	e := func(lo, mid, hi float64) curve.Estimate { return curve.Estimate{Lo: lo, Mid: mid, Hi: hi} }
	no := curve.Estimate{Refused: "too little of the curve was seen"}
	v := &benchtest.Verdict{
		Device: "pocket receiver", Design: "finned back", RoomK: zeroC + 23.2, StartK: zeroC + 26, RoomFrom: "the room's probe at the start", RoomDriftK: 0.6,
		Ended: benchtest.EndByHeat, EndS: 1512, Chance: map[benchtest.EndedBy]float64{benchtest.EndByHeat: 0.93, benchtest.EndByHand: 0.07},
		Planned: benchtest.Ending{By: "soc", Kind: "trip", LoS: 2400, S: 3600, HiS: math.Inf(1), EmptyS: 7240},
		Curves: []benchtest.Curve{
			{Name: "P1", At: "finned back.back centre", Tau: e(600, 700, 850), Steady: e(16, 18, 21), Seen: e(0.8, 0.85, 0.9), Two: true, Verdict: curve.StillRising},
			{Name: "P2", At: "window.front centre", Tau: no, Steady: no, Seen: no},
			{Name: "P3", At: "keel.left", Refused: "8 readings at the least", Verdict: curve.Steady, Trend: "Steady: 14.6 K over the room (13.8 to 15.5)."},
		},
		Points: []benchtest.Point{{Probe: "P1", AtS: 0, ReadK: 296.4, PlannedK: 296.3, SdK: 1, FoundK: 296.3}, {Probe: "P1", AtS: 600, ReadK: 306, PlannedK: 309.5, SdK: 1.2, FoundK: 306.2}, {Probe: "P1", AtS: 1500, ReadK: 312, PlannedK: 315.2, SdK: 1.4, FoundK: 311.8}, {Probe: "P2", AtS: 1500, ReadK: 313, PlannedK: 309, SdK: 1.4, FoundK: 313.2}},
		Fits:   true, Off: 0.6, AsPlanned: 0.02,
		Bonds: []benchtest.Suspicion{
			{Bond: benchtest.Bond{Name: "post foot", A: "post", B: "finned back", What: "thermal epoxy", New: true}, Chance: 0.85, Factor: [3]float64{14, 23, 32}, LeastFactor: 6},
			{Bond: benchtest.Bond{Name: "post bond", A: "chip", B: "post", What: "thermal epoxy", New: true}, Chance: 0.12, Factor: [3]float64{12, 17, 20}, LeastFactor: 6},
			{Bond: benchtest.Bond{Name: "back bond", A: "shell", B: "finned back", What: "thermal epoxy", New: true}, Chance: 0.01, Factor: [3]float64{2, 9, 50}, LeastFactor: math.Inf(1)},
		},
		Blamed: []int{0}, Margin: e(-1.1, 0.1, 1.2), Sensor: "soc", Power: e(3.8, 5.2, 6.9), PowerW: 4.9,
		Pairs: []benchtest.Before{{At: "window.front centre", Pair: curve.Pair{BeforeRiseK: e(21, 23, 25), AfterRiseK: e(15, 16, 18), LessK: e(5, 7, 9)}}, {At: "shell.back", Failed: "8 readings at the least"}},
		Forward: []benchtest.Forecast{
			{Words: "this room, still air", RoomK: zeroC + 23, LoS: 1400, S: 1500, HiS: 1700, Draws: 16, HottestK: 316, MarginK: 0, MarginLoK: 0},
			{Words: "35 °C, full sun on its worst side", RoomK: zeroC + 35, SunWm2: 800, LoS: 500, S: 600, HiS: 700, Draws: 16, HottestK: 335, HandTooHot: 1, MarginK: math.NaN(), MarginLoK: math.NaN()},
		},
		Taught: []benchtest.Taught{{About: "heat of chip", Dim: unit.Power, WasLo: 2.4, Was: 3, WasHi: 3.8, Lo: 2.8, Mid: 3.1, Hi: 3.5, Narrowed: 0.5}},
		Next:   []string{"Open it and look at the bond post foot.", "Redo that bond, and repeat this very test."},
	}
	return JudgedTest{Verdict: v, Log: "after.csv", Assumed: []string{`column "R" is taken for the room's probe`}, Cautions: SheetCautions(Work{}),
		Paste: []string{"- rejoin:", "    post foot: {between: [post, finned back], conductance: 280 to 640 W/m2K}"}, PasteWhere: "Add this to the end of \"finned back\":"}
}

func TestBenchGolden(t *testing.T) {
	sheet, judged := inventedSheet(), inventedVerdict()
	stock := inventedSheet() // a sheet with hardly anything on it
	stock.RunSheet = &benchtest.RunSheet{Device: "can", Design: "stock", RoomK: zeroC + 20, Up: "top", EveryS: 60, Probes: sheet.Probes[1:2], Room: sheet.Room, Fixings: sheet.Fixings[1:], Bonds: nil,
		End: benchtest.Ending{Kind: "time", S: 14400, LoS: 14400, HiS: 14400, EmptyS: math.Inf(1)}, LengthS: 14400, JointS: math.Inf(1), LastS: math.Inf(1), WarmStartS: math.NaN(), CoolS: math.Inf(1), LyingK: math.NaN()}
	for name, print := range map[string]func(p *Printer) error{
		"bench/sheet": func(p *Printer) error { return p.RunSheet(&sheet) }, "bench/sheet-plain": func(p *Printer) error { return p.RunSheet(&stock) },
		"bench/verdict": func(p *Printer) error { return p.Judged(&judged) },
	} {
		for _, style := range []Style{{Width: 100}, {Width: 72}, {Width: 100, ASCII: true}} {
			text := printed(t, print, style)
			if notAFigure.MatchString(text) || strings.Contains(text, "\x1b") {
				t.Errorf("%s: %q, or a control character", name, notAFigure.FindString(text))
			}
			lines := strings.Split(strings.TrimSuffix(text, "\n"), "\n")
			for _, l := range lines {
				if n := utf8.RuneCountInString(l); n > style.Width && !strings.HasPrefix(name, "bench/sheet") && !strings.Contains(l, "conductance:") {
					t.Errorf("%s: %d columns in a width of %d: %q", name, n, style.Width, l)
				}
			}
			if style.Width != 100 || style.ASCII {
				continue
			}
			golden(t, name, []byte(text))
			if !strings.HasPrefix(name, "bench/sheet") {
				continue
			}
			if len(lines) > SheetLines {
				t.Errorf("%s: %d lines; a page holds %d", name, len(lines), SheetLines)
			}
			for _, l := range lines {
				if n := utf8.RuneCountInString(l); n > SheetWidth {
					t.Errorf("%s: %d columns; a page holds %d: %q", name, n, SheetWidth, l)
				}
			}
		}
	}
	if files, err := filepath.Glob("testdata/bench/*.golden"); len(files) != 3 {
		t.Errorf("golden files %v (%v)", files, err)
	}
}

// A design that stopped in its test and would last in the room is told of both: they are under different skies.
func TestHeadlineOfAStopUnderAnotherSky(t *testing.T) {
	for _, lasts := range []float64{0.1, 0.95} {
		v := &benchtest.Verdict{Ended: benchtest.EndByHeat, EndS: 2472, Forward: []benchtest.Forecast{{RoomK: zeroC + 35, Lasts: lasts, Draws: 16}}}
		if got := strings.Join(headlines(v), " "); strings.Contains(got, "stopped itself after 41.2 min") != (lasts > 0.5) {
			t.Error(got)
		}
	}
}

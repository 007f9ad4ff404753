package report

import (
	"math"

	"finwright/internal/compare"
	"finwright/internal/learn"
	"finwright/internal/model"
	"finwright/internal/session"
	"finwright/internal/unit"
)

// All figures in this file are invented; they only have to look like a study. Times and temperatures follow a first-order
// rise by hand, not a heat model.

// inventedSection is a cut across a hand-sized box with a chip, a plate, a cell, sealed air and, if asked, fins.
func inventedSection(chipK, cellK, skinK, ambientK float64, finsM float64) model.Section {
	const mm = 1e-3
	us := []float64{0, 1, 2, 3.5, 5, 7, 9, 11, 13, 14, 15.2, 16.4, 17.4, 18.3, 19.2, 20.1, 21, 22}
	for x := 2.0; finsM > 0 && x <= finsM/mm; x += 2 {
		us = append(us, 22+x)
	}
	var vs []float64
	for v := 0.0; v <= 90; v += 1.5 {
		vs = append(vs, v)
	}
	s := model.Section{Axis: 0, AtM: 29 * mm, UName: "z", VName: "y",
		Names: []string{"shell", "plate", "chip", "thermal pad", "cell", "board", "sealed air", "sealed air 2", "fins <copper> & \"tin\""}}
	for _, u := range us {
		s.UPlanesM = append(s.UPlanesM, u*mm)
	}
	for _, v := range vs {
		s.VPlanesM = append(s.VPlanesM, v*mm)
	}
	for j := 0; j+1 < len(vs); j++ {
		for i := 0; i+1 < len(us); i++ {
			u, v := (us[i]+us[i+1])/2, (vs[j]+vs[j+1])/2
			part := 0
			switch {
			case u > 22:
				part = -1
				if v > 10 && v < 80 && (u < 24 || int(v/1.5)%6 < 2) {
					part = 8
				}
			case u > 20.1 && v > 1 && v < 89:
				part = 1
				if finsM == 0 && u > 21 {
					part = 0
				}
			case u < 2 || v < 2 || v > 88:
				part = 0
			case u > 16.4 && u < 17.4 && v > 54 && v < 70:
				part = 2
			case u > 17.4 && u < 20.1 && v > 54 && v < 70:
				part = 3
			case u > 15.2 && u < 16.4 && v > 30 && v < 85:
				part = 5
			case u > 3.5 && u < 13 && v > 6 && v < 46:
				part = 4
			default:
				part = 6
				if u > 17.4 && v < 54 {
					part = 7
				}
			}
			t := math.NaN()
			if part >= 0 {
				d := math.Hypot((u-17)/9, (v-62)/26)
				t = skinK + (chipK-skinK)*math.Exp(-d*d)
				if part == 4 {
					t = cellK + 2*math.Exp(-d)
				}
				if part == 8 || part == 1 {
					t = skinK + 0.25*(chipK-skinK)*math.Exp(-d*d/4) - math.Max(0, u-22)*0.25
				}
				if u > 22 || v < 2 {
					t = math.Max(t, ambientK)
				}
			}
			s.TK = append(s.TK, t)
			s.Part = append(s.Part, part)
		}
	}
	return s
}

// inventedRun rises to endK, reached after endMin, with a time constant of 12 min.
func inventedRun(design string, endK, endMin float64, end session.End, skinShare, finsM float64) *session.Result {
	const ambient, trip, n = 297.15, 366.15, 90
	end.AtS = endMin * 60
	settleK := ambient + (endK-3-ambient)/(1-math.Exp(-endMin/12))
	r := &session.Result{Device: "pocket direction finder", Design: design, Mode: "tracking", AmbientK: ambient, End: end, Own: end,
		MarginMin: endMin - 66, Cells: 48210, Steps: 143, Balance: session.Balance{InJ: 3.4 * endMin * 60, OutJ: 2.1 * endMin * 60, StoredJ: 1.3 * endMin * 60, ClosureRel: 2.1e-6}}
	rise := func(s, settle, tau float64) float64 { return ambient + (settle-ambient)*(1-math.Exp(-s/(tau*60))) }
	soc, cell, skin, front := session.Series{Name: "soc", Kind: "sensor", LimitK: trip}, session.Series{Name: "cell", Kind: "cell", LimitK: 333.15},
		session.Series{Name: "hand on plate.front", Kind: "skin", LimitK: 321.15}, session.Series{Name: "plate.front centre", Kind: "place"}
	for i := 0; i <= n; i++ {
		s := end.AtS * float64(i) / n
		r.TimeS = append(r.TimeS, s)
		soc.ValueK = append(soc.ValueK, rise(s, settleK, 12)+3*(1-math.Exp(-s/40)))
		cell.ValueK = append(cell.ValueK, rise(s, ambient+(settleK-ambient)*0.36, 26))
		skin.ValueK = append(skin.ValueK, rise(s, ambient+(settleK-ambient)*skinShare, 16))
		front.ValueK = append(front.ValueK, rise(s, ambient+(settleK-ambient)*(skinShare-0.04), 16))
		r.PowerW = append(r.PowerW, 3.4)
		r.BatteryJ = append(r.BatteryJ, 36000*(1-s/(66*60)))
	}
	front.ValueK[40] = math.NaN()
	if end.Kind == session.Stopped { // without power everything falls towards the ambient
		for i := 1; i <= 12; i++ {
			r.TimeS = append(r.TimeS, end.AtS+float64(30*i))
			for _, s := range []*session.Series{&soc, &cell, &skin, &front} {
				s.ValueK = append(s.ValueK, ambient+(s.ValueK[n]-ambient)*math.Exp(-float64(i)/8))
			}
			r.PowerW, r.BatteryJ = append(r.PowerW, 0), append(r.BatteryJ, r.BatteryJ[n])
		}
	}
	r.Series = []session.Series{soc, cell, skin, front}
	last := func(s session.Series) float64 { return s.ValueK[n] }
	limit := func(name, kind string, s session.Series, source string) session.Limit {
		l := session.Limit{Name: name, Kind: kind, LimitK: s.LimitK, HighestK: last(s), AtS: end.AtS, MarginK: s.LimitK - last(s), ReachedS: math.NaN(), SettleK: last(s) + 4, Source: source}
		if l.MarginK <= 0 {
			l.ReachedS = end.AtS
		}
		return l
	}
	r.Limits = []session.Limit{limit("soc stops", "trip", soc, "the file, learned"), limit("cell", "cell", cell, "common practice, no source"),
		limit("hand on plate.front", "skin", skin, "default for metal held over a minute")}
	r.Limits[1].SettleK = math.NaN()
	for _, name := range []string{"glue pad", "glue fins"} {
		r.Limits = append(r.Limits, session.Limit{Name: name, Kind: "glue", LimitK: 413.15, HighestK: last(soc) - 5, AtS: end.AtS, MarginK: 418.15 - last(soc), ReachedS: math.NaN(), SettleK: last(soc), Source: "maker's sheet"})
	}
	r.Nearest = 0
	for i, l := range r.Limits {
		if l.MarginK < r.Limits[r.Nearest].MarginK {
			r.Nearest = i
		}
	}
	r.Events = []session.Event{{AtS: 540, What: "soc passed 80 °C: power falls to 85 %"}, {AtS: end.AtS, What: endWords(end)}}
	r.Hottest = session.Outflow{Name: "plate.front", AreaM2: 0.0051, MeanK: last(front), HighestK: last(skin), HeatW: 1.1}
	r.Parts = []session.PartState{{Name: "shell", MeanK: last(front) - 3, HighestK: last(front), MassKg: 0.0312, CapacityJK: 43.7},
		{Name: "plate", MeanK: last(front), HighestK: last(skin), MassKg: 0.0248, CapacityJK: 22.2},
		{Name: "chip", MeanK: last(soc) + 1, HighestK: last(soc) + 2, MassKg: 0.00055, CapacityJK: 0.39, HeatW: 3.1},
		{Name: "cell", MeanK: last(cell), HighestK: last(cell) + 1, MassKg: 0.046, CapacityJK: 43, HeatW: 0.3}}
	skinK := last(front)
	r.Ledger = session.Ledger{AtS: end.AtS, PowerW: 3.4, StoredW: 0.42, SourceK: last(soc) + 2, AmbientK: ambient,
		Outflows: []session.Outflow{{Name: "shell.back", AreaM2: 0.0052, MeanK: skinK - 4, HighestK: skinK, HeatW: 0.84, ConvW: 0.41, RadW: 0.43, HWm2K: 4.6, Formula: "upright plate, natural"},
			{Name: "plate.front", AreaM2: 0.0051, MeanK: skinK, HighestK: last(skin), HeatW: 1.31, ConvW: 0.72, RadW: 0.59, HWm2K: 5.1, Formula: "upright plate, natural"},
			{Name: "shell.left", AreaM2: 0.0019, MeanK: skinK - 3, HighestK: skinK, HeatW: 0.33, ConvW: 0.18, RadW: 0.15},
			{Name: "shell.right", AreaM2: 0.0019, MeanK: skinK - 3, HighestK: skinK, HeatW: 0.33, ConvW: 0.18, RadW: 0.15},
			{Name: "key", AreaM2: 0.0001, MeanK: skinK - 2, HighestK: skinK, HeatW: 0.011, ConvW: 0.006, RadW: 0.005}, {Name: "socket", AreaM2: 0.0001, MeanK: skinK - 4, HighestK: skinK - 3, HeatW: 0.009, ConvW: 0.005, RadW: 0.004},
			{Name: "shell.top", AreaM2: 0.0012, MeanK: skinK - 2, HighestK: skinK, HeatW: 0.17, ConvW: 0.08, RadW: 0.09, Note: "in the plume of the faces below"}},
		Crossings: []session.Crossing{{A: "plate", B: "chip", Joint: "thermal pad", AreaM2: 256e-6, FlowW: -2.2, DropK: -14}, {A: "plate", B: "shell", Joint: "moulded on", AreaM2: 0.004, FlowW: 2.0, DropK: 0.6},
			{A: "sealed air", B: "shell", Joint: "air", AreaM2: 0.012, FlowW: 0.7}, {A: "cell", B: "shell", Joint: "tape", FlowW: nan, DropK: nan}},
		Path: []session.Leg{{Name: "chip", Kind: "source", DropK: 2, FlowW: 3.1}, {Name: "chip | plate (thermal pad)", Kind: "joint", DropK: (last(soc) - skinK) * 0.6, FlowW: 2.2},
			{Name: "plate", Kind: "part", DropK: (last(soc) - skinK) * 0.25, FlowW: 2.2}, {Name: "plate | shell (moulded on)", Kind: "joint", DropK: (last(soc) - skinK) * 0.15, FlowW: 2.0},
			{Name: "film on plate.front", Kind: "film", DropK: skinK - ambient, FlowW: 1.31}}}
	r.Section = inventedSection(last(soc)+1, last(cell), skinK, ambient, finsM)
	return r
}

// inventedStudy has a design of each kind: stopped, stopped later, battery empty, a limit passed, failed, and one of which
// nothing is known.
func inventedStudy() *compare.Study {
	sp := func(lo, mid, hi float64) compare.Spread { return compare.Spread{Lo: lo, Mid: mid, Hi: hi} }
	none := sp(nan, nan, nan)
	stock := inventedRun("stock", 366.15, 26, session.End{Kind: session.Stopped, By: "soc"}, 0.36, 0)
	bare := inventedRun("skin off", 366.15, 38, session.End{Kind: session.Stopped, By: "soc"}, 0.36, 0)
	fins := inventedRun("finned back", 344, 66, session.End{Kind: session.BatteryEmpty}, 0.36, 0.012)
	slab := inventedRun(`copper <b>slab</b> & "bare"`, 359, 41, session.End{Kind: session.LimitPassed, By: "hand on plate.front"}, 0.45, 0.004)
	slab.Own = session.End{Kind: session.BatteryEmpty, AtS: 66 * 60}
	slab.MarginMin = 0
	return &compare.Study{
		Device: "pocket direction finder", About: "a sealed, hand-held receiver; every figure here is made up", Invented: true,
		Conditions: "24 °C, still air, indoors, held upright", Mode: "tracking", BatteryMin: sp(62, 66, 71), AskedMin: 90, Draws: 40,
		Verdict: []string{"As it is, the device stops itself after 26 min (23 to 31), about 40 min before its battery is empty.",
			"The finned back lasts until the battery is empty in over 95 % of the draws.",
			"The copper slab would last as well, but a hand cannot hold it after 41 min."},
		Rows: []compare.Row{
			{Name: "stock", About: "as bought", Result: stock, Minutes: sp(23, 26.2, 31), EndKinds: map[session.EndKind]int{session.Stopped: 40}, Chance: 0,
				SkinC: sp(43, 45, 48), MarginK: sp(-0.4, -0.1, 0), WattLessMin: 21, WattLessW: 1, WattLessK: 17},
			{Name: "skin off", About: "rubber skin removed", Result: bare, Minutes: sp(31, 38, 52), EndKinds: map[session.EndKind]int{session.Stopped: 38, session.BatteryEmpty: 2}, Chance: 0.05,
				SkinC: sp(45, 48, 51), MarginK: sp(-0.3, 0, 0.2), MassAddedKg: -0.0112, WattLessMin: 28.4, WattLessW: 1, WattLessK: 16,
				Notes: []string{"joint 'skin-plate' dropped: its part is gone"}},
			{Name: "finned back", About: "plate faced, copper fins bonded on", Result: fins, Minutes: sp(61, 66, 71), EndKinds: map[session.EndKind]int{session.Stopped: 1, session.BatteryEmpty: 39}, Chance: 0.925,
				ChanceLo: 0.83, ChanceHi: 0.97, HeadroomK: sp(4, 8.6, 13), SureUpToC: 31.4, AirFromC: -1, AirToC: 49, Confirmed: 2, OffK: -0.3,
				Causes: []compare.Cause{{About: "heat of soc (tracking)", Share: 0.47, ShareSE: 0.05}, {About: "natural convection in channels, one factor for all", Share: 0.22, ShareSE: 0.05}},
				SkinC:  sp(40, 42, 45), MarginK: sp(4, 8.6, 13), MassAddedKg: 0.0873, WattLessMin: nan, WattLessW: 1, WattLessK: 11,
				Notes: []string{"facing the plate takes 0.3 mm off; 1.5 mm remain"}},
			{Name: `copper <b>slab</b> & "bare"`, Result: slab, Minutes: sp(33, 41, 58), EndKinds: map[session.EndKind]int{session.LimitPassed: 34, session.BatteryEmpty: 6}, Chance: 0.15,
				SkinC: sp(46, 49, 53), MarginK: sp(-4, -1.4, 2), MassAddedKg: 0.154, WattLessMin: 24, WattLessW: 1, WattLessK: 13},
			{Name: "fins on the shell", Failed: "part 'fins' sits on 'shell.front', which 'skin' covers completely; remove the skin first", Minutes: none, SkinC: none, MarginK: none,
				MassAddedKg: nan, WattLessMin: nan, WattLessK: nan, Chance: nan},
			{Name: "not known", Minutes: none, SkinC: none, MarginK: none, MassAddedKg: nan, WattLessMin: nan, WattLessK: nan, WattLessW: nan, Chance: nan,
				Result: &session.Result{Nearest: -1, AmbientK: nan, MarginMin: nan, End: session.End{AtS: nan}, TimeS: []float64{0, nan}, Balance: session.Balance{ClosureRel: nan, InJ: math.Inf(1), OutJ: nan, StoredJ: nan, SunJ: nan},
					Limits: []session.Limit{{Name: "soc stops", LimitK: nan, HighestK: nan, AtS: nan, MarginK: nan, ReachedS: nan, SettleK: math.Inf(1)}},
					Ledger: session.Ledger{AtS: nan, PowerW: nan, StoredW: nan, SourceK: nan, AmbientK: nan, Path: []session.Leg{{Name: "chip", Kind: "source", DropK: nan, FlowW: nan}},
						Outflows: []session.Outflow{{Name: "shell.back", MeanK: nan, HeatW: nan, ConvW: nan, RadW: math.Inf(1)}}}}},
		},
		Learned: inventedLearned(),
		Assumptions: []compare.Assumption{{About: "emissivity of shell", Value: "0.90 (0.85 to 0.95)", Source: "handbook value for plastics, from memory"},
			{About: "dry contact board | shell", Value: "200 W/(m² K) (60 to 700)", Source: "common practice, no source"},
			{About: "dry contact plate | shell", Value: "200 W/(m² K) (60 to 700)", Source: "common practice, no source"},
			{About: "finish of shell", Value: "plastic", Source: "our default for PC-ABS"}, {About: "finish of posts", Value: "plastic", Source: "our default for PC-ABS"},
			{About: "cell heat capacity", Value: "930 J/(kg K)", Source: "published mean for cells of this kind"}},
		Findings: []string{"10 Wh at 3.4 W would last 176 min, yet the battery is said to be empty after 66 min: is another load missing?",
			"The plate weighs 24.8 g on the scale and 27.1 g by volume: the file's thickness may include the <paint>."},
		Cautions: Cautions(Work{Cell: true, Glue: true, Cutting: true, Opened: true, Outside: true, SkinC: 49}),
	}
}

func inventedLearned() *learn.Result {
	return &learn.Result{
		Unknowns: []learn.Learned{
			{Path: "parts.chip.heat.tracking", About: "heat of chip, tracking", Dim: unit.Power.Name(), PriorLo: 3, PriorMid: 3.9, PriorHi: 5, Lo: 2.9, Mid: 3.1, Hi: 3.4, Narrowed: 0.76, Source: "the file"},
			{Path: "joints.chip-plate.conductance", About: "joint chip-plate", Dim: unit.FilmCoefficient.Name(), PriorLo: 300, PriorMid: 1700, PriorHi: 10000, Lo: 900, Mid: 1500, Hi: 2600, Narrowed: 0.55, Source: "pad of 1 mm, coverage unknown"},
			{Path: "sensors.soc.stops at", About: "soc stops at", Dim: unit.Temperature.Name(), PriorLo: 363.15, PriorMid: 366.15, PriorHi: 369.15, Lo: 363.9, Mid: 366.3, Hi: 368.8, Narrowed: 0.08, Source: "the file"},
			{Path: "parts.board.density", About: "density of board", Dim: unit.Density.Name(), PriorLo: 1900, PriorMid: 2400, PriorHi: 3000, Lo: 1900, Mid: 2390, Hi: 2990, Narrowed: 0.004, Source: "our estimate"},
			{Path: "parts.cell.heat", About: "heat of cell", Dim: unit.Power.Name(), PriorLo: 0.1, PriorMid: 0.2, PriorHi: 0.3, Lo: 0.1, Mid: 0.2, Hi: 0.3, Narrowed: 0.02, Source: "our estimate"},
			{Path: "parts.shell.<emissivity>", Dim: unit.Ratio.Name(), PriorLo: 0.85, PriorMid: 0.9, PriorHi: 0.95, Lo: nan, Mid: nan, Hi: nan, Narrowed: nan, Source: "handbook"},
		},
		Fits: []learn.Fit{{Run: "run 1", What: "stops after 20 to 30 min", Observed: "25 min (20 to 30)", Modelled: "26 min", Score: 0.3},
			{Run: "fan", What: "still running after 90 min", Observed: "at least 90 min", Modelled: "still running, 71 °C", Score: 0},
			{Run: "first afternoon", What: "plate.front centre at 20 min", Observed: "41 °C ± 1 K", Modelled: "44 °C", Score: 2.7},
			{Run: "first afternoon", What: "shell.back (log back) after 3 min", Observed: "26 °C", Modelled: "26.4 °C", Score: 0.4},
			{Run: "first afternoon", What: "shell.back (log back) after 6 min", Observed: "29 °C", Modelled: "28.2 °C", Score: -0.8},
			{Run: "first afternoon", What: "shell.back (log back) after 9 min", Observed: "31 °C", Modelled: "33.3 °C", Score: 2.3},
			{Run: "first afternoon", What: "shell.back (log back) after 12 min", Observed: "33 °C", Modelled: "33.9 °C", Score: 0.9},
			{Run: "odd", What: "nothing", Observed: dash, Modelled: dash, Score: nan}},
		Cause: &learn.Cause{Log10Odds: 2.4, Odds: "250 to one for heat", Reference: "run 1", ReferenceSeen: "stopped after 20 to 30 min",
			Runs: []learn.CauseRun{{Run: "fan", Seen: "still running after 90 min", ByHeat: "after 71 min or later, or never", Log10Odds: 3, Odds: "a thousand to one or more for heat"},
				{Run: "from a warm start", Seen: "stopped after 22 to 30 min", ByHeat: "after 15 min to 19 min", Log10Odds: -0.6, Odds: "4 to one against heat"}}},
		Warnings: []string{"The heat of chip and joint chip-plate can hardly be told apart: a reading on the plate would part them."},
		Status:   "converged", Iterations: 9, Runs: 143, Condition: 31, Cells: 21000, Silent: 12,
	}
}

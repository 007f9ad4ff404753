package report

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"finwright/internal/compare"
	"finwright/internal/learn"
	"finwright/internal/session"
)

// What is chosen, counted, drawn together and left out: nothing may get lost on the way, and what is left out must be dull.

func TestTaughtMost(t *testing.T) {
	u := func(name string, narrowed, mid float64) learn.Learned {
		return learn.Learned{About: name, PriorLo: 1, PriorMid: 2, PriorHi: 3, Lo: 1, Mid: mid, Hi: 3, Narrowed: narrowed}
	}
	for name, tc := range map[string]struct {
		all  []learn.Learned
		want string
		rest int
	}{
		"none":             {nil, "", 0},
		"three at least":   {[]learn.Learned{u("a", 0.01, 2), u("b", 0, 2), u("c", 0.02, 2), u("d", 0.015, 2)}, "c d a", 1},
		"most first":       {[]learn.Learned{u("a", 0.04, 2), u("b", 0.5, 2), u("c", 0.026, 2), u("d", 0.024, 2), u("e", 0.3, 2)}, "b e a c", 1},
		"moved, though":    {[]learn.Learned{u("a", 0.9, 2), u("b", 0.8, 2), u("c", 0.7, 2), u("d", 0, 2.5), u("e", 0, 2.1)}, "a b c d", 1},
		"unknown narrowed": {[]learn.Learned{u("a", nan, 2), u("b", 0, 2), u("c", 0, 2), u("d", 0.2, 2)}, "d b c", 1},
		"negative":         {[]learn.Learned{u("a", 0.2, 2), u("b", 0.1, 2), u("c", 0.1, 2), u("d", -0.1, 2)}, "a b c", 1},
	} {
		told, rest := taughtMost(tc.all)
		var got []string
		for _, x := range told {
			got = append(got, x.About)
		}
		if strings.Join(got, " ") != tc.want || rest != tc.rest {
			t.Errorf("%s: %v and %d more, want %s and %d", name, got, rest, tc.want, tc.rest)
		}
	}
}

func TestUntaughtWords(t *testing.T) {
	for _, tc := range []struct {
		rest, silent int
		want         string
	}{
		{0, 0, ""},
		{1, 0, "1 further doubtful figure stays as it was (narrowed by less than 3 %)."},
		{17, 25, "17 further doubtful figures stay as they were (narrowed by less than 3 %). The runs say nothing about 25 more."},
		{0, 2, "The runs say nothing about 2 more."},
	} {
		if got := untaughtWords(tc.rest, tc.silent); got != tc.want {
			t.Errorf("%d, %d: %q", tc.rest, tc.silent, got)
		}
	}
}

func TestFitsByRun(t *testing.T) {
	var fits []learn.Fit
	fits = append(fits, learn.Fit{Run: "a", What: "stops", Score: 0.2})
	for i, s := range []float64{0.1, -1.6, 0.4, 0.9} {
		fits = append(fits, learn.Fit{Run: "b", What: fmt.Sprintf("back (log) after %d min", 3*i), Observed: fmt.Sprint(i), Modelled: fmt.Sprint(-i), Score: s},
			learn.Fit{Run: "b", What: fmt.Sprintf("once after %d min", 9-i), Score: nan})
	}
	fits = append(fits, learn.Fit{Run: "a", What: "front after 2 min", Score: 1}, learn.Fit{Run: "a", What: "front after 4 min", Score: 2})
	got := fitsByRun(fits)
	var lines []string
	for _, r := range got {
		lines = append(lines, r.name)
		for _, l := range r.lines {
			lines = append(lines, fmt.Sprintf("- %s: %s / %s: %s", l.what, l.observed, l.modelled, l.scores()))
		}
	}
	want := []string{"a", "- stops:  / : +0.2", "- front after 2 min:  / : +1.0", "- front after 4 min:  / : +2.0",
		"b", "- back (log), 4 readings, worst after 3 min: 1 / -1: -1.6 (-1.6 to +0.9)",
		"- once after 9 min:  / : –", "- once after 8 min:  / : –", "- once after 7 min:  / : –", "- once after 6 min:  / : –"}
	if d := cmp.Diff(want, lines); d != "" {
		t.Error(d)
	}
}

// Lumping keeps the sums: area, heat by each way, and the mean temperature weighted by area.
func TestTellingOutflowsKeepsTheSums(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := &session.Ledger{}
		for i := range rapid.IntRange(0, 12).Draw(t, "n") {
			w := rapid.SampledFrom([]float64{-0.5, -0.001, 0, 0.001, 0.002, 0.3, 2}).Draw(t, "w")
			sun := rapid.SampledFrom([]float64{0, 0, 0.001, 1}).Draw(t, "sun")
			l.Outflows = append(l.Outflows, session.Outflow{Name: fmt.Sprint(i), AreaM2: 0.001 * float64(i+1), MeanK: 300 + float64(i), HighestK: 301 + float64(i), HeatW: w - sun, ConvW: w / 2, RadW: w / 2, SunW: sun})
		}
		sum := func(list []session.Outflow) (s [6]float64) {
			for _, o := range list {
				for i, x := range [6]float64{o.AreaM2, o.AreaM2 * o.MeanK, o.HeatW, o.ConvW, o.RadW, o.SunW} {
					s[i] += x
				}
			}
			return s
		}
		told := tellingOutflows(l)
		a, b := sum(l.Outflows), sum(told)
		for i := range a {
			if math.Abs(a[i]-b[i]) > 1e-9 {
				t.Fatalf("sum %d: %g becomes %g", i, a[i], b[i])
			}
		}
		for i := 1; i < len(told); i++ {
			if strings.Contains(told[i].Name, "other surface") != (i == len(told)-1 && len(told) < len(l.Outflows)) {
				t.Fatalf("the rest is not last: %v", told)
			}
		}
	})
}

func TestTellingCrossings(t *testing.T) {
	l := &session.Ledger{}
	for i := range 12 {
		w := float64(i) * 0.1
		x := session.Crossing{A: fmt.Sprint("a", i), B: fmt.Sprint("b", i), FlowW: w, DropK: 2 * w}
		if i%2 == 1 {
			x = session.Crossing{A: x.B, B: x.A, FlowW: -w, DropK: -2 * w}
		}
		l.Crossings = append(l.Crossings, x)
	}
	l.Crossings = append(l.Crossings, session.Crossing{A: "?", B: "?", FlowW: nan})
	got, rest := tellingCrossings(l)
	if len(got) != mostCrossings || rest != 12-mostCrossings { // the one without a figure is neither
		t.Fatalf("%d told, %d less", len(got), rest)
	}
	for k, x := range got {
		i := 11 - k
		if x.A != fmt.Sprint("a", i) || x.B != fmt.Sprint("b", i) || x.FlowW != float64(i)*0.1 || x.DropK != 2*x.FlowW {
			t.Errorf("place %d: %+v", k, x)
		}
	}
	if got := crossingDrop(session.Crossing{A: "sealed air 2", B: "shell"}); got != "in the air" {
		t.Errorf("air: %q", got)
	}
	if got := crossingDrop(session.Crossing{A: "chip", B: "board"}); got != "0.0 K" {
		t.Errorf("joint: %q", got)
	}
}

func TestTellingLimits(t *testing.T) {
	glue := func(margin, settleBelow float64) session.Limit {
		return session.Limit{Kind: "glue", LimitK: 400, MarginK: margin, SettleK: 400 - settleBelow}
	}
	for name, tc := range map[string]struct {
		limits []session.Limit
		told   int
		rest   string
	}{
		"none":              {nil, 0, ""},
		"near":              {[]session.Limit{{Kind: "trip", MarginK: 1}, glue(19, nan)}, 2, ""},
		"one far":           {[]session.Limit{{Kind: "trip", MarginK: 1}, glue(41, nan)}, 1, "1 glue line keeps 41 K to its limit."},
		"two far":           {[]session.Limit{{Kind: "trip", MarginK: 1}, glue(41, 35), glue(38, 30)}, 1, "2 glue lines keep 38 K or more to the limit."},
		"would come near":   {[]session.Limit{{Kind: "trip", MarginK: 1}, glue(41, 5)}, 2, ""},
		"not glue":          {[]session.Limit{{Kind: "trip", MarginK: 1}, {Kind: "cell", MarginK: 60}}, 2, ""},
		"margin not known":  {[]session.Limit{{Kind: "trip", MarginK: 1}, glue(nan, nan)}, 2, ""},
		"nearest is a glue": {[]session.Limit{glue(41, nan)}, 1, ""},
	} {
		told, rest := tellingLimits(&session.Result{Limits: tc.limits})
		if len(told) != tc.told || rest != tc.rest {
			t.Errorf("%s: %d told, %q", name, len(told), rest)
		}
	}
}

func TestRelativeDoubt(t *testing.T) {
	for value, want := range map[string]float64{"plastic": 0, "60 °C": 0, "0.9 (0.85 to 0.95)": 0.1 / 1.8, "250 W/(m² K) (80 to 900)": 820.0 / 980, "0 °C (-5 to 5)": 1,
		"stated (from 3 to 4 parts)": 0, "3 W (1.2.3 to 4)": 0} {
		if got := relativeDoubt(value); math.Abs(got-want) > 1e-12 {
			t.Errorf("%s: %g, want %g", value, got, want)
		}
	}
}

func TestAssumptionsAreGroupedWhole(t *testing.T) {
	list := []compare.Assumption{{About: "a", Value: "1 (0.9 to 1.1)", Source: "our estimate: from memory"}, {About: "b", Value: "1", Source: "our default"},
		{About: "c", Value: "1 (0.1 to 3)", Source: "[A table]"}, {About: "d", Value: "2 (1 to 3)", Source: "data sheets, from memory"}, {About: "e", Value: "3", Source: "common practice, no source"},
		{About: "f", Value: "3", Source: "our estimate"}}
	var got []string
	for _, g := range assumedGroups(list) {
		got = append(got, g.word)
		for _, a := range g.list {
			got = append(got, a.About)
		}
	}
	if d := cmp.Diff([]string{sourceKinds[0], "e", sourceKinds[1], "d", "a", sourceKinds[2], "f", sourceKinds[3], "b", sourceKinds[4], "c"}, got); d != "" {
		t.Error(d)
	}
	m := merged([]compare.Assumption{{About: "finish of x", Value: "p"}, {About: "h of x | y (press fit)", Value: "3"}, {About: "finish of z", Value: "p"}, {About: "finish of w", Value: "q"},
		{About: "h of y | z (press fit)", Value: "3"}, {About: "h of a | b (tape)", Value: "3"}, {About: "limit", Value: "3"}, {About: "limit", Value: "3"}})
	got = nil
	for _, a := range m {
		got = append(got, a.About+": "+a.Value)
	}
	if d := cmp.Diff([]string{"finish of x, z: p", "h of x | y, y | z (press fit): 3", "finish of w: q", "h of a | b (tape): 3", "limit: 3", "limit: 3"}, got); d != "" {
		t.Error(d)
	}
}

// A wide doubt must not squeeze the scale of minutes; it runs off the edge, with an arrow.
func TestMinutesRunOffTheScale(t *testing.T) {
	s := inventedStudy()
	before := longestMin(s)
	s.Rows[1].Minutes.Hi = 3600
	if got := longestMin(s); got != before {
		t.Errorf("the scale goes to %g min instead of %g", got, before)
	}
	var b strings.Builder
	if err := Terminal(&b, Style{}).Study(s); err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(b.String(), "→"); n != 1 {
		t.Errorf("%d arrows", n)
	}
}

func TestOwnEndIsTold(t *testing.T) {
	r := compare.Row{Result: &session.Result{End: session.End{Kind: session.LimitPassed, AtS: 1446, By: "hand"}, Own: session.End{Kind: session.BatteryEmpty, AtS: 7320}}}
	if got := ownWords(r); got != "device: battery empty at 122 min" {
		t.Errorf("%q", got)
	}
	r.Result.Own = r.Result.End
	if got := ownWords(r); got != "" {
		t.Errorf("same end told twice: %q", got)
	}
}

// The figures beside the curves are those at the end, not those after cooling down.
func TestEndIsBeforeCooling(t *testing.T) {
	r := inventedStudy().Rows[0].Result
	if got := endedS(r); got != 26*60 {
		t.Errorf("ends at %g s", got)
	}
	if got := curveLabel(r, r.Series[0]); got != "93 °C soc" {
		t.Errorf("label %q", got)
	}
	if last := lastFinite(r.Series[0].ValueK); !(last < 350) {
		t.Fatalf("no cooling in the data: %g K", last)
	}
}

func TestIntervalsStayTogether(t *testing.T) {
	for s, want := range map[string][]string{
		"46 °C (45 to 47) front": {"46 °C", "(45 to 47)", "front"},
		"(see 4 to 5)":           {"(see", "4", "to", "5)"},
		"+133 min":               {"+133 min"},
		"go (to 5)":              {"go", "(to", "5)"},
	} {
		if d := cmp.Diff(want, glued(s)); d != "" {
			t.Errorf("%s: %s", s, d)
		}
	}
	if got := together("46 °C (45 to 47)"); got != "46\u00a0°C (45\u00a0to\u00a047)" {
		t.Errorf("%q", got)
	}
}

// A word is cut only when nothing else gives way.
func TestTableCutsNoWordsWhileTextCanWrap(t *testing.T) {
	var b strings.Builder
	p := Terminal(&b, Style{Width: 72})
	p.table([]column{{head: "what", least: 10}, {head: "gain", least: 4}}, [][]cell{{c(strings.Repeat("some words ", 12)), c("+1234 min")}})
	if !strings.Contains(b.String(), "+1234 min") {
		t.Errorf("cut:\n%s", b.String())
	}
}

// Two unknowns of the same words, such as the ambient temperature of two runs, are told apart by where they stand in the file.
func TestUnknownsOfTheSameNameAreToldApart(t *testing.T) {
	u := learn.Learned{About: "ambient temperature", Path: "stock runs.one.ambient", Dim: "temperature", PriorLo: 290, PriorMid: 291, PriorHi: 292, Lo: 290, Mid: 291, Hi: 292, Narrowed: 0.2}
	v := u
	v.Path = "stock runs.two.ambient"
	var b strings.Builder
	if err := Terminal(&b, Style{Width: 200}).Learned(&learn.Result{Unknowns: []learn.Learned{u, v}}); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{u.Path, v.Path} {
		if !strings.Contains(b.String(), "ambient temperature ("+path+")") {
			t.Errorf("%s is not told in\n%s", path, b.String())
		}
	}
}

// The evidence for and against heat comes with what to do where it does not speak for it, in the terminal as on the page.
func TestCause(t *testing.T) {
	for _, tc := range []struct {
		log10      float64
		odds, does string
	}{
		{3, "a thousand to one or more for heat", ""},
		{0.6, "4 to one for heat", ""},
		{0.3, "2 to one for heat", "in front of a fan"},
		{-0.4, "3 to one against heat", "That decides nothing"},
		{-0.7, "5 to one against heat", "Before cutting metal, repeat a run that stopped, in front of a fan"},
		{-2, "100 to one against heat", "time limit, low voltage or a cracked joint"},
	} {
		e := &learn.Cause{Log10Odds: tc.log10, Odds: tc.odds, Reference: "first", ReferenceSeen: "stopped after 10 min",
			Runs: []learn.CauseRun{{Run: "wind", Seen: "stopped after 11 min", ByHeat: "never", Log10Odds: tc.log10, Odds: tc.odds}}}
		var b strings.Builder
		if err := Terminal(&b, Style{Width: 200}).Learned(&learn.Result{Cause: e}); err != nil {
			t.Fatal(err)
		}
		s := inventedStudy()
		s.Learned.Cause = e
		var page strings.Builder
		if err := HTML(&page, s); err != nil {
			t.Fatal(err)
		}
		for where, got := range map[string]string{"terminal": b.String(), "page": strings.Join(strings.Fields(page.String()), " ")} {
			for _, want := range []string{causeHead, "first", "stopped after 10 min", "wind", "stopped after 11 min", "never", "Together the runs speak " + tc.odds + ".", tc.does} {
				if !strings.Contains(got, want) {
					t.Errorf("%g, %s: no %q", tc.log10, where, want)
				}
			}
			if tc.does == "" && strings.Contains(got, "in front of a fan") {
				t.Errorf("%g, %s: advice that nobody needs", tc.log10, where)
			}
			if uneasy := strings.Contains(got, `<p class="warning">Together`); where == "page" && uneasy != (tc.log10 < 0) {
				t.Errorf("%g: told as a warning: %v", tc.log10, uneasy)
			}
		}
	}
	// without evidence the question is asked only where something stopped
	for what, asked := range map[string]bool{"stops": true, "still running": false} {
		var b, page strings.Builder
		s := inventedStudy()
		s.Learned = &learn.Result{Fits: []learn.Fit{{Run: "first", What: what}}}
		if err := Terminal(&b, Style{Width: 200}).Learned(s.Learned); err != nil {
			t.Fatal(err)
		}
		if err := HTML(&page, s); err != nil {
			t.Fatal(err)
		}
		for where, got := range map[string]string{"terminal": b.String(), "page": page.String()} {
			if strings.Contains(got, causeHead) != asked || strings.Contains(got, causeUntold) != asked || strings.Contains(got, "held against") {
				t.Errorf("a run that %s, %s:\n%s", what, where, got)
			}
		}
	}
}

// A figure that learning drives out of its interval is told, in the terminal and on the page.
func TestBeyond(t *testing.T) {
	u := func(name string, mid float64) learn.Learned {
		return learn.Learned{About: name, PriorLo: 1, PriorMid: 2, PriorHi: 3, Lo: mid - 0.1, Mid: mid, Hi: mid + 0.1, Narrowed: 0.8}
	}
	for _, tc := range []struct {
		all  []learn.Learned
		want string
	}{
		{[]learn.Learned{u("in", 1), u("edge", 3), u("none", nan)}, ""},
		{[]learn.Learned{u("in", 2), u("above", 3.01)}, "above: its most likely value lies outside"},
		{[]learn.Learned{u("below", 0.9), u("in", 2), u("above", 3.01)}, "below; above: their most likely values lie outside"},
	} {
		var b, page strings.Builder
		s := inventedStudy()
		s.Learned = &learn.Result{Unknowns: tc.all}
		if err := Terminal(&b, Style{Width: 300}).Learned(s.Learned); err != nil {
			t.Fatal(err)
		}
		if err := HTML(&page, s); err != nil {
			t.Fatal(err)
		}
		for where, got := range map[string]string{"terminal": b.String(), "page": page.String()} {
			if strings.Contains(got, "most likely value") != (tc.want != "") || !strings.Contains(got, tc.want) {
				t.Errorf("%s: no %q\n%s", where, tc.want, got)
			}
		}
	}
}

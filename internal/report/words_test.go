package report

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"finwright/internal/compare"
	"finwright/internal/session"
	"finwright/internal/unit"

	"pgregory.net/rapid"
)

func sscanHex(h string, r, g, b *int) (int, error) { return fmt.Sscanf(h, "#%02x%02x%02x", r, g, b) }

var nan = math.NaN()

func TestWords(t *testing.T) {
	S := func(lo, mid, hi float64) compare.Spread { return compare.Spread{Lo: lo, Mid: mid, Hi: hi} }
	for _, tc := range []struct{ got, want string }{
		{Minutes(S(23, 26, 31)), "26 min (23 to 31)"},
		{Minutes(S(4.2, 5.04, 6.3)), "5.0 min (4.2 to 6.3)"},
		{Minutes(S(176, 211, 263)), "210 min (180 to 260)"},
		{Minutes(S(90, 90, 90)), "90 min"},
		{Minutes(S(25.9, 26.1, 26.2)), "26 min"},
		{Minutes(S(nan, nan, nan)), dash},
		{Minutes(S(nan, 30, nan)), "30 min"},
		{Minutes(S(10, 30, math.Inf(1))), "30 min"},
		{Celsius(S(45.2, 47.4, 50.1)), "47 °C (45 to 50)"},
		{Margin(S(-6, -3.2, 0.4)), "-3 K (-6 to 0)"},
		{Margin(S(-0.02, -0.01, 0)), "0.0 K"},
		{Margin(S(-0.6, 0.4, 1.4)), "0.4 K (-0.6 to 1.4)"},
		{DegC(314.15), "41 °C"},
		{DegC(nan), dash},
		{Kelvins(-3.2), "-3 K"},
		{Kelvins(math.Inf(-1)), dash},
		{drop(0.04), "0.0 K"},
		{drop(9.96), "10 K"},
		{AtMinute(26.4 * 60), "26 min"},
		{AtMinute(273), "4.5 min"},
		{Watts(3.42), "3.4 W"},
		{Watts(0.254), "0.25 W"},
		{Watts(12.4), "12 W"},
		{Grams(0.0384), "38 g"},
		{Grams(0.0042), "4.2 g"},
		{Grams(nan), dash},
		{Chance(0.02, 40), "under 5 %"},
		{Chance(0.71, 40), "70 %"},
		{Chance(0.99, 40), "over 95 %"},
		{Chance(0.71, 1), dash},
		{endWords(session.End{Kind: session.Stopped, AtS: 1560, By: "soc"}), "stops itself at 26 min (soc)"},
		{endWords(session.End{}), dash},
		{drawsWords(map[session.EndKind]int{session.BatteryEmpty: 2, session.Stopped: 18}), "stops itself in 18 of 20, battery empty in 2 of 20"},
		{learnedWords(unit.Power.Name(), 3.512, 3.91, 4.307), "3.9 W (3.5 to 4.3)"},
		{learnedWords(unit.Temperature.Name(), 363.15, 366.15, 369.15), "93 °C (90 to 96)"},
		{learnedWords(unit.Ratio.Name(), 0.42, 0.6, 0.81), "0.6 (0.42 to 0.81)"},
		{learnedWords(unit.Power.Name(), nan, nan, nan), dash},
		{learnedWords("", 1, 2, 3), "2 (1 to 3)"},
		{wattLessGain(compare.Row{WattLessMin: 9.2}), "+9.2 min"},
		{wattLessCooler(compare.Row{WattLessK: 8.3}), "8 K cooler"},
		{wattLessCooler(compare.Row{WattLessK: -2}), "2 K hotter"},
		{wattLessCooler(compare.Row{WattLessK: nan}), ""},
		{wattLessGain(compare.Row{WattLessMin: nan, Result: &session.Result{End: session.End{Kind: session.BatteryEmpty}}}), "lasts anyway"},
		{wattLessGain(compare.Row{WattLessMin: nan}), dash},
		{upperFirst("über"), "Über"},
	} {
		if tc.got != tc.want {
			t.Errorf("got %q, want %q", tc.got, tc.want)
		}
	}
}

// Whatever comes in, no figure reads NaN, Inf or -0, and the printed middle is within half a step of the true one.
func TestFiguresAreAlwaysFigures(t *testing.T) {
	odd := rapid.OneOf(rapid.Float64Range(-1e6, 1e6), rapid.SampledFrom([]float64{nan, math.Inf(1), math.Inf(-1), -1e-12}))
	rapid.Check(t, func(t *rapid.T) {
		lo, mid, hi := odd.Draw(t, "lo"), odd.Draw(t, "mid"), odd.Draw(t, "hi")
		s := compare.Spread{Lo: lo, Mid: mid, Hi: hi}
		for _, text := range []string{Minutes(s), Celsius(s), Margin(s), DegC(lo), Kelvins(lo), drop(lo), Watts(lo), Grams(lo),
			AtMinute(lo), Chance(lo, 20), learnedWords(unit.Power.Name(), lo, mid, hi), learnedWords(unit.Temperature.Name(), lo, mid, hi), percent(lo)} {
			if strings.Contains(text, "NaN") || strings.Contains(text, "Inf") || strings.HasPrefix(text, "-0 ") || strings.HasPrefix(text, "-0.0 ") {
				t.Fatalf("%q from %g %g %g", text, lo, mid, hi)
			}
		}
		if finite(mid) && finite(lo) && finite(hi) && lo < hi {
			st := step(lo, hi, 0.1, 10)
			var back float64
			fmt.Sscan(figure(mid, st), &back)
			if math.Abs(back-mid) > st/2*(1+1e-9)+1e-9 {
				t.Fatalf("figure(%g, %g) = %q", mid, st, figure(mid, st))
			}
		}
	})
}

package app

import (
	"math"
	"testing"

	"finwright/internal/compare"
)

// What is decided about: what was asked for, else the likeliest of those in doubt, else the likeliest, stock last.
func TestToDecide(t *testing.T) {
	row := func(name string, chance, headroomK float64) compare.Row {
		r := compare.Row{Name: name, Chance: chance}
		r.HeadroomK.Mid = headroomK
		return r
	}
	failed := row("failed", 0.8, 3)
	failed.Failed = "it does not fit"
	for name, c := range map[string]struct {
		rows         []compare.Row
		design, want string
	}{
		"in doubt before clear":    {[]compare.Row{row("stock", 0.5, 0), row("sure", 1, 9), row("less", 0.3, -1), row("more", 0.7, 1)}, "", "more"},
		"all clear":                {[]compare.Row{row("stock", 0.5, 0), row("never", 0.02, -9), row("sure", 1, 4), row("surer", 1, 9)}, "", "surer"},
		"failed and without any":   {[]compare.Row{row("stock", 0.5, 0), failed, row("no draws", math.NaN(), 3), row("some", 0.2, -3)}, "", "some"},
		"only stock":               {[]compare.Row{row("stock", 0.5, 0)}, "", "stock"},
		"asked for":                {[]compare.Row{row("stock", 0.5, 0), row("sure", 1, 9), row("more", 0.7, 1)}, "sure", "sure"},
		"asked for, and not there": {[]compare.Row{row("stock", 0.5, 0)}, "sure", ""},
	} {
		got := ""
		if r := toDecide(&compare.Study{Rows: c.rows}, c.design); r != nil {
			got = r.Name
		}
		if got != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
}

package report

import (
	"fmt"
	"strings"
	"testing"

	"finwright/internal/advise"
)

// Each measurement on one line with its figures; what costs the same and tells of the same without telling more is only counted, as is what tells
// nothing.
func TestAdvice(t *testing.T) {
	ranked := func(what, tells string, effortM, part float64) advise.Ranked {
		return advise.Ranked{Measurement: advise.Measurement{What: what, Reads: "temperature", EffortM: effortM, Write: "write " + what}, Part: part, PartSE: 0.02, AfterK: 2.34, PerMinuteK: 0.0216,
			LoHi: "38 to 44 °C", Tells: tells}
	}
	a := &advise.Advice{Design: "fins", Mode: "low", Words: []string{"the advice"}, Ranked: []advise.Ranked{ranked("scale", "mass", 5, 0.4), ranked("back", "heat", 15, 0.3), ranked("aside", "heat", 15, 0.3), ranked("top", "heat", 15, 0.31),
		ranked("front", "joint", 15, 0.2), ranked("late", "heat", 35, 0.2), ranked("nothing", "paint", 1, 0.029)}}
	a.Ranked[1].Opened = true
	print := func(a *advise.Advice) string {
		var b strings.Builder
		if err := Terminal(&b, Style{Width: 300}).Advice(a); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	got := print(a)
	for what, want := range map[string]bool{"the advice": true, "scale": true, "back (open)": true, "aside": false, "top": true, "front": true, "late": true, "nothing": false, "2 more say no more": true,
		"40 ± 2 %": true, "± 2.3 K": true, "0.22 K": true, "38 to 44 °C": true, "in mode low": true, "write it into the file: write scale": true, "write back": false} {
		if strings.Contains(got, what) != want {
			t.Errorf("%q is there: %v\n%s", what, !want, got)
		}
	}
	a.Ranked = nil
	for i := range 40 {
		a.Ranked = append(a.Ranked, ranked(fmt.Sprint("place ", i), fmt.Sprint("cause ", i), 15, 0.1))
	}
	if got := print(a); strings.Count(got, "place ") != adviceRows+1 || !strings.Contains(got, "30 more say no more") { // one in what to write
		t.Error(got)
	}
	a.Ranked = a.Ranked[:1]
	a.Ranked[0].Part = 0
	if got := print(a); strings.Contains(got, "more say") || strings.Contains(got, "write it") {
		t.Error(got)
	}
	if got := print(&advise.Advice{Words: []string{"nothing to measure"}}); !strings.Contains(got, "nothing to measure") || strings.Contains(got, "measurement ") {
		t.Error(got)
	}
}

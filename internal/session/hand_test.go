package session

import (
	"fmt"
	"math"
	"testing"
)

// A hand is a sink and a limit at once: what lies in it loses heat to skin at 33 °C, and must not get hotter than may be worn, 43 °C
// on all materials (IEC 62368-1, more than 8 h; ISO 13732-1 gives the same for 8 h and longer).
func TestHandIsSinkAndLimit(t *testing.T) {
	const lump = `device: d
parts:
  body: {material: aluminium 6061, finish: black anodised, box: 40 x 80 x 15 mm, heat: 4 W}
conditions: {ambient: 25 °C, air: still%s}
`
	run := func(more string) *Result {
		return simulate(t, fmt.Sprintf(lump, more), Spec{UntilS: 7200})
	}
	free := run("")
	held := run(", rests on: [{face: body.back, what: hand, share: 70 %}]")
	var limit *Limit
	for i := range held.Limits {
		if held.Limits[i].Name == "where the hand holds it" {
			limit = &held.Limits[i]
		}
	}
	if limit == nil {
		t.Fatalf("no limit for the hand among %+v", held.Limits)
	}
	within(t, "limit", limit.LimitK, 43+zeroC, 1e-9)
	for i := range free.Limits {
		if free.Limits[i].Name == limit.Name {
			t.Error("a hand's limit without a hand")
		}
	}
	if held.End.Kind == LimitPassed && math.IsNaN(limit.ReachedS) {
		t.Errorf("%+v", held.End)
	}
	out := Outflow{}
	for _, o := range held.Ledger.Outflows {
		if o.Name == "body back, in the hand" {
			out = o
		}
	}
	// 70 % of 32 cm² at 1/(1/60 + 1/100) = 37.5 W/(m² K) against 33 °C, besides what the open rest gives to the air
	touch := 0.7 * 40 * 80e-6 * 37.5 * (out.MeanK - 33 - zeroC)
	near(t, "into the hand", out.HeatW-out.ConvW-out.RadW, touch, 1e-3)
	if !(held.Hottest.HighestK < free.Hottest.HighestK-2) {
		t.Errorf("hottest %g K in the hand, %g K without", held.Hottest.HighestK, free.Hottest.HighestK)
	}
}

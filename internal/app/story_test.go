package app

import (
	"context"
	"math"
	"testing"

	"finwright/internal/compare"
	"finwright/internal/session"
)

// The invented demo device must behave as real ones of its kind are known to (common practice, no source): palm-sized sealed
// devices stop after 20 to 30 minutes standing in still air and run far longer in an airflow; a sink inside the closed case is
// worth about a kelvin (three boards in closed cases, public test reports: 86.5 °C with, 87.0 to 88.1 °C without); with a
// bonded copper spreader outside the same device runs until the battery is empty, the hottest place at some 41 to 43 °C.
func TestDemoStory(t *testing.T) {
	if testing.Short() {
		t.Skip("learning and six 3-D runs take half a minute")
	}
	d, err := UnpackDemo(DemoOptions{Folder: t.TempDir(), Which: 1})
	if err != nil {
		t.Fatal(err)
	}
	const sink, fins = "sink inside the case", "finned copper back with keel"
	st, err := Compare(context.Background(), d.File, CompareOptions{Only: []string{sink, fins}, Draws: 2, Seed: 7}, nil)
	if err != nil {
		t.Fatal(err)
	}
	rows := map[string]*compare.Row{}
	for i := range st.Rows {
		rows[st.Rows[i].Name] = &st.Rows[i]
		if st.Rows[i].Result == nil {
			t.Fatalf("%s: %s", st.Rows[i].Name, st.Rows[i].Failed)
		}
	}
	stock := rows["stock"].Result
	if min := stock.End.AtS / 60; stock.End.Kind != session.Stopped || min < 20 || min > 30 {
		t.Errorf("stock: %s after %.1f min, want a stop after 20 to 30", stock.End.Kind, min)
	}
	for _, fit := range st.Learned.Fits {
		if math.Abs(fit.Score) > 2 {
			t.Errorf("%s, %s: seen %s, modelled %s", fit.Run, fit.What, fit.Observed, fit.Modelled)
		}
	}
	// the same device in an airflow of 5 m/s: the file's second run says it was still running after 90 minutes
	running := false
	for _, fit := range st.Learned.Fits {
		running = running || fit.Run == "on the bicycle" && fit.What == "still running" && fit.Score == 0
	}
	if !running {
		t.Error("in an airflow of 5 m/s it does not run on for 90 minutes")
	}
	if b := stock.Balance; !(b.ClosureRel < 1e-6) {
		t.Errorf("energy balance open by %g of the heat put in", b.ClosureRel)
	}
	atK := func(r *session.Result) float64 {
		k := 0
		for i, s := range r.TimeS {
			if s <= 20*60 {
				k = i
			}
		}
		return r.Series[0].ValueK[k]
	}
	if gain := atK(stock) - atK(rows[sink].Result); gain > 2 || gain < -2 {
		t.Errorf("the sink inside the case gains %.1f K after 20 min, want less than 2", gain)
	}
	finned := rows[fins].Result
	if finned.End.Kind != session.BatteryEmpty {
		t.Errorf("finned back: %s after %.0f min, want an empty battery", finned.End.Kind, finned.End.AtS/60)
	}
	if c := finned.Hottest.HighestK - 273.15; c < 38 || c > 46 {
		t.Errorf("finned back: hottest place to touch %.1f °C, want some 41 to 43", c)
	}
}

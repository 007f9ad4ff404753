package benchtest

import (
	"context"
	"math"
	"strings"
	"testing"

	"finwright/internal/model"
	"finwright/internal/session"
)

// The plan of the invented retrofit: what it must say whatever the figures are.
func TestPlan(t *testing.T) {
	s, err := Plan(context.Background(), parse(t, box), Options{Retrofit: "copper back", Fineness: small, Anchor: small, Seed: 7})
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Probes) != 3 || s.Probes[0].Body != "plate" {
		t.Fatalf("probes: %+v; the hottest place is on the plate that the post heats", s.Probes)
	}
	if s.MainBond == nil || s.MainBond.Name == "back bond" {
		t.Errorf("main bond %+v: the heat goes through the post, not through the plastic behind the plate", s.MainBond)
	}
	// with a bad post bond less heat comes to the plate and more to the rest: signs as in nature
	if !(s.Probes[0].FaultK < -1) || !(s.Probes[1].FaultK > 1) {
		t.Errorf("a bad %s shows as %.2f K on the plate and %.2f K at %s; want less there and more here", s.MainBond.Name, s.Probes[0].FaultK, s.Probes[1].FaultK, s.Probes[1].Words)
	}
	// every further probe tells more, none less
	for i := 1; i < 3; i++ {
		if s.Probes[i].AtSd < s.Probes[i-1].AtSd-1e-9 || s.Probes[i].AtSd < s.Probes[i].AloneSd-1e-9 {
			t.Errorf("probe %d: %.2f sd together after %.2f, %.2f alone: more readings cannot tell less", i+1, s.Probes[i].AtSd, s.Probes[i-1].AtSd, s.Probes[i].AloneSd)
		}
	}
	for _, b := range s.Bonds {
		switch {
		case b.Name == "back bond" && !math.IsInf(b.LeastFactor, 1):
			t.Errorf("a bad back bond would show from %.0f times on: it carries next to nothing", b.LeastFactor)
		case b.Name != "back bond" && !(b.LeastFactor < 20):
			t.Errorf("%s shows from %.0f times on only", b.Name, b.LeastFactor)
		}
		if !(b.LoWm2K < b.HWm2K && b.HWm2K < b.HiWm2K) {
			t.Errorf("%s: planned %g (%g to %g) has no doubt, though thickness and filler have", b.Name, b.HWm2K, b.LoWm2K, b.HiWm2K)
		}
	}
	if n := len(s.Table); n < 3 || n > 8 {
		t.Errorf("%d rows in the table", n)
	}
	for _, x := range s.Table {
		if !(x.Lo[0] < x.Fault[0]+20 && x.Lo[0] < x.Hi[0]) || x.Lo[0] < s.RoomK-3 {
			t.Errorf("row %+v", x)
		}
	}
	if !(s.CoolS > 600) || math.IsInf(s.CoolS, 1) {
		t.Errorf("cool after %g s", s.CoolS)
	}
	if !(s.LyingK > 0) {
		t.Errorf("lying on cloth (%s) cools it: %g K", s.LyingOn, s.LyingK)
	}
	if !(s.Room.WarmedK < 0.1) {
		t.Errorf("the room's probe is warmed by %g K", s.Room.WarmedK)
	}
}

// A pocket camera in a plastic frame at about 5 W stopped after 28 min in a room and was still running after 240 min in front of a strong
// household fan (public test report). A device of that kind, sizes usual for it, planned for both: the pair that would decide must say so.
const camera = `
device: pocket camera in a plastic frame
invented: true
parts:
  shell: {material: PC-ABS, box: 62 x 44 x 34 mm, wall: 1.6 mm}
  board: {material: populated board, box: 58.8 x 34 x 1.6 mm, at: 1.6 5 12 mm}
  chip: {material: silicon, plate: 12 x 12 mm, thickness: 1.2 mm, on: board.front, heat: 4 to 6 W}
  sink: {material: aluminium 6061, plate: 54 x 36 mm, thickness: 17.6 mm, on: chip.front, note: "heat sink, lens and frame in one, up against the front"}
  cell: {material: li-ion pouch cell, box: 40 x 30 x 8 mm, on: shell.inside back}
joints:
  sink pad: {between: [chip, sink], filler: thermal pad, thickness: 0.5 mm}
sensors:
  chip sensor: {at: chip, stops at: 70 to 85 °C}
conditions: {ambient: 24 °C, air: still}
`

// smallest cells, for runs of four hours.
var smallest = model.Fineness{TargetCells: 500, Across: 1, Rays: 1 << 9}

func TestStillAndFanDecide(t *testing.T) {
	s, err := Plan(context.Background(), parse(t, camera), Options{Fineness: smallest, Anchor: smallest, Seed: 7})
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Pairs) != 2 || s.Pairs[0].WindMS != 0 || s.Pairs[1].WindMS == 0 {
		t.Fatalf("pairs %+v", s.Pairs)
	}
	still, fan := s.Pairs[0], s.Pairs[1]
	t.Logf("still %s %.0f min, fan %s %.0f min; expected %+v", still.Kind, still.EndS/60, fan.Kind, fan.EndS/60, s.End)
	if still.Kind != session.Stopped {
		t.Errorf("still: %s", still.Kind)
	}
	if !(s.End.LoS/60 < 28 && s.End.HiS/60 > 28) {
		t.Errorf("still: stops after %.0f min (%.0f to %.0f); seen 28", s.End.S/60, s.End.LoS/60, s.End.HiS/60)
	}
	if fan.Kind != session.TimeOver || fan.EndS < 240*60-1 {
		t.Errorf("fan: %s after %.0f min; seen running after 240", fan.Kind, fan.EndS/60)
	}
}

// A bead on plastic whose wires leave it straight misses more than half of the rise, one on metal a few per cent (Hennecke & Sparrow's
// model, see package thermocouple); a run of 25 diameters is published practice against it (20 to 30 diameters of 36 gauge wire).
func TestFixings(t *testing.T) {
	for _, metal := range []bool{true, false} {
		list, err := fixings(metal, 20)
		if err != nil {
			t.Fatal(err)
		}
		run, up := list[len(list)-2], list[len(list)-1]
		if !(run.Share < up.Share/5) || run.Share <= 0 || up.Share >= 1 {
			t.Errorf("metal %v: wire run misses %.3f, wire up %.3f", metal, run.Share, up.Share)
		}
		if !metal && up.Share < 0.5 {
			t.Errorf("wire up on plastic misses %.2f; more than half is published", up.Share)
		}
		for _, f := range list {
			if math.Abs(f.LowK-20*f.Share) > 1e-12 || f.Source == "" {
				t.Errorf("%+v", f)
			}
		}
		if hole := strings.Contains(list[0].Way, "hole"); hole != metal {
			t.Errorf("a hole is for metal: %+v", list[0])
		}
	}
}

// The room's probe: a black sphere of 0.02 m² at 45 °C in a room of 25 °C seen from 0.3 m gives σ(318.15⁴-298.15⁴)·0.02/(4π·0.3²) =
// 133 · 0.01768 = 2.4 W/m² on the bead's disk (inverse square, by hand), so it warms by 2.4/(4·(52+6)) = 0.010 K.
func TestRoomProbe(t *testing.T) {
	p := roomProbe(0.02, 318.15, 298.15)
	scaled := p.WarmedK * p.AwayM * p.AwayM / 0.09
	if math.Abs(scaled-0.0101) > 0.0006 {
		t.Errorf("%+v: %.4f K at 0.3 m, by hand 0.0101", p, scaled)
	}
	if far := roomProbe(0.2, 400, 298); far.AwayM <= p.AwayM {
		t.Errorf("a hot, large body wants the probe further away: %+v", far)
	}
}

package grid

import (
	"math"
	"testing"

	"finwright/internal/part"
)

// A thin round can with a disk inside and a lens on top leaves cells whose active sliver no sample point hits. Every outer
// element must still have a distance.
func TestSliversHaveADistance(t *testing.T) {
	must := func(s part.Solid, err error) part.Solid {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	can := must(part.NewCan(part.Vec{}, 0.040, 0.090, 1, 0.0015))
	led := must(part.NewCylinder(part.Vec{0.010, 0.0855, 0.010}, 0.020, 0.003, 1))
	lens := must(part.NewCylinder(part.Vec{0, 0.090, 0}, 0.040, 0.003, 1))
	for _, opt := range []Options{{Across: 1, TargetCells: 6_000}, {Across: 2, TargetCells: 60_000}} {
		g, err := Build([]part.Solid{can, led, lens}, opt)
		if err != nil {
			t.Fatal(err)
		}
		if len(g.Exposed) == 0 {
			t.Fatal("nothing is exposed")
		}
		for _, e := range g.Exposed {
			if math.IsNaN(e.DistM) || math.IsNaN(e.Centre[0]) || !(e.AreaM2 > 0) {
				t.Fatalf("element without a place: %+v", e)
			}
		}
	}
}

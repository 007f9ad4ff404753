package ray

import (
	"math"
	"testing"

	"finwright/internal/grid"
	"finwright/internal/part"
)

var sides = [6]string{"left", "right", "bottom", "top", "back", "front"}

// shape is a device with its outer elements told apart by body, side, and whether a wall stands opposite within 30 mm.
type shape struct {
	g     *grid.Grid
	names []string
	lists [][]int
}

func read(t testing.TB, bodies []string, maxCellM float64, solids ...part.Solid) *shape {
	t.Helper()
	return readWith(t, bodies, grid.Options{MaxCellM: maxCellM, Across: 1}, solids...)
}

func readWith(t testing.TB, bodies []string, opt grid.Options, solids ...part.Solid) *shape {
	t.Helper()
	g, err := grid.Build(solids, opt)
	if err != nil {
		t.Fatal(err)
	}
	s := &shape{g: g}
	index := map[string]int{}
	for k := range g.Exposed {
		e := &g.Exposed[k]
		name := bodies[e.Body] + " " + sides[e.Side()]
		if gap, _, ok := g.FacingGap(e); ok && gap < 0.030 {
			name += ", facing a wall"
		}
		i, ok := index[name]
		if !ok {
			i = len(s.names)
			index[name] = i
			s.names, s.lists = append(s.names, name), append(s.lists, nil)
		}
		s.lists[i] = append(s.lists[i], k)
	}
	return s
}

func (s *shape) find(t testing.TB, name string) int {
	t.Helper()
	for i, n := range s.names {
		if n == name {
			return i
		}
	}
	t.Fatalf("no surface %q among %q", name, s.names)
	return -1
}

func (s *shape) areaM2(i int) float64 {
	sum := 0.0
	for _, k := range s.lists[i] {
		sum += s.g.Exposed[k].AreaM2
	}
	return sum
}

func must(s part.Solid, err error) part.Solid {
	if err != nil {
		panic(err)
	}
	return s
}

// box is in mm.
func box(x, y, z, dx, dy, dz float64) part.Solid {
	return must(part.NewBox(part.Vec{x * 1e-3, y * 1e-3, z * 1e-3}, part.Vec{dx * 1e-3, dy * 1e-3, dz * 1e-3}))
}

func near(t *testing.T, what string, got, want, rel float64) {
	t.Helper()
	if !(math.Abs(got-want) <= rel*math.Abs(want)) {
		t.Errorf("%s: %.6f, want %.6f (within %g of it)", what, got, want, rel)
	}
}

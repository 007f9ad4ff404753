package skin

import (
	"math"
	"strings"
	"testing"

	"finwright/internal/grid"
	"finwright/internal/part"
)

func solid(t *testing.T, s part.Solid, err error) part.Solid {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func read(t *testing.T, names []string, maxCellM float64, solids ...part.Solid) ([]Surface, *grid.Grid) {
	t.Helper()
	g, err := grid.Build(solids, grid.Options{MaxCellM: maxCellM, Across: 1})
	if err != nil {
		t.Fatal(err)
	}
	return Read(g, bodiesOf(names)), g
}

func bodiesOf(names []string) []Body {
	out := make([]Body, len(names))
	for i, n := range names {
		out[i].Name = n
	}
	return out
}

func find(t *testing.T, list []Surface, name string) *Surface {
	t.Helper()
	for i := range list {
		if list[i].Name == name {
			return &list[i]
		}
	}
	var names []string
	for _, s := range list {
		names = append(names, s.Name)
	}
	t.Fatalf("no surface %q among %s", name, strings.Join(names, "; "))
	return nil
}

func box(t *testing.T, x, y, z, dx, dy, dz float64) part.Solid {
	s, err := part.NewBox(part.Vec{x * 1e-3, y * 1e-3, z * 1e-3}, part.Vec{dx * 1e-3, dy * 1e-3, dz * 1e-3})
	return solid(t, s, err)
}

func TestSixSidesOfABox(t *testing.T) {
	list, _ := read(t, []string{"box"}, 5e-3, box(t, 0, 0, 0, 60, 90, 22))
	if len(list) != 6 {
		t.Fatalf("%d surfaces, want 6", len(list))
	}
	front := find(t, list, "box front")
	if math.Abs(front.AreaM2-60e-3*90e-3) > 1e-12 || front.Channel != nil {
		t.Errorf("front: %+v", front)
	}
	if front.SpanM != [3]float64{front.SpanM[0], front.SpanM[1], 0} || math.Abs(front.SpanM[0]-0.06) > 1e-12 || math.Abs(front.SpanM[1]-0.09) > 1e-12 {
		t.Errorf("front spans %v m", front.SpanM)
	}
}

// A fin block's wetted area is elementary geometry; its channel walls are what a person would measure.
func TestFinBlockChannels(t *testing.T) {
	fb, err := part.NewFinBlock(part.FinBlockParams{Min: part.Vec{}, BaseM: [2]float64{0.041, 0.060}, BaseThicknessM: 2e-3, Count: 6, HeightM: 0.025, FinThicknessM: 1e-3, Along: 1, OutAxis: 2, OutSign: 1})
	list, _ := read(t, []string{"fins"}, 3e-3, solid(t, fb, err))
	// 6 fins of 1 mm over 41 mm leave five gaps of 7 mm
	left := find(t, list, "fins left, facing a wall")
	if math.Abs(left.Channel.GapM-7e-3) > 1e-9 || math.Abs(left.Channel.DepthM-0.025) > 1e-9 {
		t.Errorf("gap %v m, depth %v m", left.Channel.GapM, left.Channel.DepthM)
	}
	if math.Abs(left.AreaM2-5*0.025*0.060) > 1e-9 {
		t.Errorf("channel walls on one side %v m², want %v", left.AreaM2, 5*0.025*0.060)
	}
	total := 0.0
	for i := range list {
		total += list[i].AreaM2
	}
	// closed form: outside of the envelope, plus both flanks of five channels, less nothing: bases and tips share the front
	want := 2*0.041*0.060 + 2*0.041*2e-3 + 2*0.060*2e-3 + 6*2*1e-3*0.025 + 6*2*0.025*0.060
	if math.Abs(total-want) > 1e-9 {
		t.Errorf("outer area %v m², want %v", total, want)
	}
}

func TestReadIsDeterministic(t *testing.T) {
	a, _ := read(t, []string{"a", "b"}, 4e-3, box(t, 0, 0, 0, 60, 90, 22), box(t, 10, 10, 22, 20, 20, 9))
	b, _ := read(t, []string{"a", "b"}, 4e-3, box(t, 0, 0, 0, 60, 90, 22), box(t, 10, 10, 22, 20, 20, 9))
	for i := range a {
		if a[i].Name != b[i].Name || a[i].AreaM2 != b[i].AreaM2 {
			t.Fatalf("%d: %+v against %+v", i, a[i], b[i])
		}
	}
}

package model

import (
	"context"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"finwright/internal/device"
	"finwright/internal/reduce"
)

// logger is an invented sealed box with a warm chip on a board: powers, a joint, a conductivity, a film and the motion of its air are
// in doubt.
const logger = `device: invented logger
materials:
  boards: {like: populated board, conductivity: 15 to 40 W/mK}
parts:
  case:  {material: PC-ABS, box: 60 x 90 x 26 mm, wall: 2.5 mm}
  board: {material: boards, box: 50 x 80 x 1.6 mm, on: case.inside back, heat: {on: 0.3 to 0.6 W}}
  chip:  {material: silicon, plate: 12 x 12 mm, thickness: 1.5 mm, on: board.front, heat: {on: 1.5 to 2.5 W}}
joints:
  solder: {between: [chip, board], conductance: 3000 to 12000 W/m2K}
mode: on
conditions: {ambient: 22 °C, air: still}
`

// trained is the logger's shape with a reduced model of it, over the whole of what the file does not know.
func trained(t *testing.T) (*Shape, *Draws, *reduce.Model) {
	t.Helper()
	f, err := device.Parse("logger.yaml", []byte(logger))
	if err != nil {
		t.Fatal(err)
	}
	s, err := NewShape(f, nil, Fineness{TargetCells: 1500, Across: 1, Rays: 1 << 10})
	if err != nil {
		t.Fatal(err)
	}
	draws, err := s.Draws(nil, "")
	if err != nil {
		t.Fatal(err)
	}
	rm, err := reduce.Train(context.Background(), draws, reduce.Options{UntilS: 3600, Pairs: 12, Checks: 4, Seed: 7})
	if err != nil {
		t.Fatal(err)
	}
	return s, draws, rm
}

// At values that it was never trained on, a reduced run is within 0.1 K of the 3-D run of the same values in every part's mean and
// highest temperature at all times, and the estimate made beforehand covers what it is off by.
func TestReducedAgainst3D(t *testing.T) {
	_, draws, rm := trained(t)
	rng := rand.New(rand.NewPCG(8, 8))
	for k := range 4 {
		z := make([]float64, len(draws.Unknowns()))
		for i := range z {
			z[i] = drawnScore * (2*rng.Float64() - 1)
		}
		d, err := draws.At(z)
		if err != nil {
			t.Fatal(err)
		}
		c, err := rm.Check(context.Background(), d, 3600, 0.03)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("draw %d: off by %.3f of %.1f K, %.3f K expected", k, c.OffK, c.RiseK, rm.EstimateK(c.ApartK))
		if c.RiseK < 10 || !(c.OffK <= 0.1) {
			t.Errorf("draw %d is off by %.3f K of %.1f K", k, c.OffK, c.RiseK)
		}
		if e := rm.EstimateK(c.ApartK); !(e >= c.OffK && e < 1) {
			t.Errorf("draw %d: %.3f K expected, off by %.3f K", k, e, c.OffK)
		}
	}
	values := draws.Values(make([]float64, len(draws.Unknowns())))
	if out := rm.Outside(values); len(out) != 0 {
		t.Errorf("the middle of all lies outside in %v", out)
	}
	for _, u := range rm.Ranges {
		if strings.Contains(u.Name, "chip") && strings.Contains(u.Name, "heat") {
			values[u.Name] = 1.01 * u.Hi
			if out := rm.Outside(values); len(out) != 1 || out[0] != u.Name {
				t.Errorf("with %s beyond its range, %v is said to be outside", u.Name, out)
			}
			return
		}
	}
	t.Error("the chip's heat is no unknown")
}

// A model of Partial has the numbers that Shape.At works out, wherever a reduced model reads them: powers, capacities, conductances,
// half cells, films and the conductances of sealed air; and its probes read a field that the modes can make as those of all cells do.
func TestPartial(t *testing.T) {
	s, draws, rm := trained(t)
	places := []string{"chip", "chip highest", "board", "board highest", "case", "case highest", "case.front centre"}
	p, err := s.Partial(rm, nil, "", places)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(9, 9))
	same := func(what string, got, want float64) {
		t.Helper()
		if !(math.Abs(got-want) <= 1e-9*math.Abs(want)) {
			t.Errorf("%s: %g, want %g", what, got, want)
		}
	}
	for range 3 {
		z := make([]float64, len(draws.Unknowns()))
		for i := range z {
			z[i] = drawnScore * (2*rng.Float64() - 1)
		}
		v := draws.Values(z)
		whole, err := s.At(v, nil, "")
		if err != nil {
			t.Fatal(err)
		}
		part, err := p.At(v)
		if err != nil {
			t.Fatal(err)
		}
		caps, faces := rm.Cells()
		for _, c := range caps {
			same("capacity", part.Heat.CapJK[c], whole.Heat.CapJK[c])
		}
		for _, f := range faces {
			of := func(m *Model) float64 { return [3][]float64{m.Heat.GX, m.Heat.GY, m.Heat.GZ}[f.Axis][f.Cell] }
			same("conductance", of(part), of(whole))
		}
		for i, w := range whole.FullPowerW() {
			same("power", part.FullPowerW()[i], w)
		}
		means := make([]float64, len(whole.Surfaces))
		for i := range means {
			means[i] = 300 + 3*float64(i)
		}
		for i := range whole.Surfaces {
			a, b := part.Heat.Surfaces[i], whole.Heat.Surfaces[i]
			same("half cell", a.HalfWK[0], b.HalfWK[0])
			same("film", a.Law.Film(means, i, 0).HWm2K, b.Law.Film(means, i, 0).HWm2K)
		}
		bodies := make([]float64, len(s.names))
		for i := range bodies {
			bodies[i] = 305 + 4*float64(i)
		}
		got, want := make([]float64, len(rm.AirFaces())), make([]float64, len(rm.AirFaces()))
		part.Air().Conductances(got, rm.AirFaces(), bodies)
		whole.Air().Conductances(want, rm.AirFaces(), bodies)
		for i := range want {
			same("conductance of air", got[i], want[i])
		}
		// a reduced run's field, read by few cells and by all
		st, err := rm.Stepper(reduce.Instance{Heat: part.Heat, Air: part.Air()}, 0.03)
		if err != nil {
			t.Fatal(err)
		}
		field := make([]float64, rm.N)
		for i := range field {
			field[i] = part.StartK
		}
		if err := st.Init(field, 0); err != nil {
			t.Fatal(err)
		}
		if err := st.SetPower(part.FullPowerW()); err != nil {
			t.Fatal(err)
		}
		for st.Time() < 3600 {
			if _, err := st.Advance(context.Background(), 3600); err != nil {
				t.Fatal(err)
			}
			for _, place := range places[:6] {
				few, err := part.Probe(place)
				if err != nil {
					t.Fatal(err)
				}
				all, err := whole.Probe(place)
				if err != nil {
					t.Fatal(err)
				}
				if a, b := few.Read(st.TK(), nil), all.Read(st.TK(), nil); math.Abs(a-b) > 0.01 {
					t.Errorf("%s after %.0f s: %.4f K by %d cells, %.4f K by all %d", place, st.Time(), a, len(few.Places), b, len(all.Places))
				}
			}
		}
	}
}

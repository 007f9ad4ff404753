package model

import (
	"context"
	"errors"
	"math"
	"testing"

	"finwright/internal/device"
	"finwright/internal/heat"
)

// small is fine enough for devices of a few plain boxes.
var small = Fineness{TargetCells: 1500, Across: 1}

func parse(t *testing.T, yaml string) *device.File {
	t.Helper()
	f, err := device.Parse("test.yaml", []byte(yaml))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func shapeOf(t *testing.T, yaml string, v device.Values) *Shape {
	t.Helper()
	s, err := NewShape(parse(t, yaml), v, small)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func build(t *testing.T, yaml string, v device.Values) *Model {
	t.Helper()
	m, err := shapeOf(t, yaml, v).At(v, nil, "")
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// steady is the settled field at the sources' full power.
func steady(t *testing.T, m *Model) ([]float64, Films) {
	t.Helper()
	powerW := make([]float64, len(m.Sources))
	for i := range powerW {
		powerW[i] = m.Sources[i].FullW
	}
	tK, _, err := heat.Steady(context.Background(), m.Heat, powerW, heat.Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return tK, m.Films(tK, 0)
}

func near(t *testing.T, what string, got, want, relTol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= relTol*math.Abs(want)) {
		t.Errorf("%s = %.8g, want %.8g within %.2g %%", what, got, want, relTol*100)
	}
}

func within(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.9g, want %.9g ± %.2g", what, got, want, tol)
	}
}

func read(t *testing.T, m *Model, place string, tK []float64, films Films) float64 {
	t.Helper()
	p, err := m.Probe(place)
	if err != nil {
		t.Fatal(err)
	}
	return p.Read(tK, films)
}

// even are the means of surfaces that are all equally warm.
func even(m *Model, tK float64) []float64 {
	out := make([]float64, len(m.Surfaces))
	for i := range out {
		out[i] = tK
	}
	return out
}

// filmAt is the film of surface i when all surfaces are equally warm.
func filmAt(m *Model, i int, tK float64) heat.Film {
	return m.Heat.Surfaces[i].Law.Film(even(m, tK), i, 0)
}

// describe is Describe with all surfaces equally warm.
func describe(t *testing.T, m *Model, i int, tK float64) Described {
	t.Helper()
	d, ok := m.Describe(i, even(m, tK))
	if !ok {
		t.Fatal("no formula on ", m.Surfaces[i].Name)
	}
	return d
}

func surfaceNamed(t *testing.T, m *Model, name string) int {
	t.Helper()
	for i := range m.Surfaces {
		if m.Surfaces[i].Name == name {
			return i
		}
	}
	for i := range m.Surfaces {
		t.Log("there is ", m.Surfaces[i].Name)
	}
	t.Fatalf("no surface %q", name)
	return -1
}

// refused gives the problems that reading or placing a file ends with.
func refused(t *testing.T, yaml string) device.Problems {
	t.Helper()
	f, err := device.Parse("test.yaml", []byte(yaml))
	if err == nil {
		var s *Shape
		if s, err = NewShape(f, nil, small); err == nil {
			_, err = s.At(nil, nil, "")
		}
	}
	var ps device.Problems
	if !errors.As(err, &ps) || len(ps) == 0 {
		t.Fatalf("error %v, want problems with their place", err)
	}
	return ps
}

const zeroC = 273.15

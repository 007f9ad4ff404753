package heat

import (
	"fmt"
	"math"

	"finwright/internal/linsolve"
)

// Model is a body cut into cells. Every cell slice has Grid.Cells() entries in
// the layout of linsolve.Grid.
type Model struct {
	linsolve.Grid
	CapJK      []float64 // heat capacity, J/K; 0 marks an inactive cell (no faces, sources or surfaces)
	GX, GY, GZ []float64 // conductance to the +x, +y, +z neighbour, W/K
	Sources    []Source
	Surfaces   []Surface
	// Refresh, if set, is called before a step with the temperatures that are to
	// be expected in it and may recompute GX, GY, GZ in place (radiation across sealed
	// air), on so many goroutines; it returns true when it changed anything. It must
	// not keep tK.
	Refresh func(tK []float64, workers int) bool
}

// Source puts power into cells.
type Source struct {
	Name  string
	Cells []int32
	Share []float64 // of the power, per cell; sums to 1
}

// Surface is a set of outer surface elements under one law. A cell may carry
// several elements, of one surface or of several.
type Surface struct {
	Name   string
	Cells  []int32
	AreaM2 []float64
	HalfWK []float64 // cell centre to element, W/K; +Inf puts the element at the centre
	Law    Law
}

// Film is what a surface does at one instant: the heat flux out of it at surface
// temperature Ts is
//
//	q = HWm2K·(Ts − RefK) − GainWm2      W/m²
//
// HWm2K = +Inf holds the surface at RefK (GainWm2 then plays no part); HWm2K = 0
// leaves the gain alone.
type Film struct{ HWm2K, RefK, GainWm2 float64 }

// Law gives the film of a surface from the area-weighted mean temperatures of all
// surfaces of the model, in their order, own being its own index, and the time. It
// must be a pure function: it is called several times per step, at times and
// temperatures of trial steps that may be thrown away. It must not keep meansK.
type Law interface {
	Film(meansK []float64, own int, tS float64) Film
}

// flux is the heat flux out of the surface at tsK, W/m²; only for finite HWm2K.
func (f Film) flux(tsK float64) float64 { return f.HWm2K*(tsK-f.RefK) - f.GainWm2 }

func (f Film) held() bool { return math.IsInf(f.HWm2K, 1) }

func (f Film) valid() bool {
	return f.HWm2K >= 0 && finite(f.RefK) && (f.held() || finite(f.GainWm2))
}

func finite(v float64) bool { return math.Abs(v) <= math.MaxFloat64 } // false for NaN

// check verifies everything that linsolve does not.
func (m *Model) check() error {
	if m.NX < 1 || m.NY < 1 || m.NZ < 1 {
		return &ModelError{"the grid needs at least one cell along each axis"}
	}
	n := m.Cells()
	if len(m.CapJK) != n || len(m.GX) != n || len(m.GY) != n || len(m.GZ) != n {
		return &ModelError{"CapJK, GX, GY and GZ must each hold one value per cell"}
	}
	active := false
	nx, nxy := m.NX, m.NX*m.NY
	for c, cap := range m.CapJK {
		if !(cap >= 0 && finite(cap)) {
			return &ModelError{fmt.Sprintf("the heat capacity of cell %d is %g J/K; it must be finite and not negative", c, cap)}
		}
		active = active || cap > 0
		for _, f := range [...]struct {
			g  float64
			nb int
		}{{m.GX[c], c + 1}, {m.GY[c], c + nx}, {m.GZ[c], c + nxy}} {
			if f.g > 0 && f.nb < n && (cap == 0 || m.CapJK[f.nb] == 0) {
				return &ModelError{fmt.Sprintf("cells %d and %d are joined but one of them has no heat capacity", c, f.nb)}
			}
		}
	}
	if !active {
		return &ModelError{"no cell has a heat capacity"}
	}
	for i := range m.Sources {
		s := &m.Sources[i]
		if len(s.Share) != len(s.Cells) || len(s.Cells) == 0 {
			return &ModelError{fmt.Sprintf("source %q needs cells and one share for each", s.Name)}
		}
		sum := 0.0
		for e, c := range s.Cells {
			if err := m.checkPlace("source", s.Name, c); err != nil {
				return err
			}
			if !(s.Share[e] >= 0) {
				return &ModelError{fmt.Sprintf("source %q has a share of %g", s.Name, s.Share[e])}
			}
			sum += s.Share[e]
		}
		if !(math.Abs(sum-1) <= 1e-9) {
			return &ModelError{fmt.Sprintf("the shares of source %q add up to %g, not to 1", s.Name, sum)}
		}
	}
	for i := range m.Surfaces {
		s := &m.Surfaces[i]
		if len(s.AreaM2) != len(s.Cells) || len(s.HalfWK) != len(s.Cells) || len(s.Cells) == 0 {
			return &ModelError{fmt.Sprintf("surface %q needs elements, each with cell, area and conductance", s.Name)}
		}
		if s.Law == nil {
			return &ModelError{fmt.Sprintf("surface %q has no law", s.Name)}
		}
		for e, c := range s.Cells {
			if err := m.checkPlace("surface", s.Name, c); err != nil {
				return err
			}
			if !(s.AreaM2[e] > 0 && finite(s.AreaM2[e])) || !(s.HalfWK[e] > 0) {
				return &ModelError{fmt.Sprintf("surface %q has an element of %g m² and %g W/K; both must be positive", s.Name, s.AreaM2[e], s.HalfWK[e])}
			}
		}
	}
	return nil
}

func (m *Model) checkPlace(kind, name string, c int32) error {
	if c < 0 || int(c) >= len(m.CapJK) {
		return &ModelError{fmt.Sprintf("%s %q names cell %d of %d", kind, name, c, len(m.CapJK))}
	}
	if m.CapJK[c] == 0 {
		return &ModelError{fmt.Sprintf("%s %q lies in cell %d, which has no heat capacity", kind, name, c)}
	}
	return nil
}

func (m *Model) checkPower(powerW []float64) error {
	if len(powerW) != len(m.Sources) {
		return &ModelError{fmt.Sprintf("%d powers for %d sources", len(powerW), len(m.Sources))}
	}
	for i, w := range powerW {
		if !finite(w) {
			return &ModelError{fmt.Sprintf("the power of source %q is not a finite number", m.Sources[i].Name)}
		}
	}
	return nil
}

func (m *Model) checkField(tK []float64) error {
	if len(tK) != len(m.CapJK) {
		return &ModelError{fmt.Sprintf("%d temperatures for %d cells", len(tK), len(m.CapJK))}
	}
	for c, t := range tK {
		if !finite(t) {
			return &ModelError{fmt.Sprintf("the temperature of cell %d is not a finite number", c)}
		}
	}
	return nil
}

// faces calls visit for each joined neighbour of cell c.
func (m *Model) faces(c int32, visit func(nb int32, gWK float64)) {
	nx, nxy, n := int32(m.NX), int32(m.NX*m.NY), int32(len(m.CapJK))
	if g := m.GX[c]; g > 0 && c+1 < n {
		visit(c+1, g)
	}
	if g := m.GY[c]; g > 0 && c+nx < n {
		visit(c+nx, g)
	}
	if g := m.GZ[c]; g > 0 && c+nxy < n {
		visit(c+nxy, g)
	}
	if c >= 1 && m.GX[c-1] > 0 {
		visit(c-1, m.GX[c-1])
	}
	if c >= nx && m.GY[c-nx] > 0 {
		visit(c-nx, m.GY[c-nx])
	}
	if c >= nxy && m.GZ[c-nxy] > 0 {
		visit(c-nxy, m.GZ[c-nxy])
	}
}

// addPower adds the sources' power to rhs.
func (m *Model) addPower(rhs, powerW []float64) {
	for i := range m.Sources {
		s, w := &m.Sources[i], powerW[i]
		if w == 0 {
			continue
		}
		for e, c := range s.Cells {
			rhs[c] += s.Share[e] * w
		}
	}
}

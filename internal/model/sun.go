package model

import (
	"fmt"
	"math"

	"finwright/internal/part"
	"finwright/internal/radiate"
	"finwright/internal/ray"
	"finwright/internal/skin"
	"finwright/internal/unit"
)

// sunShares are the ray.Lit of the shape's surfaces with the sun standing at dir. It depends on sizes only, so that learning,
// which builds many models on one shape and at the same time, marches the rays once.
func (s *Shape) sunShares(dir part.Vec) []float64 {
	s.seen.Lock()
	defer s.seen.Unlock()
	if lit, ok := s.seen.lit[dir]; ok {
		return lit
	}
	lit := ray.Lit(s.Grid, s.elements(), dir)
	s.seen.lit[dir] = lit
	return lit
}

// shine gives every surface in air the light it absorbs. What falls on a surface is
//
//	direct · lit share  +  sky light · view to the sky  +  ρ (direct · sine of the sun's height + sky light) · view to the ground
//
// with the device's own shadows and, after that, the reflections between its surfaces. ρ is what the ground reflects. A
// surface takes its part evenly. What lies on a support takes none. The sun stands where the file says or, of the directions
// above the horizon, where the device takes in most.
func (m *Model) shine(r *resolver, subs []substance, o *outer) error {
	u := &m.Under
	if u.SunWm2 <= 0 && u.SkyLightWm2 <= 0 {
		return nil
	}
	n := len(m.Surfaces)
	absorptance, open := make([]float64, n), make([]float64, n)
	for i := range m.Surfaces {
		absorptance[i] = subs[m.Surfaces[i].Body].sunAbsorbed
		if m.Surfaces[i].patch != nil {
			open[i] = 1
		}
		if l := m.Surfaces[i].support; l != nil {
			open[i] *= 1 - l.share
		}
	}
	absorbed := func(dir part.Vec) ([]float64, float64, error) {
		falls := make([]float64, n)
		high := math.Max(0, dot(dir, u.Up))
		ground := u.GroundReflects * (u.SunWm2*high + u.SkyLightWm2)
		var lit []float64
		if u.SunWm2 > 0 {
			lit = m.Shape.sunShares(dir)
		}
		for i := range falls {
			sky, floor := o.views.Share[i*(o.views.N+2)+o.views.N], o.views.Share[i*(o.views.N+2)+o.views.N+1]
			falls[i] = u.SkyLightWm2*sky + ground*floor
			if lit != nil {
				falls[i] += u.SunWm2 * lit[i]
			}
			falls[i] *= open[i]
		}
		w, err := radiate.Absorbed(o.areaM2, absorptance, o.views, falls)
		if err != nil {
			return nil, 0, err
		}
		sumW := 0.0
		for i := range w {
			if open[i] == 0 {
				w[i] = 0
			}
			sumW += w[i] * o.areaM2[i]
		}
		return w, sumW, nil
	}
	dir, why := u.SunFrom, "stated"
	if !u.SunKnown {
		why = "no direction is stated: the one, above the horizon, from which it takes in most"
		mostW := math.Inf(-1)
		for _, d := range sunStands {
			if dot(d, u.Up) < -1e-9 {
				continue
			}
			_, w, err := absorbed(d)
			if err != nil {
				return err
			}
			if w > mostW*(1+1e-9) || math.IsInf(mostW, -1) { // of equal ones the first, whatever the rounding
				dir, mostW = d, w
			}
		}
	}
	w, sumW, err := absorbed(dir)
	if err != nil {
		return err
	}
	for i := range w {
		if l := m.Surfaces[i].patch; l != nil {
			l.sunWm2 = w[i] / open[i] // of what a support leaves open, which alone takes it in
		}
	}
	r.decide("where the sun stands", directionWords(dir), why+"; the device takes in "+unit.Format(sumW, unit.Power))
	return nil
}

// sunStands are the directions tried for the worst: square on the six sides, on the edges between them and on the corners.
var sunStands = func() []part.Vec {
	var out []part.Vec
	for _, sides := range []int{1, 2, 3} {
		for z := -1; z <= 1; z++ {
			for y := -1; y <= 1; y++ {
				for x := -1; x <= 1; x++ {
					if x*x+y*y+z*z == sides {
						l := math.Sqrt(float64(sides))
						out = append(out, part.Vec{float64(x) / l, float64(y) / l, float64(z) / l})
					}
				}
			}
		}
	}
	return out
}()

// directionWords names a direction by the sides it looks to: "front", "front, top", or with its parts when it is not even.
func directionWords(d part.Vec) string {
	words, even := "", 0.0
	for side := range skin.Sides {
		if c := dot(d, skin.SideVec(side)); c > 1e-6 {
			if words != "" {
				words += " and "
			}
			words += skin.Sides[side]
			if even == 0 {
				even = c
			} else if math.Abs(c-even) > 1e-6 {
				even = math.NaN()
			}
		}
	}
	if math.IsNaN(even) {
		return fmt.Sprintf("x y z %.2f %.2f %.2f", d[0], d[1], d[2])
	}
	return words
}

package model

import (
	"sync"

	"finwright/internal/skin"
	"finwright/internal/unit"
)

// sunlit is what each of a shape's surfaces takes of a beam from one side, index-aligned with Shape.Surfaces. It depends on
// sizes only, so that learning, which builds many models on one shape and at the same time, marches the rays once.
type sunlit struct {
	once   sync.Once
	shares []float64
}

// sunShares are the skin.Lit of the shape's surfaces with the sun square on skin.Sides[side].
func (s *Shape) sunShares(side int) []float64 {
	l := &s.sunlit[side]
	l.once.Do(func() {
		l.shares = make([]float64, len(s.Surfaces))
		for i := range s.Surfaces {
			l.shares[i] = skin.Lit(s.Grid, &s.Surfaces[i], skin.SideVec(side))
		}
	})
	return l.shares
}

// shine gives every surface in air its part of the direct sun,
//
//	absorbed W/m² = sun absorbed · sun W/m² · lit share,
//
// with the device's own shadows. A surface takes its part evenly. What lies on a support takes none. The sun stands square on
// the stated side, or on the one from which the device takes in most.
func (m *Model) shine(r *resolver, subs []substance) {
	u := &m.Under
	if u.SunWm2 <= 0 {
		return
	}
	absorbedW := func(side int) (w float64) {
		for i, share := range m.Shape.sunShares(side) {
			if f := &m.Surfaces[i]; f.patch != nil {
				w += subs[f.Body].sunAbsorbed * u.SunWm2 * share * f.AreaM2
			}
		}
		return w
	}
	side, why := u.SunSide, "stated"
	if side < 0 {
		side, why = 0, "no side is stated: the one that takes in most"
		most := absorbedW(0)
		for k := 1; k < len(skin.Sides); k++ {
			if w := absorbedW(k); w > most*(1+1e-9) { // of equal ones the first, whatever the rounding
				side, most = k, w
			}
		}
	}
	for i, share := range m.Shape.sunShares(side) {
		if f := &m.Surfaces[i]; f.patch != nil {
			f.patch.sunWm2 = subs[f.Body].sunAbsorbed * u.SunWm2 * share
		}
	}
	r.decide("side the sun stands on", skin.Sides[side], why+"; the device takes in "+unit.Format(absorbedW(side), unit.Power))
}

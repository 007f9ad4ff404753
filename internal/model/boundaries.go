package model

import (
	"fmt"
	"math"
	"strings"

	"finwright/internal/device"
	"finwright/internal/heat"
	"finwright/internal/radiate"
)

// fixedLaw is a stated film, temperature or flux; swing makes its reference a sine in time.
type fixedLaw struct {
	hWm2K, refK, gainWm2 float64
	emissivity           float64 // adds radiation to refK
	swingK, periodS      float64
}

// Film makes fixedLaw a heat.Law.
func (l *fixedLaw) Film(meansK []float64, own int, tS float64) heat.Film {
	f := heat.Film{HWm2K: l.hWm2K, RefK: l.refK, GainWm2: l.gainWm2}
	if l.periodS > 0 {
		f.RefK += l.swingK * math.Sin(2*math.Pi*tS/l.periodS)
	}
	if l.emissivity > 0 {
		f.HWm2K += radiate.RadiativeCoefficient(l.emissivity, meansK[own], f.RefK)
	}
	return f
}

// boundaries applies the file's boundary statements; what they leave out is adiabatic.
func (m *Model) boundaries(r *resolver) error {
	s, g, f := m.Shape, m.Shape.Grid, m.Shape.File
	taken := make([]bool, len(g.Exposed))
	// patches first, so that a patch wins over the face it lies on
	for _, patches := range []bool{true, false} {
		for i := range f.Boundaries {
			b := &f.Boundaries[i]
			if (len(b.Patch) > 0) != patches {
				continue
			}
			bad := func(what string) error {
				return device.Problems{f.Problem(b.Pos, fmt.Sprintf("boundary %q: %s", b.Name, what), "", "")}
			}
			body, side, hasSide := strings.Cut(b.Face, ".")
			bi, ok := s.index[body]
			if !ok {
				return bad(fmt.Sprintf("there is no part %q", body))
			}
			out := Surface{Name: b.Name, Body: bi, Side: sideIndex(side), Boundary: b.Name, Reach: true}
			for ei := range g.Exposed {
				e := &g.Exposed[ei]
				if taken[ei] || int(e.Body) != bi {
					continue
				}
				if hasSide && e.Side() != out.Side {
					continue
				}
				if patches {
					box, face, err := s.patchBox(b, r.values)
					if err != nil {
						return bad(err.Error())
					}
					if !elementOnPatch(e, box, face) {
						continue
					}
				}
				taken[ei] = true
				out.Elements = append(out.Elements, ei)
			}
			if len(out.Elements) == 0 {
				return bad(fmt.Sprintf("no outer face of the device is %q", b.Face))
			}
			area := 0.0
			for _, ei := range out.Elements {
				area += g.Exposed[ei].AreaM2
			}
			law, err := r.boundaryLaw(b, area)
			if err != nil {
				return bad(err.Error())
			}
			out.law = law
			m.addSurface(out)
		}
	}
	return nil
}

// boundaryLaw is a boundary statement as a law.
func (r *resolver) boundaryLaw(b *device.Boundary, areaM2 float64) (*fixedLaw, error) {
	l := &fixedLaw{}
	if b.Ambient.Given() {
		l.refK = r.stated(b.Ambient, b.Name+" ambient")
	}
	switch {
	case b.Temperature.Given():
		l.hWm2K, l.refK = math.Inf(1), r.stated(b.Temperature, b.Name+" temperature")
		if b.Swing.Given() {
			l.swingK, l.periodS = r.stated(b.Swing, b.Name+" swing"), r.stated(b.Period, b.Name+" period")
		}
	case b.Film.Given():
		l.hWm2K = r.stated(b.Film, b.Name+" film")
	case b.Resistance.Given():
		l.hWm2K = 1 / r.stated(b.Resistance, b.Name+" surface resistance")
	}
	if b.Emissivity.Given() {
		l.emissivity = r.stated(b.Emissivity, b.Name+" emissivity")
	}
	if b.Flux.Given() {
		l.gainWm2 = r.stated(b.Flux, b.Name+" flux")
	}
	if b.Power.Given() {
		l.gainWm2 += r.stated(b.Power, b.Name+" power") / areaM2
	}
	if l.hWm2K == 0 && l.emissivity == 0 && l.gainWm2 == 0 && !b.Flux.Given() && !b.Power.Given() {
		return nil, fmt.Errorf("it states nothing: give a film, a temperature, a flux, a power or 'radiates'")
	}
	if (b.Film.Given() || b.Resistance.Given() || b.Emissivity.Given()) && !b.Ambient.Given() && !b.Temperature.Given() {
		return nil, fmt.Errorf("a film or radiation needs 'ambient'")
	}
	return l, nil
}

package model

import (
	"fmt"
	"math"
	"strings"

	"finwright/internal/device"
	"finwright/internal/heat"
	"finwright/internal/part"
	"finwright/internal/skin"
	"finwright/internal/surface"
	"finwright/internal/unit"
)

// patchLaw is a surface in air: the published correlation that fits it, and radiation, both at film temperature.
type patchLaw struct {
	patch  surface.Patch
	env    surface.Env
	factor float64 // common factor on convection: the correlations' published scatter
	sunWm2 float64 // sunlight absorbed
}

// Film makes patchLaw a heat.Law.
func (l *patchLaw) Film(meansK []float64, own int, tS float64) heat.Film {
	f := l.patch.Film(meansK[own], &l.env)
	hc := f.ConvWm2K * l.factor
	h := hc + f.RadWm2K
	return heat.Film{HWm2K: h, RefK: (hc*l.env.AirK + f.RadWm2K*l.env.RadiantK) / h, GainWm2: l.sunWm2}
}

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
		f.HWm2K += surface.RadiativeCoefficient(l.emissivity, meansK[own], f.RefK)
	}
	return f
}

// naturalScatter is the published scatter of the natural-convection correlations, as a common factor on all surfaces: some
// ±15 % for small bodies (Churchill & Chu 1975 on plates; Yovanovich 1987 on cuboids).
var naturalScatter = unit.Quantity{Dim: unit.Ratio, Kind: unit.Spread, Mid: 1, Lo: 0.85, Hi: 1.15}

// ownHeatDefault is the cell's own loss as a share of the power drawn.
var ownHeatDefault = unit.Quantity{Dim: unit.Ratio, Kind: unit.Range, Mid: 0.035, Lo: 0.02, Hi: 0.06}

// outside gives every exposed element a law: the file's boundaries, where there are any (all else is then adiabatic);
// otherwise what it rests on, and the formulas for air.
func (m *Model) outside(r *resolver, subs []substance) error {
	if len(m.Shape.File.Boundaries) > 0 {
		return m.boundaries(r)
	}
	s := m.Shape
	u := &m.Under
	up := u.up()
	factor := r.value("convection.factor", "scatter of the convection formulas, one factor for all surfaces", "published scatter of small-body natural convection, ±15 %", naturalScatter, false)
	// the envelope, without the flanks of fins
	x, y, z := extent(s.Grid.X), extent(s.Grid.Y), extent(s.Grid.Z)
	bodyArea := 2 * (x*y + y*z + z*x)
	restBody, restSide := -1, -1
	if u.RestsFace != "" {
		name, side, _ := strings.Cut(u.RestsFace, ".")
		b, ok := s.index[name]
		if ok {
			restBody, restSide = b, sideIndex(side)
		} else {
			r.decide("what it rests on", "nothing", fmt.Sprintf("%s is not there in this design", u.RestsFace))
		}
	}
	for i := range s.Surfaces {
		sk := &s.Surfaces[i]
		out := Surface{Name: sk.Name, Body: sk.Body, Side: sk.Side, Elements: sk.Elements, Reach: !sk.Channel}
		if sk.Body == restBody && sk.Side == restSide {
			h, ref := supportFilm(u.RestsWhat, sk.AreaM2, u.AirK)
			out.Name += ", on " + u.RestsWhat
			out.law = &fixedLaw{hWm2K: h, refK: ref}
			out.Reach = false
			r.decide(out.Name, fmt.Sprintf("%.1f W/m²K", h), "half-space under the face's area, conductivity from memory; contact: common practice, no source")
			m.addSurface(out)
			continue
		}
		law := &patchLaw{factor: factor}
		law.patch = patchOf(sk, up, &subs[sk.Body], bodyArea)
		law.env = surface.Env{AirK: u.AirK, RadiantK: u.RadiantK, PressurePa: u.PressurePa, WindMS: u.WindMS}
		out.law, out.patch = law, law
		m.addSurface(out)
	}
	m.shine(r, subs)
	return nil
}

// patchOf is what the surface formulas ask of a surface, for one posture.
func patchOf(sk *skin.Surface, up part.Vec, sub *substance, bodyArea float64) surface.Patch {
	tilt := math.Acos(math.Max(-1, math.Min(1, dot(sk.Normal, up))))
	// the run along gravity within the surface, and the extent across it
	upAxis := 0
	for a := range up {
		if math.Abs(up[a]) > 0.5 {
			upAxis = a
		}
	}
	height := sk.SpanM[upAxis]
	width := 0.0
	for a, v := range sk.SpanM {
		if a != upAxis {
			width = math.Max(width, v)
		}
	}
	if sk.Side/2 == upAxis { // faces up or down: its two in-plane extents
		var in [2]float64
		n := 0
		for a, v := range sk.SpanM {
			if a != upAxis {
				in[n] = v
				n++
			}
		}
		height, width = math.Min(in[0], in[1]), math.Max(in[0], in[1])
	}
	return surface.Patch{
		Name: sk.Name, AreaM2: sk.AreaM2, TiltRad: tilt, HeightM: height, WidthM: width,
		GapM: sk.GapM, GapDepthM: sk.GapDepthM, BodyAreaM2: bodyArea,
		Emissivity: sub.emissivity, ViewOut: sk.ViewOut, SolarAbsorptance: sub.sunAbsorbed,
	}
}

func dot(a, b part.Vec) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

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

package model

import (
	"fmt"

	"finwright/internal/heat"
	"finwright/internal/radiate"
	"finwright/internal/surface"
	"finwright/internal/unit"
)

// outer is what all surfaces in air have in common: the air, the radiation between them and what they see around. Rows of
// views are indices into Shape.Surfaces, which are those into Model.Surfaces too: a device in air has no others.
type outer struct {
	env      surface.Env
	views    *radiate.Views
	exchange *radiate.Exchange
	areaM2   []float64
	farK     [2]float64 // sky, ground: the far columns of views
}

// patchLaw is a surface in air: the published relation that fits it, at film temperature, and its exchange of radiation with
// the other surfaces and the surroundings.
type patchLaw struct {
	patch  surface.Patch
	outer  *outer
	before []float64 // per surface: share in the mean of what the air has passed before it gets here; nil when that is nothing
	sunWm2 float64   // light absorbed
}

// Film makes patchLaw a heat.Law.
func (l *patchLaw) Film(meansK []float64, own int, tS float64) heat.Film {
	hc := l.patch.Film(meansK[own], l.upstreamK(meansK, own), &l.outer.env).ConvWm2K
	hr, radK := l.outer.radiation(meansK, own)
	h := hc + hr
	return heat.Film{HWm2K: h, RefK: (hc*l.outer.env.AirK + hr*radK) / h, GainWm2: l.sunWm2}
}

// upstreamK is the mean temperature of the surfaces that the air passes before it reaches surface own: those that lie lower.
func (l *patchLaw) upstreamK(meansK []float64, own int) float64 {
	if l.before == nil {
		return meansK[own]
	}
	sum := 0.0
	for i, w := range l.before {
		sum += w * meansK[i]
	}
	return sum
}

// radiation is the coefficient of surface own's net loss by radiation and the temperature it goes with: the loss is
// hWm2K·(T − refK), exactly
//
//	Σ_j 𝓕A_ij σ (T_i⁴ − T_j⁴) / A_i      j: other surfaces, sky, ground
func (o *outer) radiation(meansK []float64, own int) (hWm2K, refK float64) {
	n, t := o.views.N, meansK[own]
	for j, a := range o.exchange.Row(own) {
		if j == own || a == 0 {
			continue
		}
		tj := 0.0
		if j < n {
			tj = meansK[j]
		} else {
			tj = o.farK[j-n]
		}
		h := a * radiate.StefanBoltzmann * (t*t + tj*tj) * (t + tj)
		hWm2K += h
		refK += h * tj
	}
	if hWm2K == 0 {
		return 0, t
	}
	return hWm2K / o.areaM2[own], refK / hWm2K
}

// The published scatter of the relations for outer surfaces, each as one common factor on all surfaces that use them.
var (
	facesScatter    = scatter(surface.FaceLaw.ScatterFrac)
	channelsScatter = scatter(surface.UChannelLaw.ScatterFrac)
	forcedScatter   = scatter(surface.BodyForcedLaw.ScatterFrac)
)

func scatter(frac float64) unit.Quantity {
	return unit.Quantity{Dim: unit.Ratio, Kind: unit.Spread, Mid: 1, Lo: 1 - frac, Hi: 1 + frac}
}

// factors are the common factors of the relations that the surfaces use under these conditions.
func (m *Model) factors(r *resolver) surface.Factors {
	channels := false
	for i := range m.Shape.Surfaces {
		channels = channels || m.Shape.Surfaces[i].Channel != nil
	}
	pick := func(path, about string, law *surface.Law, q unit.Quantity) float64 {
		return r.value("convection."+path, about, fmt.Sprintf("published scatter of %s, ±%.0f %%", law.Name, 100*law.ScatterFrac), q, false)
	}
	var f surface.Factors
	f.Faces = pick("faces", "natural convection from faces, one factor for all", &surface.FaceLaw, facesScatter)
	if channels {
		f.Channels = pick("channels", "natural convection in channels, one factor for all", &surface.UChannelLaw, channelsScatter)
	}
	if m.Under.WindMS > 0 {
		f.Forced = pick("forced", "forced convection, one factor for all", &surface.BodyForcedLaw, forcedScatter)
	}
	return f
}

// outside gives every exposed element a law: the file's boundaries, where there are any (all else is then adiabatic);
// otherwise what it rests on, and the formulas for air.
func (m *Model) outside(r *resolver, subs []substance) error {
	if len(m.Shape.File.Boundaries) > 0 {
		return m.boundaries(r)
	}
	s, u := m.Shape, &m.Under
	n, posture := len(s.Surfaces), s.postureFor(u.Up)
	o := &outer{views: posture.views, areaM2: make([]float64, n), farK: [2]float64{u.SkyK, u.GroundK}}
	o.env = surface.Env{AirK: u.AirK, PressurePa: u.PressurePa, WindMS: u.WindMS, Factor: m.factors(r)}
	if u.WindMS > 0 && u.WindKnown {
		o.env.WindKnown, o.env.WindRise = true, -dot(u.WindFrom, u.Up)
	}
	emissivity := make([]float64, n)
	for i := range s.Surfaces {
		o.areaM2[i], emissivity[i] = s.Surfaces[i].AreaM2, subs[s.Surfaces[i].Body].emissivity
	}
	var err error
	if o.exchange, err = radiate.NewExchange(o.areaM2, emissivity, o.views); err != nil {
		return err
	}
	if posture.stray > 0.005 {
		r.decide("radiation between surfaces", fmt.Sprintf("%.1f %% of the rays ended on no surface", 100*posture.stray), "round parts cut into very many cells; views to what they see are off by as much: fewer cells ('largest cell') help")
	}
	body := s.envelope(u)
	rests := m.rests(r)
	for i := range s.Surfaces {
		sk := &s.Surfaces[i]
		law := &patchLaw{patch: patchOf(sk, u, body), outer: o, before: posture.before[i]}
		out := Surface{Name: sk.Name, Body: sk.Body, Side: sk.Side, Elements: sk.Elements, Reach: sk.Reach, law: law, patch: law}
		if rest, ok := rests[i]; ok {
			m.restOn(&out, law, rest, sk.AreaM2, r)
		}
		m.addSurface(out)
	}
	return m.shine(r, subs, o)
}

package model

import (
	"fmt"
	"math"
	"strings"

	"finwright/internal/heat"
	"finwright/internal/surface"
	"finwright/internal/unit"
)

// Rest is one face on or in something that holds the device.
type Rest struct {
	Face  string  // "part.face"
	What  string  // one of supports
	Share float64 // of the face that is touched; 0 takes the support's own
}

// support is what a device may lie on or be held by. The film is that of an isothermal disk of the touched area on a deep body
// of conductivity kWmK (R = 1/(4 k a), the half-space limit of spreading resistance; Yovanovich & Marotta in Bejan & Kraus,
// Heat Transfer Handbook 2003 ch. 4), in series with a contact film.
type support struct {
	kWmK, contactWm2K float64
	sinkWm2K          float64 // of a sink that is not a deep body, instead of the disk; 0 for none
	atK               float64 // 0: at ambient
	share             float64 // of the face that is touched unless stated
	open              bool    // the rest of the face is in the open air; else it stands close over the support
	source            string
}

// supports by name. Conductivities: handbook orders of magnitude, from memory; contact films and shares: common practice, no
// source. A hand: skin at rest is near 33 °C, and blood flow keeps it there, which sets the sink, 30 to 100 W/(m2 K).
var supports = map[string]support{
	"wood":   {kWmK: 0.15, contactWm2K: 100, share: 1, source: deepBody},
	"paper":  {kWmK: 0.07, contactWm2K: 50, share: 1, source: deepBody},
	"cloth":  {kWmK: 0.05, contactWm2K: 30, share: 1, source: deepBody},
	"stone":  {kWmK: 2.0, contactWm2K: 200, share: 1, source: deepBody},
	"glass":  {kWmK: 1.0, contactWm2K: 200, share: 1, source: deepBody},
	"metal":  {kWmK: 100, contactWm2K: 500, share: 1, source: deepBody},
	"hand":   {sinkWm2K: 60, contactWm2K: 100, atK: 33 + zeroCelsiusK, share: 0.6, open: true, source: "skin at 33 °C kept by blood flow, 30 to 100 W/m²K: common practice, no source"},
	"tripod": {sinkWm2K: 200, contactWm2K: 500, share: 0.15, open: true, source: "a rubber-faced metal head at ambient over a seventh of the face: common practice, no source"},
}

const deepBody = "half-space under the touched area, conductivity from memory; contact: common practice, no source"

// feetM is the height at which a face that is touched in part stands over its support: rubber feet (common practice, no source).
const feetM = 3e-3

// film is the coefficient of the touched part, W/(m2 K) of its own area, and the temperature it goes to.
func (s support) film(touchedM2, airK float64) (hWm2K, refK float64) {
	sink := s.sinkWm2K
	if sink == 0 {
		sink = 4 * s.kWmK / (math.Pi * math.Sqrt(touchedM2/math.Pi))
	}
	refK = airK
	if s.atK > 0 {
		refK = s.atK
	}
	return 1 / (1/sink + 1/s.contactWm2K), refK
}

// supportLaw is a face that is touched over a share of its area; the rest is in the open air, or close over the support.
type supportLaw struct {
	share       float64
	touch       heat.Film
	rest        *patchLaw // nil: close over the support
	closeByWm2K float64   // film of what stands close over it
}

// Film makes supportLaw a heat.Law.
func (l *supportLaw) Film(meansK []float64, own int, tS float64) heat.Film {
	other := heat.Film{HWm2K: l.closeByWm2K, RefK: l.touch.RefK}
	if l.rest != nil {
		other = l.rest.Film(meansK, own, tS)
	}
	a, b := l.share*l.touch.HWm2K, (1-l.share)*other.HWm2K
	return heat.Film{HWm2K: a + b, RefK: (a*l.touch.RefK + b*other.RefK) / (a + b), GainWm2: (1 - l.share) * other.GainWm2}
}

// rests finds the faces that rest on something, by index of surface. What names a face that this design does not have, or
// that lies inside, is told and left out.
func (m *Model) rests(r *resolver) map[int]Rest {
	out := map[int]Rest{}
	for _, rest := range m.Under.Rests {
		name, side, _ := strings.Cut(rest.Face, ".")
		body, there := m.Shape.index[name]
		if !there {
			r.decide("what it rests on", "nothing", fmt.Sprintf("%s is not there in this design", rest.Face))
			continue
		}
		found := false
		for i := range m.Shape.Surfaces {
			sk := &m.Shape.Surfaces[i]
			if sk.Body == body && sk.Side == sideIndex(side) && sk.Channel == nil {
				out[i], found = rest, true
			}
		}
		if !found {
			r.decide("what it rests on", "nothing", fmt.Sprintf("%s is not an outer face of this design", rest.Face))
		}
	}
	return out
}

// restOn puts a surface in air on its support.
func (m *Model) restOn(out *Surface, law *patchLaw, rest Rest, areaM2 float64, r *resolver) {
	s := supports[rest.What]
	share := rest.Share
	if share <= 0 {
		share = s.share
	}
	h, refK := s.film(share*areaM2, m.Under.AirK)
	l := &supportLaw{share: share, touch: heat.Film{HWm2K: h, RefK: refK}}
	if s.open {
		l.rest = law
	} else if share < 1 {
		air := surface.AirAt(m.Under.AirK, m.Under.PressurePa)
		under, _ := s.film(areaM2, m.Under.AirK)
		l.closeByWm2K = 1 / (feetM/air.KWmK + 1/under)
	}
	word := ", on "
	if rest.What == "hand" {
		word, out.Held = ", in the ", true
	}
	out.Name += word + rest.What
	out.Reach = out.Reach && s.open && share < 1
	out.law, out.support = l, l
	if l.rest == nil {
		out.patch = nil
	}
	r.decide(out.Name, fmt.Sprintf("%s on %s of it, against %s", unit.Format(h, unit.FilmCoefficient), unit.Format(share, unit.Ratio), unit.Format(refK, unit.Temperature)), s.source)
}

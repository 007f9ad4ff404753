package surface

import "math"

// Description tells what stands behind a Film.
type Description struct {
	Film Film
	Laws []*Law   // relations in use, the ruling ones first
	Note []string // every range that is left, with what was done
}

// Describe returns the relations behind p.Film(surfaceK, upstreamK, env) with formula text, range and source. It is for reports;
// it allocates.
func (p *Patch) Describe(surfaceK, upstreamK float64, env *Env) Description {
	var r regime
	p.evaluate(surfaceK, upstreamK, env, &r)
	d := Description{Film: p.Film(surfaceK, upstreamK, env)}
	use := func(l *Law, x float64) {
		d.Laws = append(d.Laws, l)
		if n := l.Note(x); n != "" && n != d.Film.Note {
			d.Note = append(d.Note, n)
		}
	}
	if d.Film.Note != "" {
		d.Note = append(d.Note, d.Film.Note)
	}
	if r.forced > 0 {
		if r.bodyOK {
			use(&BodyForcedLaw, r.re)
		} else {
			use(&FlatPlateLaw, r.re)
		}
		if r.natural > 0 {
			use(&MixedLaw, 1)
		}
	}
	if p.channelled() {
		el := Rayleigh(&r.air, surfaceK-env.AirK, p.Channel.GapM) * p.Channel.GapM / r.lengthV
		if p.Channel.DepthM > 0 {
			use(&UChannelLaw, el)
		} else {
			use(&ChannelLaw, el)
		}
	}
	// A relation that carries less than a twentieth of the other is not worth a line.
	level := max(r.up, r.down)
	if r.vert > level/20 {
		use(&VerticalPlateLaw, max(r.raV, VerticalPlateLaw.Lo)) // below Lo the conduction part rules
	}
	if r.up > r.vert/20 {
		use(&UpwardPlateLaw, max(r.raH, UpwardPlateLaw.Lo))
	}
	if r.down > r.vert/20 {
		use(&DownwardPlateLaw, r.raH)
	}
	if r.bodyOK {
		use(&FaceLaw, Rayleigh(&r.air, surfaceK-env.AirK, math.Sqrt(p.bodyAreaM2())))
	}
	use(&BodyDiffusionLaw, 1)
	return d
}

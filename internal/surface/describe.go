package surface

import "math"

// Description tells what stands behind a Film.
type Description struct {
	Film Film
	Laws []*Law   // relations in use, the ruling ones first
	Note []string // every range that is left, with what was done
}

// Describe returns the relations behind p.Film(surfaceK, upstreamK, env) with formula text, range and source. It is for
// reports; it allocates.
func (p *Patch) Describe(surfaceK, upstreamK float64, env *Env) Description {
	var r regime
	p.evaluate(surfaceK, upstreamK, env, &r)
	d := Description{Film: p.Film(surfaceK, upstreamK, env)}
	use := func(l *Law, x float64) {
		for _, have := range d.Laws {
			if have == l {
				return
			}
		}
		d.Laws = append(d.Laws, l)
		if n := l.Note(x); n != "" && n != d.Film.Note {
			d.Note = append(d.Note, n)
		}
	}
	if d.Film.Note != "" {
		d.Note = append(d.Note, d.Film.Note)
	}
	if r.forced > 0 {
		use(r.forcedRule.law, r.forcedRule.number)
		if r.channel.weight > 0.5 {
			use(&DuctForcedLaw, r.forcedRule.number)
		} else if p.DiameterM <= 0 && env.WindKnown {
			use(&CubeFacesLaw, env.WindMS*math.Sqrt(p.bodyAreaM2()/6)/r.air.NuM2s)
		}
		use(&MixedLaw, 1)
	}
	if p.DiameterM > 0 {
		use(r.naturalRule.law, r.naturalRule.number)
		if a := p.AxisTiltRad; a > 0.01 && a < math.Pi/2-0.01 {
			use(&InclinedCylinderLaw, a)
		}
		use(&BodyDiffusionLaw, 1)
		return d
	}
	if r.channel.weight > 0.5 {
		use(r.channel.rule.law, r.channel.rule.number)
		if a := p.Channel.RunTiltRad; a > 0.01 && (r.channel.rule.law == &UChannelLaw || r.channel.rule.law == &ChannelLaw) {
			use(&InclinedChannelLaw, a)
		}
	}
	// A relation that carries less than a twentieth of the other is not worth a line.
	if r.channel.weight < 0.95 {
		level := max(r.up, r.down)
		if r.vert > level/20 {
			use(&VerticalPlateLaw, max(r.raV, VerticalPlateLaw.Lo)) // below Lo the conduction part rules
			if off := math.Abs(p.TiltRad - math.Pi/2); off > 0.01 {
				use(&InclinedPlateLaw, off)
			}
		}
		if r.up > r.vert/20 {
			use(&UpwardPlateLaw, max(r.raH, UpwardPlateLaw.Lo))
		}
		if r.down > r.vert/20 {
			use(&DownwardPlateLaw, r.raH)
		}
		if r.bodyOK {
			use(&FaceLaw, Rayleigh(&r.air, r.deltaK, math.Sqrt(p.bodyAreaM2())))
		}
	}
	use(&BodyDiffusionLaw, 1)
	return d
}

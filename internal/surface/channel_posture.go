package surface

import "math"

// channelRegime is what a channel makes of the face it lies in.
type channelRegime struct {
	weight    float64 // 1 a channel, 0 an open face
	natural   float64 // W/(m² K) on all its walls, without factors
	openShare float64 // openings over walls
	through   float64 // share of the pull along the run that the ends leave
	run       float64 // mean of |cosine| of the run from the vertical
	sealed    bool
	closed    bool // an end or, between fins, the mouth is closed
	rule      rule
}

// naturalChannel fills r.channel. The channel's three directions, run, mouth and gap, stand at right angles; gravity pulls
// along each by the cosine from the vertical, and each way has its relation:
//
//	run    UChannelLaw; between bare walls or under a shroud ChannelLaw (gap, or twice area over perimeter): g cos θ
//	mouth  up: HorizontalArrayLaw; down: DownwardArrayLaw (colder than the air: turned over)
//	gap    BreathingLaw, which also is what is left where ends or mouth are closed
//
// The largest rules (smoothly, at the power 10, as for faces). The pull along the run is halved for each end that is closed
// while the mouth is open and gone when no second opening is left: our estimate. Channels that are wider than
// ten times their depth or twice their run, between bare walls once, pass over into the open face: weight
// 1/[1 + (S/10D)^4 + (S/2L)^4] or 1/[1 + (S/L)^4].
//
// The relations are for air that enters at the outer air's temperature.
func (p *Patch) naturalChannel(r *regime) {
	air, c, g := &r.air, &p.Channel, &r.channel
	s, d, l := c.GapM, c.DepthM, p.channelRunM(r)

	along := max(math.Cos(c.RunTiltRad), 0)
	rest := math.Sqrt(max(1-along*along, 0))
	mouth, across := 0.0, 0.0
	if d > 0 {
		mouth = min(max(math.Cos(c.MouthTiltRad), -rest), rest)
		across = math.Sqrt(max(rest*rest-mouth*mouth, 0))
	} else {
		across = min(math.Abs(math.Cos(p.TiltRad)), rest)
	}
	if r.deltaK < 0 {
		mouth = -mouth
	}
	ends := c.ends()
	g.through = c.through(ends)
	g.closed = ends < 2 || d > 0 && !c.OpenMouth
	g.sealed = ends == 0 && !c.OpenMouth
	g.run = along

	shallow, short := 0.0, s/l
	g.openShare = s / (s + l)
	if d > 0 {
		shallow, short = s/(10*d), s/(2*l)
		g.openShare = s / (s + 2*d)
	}
	shallow *= shallow
	short *= short
	g.weight = 1 / (1 + shallow*shallow + short*short)
	ra := Rayleigh(air, r.deltaK, s)
	k := air.KWmK / s

	if d > 0 && c.OpenMouth {
		hydraulicM := 2 * d * s / (2*d + s)
		q := hydraulicM / s
		number := ra * q * q * q * along * g.through * hydraulicM / l
		nu := UChannelNu
		if c.OneSided {
			nu = UChannelOneSidedNu
		}
		g.join(rule{air.KWmK / hydraulicM * nu(number, s, d), formulaUChannel, &UChannelLaw, number, hydraulicM})
		if mouth > 0 {
			number = ra * mouth * g.through
			g.join(rule{k * HorizontalArrayNu(number), formulaFinsUp, &HorizontalArrayLaw, number, s})
		} else {
			q = l / (4 * s)
			g.join(rule{-mouth * k * DownwardArrayNu(ra, air.Pr, s, d, l, ends), formulaFinsDown, &DownwardArrayLaw, ra * q * q * q, l / 4})
		}
	} else {
		gapM := s
		if d > 0 {
			gapM = s * d / (s + d)
		}
		q := gapM / s
		nu := ChannelNu
		if c.OneSided {
			nu = ChannelOneSidedNu
		}
		number := ra * q * q * q * along * g.through * gapM / l
		g.join(rule{air.KWmK / gapM * nu(number), formulaSlot, &ChannelLaw, number, gapM})
		if c.OpenMouth { // bare walls with open long sides: air also runs from one to the other
			number = ra * math.Sqrt(max(rest*rest-across*across, 0)) * s / r.lengthV
			g.join(rule{k * nu(number), formulaSlot, &ChannelLaw, number, s})
		}
	}

	openings := float64(ends) * s / (2 * l)
	if d > 0 {
		openings = float64(ends) * s * d / ((2*d + s) * l)
	}
	if c.OpenMouth {
		openings += g.openShare
	}
	closed := math.Abs(mouth)
	if c.OpenMouth { // the relations above have it
		closed = 0
	}
	// The open face bounds both; the undersides of level walls carry little (0.4, as a level plate down against one upright).
	face := r.layer
	if d > 0 {
		face *= 1 - 0.6*across*d/(s+2*d)
	}
	breath := k*breathingNu(ra, s, d, l, across, closed, ends, c.OpenMouth) + min(openings, 1)*r.layer/2
	breath = pnorm(breath, face, -2)
	g.join(rule{breath, formulaBreathing, &BreathingLaw, ra, s})
}

// join adds a way of the air, smoothly the larger.
func (g *channelRegime) join(o rule) {
	g.natural = pnorm(g.natural, o.hWm2K, 10)
	if g.rule.law == nil || o.hWm2K > g.rule.hWm2K {
		g.rule = o
	}
}

// channelRunM is the channel's run, that of the face when it is not given.
func (p *Patch) channelRunM(r *regime) float64 {
	if p.Channel.LengthM > 0 {
		return p.Channel.LengthM
	}
	return r.lengthV
}

func (c *Channel) ends() int {
	n := 0
	if c.OpenLow {
		n++
	}
	if c.OpenHigh {
		n++
	}
	return n
}

// through is the share of the pull along the run that closed ends leave.
func (c *Channel) through(ends int) float64 {
	switch {
	case ends == 2:
		return 1
	case c.OpenMouth && ends == 1:
		return 0.5
	case c.OpenMouth:
		return 0.25
	}
	return 0
}

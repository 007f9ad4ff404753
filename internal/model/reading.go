package model

import (
	"fmt"
	"math"
	"strings"

	"finwright/internal/unit"
)

// Reading is how one outer surface was read from the geometry, for the posture of the model.
type Reading struct {
	Name    string
	AreaM2  float64
	Lies    string  // "upright"; of a channel, how its mouth does
	Smooth  string  // the smooth run: "60 mm up, 80 mm across", or the channel's "10 channels, 6 mm wide, 12 mm deep, 60 mm long, open above, below and in front"
	ViewOut float64 // share of its hemisphere that sees the surroundings
}

// Readings are those of all surfaces in air; none when the file states its boundaries.
func (m *Model) Readings() []Reading {
	var out []Reading
	for i := range m.Surfaces {
		l := m.Surfaces[i].patch
		if l == nil {
			continue
		}
		p := &l.patch
		r := Reading{Name: m.Surfaces[i].Name, AreaM2: m.Surfaces[i].AreaM2, Lies: lies(p.TiltRad)}
		for _, share := range l.outer.views.Row(i)[l.outer.views.N:] {
			r.ViewOut += share
		}
		length := func(x float64) string { return unit.Format(x, unit.Length) }
		sk := &m.Shape.Surfaces[i]
		switch c := &p.Channel; {
		case c.GapM > 0:
			r.Smooth = fmt.Sprintf("%s wide, ", length(c.GapM))
			if sk.Channel.Count > 1 {
				r.Smooth = fmt.Sprintf("%d channels, each %s", sk.Channel.Count, r.Smooth)
			}
			if c.DepthM > 0 {
				r.Smooth += length(c.DepthM) + " deep, "
			}
			r.Smooth += length(c.LengthM) + " long, run " + leans(c.RunTiltRad) + ", " + openings(c.OpenLow, c.OpenHigh, c.OpenMouth, c.RunTiltRad)
		case p.DiameterM > 0:
			r.Smooth = fmt.Sprintf("diameter %s, %s long, axis %s", length(p.DiameterM), length(p.HeightM), leans(p.AxisTiltRad))
		case r.Lies == "faces up" || r.Lies == "faces down":
			r.Smooth = length(p.HeightM) + " by " + length(p.WidthM)
		default:
			r.Smooth = length(p.HeightM) + " up, " + length(p.WidthM) + " across"
		}
		out = append(out, r)
	}
	return out
}

// leans tells how a line with this angle from the vertical lies.
func leans(fromVerticalRad float64) string {
	switch deg := fromVerticalRad * 180 / math.Pi; {
	case deg < 1:
		return "upright"
	case deg > 89:
		return "level"
	default:
		return fmt.Sprintf("%.0f° from upright", deg)
	}
}

// openings tells where a channel gives on open air.
func openings(low, high, mouth bool, runTiltRad float64) string {
	var open []string
	switch level := runTiltRad > 89*math.Pi/180; {
	case level && low && high:
		open = append(open, "at both ends")
	case level && (low || high):
		open = append(open, "at one end")
	default:
		if low {
			open = append(open, "below")
		}
		if high {
			open = append(open, "above")
		}
	}
	if mouth {
		open = append(open, "along its mouth")
	}
	if len(open) == 0 {
		return "closed all round"
	}
	return "open " + strings.Join(open, ", ")
}

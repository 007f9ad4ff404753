package session

import (
	"math"

	"finwright/internal/model"
)

// ledger says at one instant how many watts leave by which surface and how many degrees are lost on the way from the main
// source to the air.
func ledger(m *model.Model, tK []float64, st Thermal, powerW []float64, atS float64) Ledger {
	l := Ledger{AtS: atS, AmbientK: m.Under.AirK}
	main, mainW := -1, 0.0
	for i, w := range powerW {
		l.PowerW += w
		if w > mainW {
			main, mainW = m.Sources[i].Part, w
		}
	}
	outW, sunW := 0.0, 0.0
	meanK := make([]float64, len(m.Surfaces)) // per surface
	heatW := make([]float64, len(m.Surfaces))
	for i := range meanK {
		meanK[i] = st.SurfaceState(i).MeanK
	}
	for i := range m.Surfaces {
		s := &m.Surfaces[i]
		state := st.SurfaceState(i)
		o := Outflow{Name: s.Name, AreaM2: s.AreaM2, MeanK: state.MeanK, HighestK: state.MaxK, HeatW: state.HeatW, Reach: s.Reach}
		if d, ok := m.Describe(i, meanK); ok {
			o.Formula, o.Note, o.HWm2K, o.Lies = d.Formula, d.Note, d.ConvWm2K, d.Lies
			o.LengthM, o.NumberName, o.Number, o.From, o.To, o.Scatter = d.LengthM, d.NumberName, d.Number, d.Lo, d.Hi, d.ScatterFrac
			o.ConvW, o.RadW, o.SunW = d.ConvWm2*s.AreaM2, d.RadWm2*s.AreaM2, d.SunWm2*s.AreaM2
		}
		outW += o.HeatW
		sunW += o.SunW
		heatW[i] = o.HeatW
		l.Outflows = append(l.Outflows, o)
	}
	l.StoredW = l.PowerW - outW
	cross := m.Crossings(tK)
	for _, c := range cross {
		a, b, flow, drop := c.A, c.B, c.FlowW, c.SideAK-c.SideBK
		if flow < 0 {
			a, b, flow, drop = b, a, -flow, -drop
		}
		l.Crossings = append(l.Crossings, Crossing{A: m.BodyName(a), B: m.BodyName(b), Joint: m.JointLabel(a, b), AreaM2: c.AreaM2, FlowW: flow, DropK: drop})
	}
	if main >= 0 {
		l.SourceK = m.PartProbe(main, false).Read(tK, nil)
		l.Path = path(m, cross, main, l.SourceK, meanK, heatW)
	}
	return l
}

// path follows the largest flow of heat from the main source's part, body by body, to the air outside. The drops add up to
// the source's mean temperature less the ambient.
func path(m *model.Model, cross []model.Crossing, body int, entryK float64, meanK, heatW []float64) []Leg {
	var legs []Leg
	visited := map[int]bool{}
	kind := "source"
	for {
		visited[body] = true
		// the way out through this body's own outer surfaces …
		outW, outK := 0.0, 0.0
		for i := range m.Surfaces {
			if m.Surfaces[i].Body == body && heatW[i] > 0 {
				outW += heatW[i]
				outK += heatW[i] * meanK[i]
			}
		}
		// … or the largest one into a neighbour
		best, bestW := -1, outW
		for i, c := range cross {
			flow, other := c.FlowW, c.B
			if c.B == body {
				flow, other = -c.FlowW, c.A
			} else if c.A != body {
				continue
			}
			if flow > bestW && !visited[other] {
				best, bestW = i, flow
			}
		}
		name := m.BodyName(body)
		if m.IsAir(body) {
			kind = "air gap"
		}
		if best < 0 {
			if outW <= 0 {
				return legs // a dead end: heat only warms this body
			}
			outK /= outW
			legs = append(legs, Leg{Name: name, Kind: kind, DropK: entryK - outK, FlowW: outW})
			return append(legs, Leg{Name: "film outside " + name, Kind: "film", DropK: outK - m.Under.AirK, FlowW: outW})
		}
		c := cross[best]
		sideK, farK, other := c.SideAK, c.SideBK, c.B
		if c.B == body {
			sideK, farK, other = c.SideBK, c.SideAK, c.A
		}
		legs = append(legs, Leg{Name: name, Kind: kind, DropK: entryK - sideK, FlowW: bestW})
		if math.Abs(sideK-farK) > 1e-9 {
			legs = append(legs, Leg{Name: name + " | " + m.BodyName(other) + " (" + m.JointLabel(body, other) + ")", Kind: "joint", DropK: sideK - farK, FlowW: bestW})
		}
		body, entryK, kind = other, farK, "part"
	}
}

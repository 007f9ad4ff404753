package model

import (
	"fmt"
	"math"

	"finwright/internal/device"
	"finwright/internal/grid"
	"finwright/internal/heat"
	"finwright/internal/linsolve"
	"finwright/internal/material"
	"finwright/internal/part"
	"finwright/internal/radiate"
	"finwright/internal/skin"
	"finwright/internal/surface"
	"finwright/internal/unit"
	"finwright/internal/work"
)

// Part is one part of a model, with what it weighs and holds.
type Part struct {
	Name, Material, Finish string
	Metal                  bool
	TouchKind              string
	VolumeM3, MassKg       float64
	CapacityJK             float64
	LibraryKg              float64 // what its volume would weigh by the library, when it was weighed; 0 otherwise
	Cells                  []int32
}

// Surface is one outer surface of a model: what skin read, and the law it follows. Index-aligned with Heat.Surfaces.
type Surface struct {
	Name     string
	Body     int
	Side     int
	AreaM2   float64
	Boundary string // name of the file's boundary statement, when it follows one
	Elements []int  // indices into Shape.Grid.Exposed
	Reach    bool   // a hand can reach it
	Held     bool   // it lies in a hand
	law      heat.Law
	patch    *patchLaw   // nil for stated boundaries and what a support covers
	support  *supportLaw // nil for what rests on nothing
}

// Source is a part that makes heat. Index-aligned with Heat.Sources.
type Source struct {
	Part   int
	FullW  float64 // in the run's mode, before throttling
	AfterW float64 // what remains after the device has stopped
	Cell   bool    // the battery's own heat, which follows the power drawn
}

// Model is one device under given values and conditions, ready to run.
type Model struct {
	Shape      *Shape
	Under      Under
	Heat       *heat.Model
	Parts      []Part
	Surfaces   []Surface
	Joints     []Joint
	Sources    []Source
	Battery    *Battery
	Unknowns   []Unknown
	Fixed      []Fixed
	StartK     float64
	kWmK       [3][]float64
	jointOf    map[[2]int]int
	airK       []float64 // mean temperature of each sealed region, for radiation across it
	gaps       []airGap
	gapOf      []int32   // per cell: index into gaps, -1 where there is none
	gapNu      []float64 // per gap: how many times more than still air conducts
	gapMove    []float64 // per gap: its last change
	gapFactor  float64   // on what motion adds in gaps: the scatter of their relations
	emissivity []float64 // per body
	elemOf     map[int32][]elem
	few        map[string]*Probe // of a model that Partial made: probes that look at few cells
}

// Battery is what feeds the device, in SI.
type Battery struct {
	Part       int // -1 when the file names none
	EnergyJ    float64
	OwnHeat    float64 // share of the power drawn that warms the cell
	OtherW     float64 // power that leaves not as heat
	LimitK     float64
	LimitBy    string
	Discharges bool
}

// At makes the heat model of the shape: values v, conditions c (over the file's own), in a mode ("" is the file's).
func (s *Shape) At(v device.Values, c *device.Conditions, mode string) (*Model, error) {
	r := newResolver(v)
	if c == nil {
		c = &device.Conditions{}
	}
	m := &Model{Shape: s, Under: r.under(s.File, c, mode)}
	f, g := s.File, s.Grid
	n := g.NX * g.NY * g.NZ

	// substances and parts
	subs := make([]substance, len(s.solids))
	for i := range s.solids {
		p := s.solids[i].spec
		var err error
		if subs[i], err = r.substanceOf(f, p, s.solids[i].size, m.Under.SunWm2 > 0 || m.Under.SkyLightWm2 > 0); err != nil {
			return nil, device.Problems{f.Problem(p.Pos, fmt.Sprintf("part %q: %v", p.Name, err), "", "")}
		}
		vol := g.BodyVolumeM3(i)
		libraryKg := 0.0
		if p.Mass.Given() {
			libraryKg = subs[i].rhoKgM3 * vol
			// a weighed part: what it weighs counts, not the library's density
			subs[i].rhoKgM3 = r.stated(p.Mass, "mass of "+p.Name) / vol
		}
		m.Parts = append(m.Parts, Part{Name: p.Name, Material: p.Material, Finish: subs[i].finish, Metal: subs[i].sort.Metal, TouchKind: subs[i].touchKind,
			VolumeM3: vol, MassKg: vol * subs[i].rhoKgM3, LibraryKg: libraryKg, CapacityJK: vol * subs[i].rhoKgM3 * subs[i].cpJkgK})
		m.emissivity = append(m.emissivity, subs[i].emissivity)
	}
	var err error
	if m.Joints, err = r.jointsOf(s, subs); err != nil {
		return nil, err
	}
	m.jointOf = map[[2]int]int{}
	for i := range m.Joints {
		m.jointOf[pair(m.Joints[i].A, m.Joints[i].B)] = i
	}

	// cells
	m.Heat = &heat.Model{Grid: linsolve.Grid{NX: g.NX, NY: g.NY, NZ: g.NZ}, CapJK: make([]float64, n),
		GX: make([]float64, n), GY: make([]float64, n), GZ: make([]float64, n)}
	air := surface.AirAt(m.Under.AirK, m.Under.PressurePa)
	rhoC := make([]float64, len(s.names))
	for b := range rhoC {
		if s.airBody(b) {
			rhoC[b] = air.DensityKgM3 * air.CpJkgK
		} else {
			rhoC[b] = subs[b].rhoKgM3 * subs[b].cpJkgK
		}
	}
	for a := range m.kWmK {
		m.kWmK[a] = make([]float64, n)
	}
	for cell := 0; cell < n; cell++ {
		b := int(g.Owner[cell])
		if b < 0 {
			continue
		}
		vol := g.Volume(cell) * float64(g.Solid[cell])
		m.Heat.CapJK[cell] = vol * rhoC[b]
		if !s.airBody(b) {
			m.Parts[b].Cells = append(m.Parts[b].Cells, int32(cell))
			for a := range m.kWmK {
				m.kWmK[a][cell] = subs[b].kWmK[a]
			}
		} else {
			for a := range m.kWmK {
				m.kWmK[a][cell] = air.KWmK
			}
		}
	}
	// cells that several bodies share: the mixture's capacity, and its conductivity by volume
	for lo := 0; lo < len(g.Mixed); {
		cell := int(g.Mixed[lo].Cell)
		hi := lo
		capJK, share := 0.0, 0.0
		var k [3]float64
		for hi < len(g.Mixed) && int(g.Mixed[hi].Cell) == cell {
			b, fr := int(g.Mixed[hi].Body), g.Mixed[hi].Frac
			hi++
			if b < 0 {
				continue
			}
			capJK += fr * rhoC[b]
			share += fr
			for a := range k {
				if s.airBody(b) {
					k[a] += fr * air.KWmK
				} else {
					k[a] += fr * subs[b].kWmK[a]
				}
			}
		}
		lo = hi
		if share <= 0 || g.Owner[cell] < 0 {
			continue
		}
		m.Heat.CapJK[cell] = g.Volume(cell) * capJK
		for a := range k {
			m.kWmK[a][cell] = k[a] / share
		}
	}
	m.airK = make([]float64, len(g.Regions))
	for i := range m.airK {
		m.airK[i] = m.Under.AirK + 10 // refreshed before the first step
	}
	m.readGaps()
	m.gapFactor = 1
	if m.gapsMove() {
		m.gapFactor = r.value("convection.sealed air", "motion of sealed air, one factor for all gaps",
			fmt.Sprintf("published scatter of %s, ±%.0f %%", surface.UprightGapLaw.Name, 100*sealedScatterFrac), scatter(sealedScatterFrac), false)
	}
	m.spreadAir(1)
	m.conductances(false, 1)
	if len(g.Regions) > 0 {
		m.Heat.Refresh = m.refreshAir
	}

	if err := m.sources(r); err != nil {
		return nil, err
	}
	if err := m.outside(r, subs); err != nil {
		return nil, err
	}
	r.sensors(f)
	m.StartK = m.Under.AirK
	if f.Start.Given() {
		m.StartK = r.stated(f.Start, "start temperature")
	}
	m.Unknowns = append(append([]Unknown(nil), s.unknowns...), r.unknowns...)
	m.Fixed = r.fixed
	return m, nil
}

// spreadAir gives sealed-air cells their conductivity along each axis: the air's own, times the Nusselt number of the gap where
// the axis is the one that crosses it, plus radiation between the walls at both ends of the air column through the cell, taken
// as parallel grey plates at the region's mean temperature:
//
//	k_a = k_air Nu + L · 4 σ T³ / (1/ε1 + 1/ε2 − 1)      L the shortest column through the cell
//
// Exact for a flat gap; for other cavities an approximation that keeps the exchange local. Nu is that of a gap between walls at
// the mean temperatures of the parts at its ends (surface.SealedGapNu): air that rises over one warm part and falls along
// another, far away, is not in it.
func (m *Model) spreadAir(workers int) {
	g, s := m.Shape.Grid, m.Shape
	kOf, blackOf := make([]float64, len(m.airK)), make([]float64, len(m.airK))
	for r, t := range m.airK {
		kOf[r] = surface.AirAt(t, m.Under.PressurePa).KWmK
		blackOf[r] = radiate.RadiativeCoefficient(1, t, t)
	}
	plane := g.NX * g.NY
	work.Each(workers, g.NZ, func(kz int) {
		for cell := kz * plane; cell < (kz+1)*plane; cell++ {
			b := int(g.Owner[cell])
			if b < len(s.solids) {
				continue
			}
			kAir, black := kOf[b-len(s.solids)], blackOf[b-len(s.solids)]
			shortest := min(s.airRuns[0].lengthM[cell], s.airRuns[1].lengthM[cell], s.airRuns[2].lengthM[cell])
			for a := range m.kWmK {
				run := &s.airRuns[a]
				e1, e2 := m.wallEmissivity(run.lo[cell]), m.wallEmissivity(run.hi[cell])
				k := kAir
				if q := m.gapOf[cell]; q >= 0 && a == int(m.gaps[q].axis) {
					k *= m.gapNu[q]
				}
				if e1 > 0 && e2 > 0 {
					k += float64(shortest) * black * radiate.ParallelFacesEmissivity(e1, e2)
				}
				m.kWmK[a][cell] = k
			}
		}
	})
}

func (m *Model) wallEmissivity(body int16) float64 {
	if body < 0 || int(body) >= len(m.emissivity) {
		return 0
	}
	return m.emissivity[body]
}

// conductances fills GX, GY, GZ: two half cells in series, and the joint between them when they belong to different parts.
// onlyAir redoes no faces but those with sealed air on a side.
func (m *Model) conductances(onlyAir bool, workers int) {
	g, air := m.Shape.Grid, int32(len(m.Shape.solids)) // bodies from there on are sealed air
	size := [3][]float64{widths(g.X), widths(g.Y), widths(g.Z)}
	out := [3][]float64{m.Heat.GX, m.Heat.GY, m.Heat.GZ}
	stride := [3]int{1, g.NX, g.NX * g.NY}
	work.Each(workers, g.NZ, func(kz int) {
		for a := range out {
			along, k, open, cond := size[a], m.kWmK[a], g.Open[a], out[a]
			over, under := size[(a+1)%3], size[(a+2)%3]
			c := kz*stride[2] - 1
			for jy := range g.NY {
				for ix := range g.NX {
					c++
					idx := [3]int{ix, jy, kz}
					b1 := int32(g.Owner[c])
					if b1 < 0 || idx[a] == len(along)-1 {
						continue
					}
					next := c + stride[a]
					b2 := int32(g.Owner[next])
					if b2 < 0 || onlyAir && b1 < air && b2 < air || open[c] <= 0 {
						continue
					}
					area := over[idx[(a+1)%3]] * under[idx[(a+2)%3]] * float64(open[c])
					r := along[idx[a]]/(2*k[c]) + along[idx[a]+1]/(2*k[next])
					if b1 != b2 {
						if ji, ok := m.jointOf[pair(int(b1), int(b2))]; ok {
							r += m.Joints[ji].resistance()
						}
					}
					cond[c] = area / r
				}
			}
		}
	})
}

func widths(planes []float64) []float64 {
	w := make([]float64, len(planes)-1)
	for i := range w {
		w[i] = planes[i+1] - planes[i]
	}
	return w
}

// power is a part's heat in a mode, W.
func (r *resolver) power(b *device.ByMode, mode, about string) float64 {
	q := b.In(mode)
	if !q.Given() {
		return 0
	}
	if !b.All.Given() {
		about += " (" + mode + ")"
	}
	return r.stated(q, about)
}

// ownHeatDefault is the cell's own loss as a share of the power drawn.
var ownHeatDefault = unit.Quantity{Dim: unit.Ratio, Kind: unit.Range, Mid: 0.035, Lo: 0.02, Hi: 0.06}

// sources spreads each part's heat over its cells by volume.
func (m *Model) sources(r *resolver) error {
	f, g := m.Shape.File, m.Shape.Grid
	for i := range m.Parts {
		p := m.Shape.solids[i].spec
		isCell := f.Battery != nil && f.Battery.Part == p.Name
		if !p.Heat.All.Given() && len(p.Heat.Modes) == 0 && !isCell {
			continue
		}
		full := r.power(&p.Heat, m.Under.Mode, "heat of "+p.Name)
		after := 0.0
		if f.AfterStop != "" {
			after = r.power(&p.Heat, f.AfterStop, "heat of "+p.Name)
			if p.Heat.All.Given() {
				after = 0 // a part with one figure is off once the device has stopped
			}
		}
		if full != 0 || after != 0 {
			m.addSource(g, i, Source{Part: i, FullW: full, AfterW: after})
		}
		if isCell {
			m.addSource(g, i, Source{Part: i, Cell: true})
		}
	}
	b := f.Battery
	if b == nil {
		return nil
	}
	m.Battery = &Battery{Part: -1, EnergyJ: r.stated(b.Energy, "battery energy"), OtherW: r.power(&b.OtherLoad, m.Under.Mode, "other load"),
		Discharges: b.State == "" || b.State == "discharging"}
	if b.Part != "" {
		m.Battery.Part = m.Shape.index[b.Part]
	}
	if b.OwnHeat.Given() {
		m.Battery.OwnHeat = r.stated(b.OwnHeat, "battery own heat")
	} else {
		m.Battery.OwnHeat = r.value("battery.own heat", "battery own heat, share of the power drawn", "common practice, no source: 2 to 6 % at half-hour to two-hour rates", ownHeatDefault, false)
	}
	switch {
	case b.Limit.Given():
		m.Battery.LimitK, m.Battery.LimitBy = r.stated(b.Limit, "battery limit"), "the file"
	default:
		m.Battery.LimitK, m.Battery.LimitBy = material.CellLimit(b.State == "charging")
	}
	return nil
}

// sensors puts the doubtful figures of sensors on the list of unknowns; the session reads them from the same values.
func (r *resolver) sensors(f *device.File) {
	for i := range f.Sensors {
		s := &f.Sensors[i]
		if s.StopsAt.Given() {
			r.stated(s.StopsAt, s.Name+" stops at")
		}
		for k := range s.Steps {
			st := &s.Steps[k]
			r.stated(st.Above, fmt.Sprintf("%s step %d at", s.Name, k+1))
			if st.BackBelow.Given() {
				r.stated(st.BackBelow, fmt.Sprintf("%s step %d back below", s.Name, k+1))
			}
			r.stated(st.Power, fmt.Sprintf("%s step %d power", s.Name, k+1))
		}
	}
}

func (m *Model) addSource(g *grid.Grid, part int, s Source) {
	cells := m.Parts[part].Cells
	share := make([]float64, len(cells))
	sum := 0.0
	for i, c := range cells {
		share[i] = g.Volume(int(c)) * float64(g.Solid[c])
		sum += share[i]
	}
	for i := range share {
		share[i] /= sum
	}
	name := m.Parts[part].Name
	if s.Cell {
		name += " (cell loss)"
	}
	m.Sources = append(m.Sources, s)
	m.Heat.Sources = append(m.Heat.Sources, heat.Source{Name: name, Cells: cells, Share: share})
}

// addSurface hands a set of exposed elements to the heat model under a law.
func (m *Model) addSurface(s Surface) {
	g := m.Shape.Grid
	n := len(s.Elements)
	hs := heat.Surface{Name: s.Name, Law: s.law, Cells: make([]int32, 0, n), AreaM2: make([]float64, 0, n), HalfWK: make([]float64, 0, n)}
	for _, ei := range s.Elements {
		e := &g.Exposed[ei]
		a := int(e.Axis)
		d := math.Max(e.DistM, 1e-9)
		hs.Cells = append(hs.Cells, e.Cell)
		hs.AreaM2 = append(hs.AreaM2, e.AreaM2)
		hs.HalfWK = append(hs.HalfWK, m.kWmK[a][e.Cell]*e.AreaM2/d)
		s.AreaM2 += e.AreaM2
	}
	m.Surfaces = append(m.Surfaces, s)
	m.Heat.Surfaces = append(m.Heat.Surfaces, hs)
}

// elementOnPatch says whether an exposed element lies on a boundary's patch.
func elementOnPatch(e *grid.Exposed, box part.Box, face part.FaceInfo) bool {
	const tolM = 1e-7
	for a := range box.Min {
		if e.Centre[a] < box.Min[a]-tolM || e.Centre[a] > box.Max[a]+tolM {
			return false
		}
	}
	return int(e.Axis) == face.Axis && int(e.Sign) == face.Sign
}

// sideIndex is the index into skin.Sides of a side's name, -1 when it is none.
func sideIndex(name string) int {
	for i, s := range skin.Sides {
		if s == name {
			return i
		}
	}
	return -1
}

// ActiveCells counts the cells that take part.
func (m *Model) ActiveCells() int {
	n := 0
	for _, c := range m.Heat.CapJK {
		if c > 0 {
			n++
		}
	}
	return n
}

// SealedAirM3 is the volume of air that no path from outside reaches.
func (m *Model) SealedAirM3() float64 {
	v := 0.0
	for _, r := range m.Shape.Grid.Regions {
		v += r.VolumeM3
	}
	return v
}

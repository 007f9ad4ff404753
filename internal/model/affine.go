package model

import (
	"fmt"
	"math"
	"slices"

	"finwright/internal/device"
	"finwright/internal/heat"
	"finwright/internal/radiate"
	"finwright/internal/reduce"
	"finwright/internal/surface"
)

// sealedAir tells a reduced model what crosses sealed air, by the same rules as refreshAir but at the means it is given.
type sealedAir struct {
	m            *Model
	size         [3][]float64 // cell widths, m
	kOf, blackOf []float64    // per region
	airOf        []surface.Air
	nu           []float64 // per gap, of the present call
	known        []int     // call that nu is of
	call         int
}

// Air is what crosses the model's sealed air, for a reduced model; nil when there is none.
func (m *Model) Air() reduce.Air {
	g := m.Shape.Grid
	if len(g.Regions) == 0 {
		return nil
	}
	n := len(g.Regions)
	return &sealedAir{m: m, size: [3][]float64{widths(g.X), widths(g.Y), widths(g.Z)}, kOf: make([]float64, n), blackOf: make([]float64, n),
		airOf: make([]surface.Air, n), nu: make([]float64, len(m.gaps)), known: make([]int, len(m.gaps))}
}

// Faces are those with sealed air on at least one side.
func (a *sealedAir) Faces() []reduce.Face {
	g, s := a.m.Shape.Grid, a.m.Shape
	stride := [3]int{1, g.NX, g.NX * g.NY}
	var out []reduce.Face
	for axis, cond := range [3][]float64{a.m.Heat.GX, a.m.Heat.GY, a.m.Heat.GZ} {
		for c, x := range cond {
			if x > 0 && (s.airBody(int(g.Owner[c])) || s.airBody(int(g.Owner[c+stride[axis]]))) {
				out = append(out, reduce.Face{Axis: int8(axis), Cell: int32(c)})
			}
		}
	}
	return out
}

// Bodies are all parts and regions of sealed air, by volume.
func (a *sealedAir) Bodies() []reduce.Mean {
	g := a.m.Shape.Grid
	out := make([]reduce.Mean, len(a.m.Shape.names))
	total := make([]float64, len(out))
	for cell, b := range g.Owner {
		if b >= 0 {
			v := g.Volume(cell)
			out[b].Cells = append(out[b].Cells, int32(cell))
			out[b].Share = append(out[b].Share, v)
			total[b] += v
		}
	}
	for b := range out {
		for i := range out[b].Share {
			out[b].Share[i] /= total[b]
		}
	}
	return out
}

// Conductances makes sealedAir a reduce.Air.
func (a *sealedAir) Conductances(dst []float64, faces []reduce.Face, meansK []float64) {
	m, s, g := a.m, a.m.Shape, a.m.Shape.Grid
	a.call++
	for r := range a.kOf {
		t := meansK[len(s.solids)+r]
		a.airOf[r] = surface.AirAt(t, m.Under.PressurePa)
		a.kOf[r], a.blackOf[r] = a.airOf[r].KWmK, radiate.RadiativeCoefficient(1, t, t)
	}
	stride := [3]int{1, g.NX, g.NX * g.NY}
	for i, f := range faces {
		axis, c := int(f.Axis), int(f.Cell)
		idx := [3]int{c % g.NX, c / g.NX % g.NY, c / (g.NX * g.NY)}
		area := a.size[(axis+1)%3][idx[(axis+1)%3]] * a.size[(axis+2)%3][idx[(axis+2)%3]] * float64(g.Open[axis][c])
		w := a.size[axis]
		dst[i] = area / (w[idx[axis]]/(2*a.k(c, axis, meansK)) + w[idx[axis]+1]/(2*a.k(c+stride[axis], axis, meansK)))
	}
}

// k is a cell's conductivity along an axis: that of spreadAir in sealed air.
func (a *sealedAir) k(cell, axis int, meansK []float64) float64 {
	m, s := a.m, a.m.Shape
	b := int(s.Grid.Owner[cell])
	if !s.airBody(b) {
		return m.kWmK[axis][cell]
	}
	region := b - len(s.solids)
	k := a.kOf[region]
	if q := m.gapOf[cell]; q >= 0 && axis == int(m.gaps[q].axis) {
		if a.known[q] != a.call {
			a.known[q], a.nu[q] = a.call, m.nusselt(int(q), &a.airOf[region], meansK)
		}
		k *= a.nu[q]
	}
	run := &s.airRuns[axis]
	e1, e2 := m.wallEmissivity(run.lo[cell]), m.wallEmissivity(run.hi[cell])
	if e1 > 0 && e2 > 0 {
		shortest := min(s.airRuns[0].lengthM[cell], s.airRuns[1].lengthM[cell], s.airRuns[2].lengthM[cell])
		k += float64(shortest) * a.blackOf[region] * radiate.ParallelFacesEmissivity(e1, e2)
	}
	return k
}

// nusselt is gap i's Nusselt number at the bodies' means, as in gapNusselt.
func (m *Model) nusselt(i int, air *surface.Air, meansK []float64) float64 {
	k := &m.gaps[i]
	warmerLowK := meanDifference(meansK, k)
	rise := m.Under.Up[k.axis]
	if warmerLowK < 0 {
		rise = -rise
	}
	ra := surface.Rayleigh(air, warmerLowK, float64(k.lengthM))
	return 1 + m.gapFactor*(surface.SealedGapNu(ra, air.Pr, float64(k.heightM/k.lengthM), angle(rise))-1)
}

func meanDifference(meansK []float64, k *airGap) float64 { return meansK[k.lo] - meansK[k.hi] }

// Partial makes models of one shape under changing values of the unknowns in a small part of the time that Shape.At takes: a reduced
// model reads but a few cells' numbers, and only these are brought up to date. A model it made is good until it makes the next
// one, and its Heat is not for a 3-D solver.
type Partial struct {
	base       *Model
	conditions *device.Conditions
	mode       string
	cells      []int32 // whose conductivity and capacity is read
	faces      []reduce.Face
	mixed      map[int32][2]int // by cell: where its shares lie in Grid.Mixed
	size       [3][]float64
	halfPerK   [][]float64 // per surface and element: HalfWK over the conductivity of its cell
	few        map[string]*Probe
}

// Partial prepares for models under conditions c (nil: the file's) in a mode, that rm and probes of the places read from. places are
// as in Probe; those of the file's sensors are always among them.
func (s *Shape) Partial(rm *reduce.Model, c *device.Conditions, mode string, places []string) (*Partial, error) {
	base, err := s.At(nil, c, mode)
	if err != nil {
		return nil, err
	}
	g := s.Grid
	p := &Partial{base: base, conditions: c, mode: mode, mixed: map[int32][2]int{}, few: map[string]*Probe{}, size: [3][]float64{widths(g.X), widths(g.Y), widths(g.Z)}}
	base.surfaceOf(0) // once for all
	for lo := 0; lo < len(g.Mixed); {
		hi := lo
		for hi < len(g.Mixed) && g.Mixed[hi].Cell == g.Mixed[lo].Cell {
			hi++
		}
		p.mixed[int32(g.Mixed[lo].Cell)] = [2]int{lo, hi}
		lo = hi
	}
	p.cells, p.faces = rm.Cells()
	for i := range s.File.Sensors {
		places = append(places[:len(places):len(places)], s.File.Sensors[i].At)
	}
	if b := base.Battery; b != nil && b.Part >= 0 {
		places = append(places[:len(places):len(places)], base.Parts[b.Part].Name+" highest")
	}
	p.limited(rm)
	stride := [3]int{1, g.NX, g.NX * g.NY}
	for _, place := range places {
		if p.few[place] != nil {
			continue
		}
		probe, err := base.Probe(place)
		if err != nil {
			return nil, err
		}
		switch probe.kind {
		case meanOfCells:
			few, err := rm.Few(reduce.Mean{Cells: probe.Places, Share: probe.weight})
			if err != nil {
				return nil, err
			}
			probe.Places, probe.weight = few.Cells, few.Share
		case highestOfCells:
			probe.Places = rm.Hottest(probe.Places)
		}
		p.few[place] = probe
		for _, c := range probe.Places {
			p.cells = append(p.cells, c)
			if probe.kind != atPoint {
				continue // means and highest temperatures ask for no conductances
			}
			for a, cond := range [3][]float64{base.Heat.GX, base.Heat.GY, base.Heat.GZ} {
				for _, f := range []int{int(c), int(c) - stride[a]} {
					if f >= 0 && cond[f] > 0 {
						p.faces = append(p.faces, reduce.Face{Axis: int8(a), Cell: int32(f)})
					}
				}
			}
		}
	}
	for _, f := range p.faces {
		p.cells = append(p.cells, f.Cell, f.Cell+int32(stride[f.Axis]))
	}
	if air := base.Air(); air != nil {
		for _, f := range rm.AirFaces() {
			p.cells = append(p.cells, f.Cell, f.Cell+int32(stride[f.Axis]))
		}
	}
	slices.Sort(p.cells)
	p.cells = slices.Compact(p.cells)
	p.faces = slices.DeleteFunc(p.faces, func(f reduce.Face) bool { // of sealed air: rm asks for them as they are
		return s.airBody(int(g.Owner[f.Cell])) || s.airBody(int(g.Owner[int(f.Cell)+stride[f.Axis]]))
	})
	for i := range base.Surfaces {
		sf := &base.Heat.Surfaces[i]
		per := make([]float64, len(sf.Cells))
		for q, ei := range base.Surfaces[i].Elements {
			per[q] = sf.HalfWK[q] / base.kWmK[g.Exposed[ei].Axis][sf.Cells[q]]
		}
		p.halfPerK = append(p.halfPerK, per)
	}
	return p, nil
}

// limited makes the probes of the places that a session looks for by itself, because of a limit, read few cells: of every surface,
// and of what joins two parts, those that come to be its hottest.
func (p *Partial) limited(rm *reduce.Model) {
	m := p.base
	for _, probe := range []*Probe{m.HottestReach(), m.HeldProbe()} {
		if probe == nil {
			continue
		}
		few := &Probe{Name: probe.Name, kind: probe.kind}
		for lo := 0; lo < len(probe.elems); {
			hi := lo
			for hi < len(probe.elems) && probe.elems[hi].surface == probe.elems[lo].surface {
				hi++
			}
			hottest := map[int32]bool{}
			for _, c := range rm.Hottest(probe.Places[lo:hi]) {
				hottest[c] = true
			}
			for i := lo; i < hi; i++ {
				if hottest[probe.Places[i]] {
					few.elems, few.Places = append(few.elems, probe.elems[i]), append(few.Places, probe.Places[i])
				}
			}
			lo = hi
		}
		p.few[probe.Name] = few
	}
	for i := range m.Joints {
		if m.Joints[i].Glued {
			probe := m.JointProbe(i)
			probe.Places = rm.Hottest(probe.Places)
			p.few[probe.Name] = probe
		}
	}
}

// At is the model under values v.
func (p *Partial) At(v device.Values) (*Model, error) {
	b, s := p.base, p.base.Shape
	f, g := s.File, s.Grid
	r := newResolver(v)
	own := p.conditions
	if own == nil {
		own = &device.Conditions{}
	}
	m := &Model{Shape: s, Under: r.under(f, own, p.mode), kWmK: b.kWmK, jointOf: b.jointOf, airK: b.airK, gaps: b.gaps, gapOf: b.gapOf,
		gapNu: b.gapNu, gapMove: b.gapMove, elemOf: b.elemOf, few: p.few, gapFactor: 1}
	subs := make([]substance, len(s.solids))
	m.Parts = append(m.Parts, b.Parts...)
	for i := range s.solids {
		spec := s.solids[i].spec
		var err error
		if subs[i], err = r.substanceOf(f, spec, s.solids[i].size, m.Under.SunWm2 > 0 || m.Under.SkyLightWm2 > 0); err != nil {
			return nil, device.Problems{f.Problem(spec.Pos, fmt.Sprintf("part %q: %v", spec.Name, err), "", "")}
		}
		part := &m.Parts[i]
		if spec.Mass.Given() {
			part.LibraryKg = subs[i].rhoKgM3 * part.VolumeM3
			subs[i].rhoKgM3 = r.stated(spec.Mass, "mass of "+spec.Name) / part.VolumeM3
		}
		part.MassKg, part.CapacityJK = part.VolumeM3*subs[i].rhoKgM3, part.VolumeM3*subs[i].rhoKgM3*subs[i].cpJkgK
		m.emissivity = append(m.emissivity, subs[i].emissivity)
	}
	var err error
	if m.Joints, err = r.jointsOf(s, subs); err != nil {
		return nil, err
	}
	p.renew(m, subs)
	if m.gapsMove() {
		m.gapFactor = r.value("convection.sealed air", "motion of sealed air, one factor for all gaps",
			fmt.Sprintf("published scatter of %s, ±%.0f %%", surface.UprightGapLaw.Name, 100*sealedScatterFrac), scatter(sealedScatterFrac), false)
	}
	m.Heat = &heat.Model{Grid: b.Heat.Grid, CapJK: b.Heat.CapJK, GX: b.Heat.GX, GY: b.Heat.GY, GZ: b.Heat.GZ}
	if err := m.sources(r); err != nil {
		return nil, err
	}
	if err := m.outside(r, subs); err != nil {
		return nil, err
	}
	for i := range m.Surfaces {
		sf := &m.Heat.Surfaces[i]
		for q, ei := range m.Surfaces[i].Elements {
			e := &g.Exposed[ei]
			k := p.k(e.Cell, int(e.Axis), subs)
			sf.HalfWK[q] = k * p.halfPerK[i][q]
		}
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

// k is the conductivity of a cell of a part along an axis, of a cell that several share by volume; of sealed air as it stands.
func (p *Partial) k(cell int32, axis int, subs []substance) float64 {
	s := p.base.Shape
	if span, ok := p.mixed[cell]; ok {
		sum, share := 0.0, 0.0
		for _, x := range s.Grid.Mixed[span[0]:span[1]] {
			if b := int(x.Body); b >= 0 {
				share += x.Frac
				if s.airBody(b) {
					sum += x.Frac * p.airKWmK()
				} else {
					sum += x.Frac * subs[b].kWmK[axis]
				}
			}
		}
		if share > 0 {
			return sum / share
		}
	}
	if b := int(s.Grid.Owner[cell]); b >= 0 && !s.airBody(b) {
		return subs[b].kWmK[axis]
	}
	return p.base.kWmK[axis][cell]
}

func (p *Partial) airKWmK() float64 {
	return surface.AirAt(p.base.Under.AirK, p.base.Under.PressurePa).KWmK
}

// renew brings the chosen cells and faces up to date.
func (p *Partial) renew(m *Model, subs []substance) {
	s, g := p.base.Shape, p.base.Shape.Grid
	air := surface.AirAt(m.Under.AirK, m.Under.PressurePa)
	rhoC := func(b int) float64 {
		if s.airBody(b) {
			return air.DensityKgM3 * air.CpJkgK
		}
		return subs[b].rhoKgM3 * subs[b].cpJkgK
	}
	for _, c := range p.cells {
		b := int(g.Owner[c])
		if b < 0 {
			continue
		}
		p.base.Heat.CapJK[c] = g.Volume(int(c)) * float64(g.Solid[c]) * rhoC(b)
		if span, ok := p.mixed[c]; ok {
			sum := 0.0
			for _, x := range g.Mixed[span[0]:span[1]] {
				if x.Body >= 0 {
					sum += x.Frac * rhoC(int(x.Body))
				}
			}
			p.base.Heat.CapJK[c] = g.Volume(int(c)) * sum
		}
		if !s.airBody(b) {
			for a := range m.kWmK {
				m.kWmK[a][c] = p.k(c, a, subs)
			}
		}
	}
	out := [3][]float64{p.base.Heat.GX, p.base.Heat.GY, p.base.Heat.GZ}
	stride := [3]int{1, g.NX, g.NX * g.NY}
	for _, f := range p.faces {
		a, c := int(f.Axis), int(f.Cell)
		idx := [3]int{c % g.NX, c / g.NX % g.NY, c / (g.NX * g.NY)}
		next := c + stride[a]
		area := p.size[(a+1)%3][idx[(a+1)%3]] * p.size[(a+2)%3][idx[(a+2)%3]] * float64(g.Open[a][c])
		w := p.size[a]
		r := w[idx[a]]/(2*m.kWmK[a][c]) + w[idx[a]+1]/(2*m.kWmK[a][next])
		if b1, b2 := int(g.Owner[c]), int(g.Owner[next]); b1 != b2 {
			if ji, ok := m.jointOf[pair(b1, b2)]; ok {
				r += m.Joints[ji].resistance()
			}
		}
		out[a][c] = area / r
	}
}

// Weights are what a reduced model's modes should take a cell's temperature for: its heat capacity, over the square root of its
// part's, so that small parts, whose temperatures are asked for as much as those of large ones, count more than by the heat
// they hold. Sealed air, whose temperature only carries heat on, counts little.
func (m *Model) Weights() []float64 {
	out := append([]float64(nil), m.Heat.CapJK...)
	for c, o := range m.Shape.Grid.Owner {
		switch {
		case o < 0:
		case m.Shape.airBody(int(o)):
			out[c] *= airWeight
		default:
			out[c] /= math.Sqrt(m.Parts[o].CapacityJK)
		}
	}
	return out
}

const airWeight = 1e-3

// Draws makes the device of a shape under drawn values, for reduce.Train: full power in one mode, from start to end.
type Draws struct {
	shape      *Shape
	conditions *device.Conditions
	mode       string
	unknowns   []Unknown
}

// Draws lists what is not known under conditions c (nil: the file's) in a mode. Sizes in doubt stay at their middles: another size
// is another shape.
func (s *Shape) Draws(c *device.Conditions, mode string) (*Draws, error) {
	m, err := s.At(nil, c, mode)
	if err != nil {
		return nil, err
	}
	return &Draws{shape: s, conditions: c, mode: mode, unknowns: m.Unknowns[len(s.unknowns):]}, nil
}

// drawnScore is the standard score up to which a reduced model is to hold: the ends of 90 % intervals.
const drawnScore = 1.645

// Unknowns makes Draws a reduce.Device.
func (d *Draws) Unknowns() []reduce.Range {
	out := make([]reduce.Range, len(d.unknowns))
	for i, u := range d.unknowns {
		out[i] = reduce.Range{Name: u.Path, Lo: u.Prior.At(-drawnScore), Hi: u.Prior.At(drawnScore)}
	}
	return out
}

// Values are those at standard scores; nil is the middle of all.
func (d *Draws) Values(scores []float64) device.Values {
	v := make(device.Values, len(scores))
	for i, z := range scores {
		v[d.unknowns[i].Path] = d.unknowns[i].Prior.At(z)
	}
	return v
}

// At makes Draws a reduce.Device.
func (d *Draws) At(scores []float64) (reduce.Drawn, error) {
	m, err := d.shape.At(d.Values(scores), d.conditions, d.mode)
	if err != nil {
		return reduce.Drawn{}, err
	}
	return m.Drawn(), nil
}

// Drawn is the model and the run that it makes at full power.
func (m *Model) Drawn() reduce.Drawn {
	d := reduce.Drawn{Instance: reduce.Instance{Heat: m.Heat, Air: m.Air()}, StartK: m.StartK, PowerW: m.FullPowerW(), Weights: m.Weights()}
	g := m.Shape.Grid
	for i := range m.Parts {
		asked, vol := reduce.Mean{Cells: m.Parts[i].Cells}, 0.0
		for _, c := range asked.Cells {
			v := g.Volume(int(c)) * float64(g.Solid[c])
			asked.Share = append(asked.Share, v)
			vol += v
		}
		for k := range asked.Share {
			asked.Share[k] /= vol
		}
		d.Asked = append(d.Asked, asked)
	}
	return d
}

// FullPowerW is every source's power while no sensor acts, W.
func (m *Model) FullPowerW() []float64 {
	out, sumW := make([]float64, len(m.Sources)), 0.0
	for i := range m.Sources {
		if !m.Sources[i].Cell {
			out[i] = m.Sources[i].FullW
			sumW += out[i]
		}
	}
	for i := range m.Sources {
		if b := m.Battery; m.Sources[i].Cell && b.Discharges {
			out[i] = b.OwnHeat * (sumW + b.OtherW)
		}
	}
	return out
}

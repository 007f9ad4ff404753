package heat

import (
	"context"
	"math"

	"finwright/internal/linsolve"
)

// SteadyStats tells how a steady solve went and where the heat goes.
type SteadyStats struct {
	Passes, LinearIterations int
	InW, GainW, OutW         float64   // OutW: by the films, gains not deducted
	SurfaceHeatW             []float64 // net heat out per surface
	Films                    []Film    // in force per surface
	MeanK                    []float64 // per surface
	ClosureRel               float64   // |in + gain − out| over the heat moved
}

const (
	steadyPasses = 200
	// steadyTolK is how well temperatures are known at rest, and how well the mean of a
	// surface must agree with the one its film was taken at, unless Options say otherwise.
	steadyTolK = 1e-5
)

// Steady finds the temperatures at which m stays for ever with powerW (W, per
// source), its laws asked at opt.AtS. Films (and Refresh) are iterated with the
// temperatures, by a secant on each surface's mean. guess may be nil; it helps
// speed only. Inactive cells keep their guess. The error is a *NoWayOutError when
// heat has no way out, an *UnsettledError when a law's film does not settle.
func Steady(ctx context.Context, m *Model, powerW []float64, opt Options, guess []float64) ([]float64, SteadyStats, error) {
	var stats SteadyStats
	if err := m.check(); err != nil {
		return nil, stats, err
	}
	opt, err := opt.withDefaults()
	if err != nil {
		return nil, stats, err
	}
	if opt.LinTolK == 0 {
		opt.LinTolK = steadyTolK
	}
	if err := m.checkPower(powerW); err != nil {
		return nil, stats, err
	}
	x := make([]float64, m.Cells())
	if guess != nil {
		if err := m.checkField(guess); err != nil {
			return nil, stats, err
		}
		copy(x, guess)
	}
	s := &steady{m: m, opt: opt, powerW: powerW, x: x, rhs: make([]float64, m.Cells()),
		op: &linsolve.Operator{Grid: m.Grid, GX: m.GX, GY: m.GY, GZ: m.GZ, Diag: make([]float64, m.Cells())}}
	// A first hierarchy on capacities: the films are not known yet.
	for c, cp := range m.CapJK {
		s.op.Diag[c] = cp
		if cp == 0 {
			s.op.Diag[c] = 1
		}
	}
	if s.lin, err = linsolve.New(s.op, linsolve.Options{Workers: opt.Workers}); err != nil {
		return nil, stats, err
	}
	s.b = newBoundary(m, s.op, opt.LinTolK, opt.Workers)
	s.findGroups()
	if err := s.lump(guess == nil); err != nil {
		return nil, stats, err
	}
	if err := s.iterate(ctx, &stats); err != nil {
		return nil, stats, err
	}
	return x, stats, s.account(&stats)
}

type steady struct {
	m      *Model
	opt    Options
	powerW []float64
	op     *linsolve.Operator
	lin    *linsolve.Solver
	b      *boundary
	x, rhs []float64
	group  []int32 // connected group of each active cell, -1 where inactive
	groups int
}

// findGroups numbers the connected groups of cells.
func (s *steady) findGroups() {
	n := s.m.Cells()
	s.group, s.groups = make([]int32, n), 0
	for c := range s.group {
		s.group[c] = -1
	}
	var stack []int32
	for c, cp := range s.m.CapJK {
		if cp == 0 || s.group[c] >= 0 {
			continue
		}
		k := int32(s.groups)
		s.groups++
		s.group[c] = k
		stack = append(stack[:0], int32(c))
		for len(stack) > 0 {
			c := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			s.m.faces(c, func(nb int32, _ float64) {
				if s.group[nb] < 0 {
					s.group[nb] = k
					stack = append(stack, nb)
				}
			})
		}
	}
}

// skinPart is what one surface has of a group.
type skinPart struct {
	surface int
	areaM2  float64
}

// roomK is where laws are first asked.
const roomK = 293.15

// clusters numbers the groups such that those whose films look at other surfaces
// share a number: what leaves one of them may end in another.
func (s *steady) clusters(parts [][]skinPart) (of []int, n int) {
	b, atS := s.b, s.opt.AtS
	const apartK = 15
	for i := range b.mean {
		b.mean[i] = roomK
	}
	for i := range b.mean {
		b.found[i] = roomK
		own, err := b.take(i, b.mean, atS)
		if err != nil {
			continue // met again, and told of, where the law is needed
		}
		for _, d := range [...]float64{-apartK, apartK} {
			for j := range b.next {
				b.next[j] = roomK + d
			}
			if f, err := b.takeAt(i, b.next, roomK, atS); err == nil && f != own {
				b.looks[i], b.joint = true, true
			}
		}
		if own.held() {
			b.found[i] = own.RefK
		}
	}
	copy(b.mean, b.found)
	of, shared := make([]int, s.groups), -1
	for k, ps := range parts {
		looks := false
		for _, p := range ps {
			looks = looks || b.looks[p.surface]
		}
		switch {
		case !looks:
			of[k], n = n, n+1
		case shared < 0:
			shared, of[k], n = n, n, n+1
		default:
			of[k] = shared
		}
	}
	return of, n
}

// lump finds for each cluster of groups the one temperature at which its surfaces would
// carry its heat away, were it the same everywhere. It is where the films are first
// asked (at the ambient temperature free convection carries nothing, and a first
// solve would have no answer), and shows whether there is a way out at all. The
// cells of a group start from it if all is true, or if at the guess given its
// films carry nothing.
func (s *steady) lump(all bool) error {
	b := s.b
	parts := make([][]skinPart, s.groups)
	for i := range s.m.Surfaces {
		sf := &s.m.Surfaces[i]
		for e, c := range sf.Cells {
			p := parts[s.group[c]]
			if k := len(p); k > 0 && p[k-1].surface == i {
				p[k-1].areaM2 += sf.AreaM2[e]
			} else {
				parts[s.group[c]] = append(p, skinPart{i, sf.AreaM2[e]})
			}
		}
	}
	cluster, clusters := s.clusters(parts)
	skins := make([][]skinPart, clusters)
	for k, p := range parts {
		skins[cluster[k]] = append(skins[cluster[k]], p...)
	}
	power := make([]float64, clusters)
	for i := range s.m.Sources {
		src := &s.m.Sources[i]
		for e, c := range src.Cells {
			power[cluster[s.group[c]]] += src.Share[e] * s.powerW[i]
		}
	}
	size := make([]int, clusters)
	for _, k := range s.group {
		if k >= 0 {
			size[cluster[k]]++
		}
	}
	level := make([]float64, clusters)
	for k := range level {
		t, ok, err := s.level(skins[k], power[k])
		if err != nil {
			return err
		}
		if !ok {
			none := &NoWayOutError{PowerW: power[k], Cells: size[k]}
			for i := range s.m.Sources {
				for e, c := range s.m.Sources[i].Cells {
					if cluster[s.group[c]] == k && s.m.Sources[i].Share[e]*s.powerW[i] != 0 {
						none.Sources = append(none.Sources, s.m.Sources[i].Name)
						break
					}
				}
			}
			return none
		}
		level[k] = t
	}
	place := func(only []bool) {
		for c, k := range s.group {
			if k >= 0 && (only == nil || only[k]) {
				s.x[c] = level[cluster[k]]
			}
		}
	}
	if all {
		place(nil)
	}
	if s.m.Refresh != nil && s.m.Refresh(s.x, s.b.all.crew.Workers()) {
		if err := s.refreshed(); err != nil {
			return err
		}
	}
	for try := 0; ; try++ {
		for i := range b.film {
			b.film[i] = Film{}
		}
		if err := b.begin(s.x, s.opt.AtS); err != nil {
			return err
		}
		// a group whose films carry nothing at the guess starts from its level
		dead, any := make([]bool, s.groups), false
		for k, p := range parts {
			carries := false
			for _, part := range p {
				carries = carries || b.film[part.surface].HWm2K > 0
			}
			dead[k] = !carries
			any = any || dead[k]
		}
		if !any || try == 1 {
			return nil
		}
		place(dead)
	}
}

// level is the uniform temperature of groups with the given surfaces and power.
// ok is false when there is none.
func (s *steady) level(parts []skinPart, powerW float64) (tK float64, ok bool, err error) {
	b, atS := s.b, s.opt.AtS
	// surplus is the heat that stays in at t, W; carries tells whether more goes out as t rises
	at := func(t float64) {
		for _, p := range parts {
			b.mean[p.surface] = t
		}
	}
	surplus := func(t float64) (w float64, carries bool, hold float64, err error) {
		w, hold = powerW, math.NaN()
		at(t)
		for _, p := range parts {
			f, err := b.take(p.surface, b.mean, atS)
			if err != nil {
				return 0, false, hold, err
			}
			if f.held() {
				return 0, true, f.RefK, nil
			}
			w -= p.areaM2 * f.flux(t)
			carries = carries || f.HWm2K > 0
		}
		return w, carries, hold, nil
	}
	// start in the middle of the temperatures that the surfaces look at
	at(roomK)
	area, ref := 0.0, 0.0
	for _, p := range parts {
		f, err := b.take(p.surface, b.mean, atS)
		if err != nil {
			return 0, false, err
		}
		if f.HWm2K > 0 {
			area += p.areaM2
			ref += p.areaM2 * f.RefK
		}
	}
	tK = roomK
	if area > 0 {
		tK = ref / area
	}
	w, carries, hold, err := surplus(tK)
	switch {
	case err != nil:
		return 0, false, err
	case !math.IsNaN(hold):
		return hold, true, nil
	case w == 0 && carries:
		return tK, true, nil
	}
	// step away from there until the surplus changes sign
	sign := 1.0
	if w < 0 {
		sign = -1
	}
	inner, outer := tK, tK
	const furthestK = 1e5
	for d := 1.0; ; d *= 2 {
		if d > furthestK {
			return 0, false, nil
		}
		t := tK + sign*d
		w, c, hold, err := surplus(t)
		if err != nil {
			if carries {
				return inner, true, nil // a law that ends there; as far as it goes will do to start from
			}
			return 0, false, err
		}
		carries = carries || c
		if !math.IsNaN(hold) {
			return hold, true, nil
		}
		if carries && w*sign <= 0 {
			outer = t
			break
		}
		inner = t
	}
	for range 40 {
		mid := (inner + outer) / 2
		w, _, hold, err := surplus(mid)
		if err != nil || !math.IsNaN(hold) {
			break
		}
		if w*sign > 0 {
			inner = mid
		} else {
			outer = mid
		}
	}
	return outer, true, nil
}

func (s *steady) refreshed() error {
	s.b.conductancesChanged()
	if err := s.lin.SetConductances(); err != nil {
		if _, singular := err.(*linsolve.Singular); !singular {
			return err
		}
	}
	before := s.groups
	s.findGroups()
	if s.groups > before {
		return &ModelError{"Refresh cut connections between cells; at rest it may only change their size"}
	}
	return nil
}

// iterate solves until films, refreshed conductances and temperatures agree.
func (s *steady) iterate(ctx context.Context, stats *SteadyStats) error {
	b := s.b
	for pass := 1; ; pass++ {
		if err := ctx.Err(); err != nil {
			return err
		}
		clear(s.op.Diag)
		clear(s.rhs)
		sizeK := 0.0
		for c, cp := range s.m.CapJK {
			if cp == 0 {
				s.op.Diag[c], s.rhs[c] = 1, s.x[c]
			}
			sizeK = math.Max(sizeK, math.Abs(s.x[c]))
		}
		s.m.addPower(s.rhs, s.powerW)
		b.saveBase(s.rhs, 0)
		if err := b.impose(s.rhs, s.x); err != nil {
			return err
		}
		if err := b.prepare(s.lin); err != nil {
			return err
		}
		iterations, err := b.solve(s.lin, s.x, s.rhs, 0.1*s.opt.LinTolK, sizeK)
		stats.LinearIterations += iterations
		stats.Passes = pass
		if err != nil {
			return err
		}
		if !b.closeSums(s.x, s.rhs, s.group, s.groups) {
			return errNotFinite
		}
		settled, worst, offK, err := b.review(s.x, s.opt.AtS, 0, b.tolK)
		if err != nil {
			return err
		}
		moved := s.m.Refresh != nil && s.m.Refresh(s.x, s.b.all.crew.Workers())
		if settled && !moved {
			return b.agree(s.x, s.rhs, s.group, s.groups, s.opt.AtS, 0, b.tolK)
		}
		if moved {
			if err := s.refreshed(); err != nil {
				return err
			}
		}
		if pass == steadyPasses {
			e := &UnsettledError{Passes: pass, OffK: offK}
			if !settled {
				e.Surface, e.MeanK = s.m.Surfaces[worst].Name, b.mean[worst]
			}
			return e
		}
	}
}

// account fills in the heat that goes in and out and checks that they agree.
func (s *steady) account(stats *SteadyStats) error {
	b := s.b
	ns := len(s.m.Surfaces)
	stats.SurfaceHeatW, stats.MeanK = make([]float64, ns), make([]float64, ns)
	gain := make([]float64, ns)
	b.flows(stats.SurfaceHeatW, gain, s.x)
	moved := 0.0
	for _, w := range s.powerW {
		stats.InW += w
		moved += math.Abs(w)
	}
	for i, q := range stats.SurfaceHeatW {
		stats.GainW += gain[i]
		stats.OutW += q + gain[i]
		moved += math.Abs(gain[i]) + math.Abs(q+gain[i])
		stats.MeanK[i] = b.meanOf(i, s.x, b.film[i])
	}
	stats.Films = append([]Film(nil), b.film...)
	// where no heat moves, 1 mK in every cell is the measure
	gap := math.Abs(stats.InW + stats.GainW - stats.OutW)
	if gap > 0 {
		stats.ClosureRel = gap / math.Max(moved/2, 1e-3*b.diagNorm)
	}
	if !(stats.ClosureRel <= closureLimit) {
		return &BalanceError{InJ: stats.InW + stats.GainW, OutJ: stats.OutW, ClosureRel: stats.ClosureRel}
	}
	return nil
}

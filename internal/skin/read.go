package skin

import (
	"math"
	"sort"

	"finwright/internal/grid"
	"finwright/internal/part"
)

// reader is one reading under way. Slices without a note have one entry per exposed element.
type reader struct {
	cells
	ex     []grid.Exposed
	bodies []Body
	flat   []bool
	dir    []int16 // index into dirs of its body
	gapM   []float64
	met    []int16 // body opposite, -1 none
	gap    []int32 // index into gaps, -1 none
	piece  []int32 // index into pieces

	dirs   [][]direction // by body
	areaM2 []float64     // by body
	gaps   []gap
	pieces []piece
	marks  []int32 // by cell: 0, or what the air there is in: a channel (gap index + 1) or a recess (-1 - body)
}

// place is what a piece of the surface has before it.
type place uint8

const (
	open     place = iota // in the open
	facing                // another body stands opposite
	inside                // the body's own far walls stand opposite
	channels              // the body's own close walls stand opposite
)

// piece is what becomes one surface.
type piece struct {
	body, dir int // dir -1 for channels
	place     place
	gap       int // index into gaps for facing and channels, else -1
	elems     []int
	areaM2    float64
}

// Read groups the exposed elements of g into surfaces; bodies are those of the grid, in its order. The list is sorted by
// body; then faces (left, right, bottom, top, back, front; a face before its parts in gaps), curved sides, inside walls,
// channels. The same grid always gives the same list.
func Read(g *grid.Grid, bodies []Body) []Surface {
	n := len(g.Exposed)
	r := &reader{cells: newCells(g), ex: g.Exposed, bodies: bodies, flat: make([]bool, n), dir: make([]int16, n), gapM: make([]float64, n),
		met: make([]int16, n), gap: make([]int32, n), piece: make([]int32, n), marks: make([]int32, len(g.Owner)),
		dirs: make([][]direction, len(bodies)), areaM2: make([]float64, len(bodies))}
	byBody := make([][]int32, len(bodies))
	for i := range r.ex {
		e := &r.ex[i]
		r.flat[i] = r.cells.flat(e)
		byBody[e.Body] = append(byBody[e.Body], int32(i))
		r.areaM2[e.Body] += e.AreaM2
	}
	for b, elems := range byBody {
		r.dirs[b] = r.directions(b, elems)
	}
	r.opposite()
	r.channels()
	r.assign()
	return r.surfaces()
}

// opposite looks from every element along its normal.
func (r *reader) opposite() {
	for i := range r.ex {
		r.gap[i] = -1
		h := r.look(&r.ex[i], r.flat[i], nil, 0)
		if h.body >= len(r.bodies) { // sealed air has no walls of its own
			h.body = -1
		}
		r.gapM[i], r.met[i] = h.atM, int16(h.body)
	}
}

// assign gives every element its piece.
func (r *reader) assign() {
	r.recesses()
	for pass := 0; ; pass++ {
		r.pieces = r.pieces[:0]
		byBody := make([][]int, len(r.bodies))
		for i := range r.ex {
			p := r.placeOf(i)
			k := -1
			for _, j := range byBody[p.body] {
				if q := &r.pieces[j]; q.dir == p.dir && q.place == p.place && q.gap == p.gap {
					k = j
					break
				}
			}
			if k < 0 {
				k = len(r.pieces)
				r.pieces = append(r.pieces, p)
				byBody[p.body] = append(byBody[p.body], k)
			}
			r.piece[i] = int32(k)
			r.pieces[k].elems = append(r.pieces[k].elems, i)
			r.pieces[k].areaM2 += r.ex[i].AreaM2
		}
		if pass == 1 {
			return
		}
		// what is tiny stays with the face that looks the same way
		for _, p := range r.pieces {
			if p.place == open || p.place == channels || p.areaM2 >= tiny*r.areaM2[p.body] {
				continue
			}
			for _, q := range r.pieces {
				if q.place == open && q.body == p.body && q.dir == p.dir {
					for _, i := range p.elems {
						r.gap[i], r.met[i] = -1, -1
					}
					break
				}
			}
		}
	}
}

// placeOf is the piece an element belongs to, so far as it is known by itself.
func (r *reader) placeOf(i int) piece {
	e := &r.ex[i]
	p := piece{body: int(e.Body), dir: int(r.dir[i]), gap: -1}
	if r.dirs[e.Body][r.dir[i]].kind != plane {
		return p
	}
	switch g := r.gap[i]; {
	case g >= 0 && r.gaps[g].body == p.body && !r.gaps[g].one:
		p.place, p.gap, p.dir = channels, int(g), -1
	case g >= 0:
		p.place, p.gap = facing, int(g)
	case r.met[i] == e.Body:
		p.place = inside
	}
	return p
}

// recesses marks the air between a body's own walls that are too far apart for a channel, and counts the floors there as
// inside too.
func (r *reader) recesses() {
	some := false
	for i := range r.ex {
		e := &r.ex[i]
		if r.gap[i] < 0 && r.met[i] == e.Body && r.dirs[e.Body][r.dir[i]].kind == plane {
			if at, ok := r.before(e, r.flat[i]); ok {
				r.walk(e.Centre, e.Normal, at, int(e.Cell), math.Inf(1), r.marks, -1-int32(e.Body))
				some = true
			}
		}
	}
	if !some {
		return
	}
	for i := range r.ex {
		e := &r.ex[i]
		if r.gap[i] < 0 && r.met[i] < 0 && r.markBefore(i) == -1-int32(e.Body) {
			r.met[i] = e.Body
		}
	}
}

// markBefore is the mark of the air in front of an element.
func (r *reader) markBefore(i int) int32 {
	e := &r.ex[i]
	if r.flat[i] {
		if at, ok := r.before(e, true); ok {
			return r.marks[at[0]*r.stride[0]+at[1]*r.stride[1]+at[2]*r.stride[2]]
		}
		return 0
	}
	// a cell's length off the surface, clear of the cells it cuts
	b := r.g.Box(int(e.Cell))
	far := 0.0
	for a := range e.Normal {
		far += math.Abs(e.Normal[a]) * (b.Max[a] - b.Min[a])
	}
	at, ok := r.locate(along(e.Centre, e.Normal, far))
	if !ok {
		return 0
	}
	return r.marks[at[0]*r.stride[0]+at[1]*r.stride[1]+at[2]*r.stride[2]]
}

// extent adds up how far elements reach along a direction.
type extent struct {
	lo, hi            float64
	area, sum, square float64
	bent              bool // some elements lie aslant to the cells
}

func newExtent() extent { return extent{lo: math.Inf(1), hi: math.Inf(-1)} }

func (x *extent) add(r *reader, i int, t part.Vec) {
	e := &r.ex[i]
	if side := sideOf(t); r.flat[i] && t == SideVec(side) && side/2 != int(e.Axis) {
		a := side / 2
		k := int(e.Cell) / r.stride[a] % r.n[a]
		lo, hi := r.planes[a][k], r.planes[a][k+1]
		if side%2 == 0 {
			lo, hi = -hi, -lo
		}
		x.lo, x.hi = math.Min(x.lo, lo), math.Max(x.hi, hi)
	} else {
		m := dot(e.Centre, t)
		x.lo, x.hi = math.Min(x.lo, m), math.Max(x.hi, m)
		x.bent = true
	}
	m := dot(e.Centre, t)
	x.area += e.AreaM2
	x.sum += m * e.AreaM2
	x.square += (m*m + e.AreaM2/12) * e.AreaM2
}

// lengthM is the extent: between the outermost cells' sides; of what lies aslant the length of the bar with the same
// second moment, L² = 12 σ², which for a rectangle is its side.
func (x *extent) lengthM() float64 {
	if x.area == 0 {
		return 0
	}
	if !x.bent {
		return x.hi - x.lo
	}
	mean := x.sum / x.area
	return math.Sqrt(12 * math.Max(x.square/x.area-mean*mean, 0))
}

// ends are the coordinates of the two ends.
func (x *extent) ends() (lo, hi float64) {
	if !x.bent || x.area == 0 {
		return x.lo, x.hi
	}
	mean, half := x.sum/x.area, x.lengthM()/2
	return mean - half, mean + half
}

// surfaces makes the list.
func (r *reader) surfaces() []Surface {
	order := make([]int, len(r.pieces))
	for k := range order {
		order[k] = k
	}
	sort.SliceStable(order, func(a, b int) bool { return r.listed(&r.pieces[order[a]], &r.pieces[order[b]]) })
	touch := r.touchable()
	runs := newRuns(r)
	out := make([]Surface, 0, len(order))
	for _, k := range order {
		p := &r.pieces[k]
		s := Surface{Body: p.body, Elements: p.elems, AreaM2: p.areaM2, FacingBody: -1}
		touchedM2 := 0.0
		for _, i := range p.elems {
			if touch[i] {
				touchedM2 += r.ex[i].AreaM2
			}
		}
		r.measure(&s, p, k, runs)
		s.Reach = touchedM2 >= 0.05*p.areaM2 && (s.Channel == nil || s.Channel.GapM >= FingerM*(1-1e-9))
		out = append(out, s)
	}
	r.name(out, order)
	return out
}

// rank is where a kind of surface stands in a body's list.
func (r *reader) rank(p *piece) int {
	switch {
	case p.place == channels:
		return 5
	case p.place == inside:
		return 4
	}
	switch r.dirs[p.body][p.dir].kind {
	case round:
		return 1
	case bore:
		return 2
	case curved:
		return 3
	}
	return 0
}

// listed says whether a piece comes before another in the list.
func (r *reader) listed(p, q *piece) bool {
	if p.body != q.body {
		return p.body < q.body
	}
	if a, b := r.rank(p), r.rank(q); a != b {
		return a < b
	}
	if p.dir >= 0 && p.dir != q.dir {
		m, n := r.dirs[p.body][p.dir].normal, r.dirs[q.body][q.dir].normal
		if a, b := sideOf(m), sideOf(n); a != b {
			return a < b
		}
		return p.dir < q.dir
	}
	if p.place != q.place {
		return p.place < q.place
	}
	if p.gap >= 0 && q.gap >= 0 {
		return r.gaps[p.gap].met < r.gaps[q.gap].met
	}
	return false
}

// measure fills in what a piece measures.
func (r *reader) measure(s *Surface, p *piece, k int, runs *runs) {
	lo, hi := part.Vec{math.Inf(1), math.Inf(1), math.Inf(1)}, part.Vec{math.Inf(-1), math.Inf(-1), math.Inf(-1)}
	var sum part.Vec
	for _, i := range p.elems {
		e := &r.ex[i]
		sum = along(sum, e.Normal, e.AreaM2)
		b := r.g.Box(int(e.Cell))
		if r.flat[i] {
			b.Min[e.Axis], b.Max[e.Axis] = e.Centre[e.Axis], e.Centre[e.Axis]
		}
		for a := range lo {
			lo[a], hi[a] = math.Min(lo[a], b.Min[a]), math.Max(hi[a], b.Max[a])
		}
	}
	for a := range lo {
		s.SpanM[a] = hi[a] - lo[a]
	}
	if p.gap >= 0 {
		c := r.gaps[p.gap].channel
		s.Channel, s.FacingBody = &c, r.gaps[p.gap].met
		s.U, s.V = c.Along, r.gaps[p.gap].across
		s.UM, s.VM = c.LengthM, r.gaps[p.gap].acrossM
	}
	if p.place == channels {
		s.Normal = s.Channel.Mouth
		if s.Normal == (part.Vec{}) {
			s.Normal = r.dirs[p.body][r.gaps[p.gap].dir].normal
		}
		s.Side = sideOf(s.Normal)
		return
	}
	switch d := &r.dirs[p.body][p.dir]; d.kind {
	case round, bore:
		r.roundSide(s, p, d.kind)
		return
	case curved:
		s.Normal = unit(sum)
		if math.Sqrt(dot(sum, sum)) < 0.05*p.areaM2 { // closed round itself: any direction is as good
			s.Normal = r.ex[p.elems[0]].Normal
		}
		s.U = positive(unit(crossAny(s.Normal)))
		s.V = positive(cross(s.Normal, s.U))
		u, v := newExtent(), newExtent()
		for _, i := range p.elems {
			u.add(r, i, s.U)
			v.add(r, i, s.V)
		}
		s.UM, s.VM = u.lengthM(), v.lengthM() // elements of one layer of cells all have their centres at one height
		s.Side = sideOf(s.Normal)
		return
	default:
		s.Normal = d.normal
		s.Side = sideOf(s.Normal)
		s.SpanM[s.Side/2] = 0
		if p.gap < 0 {
			t := frame(r.dirs[p.body], p.dir)
			s.U, s.V = t[0], t[1]
			s.UM, s.VM = runs.mean(k, s.U, s.V)
			if fins := r.tips(s.AreaM2, p); fins > 0 { // cells aslant to the fins let neighbouring tips touch
				if s.UM < s.VM {
					s.UM = math.Min(s.UM, s.AreaM2/(float64(fins)*s.VM))
				} else {
					s.VM = math.Min(s.VM, s.AreaM2/(float64(fins)*s.UM))
				}
			}
		}
	}
}

func crossAny(n part.Vec) part.Vec {
	a := part.Vec{1, 0, 0}
	if math.Abs(n[0]) > 0.9 {
		a = part.Vec{0, 1, 0}
	}
	return cross(n, a)
}

// roundSide fills in the curved side or the bore of a round body.
func (r *reader) roundSide(s *Surface, p *piece, k kind) {
	rd := *r.bodies[p.body].Round
	s.U = rd.Axis
	s.V = positive(unit(crossAny(rd.Axis)))
	s.UM, s.VM = rd.LengthM, rd.DiameterM
	s.Normal = s.V
	s.Side = sideOf(s.V)
	if k == round {
		s.Round = &rd
		return
	}
	c := Channel{LengthM: rd.LengthM, Along: rd.Axis, Count: 1}
	radiusM := 0.0
	for _, i := range p.elems {
		out := along(r.ex[i].Centre, rd.Centre, -1)
		out = along(out, rd.Axis, -dot(out, rd.Axis))
		radiusM += math.Sqrt(dot(out, out)) * r.ex[i].AreaM2
	}
	c.GapM = 2 * radiusM / p.areaM2
	for end := range 2 {
		d := along(part.Vec{}, rd.Axis, float64(2*end-1))
		free, ok := true, false
		var at [3]int
		// from points beside the axis: a wire or shaft on the axis closes nothing
		closed := 0
		for q := range 4 {
			side := along(part.Vec{}, s.V, 0.35*c.GapM*math.Cos(math.Pi*(float64(q)+0.5)/2))
			side = along(side, cross(s.U, s.V), 0.35*c.GapM*math.Sin(math.Pi*(float64(q)+0.5)/2))
			start := along(rd.Centre, side, 1)
			if at, ok = r.locate(start); ok && r.walk(start, d, at, -1, rd.LengthM/2+wideM(c.GapM), nil, 0).body >= 0 {
				closed++
			}
		}
		free = closed < 3
		if end == 0 {
			c.OpenLo = free
		} else {
			c.OpenHi = free
		}
	}
	s.Channel, s.FacingBody = &c, p.body
	s.VM = c.GapM
}

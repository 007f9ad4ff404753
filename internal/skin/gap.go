package skin

import (
	"math"
	"sort"

	"finwright/internal/grid"
	"finwright/internal/part"
)

// gap is a set of walls of one body that another wall, of the same or another body, stands opposite.
type gap struct {
	body, dir int  // of a pair of the body's own walls: the first one's
	met       int  // body opposite
	one       bool // opposite stands another body

	axes    [2]part.Vec
	reach   [2]extent // of the walls along axes
	elems   []int32
	areaM2  float64
	sumM    float64 // gap times area
	across  part.Vec
	acrossM float64
	channel Channel
}

// bits say at which ends something is in the way from the middle of a gap: bit 2·axis of the gap's axes, +1 for the positive end.
type bits uint8

func (b bits) end(axis, end int) bool { return b>>(2*axis+end)&1 == 1 }

// wideM is how far beyond an end or mouth the air must be free for it to be open.
func wideM(gapM float64) float64 { return 2 * gapM }

// channels finds which walls stand opposite each other, closely for their size, and what the space between them is like:
// first those of one body, with what else bounds the air between them, then those of two.
func (r *reader) channels() {
	r.closeWalls(true)
	for k := range r.gaps {
		g := &r.gaps[k]
		for _, i := range g.elems {
			r.look(&r.ex[i], r.flat[i], r.marks, int32(k+1))
		}
	}
	r.fillMarks()
	r.bounding()
	r.closeWalls(false)
}

// closeWalls makes gaps of the walls, of one body or of two, that are close for their size.
func (r *reader) closeWalls(ofOne bool) {
	pairs := r.facingWalls(ofOne)
	own, blocked := make([]bits, len(r.ex)), make([]bits, len(r.ex))
	for k := range pairs {
		p := &pairs[k]
		size := [2]float64{p.reach[0].lengthM(), p.reach[1].lengthM()}
		near := p.elems[:0]
		area := 0.0
		for _, i := range p.elems {
			if r.gapM[i] < math.Min(size[0], size[1]) {
				near = append(near, i)
				area += r.ex[i].AreaM2
			}
		}
		p.elems = near
		if len(near) == 0 || ofOne && area < tiny*r.areaM2[p.body] {
			continue
		}
		for _, i := range near {
			own[i], blocked[i] = r.around(p, int(i))
		}
		r.split(p, size, own, blocked)
	}
}

// fillMarks lets air belong to a channel that no wall of it looks through but that lies between two parts of it less than a
// gap apart: behind a slit in a wall.
func (r *reader) fillMarks() {
	if len(r.gaps) == 0 {
		return
	}
	for a := range r.n {
		for c := range r.marks {
			if c/r.stride[a]%r.n[a] != 0 {
				continue
			}
			last, at := int32(0), 0 // mark before the run of unmarked air, and where the run begins
			for i := range r.n[a] {
				k := c + i*r.stride[a]
				switch m := r.marks[k]; {
				case m == 0 && r.g.Owner[k] == grid.Outside:
				case m > 0:
					if m == last && at < i && r.planes[a][i]-r.planes[a][at] < r.gaps[m-1].channel.GapM {
						for ; at < i; at++ {
							r.marks[c+at*r.stride[a]] = m
						}
					}
					last, at = m, i+1
				default:
					last = 0
				}
			}
		}
	}
}

// bounding gives channels what bounds their air besides the flanks: floors and closed ends of the same body; another body's
// face there is a gap with the channels' measures.
func (r *reader) bounding() {
	lids := make(map[[3]int]int32)
	for i := range r.ex {
		if r.gap[i] >= 0 || r.dirs[r.ex[i].Body][r.dir[i]].kind != plane {
			continue
		}
		m := r.markBefore(i)
		if m <= 0 {
			continue
		}
		b := int(r.ex[i].Body)
		if r.gaps[m-1].body == b {
			r.gap[i] = m - 1
			continue
		}
		key := [3]int{b, int(r.dir[i]), int(m)}
		k, ok := lids[key]
		if !ok {
			k = int32(len(r.gaps))
			lids[key] = k
			lid := gap{body: b, dir: int(r.dir[i]), met: r.gaps[m-1].body, one: true, across: r.gaps[m-1].across, acrossM: r.gaps[m-1].acrossM,
				channel: r.gaps[m-1].channel}
			lid.channel.OneSided = true
			r.gaps = append(r.gaps, lid)
		}
		r.gap[i], r.met[i] = k, int16(r.gaps[m-1].body)
	}
}

// facingWalls gathers the elements, in no gap so far, that another wall of the same or of another body stands opposite, by
// body, direction and body met; a body's own walls that look at each other are one.
func (r *reader) facingWalls(ofOne bool) []gap {
	pairOf := make([][]int, len(r.dirs))
	for b, dirs := range r.dirs {
		pairOf[b] = make([]int, len(dirs))
		for d := range dirs {
			pairOf[b][d] = d
			for k := 0; k < d; k++ {
				if dirs[k].kind == plane && dirs[d].kind == plane && dot(dirs[k].normal, dirs[d].normal) < -cosFace {
					pairOf[b][d] = k
					break
				}
			}
		}
	}
	var pairs []gap
	byBody := make([][]int, len(r.dirs)) // indices into pairs
	for i := range r.ex {
		e := &r.ex[i]
		b, d := int(e.Body), int(r.dir[i])
		if r.met[i] < 0 || (int(r.met[i]) == b) != ofOne || r.gap[i] >= 0 || r.gapM[i] >= FarFacingM || r.dirs[b][d].kind != plane {
			continue
		}
		met := int(r.met[i])
		if met == b {
			d = pairOf[b][d]
		}
		at := -1
		for _, k := range byBody[b] {
			if pairs[k].dir == d && pairs[k].met == met {
				at = k
				break
			}
		}
		if at < 0 {
			at = len(pairs)
			pairs = append(pairs, gap{body: b, dir: d, met: met, one: met != b, axes: frame(r.dirs[b], d), reach: [2]extent{newExtent(), newExtent()}})
			byBody[b] = append(byBody[b], at)
		}
		p := &pairs[at]
		p.elems = append(p.elems, int32(i))
		for a := range p.reach {
			p.reach[a].add(r, i, p.axes[a])
		}
	}
	return pairs
}

// around walks from the middle of the gap in front of an element to the four ends of the walls: own says where the body
// itself is in the way, blocked where anything is.
func (r *reader) around(p *gap, i int) (own, blocked bits) {
	e := &r.ex[i]
	mid := along(e.Centre, e.Normal, r.gapM[i]/2)
	at, ok := r.locate(mid)
	if !ok {
		return 0, 0
	}
	for a := range p.axes {
		lo, hi := p.reach[a].ends()
		x := dot(mid, p.axes[a])
		for end := range 2 {
			d, far := p.axes[a], hi-x
			if end == 0 {
				d, far = along(part.Vec{}, d, -1), x-lo
			}
			h := r.walk(mid, d, at, -1, far+wideM(r.gapM[i]), nil, 0)
			if h.body < 0 || h.atM > far+wideM(r.gapM[i]) {
				continue
			}
			blocked |= 1 << (2*a + end)
			if h.body == p.body {
				own |= 1 << (2*a + end)
			}
		}
	}
	return own, blocked
}

// noBase is the mouth of what has no base.
const noBase = 4

// mouthOf is the end opposite the one that is closed: as bits number it. Where both axes are closed at one end the shorter
// one is the depth.
func mouthOf(b bits, size [2]float64) int {
	one := [2]bool{b.end(0, 0) != b.end(0, 1), b.end(1, 0) != b.end(1, 1)}
	a := 0
	switch {
	case one[0] && one[1]:
		if size[1] < size[0] {
			a = 1
		}
	case one[1]:
		a = 1
	case !one[0]:
		return noBase
	}
	if b.end(a, 0) {
		return 2*a + 1
	}
	return 2 * a
}

// split makes gaps of a pair of walls: one for each way that mouths open.
func (r *reader) split(p *gap, size [2]float64, own, blocked []bits) {
	mouth := make([]uint8, len(p.elems))
	var areaM2 [noBase + 1]float64
	for k, i := range p.elems {
		if !p.one {
			m := mouthOf(own[i], size)
			if m == noBase {
				m = mouthOf(blocked[i], size)
			}
			mouth[k] = uint8(m)
		}
		areaM2[mouth[k]] += r.ex[i].AreaM2
	}
	chiefMouth := 0
	total := 0.0
	for m, area := range areaM2 {
		total += area
		if area > areaM2[chiefMouth] {
			chiefMouth = m
		}
	}
	var to [noBase + 1]int
	for m := range to {
		to[m] = -1
	}
	for k, i := range p.elems {
		m := int(mouth[k])
		if areaM2[m] < 0.2*total {
			m = chiefMouth
		}
		if to[m] < 0 {
			to[m] = len(r.gaps)
			g := *p
			g.elems, g.areaM2 = nil, 0
			g.reach = [2]extent{newExtent(), newExtent()}
			r.gaps = append(r.gaps, g)
		}
		g := &r.gaps[to[m]]
		g.elems = append(g.elems, i)
		g.areaM2 += r.ex[i].AreaM2
		g.sumM += r.gapM[i] * r.ex[i].AreaM2
		for a := range g.reach {
			g.reach[a].add(r, int(i), g.axes[a])
		}
		r.gap[i] = int32(to[m])
	}
	for m, k := range to {
		if k >= 0 {
			r.shape(&r.gaps[k], m, own, blocked)
		}
	}
}

// shape measures one gap. mouth is what split found for a pair of own walls.
func (r *reader) shape(g *gap, mouth int, own, blocked []bits) {
	var closedM2, ownM2 [4]float64
	for _, i := range g.elems {
		for e := range closedM2 {
			if blocked[i]>>e&1 == 1 {
				closedM2[e] += r.ex[i].AreaM2
			}
			if own[i]>>e&1 == 1 {
				ownM2[e] += r.ex[i].AreaM2
			}
		}
	}
	var closed bits
	for e := range closedM2 {
		if closedM2[e] > g.areaM2/2 {
			closed |= 1 << e
		}
	}
	size := [2]float64{g.reach[0].lengthM(), g.reach[1].lengthM()}
	if g.one {
		mouth = mouthOf(closed, size)
	}
	c := Channel{GapM: g.sumM / g.areaM2, OneSided: g.one, Count: 1}
	across := 0
	if mouth != noBase {
		across = mouth / 2
		c.Mouth = along(part.Vec{}, g.axes[across], float64(2*(mouth%2)-1))
		c.DepthM = size[across]
		c.OpenMouth = !closed.end(across, mouth%2)
	} else {
		shut := [2]bool{closed.end(0, 0) && closed.end(0, 1), closed.end(1, 0) && closed.end(1, 1)}
		if shut[1] && !shut[0] || shut[0] == shut[1] && size[1] < size[0] {
			across = 1
		}
		switch {
		case !closed.end(across, 1):
			c.Mouth, c.OpenMouth = g.axes[across], true
		case !closed.end(across, 0):
			c.Mouth, c.OpenMouth = along(part.Vec{}, g.axes[across], -1), true
		}
	}
	run := 1 - across
	c.Along, c.LengthM = g.axes[run], size[run]
	c.OpenLo, c.OpenHi = !closed.end(run, 0), !closed.end(run, 1)
	if !g.one {
		c.Count = r.count(g, c.GapM)
	}
	g.across, g.acrossM = g.axes[across], size[across]
	g.channel = c
}

// count is how many parallel channels a set of own walls makes: how many depths the walls of one direction lie at.
func (r *reader) count(g *gap, gapM float64) int {
	type wall struct{ atM, areaM2 float64 }
	var walls []wall
	n := r.dirs[g.body][g.dir].normal
	for _, i := range g.elems {
		if int(r.dir[i]) == g.dir {
			walls = append(walls, wall{dot(r.ex[i].Centre, n), r.ex[i].AreaM2})
		}
	}
	sort.Slice(walls, func(a, b int) bool { return walls[a].atM < walls[b].atM })
	var sums []float64
	most := 0.0
	for k := range walls {
		if k == 0 || walls[k].atM-walls[k-1].atM > gapM/2 {
			sums = append(sums, 0)
		}
		sums[len(sums)-1] += walls[k].areaM2
		most = math.Max(most, sums[len(sums)-1])
	}
	count := 0
	for _, m := range sums {
		if m > 0.1*most {
			count++
		}
	}
	return max(count, 1)
}

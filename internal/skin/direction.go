package skin

import (
	"math"
	"sort"

	"finwright/internal/part"
)

// kind is what sort of surface looks a direction.
type kind uint8

const (
	plane  kind = iota
	round       // curved side of a round body
	bore        // inner side of a tube
	curved      // any other curved surface
)

// direction is one way that a body's surface looks.
type direction struct {
	kind   kind
	normal part.Vec // zero for what is curved
	areaM2 float64
}

const (
	cosSame  = 0.9998 // 1 degree: elements of one plane
	cosFace  = 0.9848 // 10 degrees: one face for a person
	cosChain = 0.7    // 45 degrees: neighbours on a curve cut into eight or more
	tiny     = 0.02   // share of a body's exposed area below which a surface joins another
	sliver   = 0.002
	fewChain = 6   // so many faces in a chain, none of them chief, are a curve
	chief    = 0.4 // share of a chain that makes one face of it the chief
)

// directions sorts the elements of a body by where they look.
func (r *reader) directions(body int, elems []int32) []direction {
	var dirs []direction
	of := r.dir
	var at [6]int // direction of a side, +1
	var bent []int32
	roundAt, boreAt := -1, -1
	total := 0.0
	for _, i := range elems {
		e := &r.ex[i]
		total += e.AreaM2
		if r.flat[i] {
			side := e.Side()
			if at[side] == 0 {
				dirs = append(dirs, direction{normal: SideVec(side)})
				at[side] = len(dirs)
			}
			of[i] = int16(at[side] - 1)
			dirs[of[i]].areaM2 += e.AreaM2
			continue
		}
		if rd := r.bodies[body].Round; rd != nil && math.Abs(dot(e.Normal, rd.Axis)) < 0.2 {
			out := along(e.Centre, rd.Centre, -1)
			out = along(out, rd.Axis, -dot(out, rd.Axis))
			slot, k := &roundAt, round
			if dot(out, e.Normal) < 0 {
				slot, k = &boreAt, bore
			}
			if *slot < 0 {
				dirs = append(dirs, direction{kind: k})
				*slot = len(dirs) - 1
			}
			of[i] = int16(*slot)
			dirs[*slot].areaM2 += e.AreaM2
			continue
		}
		bent = append(bent, i)
	}
	if len(bent) > 0 {
		dirs = r.oblique(dirs, bent, total)
	}
	r.joinSlivers(dirs, elems, total)
	return dirs
}

// joinSlivers gives what sampling leaves of flat face where a curve or an oblique edge touches the cells' planes to the curve
// or to the plane that looks most alike.
func (r *reader) joinSlivers(dirs []direction, elems []int32, totalM2 float64) {
	to := make([]int16, len(dirs))
	some := false
	for d := range dirs {
		to[d] = int16(d)
		if dirs[d].kind != plane || dirs[d].areaM2 >= sliver*totalM2 {
			continue
		}
		cos := 0.5
		for k := range dirs {
			like := dot(dirs[k].normal, dirs[d].normal)
			if dirs[k].kind == round || dirs[k].kind == curved {
				like = 0.9
			}
			if dirs[k].areaM2 >= sliver*totalM2 && like > cos {
				to[d], cos, some = int16(k), like, true
			}
		}
	}
	if !some {
		return
	}
	for _, i := range elems {
		d := r.dir[i]
		if to[d] != d {
			dirs[to[d]].areaM2 += r.ex[i].AreaM2
			dirs[d].areaM2 -= r.ex[i].AreaM2
			r.dir[i] = to[d]
		}
	}
}

// oblique adds the directions of the elements that lie aslant: planes by their normals, the largest first; chains of many
// small ones are a curve.
func (r *reader) oblique(dirs []direction, bent []int32, totalM2 float64) []direction {
	type bundle struct {
		normal, sum part.Vec
		areaM2      float64
		leader      int
	}
	var bundles []bundle
	in := make([]int, len(bent))
	for k, i := range bent {
		e := &r.ex[i]
		b := 0
		for b < len(bundles) && dot(bundles[b].normal, e.Normal) < cosSame {
			b++
		}
		if b == len(bundles) {
			bundles = append(bundles, bundle{normal: e.Normal})
		}
		bundles[b].areaM2 += e.AreaM2
		bundles[b].sum = along(bundles[b].sum, e.Normal, e.AreaM2)
		in[k] = b
	}
	order := make([]int, len(bundles))
	for b := range order {
		order[b] = b
	}
	sort.SliceStable(order, func(x, y int) bool { return bundles[order[x]].areaM2 > bundles[order[y]].areaM2*(1+1e-9) })
	var leads []direction
	for _, b := range order {
		n := unit(bundles[b].sum)
		l := 0
		for l < len(leads) && dot(leads[l].normal, n) < cosFace {
			l++
		}
		if l == len(leads) {
			leads = append(leads, direction{normal: n})
		}
		leads[l].areaM2 += bundles[b].areaM2
		bundles[b].leader = l
	}
	// chains of neighbours
	chain := make([]int, len(leads))
	for l := range chain {
		chain[l] = -1
	}
	chains := 0
	for l := range leads {
		if chain[l] >= 0 {
			continue
		}
		chain[l] = chains
		for todo := []int{l}; len(todo) > 0; {
			x := todo[len(todo)-1]
			todo = todo[:len(todo)-1]
			for y := range leads {
				if chain[y] < 0 && dot(leads[x].normal, leads[y].normal) > cosChain {
					chain[y] = chains
					todo = append(todo, y)
				}
			}
		}
		chains++
	}
	to := make([]int, len(leads)) // index into dirs
	for l := range to {
		to[l] = -1
	}
	for ch := 0; ch < chains; ch++ {
		area, most, count := 0.0, 0.0, 0
		for l := range leads {
			if chain[l] == ch {
				area += leads[l].areaM2
				most = math.Max(most, leads[l].areaM2)
				count++
			}
		}
		if count >= fewChain && most < chief*area {
			dirs = append(dirs, direction{kind: curved, areaM2: area})
			for l := range leads {
				if chain[l] == ch {
					to[l] = len(dirs) - 1
				}
			}
		}
	}
	for l := range leads {
		if to[l] < 0 && leads[l].areaM2 >= tiny*totalM2 && !mixture(leads, l) {
			dirs = append(dirs, leads[l])
			to[l] = len(dirs) - 1
		}
	}
	for l := range leads {
		if to[l] >= 0 {
			continue
		}
		best, cos := -1, 0.5
		for k := range dirs {
			if c := dot(dirs[k].normal, leads[l].normal); dirs[k].kind == plane && c > cos {
				best, cos = k, c
			}
		}
		if best < 0 {
			dirs = append(dirs, leads[l])
			best = len(dirs) - 1
		} else {
			dirs[best].areaM2 += leads[l].areaM2
		}
		to[l] = best
	}
	for k, i := range bent {
		r.dir[i] = int16(to[bundles[in[k]].leader])
	}
	return dirs
}

// mixture says that leads[l] lies between two directions at right angles to each other, one of them larger, that look to the
// same side of the cells: it is the mean that cells along their common edge show, where the grid keeps one element a side.
func mixture(leads []direction, l int) bool {
	for a := range leads {
		for b := range a {
			p, q := leads[a].normal, leads[b].normal
			if a == l || b == l || leads[l].areaM2 > math.Max(leads[a].areaM2, leads[b].areaM2) || sideOf(p) != sideOf(q) || math.Abs(dot(p, q)) > 0.17 {
				continue
			}
			x, y := dot(leads[l].normal, p), dot(leads[l].normal, q)
			if x > 0 && y > 0 && x*x+y*y > cosFace*cosFace {
				return true
			}
		}
	}
	return false
}

// frame is the two in-plane axes of a direction: along other faces of the body where some stand at right angles, so that
// they follow its edges.
func frame(dirs []direction, d int) (t [2]part.Vec) {
	n := dirs[d].normal
	best, area := -1, 0.0
	for k := range dirs {
		if dirs[k].kind == plane && math.Abs(dot(dirs[k].normal, n)) < 0.17 && dirs[k].areaM2 > area*(1+1e-9) {
			best, area = k, dirs[k].areaM2
		}
	}
	axis := sideOf(n) / 2
	if n == SideVec(sideOf(n)) && (best < 0 || dirs[best].normal == SideVec(sideOf(dirs[best].normal))) {
		return [2]part.Vec{SideVec(2*min((axis+1)%3, (axis+2)%3) + 1), SideVec(2*max((axis+1)%3, (axis+2)%3) + 1)}
	}
	a := SideVec(2*((axis+1)%3) + 1)
	if best >= 0 {
		a = dirs[best].normal
	}
	t[0] = positive(unit(along(a, n, -dot(a, n))))
	t[1] = positive(cross(n, t[0]))
	return t
}

// positive turns a vector round where it mostly points to a negative side.
func positive(v part.Vec) part.Vec {
	if sideOf(v)%2 == 0 {
		return part.Vec{-v[0], -v[1], -v[2]}
	}
	return v
}

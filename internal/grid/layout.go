package grid

import (
	"fmt"
	"math"
	"sort"

	"finwright/internal/part"
)

// samples is the number of sample points per axis in a cell along which a section changes.
const samples = 8

// rule says how one layer of cells along an axis is sampled. A layer is cut into pieces at true planes that do not coincide
// with grid planes (snapped ones), and evenly where solids are oblique.
type rule struct {
	mid, width []float64 // of the pieces, m
	core0      int       // pieces core0..core0+coreN-1 are the core: what is left when snapped slivers at both ends are put aside
	coreN      int
	lo, hi     float64 // the core's ends
}

// cluster is planes that have become one.
type cluster struct {
	lo, hi float64 // of the members
	at     float64 // where the grid plane is
}

// interval is the space between two clusters, to be cut into cells.
type interval struct {
	lenM   float64
	wishM  float64 // longest cell allowed in it
	startM float64 // longest first and last cell allowed by the neighbours
	endM   float64
	sizes  []float64
}

// layOut chooses the planes.
func layOut(solids []part.Solid, opt Options) (planes [3][]float64, rules [3][]rule, err error) {
	var clusters [3][]cluster
	longest := 0.0
	for a := range clusters {
		if clusters[a], err = snap(solids, a, opt); err != nil {
			return planes, rules, err
		}
		c := clusters[a]
		longest = math.Max(longest, c[len(c)-1].at-c[0].at)
	}
	maxCellM := opt.MaxCellM
	if maxCellM == 0 {
		maxCellM = longest / 32
		if opt.TargetCells > 0 {
			maxCellM = longest / 64
		}
	}
	if longest/maxCellM > float64(opt.MaxCells) {
		return planes, rules, &Error{fmt.Sprintf("cells of %.3g mm along %.3g mm are more than %d, the most there may be", maxCellM*1e3, longest*1e3, opt.MaxCells), "allow longer cells ('largest cell')"}
	}
	growth, across, coarser := opt.GrowthMax, opt.Across, 1.0
	for {
		count := 1 << (3 * opt.Refine)
		for a := range planes {
			planes[a] = divide(solids, a, clusters[a], maxCellM*coarser, coarser, across, growth, opt.SnapM)
			count *= len(planes[a]) - 1
		}
		if opt.TargetCells > 0 && count > opt.TargetCells {
			// first longer cells, then steeper growth, then fewer cells across; what the features need stays
			switch {
			case maxCellM*coarser < longest:
				coarser *= 1.2
				continue
			case growth < 8:
				growth *= 1.5
				continue
			case across > 1:
				across--
				continue
			}
		}
		if count > opt.MaxCells {
			return planes, rules, &Error{fmt.Sprintf("the device would be cut into %d cells; %d is the most", count, opt.MaxCells),
				fmt.Sprintf("allow longer cells than %.3g mm ('largest cell'), fewer than %d cells across, or leave tiny parts out", maxCellM*coarser*1e3, across)}
		}
		break
	}
	for a := range planes {
		for r := 0; r < opt.Refine; r++ {
			planes[a] = halved(planes[a])
		}
		rules[a] = sampling(solids, a, clusters[a], planes[a], opt.SnapM*1e-4)
	}
	return planes, rules, nil
}

// snap gathers the planes of all solids along an axis and makes one of those that are closer than the snap distance.
func snap(solids []part.Solid, axis int, opt Options) ([]cluster, error) {
	type plane struct {
		at    float64
		thick float64 // thickness of the thing it bounds, for choosing which plane of a cluster stays
		end   int     // −1 lower end of a solid, +1 upper end, 0 a plane inside its bounds
	}
	var all []plane
	lo, hi := math.Inf(1), math.Inf(-1)
	for b, s := range solids {
		p := s.Planes(axis)
		last := len(p) - 1
		if p[last]-p[0] < opt.SnapM {
			return nil, &Error{fmt.Sprintf("part %d is only %.3g mm thick along %s, less than the snap distance of %.3g mm", b+1, (p[last]-p[0])*1e3, "xyz"[axis:axis+1], opt.SnapM*1e3),
				"make the snap distance smaller, or describe so thin a layer as a joint"}
		}
		lo, hi = math.Min(lo, p[0]), math.Max(hi, p[last])
		for i, v := range p {
			thick := math.Inf(1)
			if i > 0 {
				thick = v - p[i-1]
			}
			if i < last {
				thick = math.Min(thick, p[i+1]-v)
			}
			end := 0
			if i == 0 {
				end = -1
			} else if i == last {
				end = 1
			}
			all = append(all, plane{v, thick, end})
		}
	}
	for _, v := range opt.Extra[axis] {
		if v > lo && v < hi {
			all = append(all, plane{v, math.Inf(1), 0})
		}
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].at < all[j].at })

	// groups of planes; merged further while two kept planes are still closer than the snap distance
	var groups [][]plane
	for i, p := range all {
		if i > 0 && p.at-groups[len(groups)-1][0].at < opt.SnapM {
			groups[len(groups)-1] = append(groups[len(groups)-1], p)
			continue
		}
		groups = append(groups, []plane{p})
	}
	keep := func(g []plane) float64 {
		lower, upper := false, false
		best := 0
		for i, p := range g {
			lower, upper = lower || p.end < 0, upper || p.end > 0
			if p.thick < g[best].thick*(1-1e-9) {
				best = i
			}
		}
		switch {
		case upper && !lower:
			return g[len(g)-1].at
		case lower && !upper:
			return g[0].at
		}
		return g[best].at
	}
	for i := 1; i < len(groups); {
		if keep(groups[i])-keep(groups[i-1]) < opt.SnapM {
			groups[i-1] = append(groups[i-1], groups[i]...)
			groups = append(groups[:i], groups[i+1:]...)
			i = max(i-1, 1)
			continue
		}
		i++
	}
	out := make([]cluster, len(groups))
	for i, g := range groups {
		out[i] = cluster{lo: g[0].at, hi: g[len(g)-1].at, at: keep(g)}
	}
	if len(out) < 2 {
		return nil, &Error{fmt.Sprintf("all parts together are thinner along %s than the snap distance of %.3g mm", "xyz"[axis:axis+1], opt.SnapM*1e3), "make the snap distance smaller"}
	}
	return out, nil
}

// divide cuts the intervals between clusters into cells.
func divide(solids []part.Solid, axis int, c []cluster, maxCellM, coarser float64, across int, growth, snapM float64) []float64 {
	iv := make([]interval, len(c)-1)
	for k := range iv {
		iv[k].lenM = c[k+1].at - c[k].at
		iv[k].wishM = maxCellM
		iv[k].startM, iv[k].endM = math.Inf(1), math.Inf(1)
	}
	cut := func(lo, hi int, m float64) { // cells between clusters lo and hi no longer than m
		for k := lo; k < hi; k++ {
			iv[k].wishM = math.Min(iv[k].wishM, m)
		}
	}
	isLower, isUpper := make([]bool, len(c)), make([]bool, len(c))
	for _, s := range solids {
		p := s.Planes(axis)
		at := make([]int, len(p))
		for i, v := range p {
			at[i] = clusterOf(c, v)
		}
		last := len(p) - 1
		isLower[at[0]], isUpper[at[last]] = true, true
		for i := 1; i <= last; i++ {
			if lo, hi := at[i-1], at[i]; hi > lo {
				cut(lo, hi, (c[hi].at-c[lo].at)/float64(across)*(1+1e-9))
			}
		}
		for _, w := range s.Wishes(axis) {
			// a coarser grid shows round shapes coarser too
			cut(clusterOf(c, w.LoM), clusterOf(c, w.HiM), math.Min(w.CellM*coarser, math.Max(w.CellM, w.MostM)))
		}
	}
	for k := range iv { // a gap between the end of one solid and the start of another
		if isUpper[k] && isLower[k+1] {
			cut(k, k+1, iv[k].lenM/float64(across)*(1+1e-9))
		}
	}

	// Neighbouring cells differ by no more than growth: start without limits, hand each interval the end cells of its
	// neighbours, and repeat until nothing changes. Limits only fall, and growth above √2 keeps them from falling for ever.
	for k := range iv {
		iv[k].fill(growth, snapM)
	}
	for pass, changed := 0, true; changed && pass < 200; pass++ {
		changed = false
		for k := range iv {
			start, end := iv[k].startM, iv[k].endM
			if k > 0 {
				s := iv[k-1].sizes
				start = math.Min(start, growth*s[len(s)-1])
			}
			if k < len(iv)-1 {
				end = math.Min(end, growth*iv[k+1].sizes[0])
			}
			const slack = 1 + 1e-9
			s := iv[k].sizes
			if s[0] > start*slack || s[len(s)-1] > end*slack {
				iv[k].startM, iv[k].endM = start, end
				iv[k].fill(growth, snapM)
				changed = true
			}
		}
	}
	planes := []float64{c[0].at}
	for k := range iv {
		x := c[k].at
		for _, s := range iv[k].sizes[:len(iv[k].sizes)-1] {
			x += s
			planes = append(planes, x)
		}
		planes = append(planes, c[k+1].at)
	}
	return planes
}

// fill chooses the cells of an interval: geometric growth from both ends up to the longest cell allowed, always extending the
// front with the shorter cell, then all scaled to fit.
func (v *interval) fill(growth, snapM float64) {
	left, right := math.Min(v.wishM, v.startM), math.Min(v.wishM, v.endM)
	var l, r []float64
	sum := 0.0
	for sum < v.lenM*(1-1e-9) {
		if left <= right*(1+1e-9) {
			l = append(l, left)
			sum += left
			left = math.Min(left*growth, v.wishM)
		} else {
			r = append(r, right)
			sum += right
			right = math.Min(right*growth, v.wishM)
		}
	}
	for i := len(r) - 1; i >= 0; i-- {
		l = append(l, r[i])
	}
	least := math.Inf(1)
	for i := range l {
		l[i] *= v.lenM / sum
		least = math.Min(least, l[i])
	}
	if least < snapM && len(l) > 1 { // no cell thinner than the snap distance
		n := max(1, min(len(l)-1, int(v.lenM/snapM)))
		l = l[:n]
		for i := range l {
			l[i] = v.lenM / float64(n)
		}
	}
	v.sizes = l
}

// clusterOf finds the cluster a plane has gone into.
func clusterOf(c []cluster, at float64) int {
	i := sort.Search(len(c), func(i int) bool { return c[i].hi >= at })
	return min(i, len(c)-1)
}

// halved puts a plane in the middle of every cell.
func halved(p []float64) []float64 {
	out := make([]float64, 0, 2*len(p)-1)
	for i, v := range p {
		if i > 0 {
			out = append(out, (p[i-1]+v)/2)
		}
		out = append(out, v)
	}
	return out
}

// sampling makes the rules of an axis' layers.
func sampling(solids []part.Solid, axis int, c []cluster, planes []float64, tinyM float64) []rule {
	var true_ []float64 // all true planes of all solids, sorted
	type span struct{ lo, hi float64 }
	var fine []span
	for _, s := range solids {
		p := s.Planes(axis)
		true_ = append(true_, p...)
		if s.Oblique(axis) {
			fine = append(fine, span{p[0], p[len(p)-1]})
		}
	}
	sort.Float64s(true_)
	rules := make([]rule, len(planes)-1)
	for i := range rules {
		lo, hi := planes[i], planes[i+1]
		r := &rules[i]
		r.lo, r.hi = lo, hi
		// slivers: what lies between the grid plane and the farthest true plane that was snapped onto it
		if k := clusterOf(c, lo); c[k].at == lo {
			r.lo = math.Min(math.Max(lo, c[k].hi), lo+0.45*(hi-lo))
		}
		if k := clusterOf(c, hi); c[k].at == hi {
			r.hi = math.Max(math.Min(hi, c[k].lo), hi-0.45*(hi-lo))
		}
		if r.lo-lo < tinyM {
			r.lo = lo
		}
		if hi-r.hi < tinyM {
			r.hi = hi
		}
		r.coreN = 1
		for _, f := range fine {
			if f.lo < r.hi && f.hi > r.lo {
				r.coreN = samples
			}
		}
		edges := []float64{lo}
		between := func(a, b float64) { // true planes strictly between
			for k := sort.SearchFloat64s(true_, a); k < len(true_) && true_[k] < b; k++ {
				if v := true_[k]; v-edges[len(edges)-1] > tinyM && b-v > tinyM {
					edges = append(edges, v)
				}
			}
		}
		if r.lo > lo {
			between(lo, r.lo)
			edges = append(edges, r.lo)
		}
		r.core0 = len(edges) - 1
		for k := 1; k <= r.coreN; k++ {
			edges = append(edges, r.lo+(r.hi-r.lo)*float64(k)/float64(r.coreN))
		}
		if r.hi < hi {
			edges[len(edges)-1] = r.hi
			between(r.hi, hi)
			edges = append(edges, hi)
		}
		edges[len(edges)-1] = hi
		for k := 1; k < len(edges); k++ {
			r.mid = append(r.mid, (edges[k-1]+edges[k])/2)
			r.width = append(r.width, edges[k]-edges[k-1])
		}
	}
	return rules
}

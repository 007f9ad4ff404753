package skin

import "finwright/internal/grid"

// touchable tells of each element whether a finger gets there: whether a ball as wide as a finger, moved from outside through
// cells of outer air that are free over its width along all three axes, can lie on the element.
func (r *reader) touchable() []bool {
	narrow := make([]bool, len(r.g.Owner)) // or not air
	for a := range r.n {
		for c := range narrow {
			if c/r.stride[a]%r.n[a] != 0 {
				continue
			}
			for i := 0; i < r.n[a]; {
				if r.g.Owner[c+i*r.stride[a]] != grid.Outside {
					narrow[c+i*r.stride[a]] = true
					i++
					continue
				}
				end := i
				for end < r.n[a] && r.g.Owner[c+end*r.stride[a]] == grid.Outside {
					end++
				}
				if i > 0 && end < r.n[a] && r.planes[a][end]-r.planes[a][i] < FingerM*(1-1e-9) {
					for ; i < end; i++ {
						narrow[c+i*r.stride[a]] = true
					}
				}
				i = end
			}
		}
	}
	reached := make([]bool, len(narrow))
	var todo []int
	visit := func(c int) {
		if !narrow[c] && !reached[c] {
			reached[c] = true
			todo = append(todo, c)
		}
	}
	for c := range narrow {
		for a := range r.n {
			if i := c / r.stride[a] % r.n[a]; i == 0 || i == r.n[a]-1 {
				visit(c)
			}
		}
	}
	for len(todo) > 0 {
		c := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		for a := range r.n {
			i := c / r.stride[a] % r.n[a]
			if i > 0 {
				visit(c - r.stride[a])
			}
			if i < r.n[a]-1 {
				visit(c + r.stride[a])
			}
		}
	}
	out := make([]bool, len(r.ex))
	for i := range out {
		e := &r.ex[i]
		at, in := r.locate(along(e.Centre, e.Normal, FingerM/2))
		out[i] = r.gapM[i] >= FingerM*(1-1e-9) && (!in || reached[at[0]*r.stride[0]+at[1]*r.stride[1]+at[2]*r.stride[2]])
	}
	return out
}

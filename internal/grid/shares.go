package grid

import "finwright/internal/part"

// shares works out what share of the cell each body and each piece of void has: s.order lists them, s.sum holds the shares.
//
// Voxels whose neighbours all hold the same count whole. The others are divided again along the axes where solids are
// oblique: in four along two axes, in two along three, one sample each. Slivers beside the core get one true sample per piece.
func (s *sampler) shares(c int, r [3]*rule, voxels int, side [6]int) {
	clear(s.sum)
	s.order = s.order[:0]
	whole := s.g.Volume(c)
	n := [3]int{r[0].coreN, r[1].coreN, r[2].coreN}
	var last *cutShare // neighbours mostly hold the same
	tally := func(who int16, frac, core float64) {
		if last == nil || last.who != who {
			last = s.sum[who]
			if last == nil {
				last = &cutShare{who: who}
				s.sum[who] = last
				s.order = append(s.order, who)
			}
		}
		last.frac += frac
		last.core += core
	}

	div, fine := [3]int{1, 1, 1}, 0
	for a := range n {
		if n[a] > 1 {
			fine++
		}
	}
	for a := range n {
		if n[a] > 1 {
			div[a] = 4
			if fine == 3 {
				div[a] = 2
			}
		}
	}
	per := 1 / float64(div[0]*div[1]*div[2])

	for k, wz := range r[2].width {
		kc, inZ := r[2].core(k)
		for j, wy := range r[1].width {
			jc, inY := r[1].core(j)
			for i, wx := range r[0].width {
				ic, inX := r[0].core(i)
				at := [3]int{ic, jc, kc}
				code := s.codes[(kc*n[1]+jc)*n[0]+ic]
				frac := wx * wy * wz / whole
				mid := part.Vec{r[0].mid[i], r[1].mid[j], r[2].mid[k]}
				if !inX || !inY || !inZ {
					if b := s.at(mid); b >= 0 {
						tally(b, frac, 0)
					} else if code < 0 {
						tally(code, frac, 0) // the void beside a void core is part of it; beside a solid it is a pocket
					}
					continue
				}
				core := 1 / float64(voxels)
				alike, air := s.around(at, n, side)
				if alike {
					tally(code, frac, core)
					continue
				}
				size := part.Vec{wx, wy, wz}
				for q := 0; q < div[0]*div[1]*div[2]; q++ {
					step := [3]int{q % div[0], q / div[0] % div[1], q / (div[0] * div[1])}
					p := mid
					for a := range p {
						p[a] += size[a] * ((float64(step[a])+0.5)/float64(div[a]) - 0.5)
					}
					if b := s.at(p); b >= 0 {
						tally(b, frac*per, core*per)
					} else if air < 0 {
						tally(air, frac*per, core*per)
					}
				}
			}
		}
	}
}

// around says whether a voxel's neighbours (points of the cell's sides too) all hold what it holds, and which void is in it or
// beside it (0 for none).
func (s *sampler) around(at, n [3]int, side [6]int) (alike bool, air int16) {
	code := s.codes[(at[2]*n[1]+at[1])*n[0]+at[0]]
	alike = true
	see := func(other int16) {
		alike = alike && other == code
		if air == 0 && other < 0 {
			air = other
		}
	}
	see(code)
	stride := [3]int{1, n[0], n[0] * n[1]}
	v := at[0] + at[1]*stride[1] + at[2]*stride[2]
	for a := range at {
		u, w := (a+1)%3, (a+2)%3
		pt := at[w]*n[u] + at[u]
		if at[a] > 0 {
			see(s.codes[v-stride[a]])
		} else {
			see(s.codes[side[2*a]+pt])
		}
		if at[a] < n[a]-1 {
			see(s.codes[v+stride[a]])
		} else {
			see(s.codes[side[2*a+1]+pt])
		}
	}
	return alike, air
}

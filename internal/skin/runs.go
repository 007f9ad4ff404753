package skin

import "finwright/internal/part"

// runs finds the connected parts of surfaces.
type runs struct {
	r    *reader
	seen []bool
	todo []int32
}

func newRuns(r *reader) *runs { return &runs{r: r, seen: make([]bool, len(r.ex))} }

// mean is how far the connected parts of a piece extend along u and v, by area. Elements hang together when their cells touch.
func (q *runs) mean(k int, u, v part.Vec) (uM, vM float64) {
	r := q.r
	total := 0.0
	for _, first := range r.pieces[k].elems {
		if q.seen[first] {
			continue
		}
		q.seen[first] = true
		xu, xv := newExtent(), newExtent()
		q.todo = append(q.todo[:0], int32(first))
		for len(q.todo) > 0 {
			i := int(q.todo[len(q.todo)-1])
			q.todo = q.todo[:len(q.todo)-1]
			xu.add(r, i, u)
			xv.add(r, i, v)
			q.neighbours(i, k)
		}
		lu, lv := xu.lengthM(), xv.lengthM()
		if xu.bent && xv.bent { // elements of cells wider than the face blur its short side
			if lu < lv {
				lu = min(lu, xu.area/lv)
			} else {
				lv = min(lv, xu.area/lu)
			}
		}
		uM += lu * xu.area
		vM += lv * xu.area
		total += xu.area
	}
	if total == 0 {
		return 0, 0
	}
	return uM / total, vM / total
}

// neighbours adds the elements of the same piece in the cell of i and those around it.
func (q *runs) neighbours(i, k int) {
	r := q.r
	at := r.g.IJK(int(r.ex[i].Cell))
	for z := max(at[2]-1, 0); z <= min(at[2]+1, r.n[2]-1); z++ {
		for y := max(at[1]-1, 0); y <= min(at[1]+1, r.n[1]-1); y++ {
			c := at[0] + y*r.stride[1] + z*r.stride[2]
			lo, hi := c, c
			if at[0] > 0 {
				lo--
			}
			if at[0] < r.n[0]-1 {
				hi++
			}
			for j := r.first[lo]; j < r.first[hi+1]; j++ { // a row's elements follow each other
				if !q.seen[j] && int(r.piece[j]) == k {
					q.seen[j] = true
					q.todo = append(q.todo, j)
				}
			}
		}
	}
}

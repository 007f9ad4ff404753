package ray

import (
	"context"
	"math"
	"runtime"

	"finwright/internal/grid"
	"finwright/internal/part"
	"finwright/internal/radiate"
	"finwright/internal/work"
)

// DefaultRays is how many rays a surface sends out when Trace is not told. View factors above 0.05 of rectangles, smoothed, then
// lie within 0.25 % of the closed forms (within 0.5 % with a quarter of the rays); the error falls with the rays to the power 0.6,
// as it must for a set spread evenly in four dimensions.
const DefaultRays = 1 << 16

// Seen is what the surfaces of a device see, for all postures.
type Seen struct {
	AreaM2 []float64      // of each surface
	Raw    *radiate.Views // as counted; the one far field is all that lies outside
	Closed *radiate.Views // the same, smoothed: reciprocal and closed
	Rays   int            // from each surface
	Strays int            // rays, of all surfaces, that ended where no listed surface is for certain; see Trace

	out [][]direction // by surface: of the rays that left
}

// direction is a unit vector in steps of 1/32767: enough to say on which side of a plane it lies.
type direction [3]int16

func pack(d part.Vec) (out direction) {
	for a := range d {
		out[a] = int16(math.Round(d[a] * math.MaxInt16))
	}
	return out
}

// Trace sends raysPer rays (0: DefaultRays; best a power of two) from each surface, a list of indices into g.Exposed, and counts
// where they end. Rays leave evenly over the area and by the cosine law, so the counts are view factors.
//
// A ray that comes into a solid cell by a side without an element has slipped through a crack between the planes of a bent surface
// and counts for the element in the cell before; where there is none, for the nearest one around that looks at it. One that meets
// an element of no listed surface, or none at all, counts for the surface it came from, with which nothing is exchanged.
// Strays are those that ended for want of better: next to none when all exposed elements are listed.
func Trace(g *grid.Grid, surfaces [][]int, raysPer int) *Seen {
	if raysPer <= 0 {
		raysPer = DefaultRays
	}
	sc := newScene(g)
	of := make([]int32, len(g.Exposed))
	for k := range of {
		of[k] = -1
	}
	n := len(surfaces)
	s := &Seen{AreaM2: make([]float64, n), Raw: radiate.NewViews(n, 1), Rays: raysPer, out: make([][]direction, n)}
	for i, list := range surfaces {
		for _, k := range list {
			of[k] = int32(i)
			s.AreaM2[i] += g.Exposed[k].AreaM2
		}
	}
	beams := newBeams(raysPer)
	strays := make([]int, n)
	jobs := make([]func(), n)
	for i := range jobs {
		jobs[i] = func() { s.out[i], strays[i] = sc.from(surfaces[i], s.AreaM2[i], i, of, beams, s.Raw.Row(i)) }
	}
	inParallel(jobs)
	for _, x := range strays {
		s.Strays += x
	}
	s.Closed = &radiate.Views{N: n, Far: 1, Share: append([]float64(nil), s.Raw.Share...)}
	if err := s.Closed.Smooth(s.AreaM2); err != nil {
		panic("ray: counts are no views: " + err.Error())
	}
	return s
}

// inParallel runs jobs that do not meet on all cores.
func inParallel(jobs []func()) {
	if err := work.InParallel(context.Background(), runtime.GOMAXPROCS(0), jobs); err != nil {
		panic("ray: " + err.Error()) // the background context does not end
	}
}

// beams is what all surfaces' rays have in common: along which direction about the normal they leave, and where across.
type beams struct {
	local  []part.Vec // along two tangents and the normal
	across []float64
}

func newBeams(n int) *beams {
	b := &beams{make([]part.Vec, n), make([]float64, n)}
	for q, x := range spread(n) {
		sin, cos := math.Sincos(2 * math.Pi * x[1])
		r := math.Sqrt(x[2]) // cosine law: even over the disk below the hemisphere
		b.local[q] = part.Vec{r * cos, r * sin, math.Sqrt(1 - x[2])}
		b.across[q] = x[0]
	}
	return b
}

// from sends the rays of surface own and puts their shares into row.
func (sc *scene) from(list []int, areaM2 float64, own int, of []int32, b *beams, row []float64) (out []direction, strays int) {
	if areaM2 == 0 {
		return nil, 0
	}
	n := len(b.local)
	counts := make([]int, len(row))
	out = make([]direction, 0, n)
	at, before := 0, 0.0 // element, and the area before it
	e := &sc.g.Exposed[list[0]]
	// Each surface turns and shifts the common set by its own step of the golden ratio: then the errors of the two views of a pair
	// have nothing in common, and their mean is better than either.
	shift := math.Mod(float64(own)*(math.Sqrt(5)-1)/2, 1)
	sin, cos := math.Sincos(2 * math.Pi * shift)
	t1, t2 := frame(e.Normal, sin, cos)
	for q, l := range b.local {
		// stratified along the list: each element gets its share of rays, and they are stratified along one of its sides
		want := (float64(q) + 0.5) / float64(n) * areaM2
		for at < len(list)-1 && before+e.AreaM2 < want {
			before += e.AreaM2
			at++
			normal := e.Normal
			if e = &sc.g.Exposed[list[at]]; e.Normal != normal {
				t1, t2 = frame(e.Normal, sin, cos)
			}
		}
		u := 0.5
		if e.AreaM2 > 0 {
			u = math.Min(math.Max((want-before)/e.AreaM2, 0), 1)
		}
		var d part.Vec
		for a := range d {
			d[a] = l[0]*t1[a] + l[1]*t2[a] + l[2]*e.Normal[a]
		}
		v := b.across[q] + shift
		if v >= 1 {
			v--
		}
		p, idx := sc.place(list[at], u, v)
		k, sure := sc.march(p, d, idx)
		switch {
		case k == left:
			counts[len(row)-1]++
			out = append(out, pack(d))
			continue
		case k == lost || of[k] < 0:
			counts[own]++
			sure = false
		default:
			counts[of[k]]++
		}
		if !sure {
			strays++
		}
	}
	for j, c := range counts {
		row[j] = float64(c) / float64(n)
	}
	return out, strays
}

// Split is Closed with the surroundings split by the direction up (of any length) into two far fields: 0 the sky above the
// horizon, 1 the ground below. What the surfaces see of each other does not depend on up. A row's last two shares are those of
// sky and ground in evenly bright, diffuse light.
func (s *Seen) Split(up part.Vec) *radiate.Views {
	n := s.Closed.N
	v := radiate.NewViews(n, 2)
	for i := range n {
		row := v.Row(i)
		copy(row, s.Closed.Row(i)[:n])
		above := 0
		for _, d := range s.out[i] {
			if float64(d[0])*up[0]+float64(d[1])*up[1]+float64(d[2])*up[2] > 0 {
				above++
			}
		}
		if total := len(s.out[i]); total > 0 {
			far := s.Closed.Row(i)[n]
			row[n] = far * float64(above) / float64(total)
			row[n+1] = max(0, far-row[n])
		} else {
			row[n+1] = s.Closed.Row(i)[n]
		}
	}
	return v
}

package skin

import (
	"fmt"
	"math"
	"strings"
)

// name gives each surface of the list a name no other has.
func (r *reader) name(list []Surface, order []int) {
	for k := range list {
		s, p := &list[k], &r.pieces[order[k]]
		body := r.bodies[p.body].Name
		switch {
		case p.place == channels && s.Channel.Count == 1:
			s.Name = body + ", channel"
		case p.place == channels:
			s.Name = body + ", channels"
		case p.place == inside:
			s.Name = body + " inside " + looks(s, -1)
		default:
			switch r.dirs[p.body][p.dir].kind {
			case round:
				s.Name = body + ", round side"
			case bore:
				s.Name = body + ", bore"
			case curved:
				s.Name = body + ", curved face"
			default:
				s.Name = body + " " + looks(s, 1)
				if r.tips(s.AreaM2, p) > 0 {
					s.Name = body + ", tips"
				}
			}
		}
		if p.place == facing {
			s.Name += ", facing " + r.bodies[s.FacingBody].Name
		}
	}
	// the same words twice: say where channels open to, if that tells them apart, then count
	for k := range list {
		s := &list[k]
		if r.pieces[order[k]].place != channels || !s.Channel.OpenMouth {
			continue
		}
		for j := range list {
			if q := &list[j]; q.Body == s.Body && r.pieces[order[j]].place == channels && q.Side != s.Side {
				s.Name += " to " + looks(s, 1)
				break
			}
		}
	}
	taken := map[string]bool{}
	for k := range list {
		name := list[k].Name
		for n := 2; taken[list[k].Name]; n++ {
			list[k].Name = fmt.Sprintf("%s %d", name, n)
		}
		taken[list[k].Name] = true
	}
}

// looks says in the words for sides where a surface looks (sign 1) or the side of a cavity it is on (-1).
func looks(s *Surface, sign float64) string {
	const aside = 0.35 // 20 degrees: less is no word
	var words []string
	for a, v := range s.Normal {
		if math.Abs(v) > aside {
			side := 2 * a
			if v*sign > 0 {
				side++
			}
			words = append(words, Sides[side])
		}
	}
	return strings.Join(words, "-")
}

// tips is how many fins end in a face: in one that stands between the mouths of its body's channels and is less than what lies
// between it; 0 for other faces.
func (r *reader) tips(areaM2 float64, p *piece) int {
	for k := range r.gaps {
		g := &r.gaps[k]
		c := &g.channel
		if g.body != p.body || g.one || c.DepthM == 0 || c.Count < 2 || dot(c.Mouth, r.dirs[p.body][p.dir].normal) < cosFace {
			continue
		}
		if areaM2 < 2*float64(c.Count)*c.GapM*c.LengthM {
			return c.Count + 1
		}
	}
	return 0
}

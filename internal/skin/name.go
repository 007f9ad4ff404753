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
				if r.tips(s, p) {
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

// tips says that a face is what stands between the mouths of its body's channels, and less than what lies between it.
func (r *reader) tips(s *Surface, p *piece) bool {
	for k := range r.gaps {
		g := &r.gaps[k]
		if g.body != p.body || g.one || g.channel.DepthM == 0 || g.channel.Count < 2 || dot(g.channel.Mouth, s.Normal) < cosFace {
			continue
		}
		mouths := float64(g.channel.Count) * g.channel.GapM * g.channel.LengthM
		if s.AreaM2 < 2*mouths {
			return true
		}
	}
	return false
}

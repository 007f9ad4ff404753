package relation

import (
	"math"

	"finwright/internal/grid"
	"finwright/internal/part"
	"finwright/internal/ray"
)

// traced are view factors as the model gets them: plates cut into cells, and rays counted from one to the other.
func traced() []relation {
	const way, views = "rays of the cosine law between two plates cut into cells, counts smoothed to reciprocity and closure", "none: counted; compare with the closed form"
	return []relation{
		{name: "traced view between equal rectangles face to face", formula: way, source: views,
			in: []quantity{{name: "a", kind: length}, {name: "b", kind: length}, {name: "distance", kind: length}}, out: []quantity{number("F")},
			eval: func(v values) values {
				a, b, d := v["a"], v["b"], v["distance"]
				thick := plateShare * math.Min(d, math.Min(a, b))
				return values{"F": trace(front, back, []part.Vec{{}, {0, 0, thick + d}}, []part.Vec{{a, b, thick}, {a, b, thick}})}
			}},
		{name: "traced view between rectangles at a right angle", formula: way, source: views,
			in: []quantity{{name: "edge", kind: length}, {name: "from", kind: length}, {name: "to", kind: length}}, out: []quantity{number("F")},
			eval: func(v values) values {
				edge, from, to := v["edge"], v["from"], v["to"]
				thick := plateShare * math.Min(edge, math.Min(from, to))
				// the wall stands on a foot of its own beside the floor, so that neither covers a part of the other
				return values{"F": trace(front, right, []part.Vec{{0, 0, -thick}, {-thick, 0, -thick}}, []part.Vec{{from, edge, thick}, {thick, edge, to + thick}})}
			}},
	}
}

// plateShare is how thick the plates are, as a share of the shortest length.
const plateShare = 0.1

// Sides of an element, see grid.Exposed.Side.
const (
	right = 1
	back  = 4
	front = 5
)

// trace is the view from one side of the first box to one side of the second; not a number when they cannot be cut into cells.
func trace(fromSide, toSide int, corner, size []part.Vec) float64 {
	var solids []part.Solid
	longestM := 0.0
	for i := range size {
		s, err := part.NewBox(corner[i], size[i])
		if err != nil {
			return math.NaN()
		}
		solids = append(solids, s)
		for _, x := range size[i] {
			longestM = math.Max(longestM, x)
		}
	}
	g, err := grid.Build(solids, grid.Options{MaxCellM: longestM / 16, Across: 1, MaxCells: 100_000})
	if err != nil {
		return math.NaN()
	}
	sides := [][]int{nil, nil}
	for k := range g.Exposed {
		e := &g.Exposed[k]
		for i, side := range []int{fromSide, toSide} {
			if int(e.Body) == i && e.Side() == side {
				sides[i] = append(sides[i], k)
			}
		}
	}
	if len(sides[0]) == 0 || len(sides[1]) == 0 {
		return math.NaN()
	}
	return ray.Trace(g, sides, 0).Closed.Row(0)[1]
}

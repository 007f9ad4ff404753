package model

import (
	"fmt"
	"math"
	"strings"

	"finwright/internal/device"
	"finwright/internal/grid"
	"finwright/internal/part"
	"finwright/internal/skin"
)

// Fineness says how finely a device is cut into cells.
type Fineness struct {
	TargetCells int // largest cells are chosen so that about this many come out at the most; 0 leaves it to the file
	Across      int // cells across the thinnest thing
	Refine      int // every cell halved this many times, for proofs
	Rays        int // from each outer surface, for what it sees; 0 is ray.DefaultRays
}

// Usual finenesses. Learning and draws use Coarse, answers shown use Fine; compare states the difference between the two
// and takes it off.
var (
	Coarse = Fineness{TargetCells: 6_000, Across: 1, Rays: coarseRays}
	Fine   = Fineness{TargetCells: 40_000, Across: 2}
)

// coarseRays is enough for cells whose own error is a few hundredths of a rise: views to about 0.003.
const coarseRays = 1 << 12

// Shape is a device cut into cells: everything that depends on its sizes only.
type Shape struct {
	File     *device.File
	Grid     *grid.Grid
	Surfaces []skin.Surface

	solids   []placed
	names    []string       // of bodies: parts, then sealed air regions
	index    map[string]int // part name to body
	contacts []grid.Contact
	airRuns  [3]airRun
	unknowns []Unknown // sizes with doubt
	rays     int
	seen     sights
}

// airRun is, for each sealed-air cell, the free length of air through it along one axis and the bodies at its ends.
type airRun struct {
	lengthM []float32
	lo, hi  []int16
}

// NewShape places the file's parts, cuts them into cells and looks at what touches what. v chooses the sizes in doubt.
// Errors are device.Problems with the place in the file.
func NewShape(f *device.File, v device.Values, fine Fineness) (*Shape, error) {
	ps, err := solids(f, v)
	if err != nil {
		return nil, err
	}
	s := &Shape{File: f, solids: ps, index: map[string]int{}, rays: fine.Rays}
	bodies := make([]part.Solid, len(ps))
	for i := range ps {
		bodies[i] = ps[i].solid
		s.names = append(s.names, ps[i].spec.Name)
		s.index[ps[i].spec.Name] = i
	}
	opt := grid.Options{SnapM: defaultSnapM, Across: fine.Across, TargetCells: fine.TargetCells, Refine: fine.Refine}
	if q := f.Grid.Snap; q.Given() {
		opt.SnapM = q.At(v)
	}
	if q := f.Grid.Largest; q.Given() {
		opt.MaxCellM = q.At(v)
	}
	if q := f.Grid.Across; q.Given() {
		opt.Across = int(math.Round(q.At(v)))
	}
	if opt.Extra, err = s.patchPlanes(v); err != nil {
		return nil, err
	}
	g, err := grid.Build(bodies, opt)
	if err != nil {
		return nil, device.Problems{f.Problem(device.Pos{}, err.Error(), "", "")}
	}
	s.Grid = g
	for r := range g.Regions {
		name := "sealed air"
		if r > 0 {
			name = fmt.Sprintf("sealed air %d", r+1)
		}
		s.names = append(s.names, name)
	}
	s.contacts = g.Touch()
	if err := s.checkPlacing(); err != nil {
		return nil, err
	}
	s.Surfaces = skin.Read(g, s.bodies())
	for a := range s.airRuns {
		s.airRuns[a].lengthM, s.airRuns[a].lo, s.airRuns[a].hi = g.AirRuns(a)
	}
	s.unknowns = sizesInDoubt(f)
	return s, nil
}

// defaultSnapM is the distance under which two planes become one. 0.02 mm is below what calipers resolve.
const defaultSnapM = 2e-5

// airBody says whether body index b is a sealed air region.
func (s *Shape) airBody(b int) bool { return b >= len(s.solids) }

// contact finds the touching area of two bodies.
func (s *Shape) contact(a, b int) (grid.Contact, bool) {
	for _, c := range s.contacts {
		if c.A == a && c.B == b || c.A == b && c.B == a {
			return c, true
		}
	}
	return grid.Contact{}, false
}

// checkPlacing finds parts that are buried, parts that touch nothing and joints between parts that do not touch.
func (s *Shape) checkPlacing() error {
	var problems device.Problems
	f := s.File
	touches := make([]bool, len(s.solids))
	joined := 0 // parts that are not held apart on purpose
	for i := range s.solids {
		if !s.solids[i].spec.HeldApart {
			joined++
		}
	}
	for _, c := range s.contacts {
		if !s.airBody(c.A) && !s.airBody(c.B) {
			touches[c.A], touches[c.B] = true, true
		}
	}
	for i := range s.solids {
		p := s.solids[i].spec
		if s.Grid.BodyVolumeM3(i) < 1e-3*s.solids[i].solid.VolumeM3() {
			problems = append(problems, f.Problem(p.Pos, fmt.Sprintf("part %q: nothing is left of it: later parts fill all of its space", p.Name),
				"later parts cut into earlier ones", "list the smaller part after the larger one, or move one of them"))
			continue
		}
		if !touches[i] && joined > 1 && !p.HeldApart {
			near, gap := s.nearest(i)
			hint := fmt.Sprintf("the nearest is %q, %.2f mm away: use 'on: %s.<face>', or check 'at' and sizes", near, gap*1e3, near)
			if gap < 1e-6 {
				hint = fmt.Sprintf("it lies within the outline of %q without touching it: use 'on: %s.<face>' or 'on: %s.inside <face>', or check 'at' and the wall", near, near, near)
			}
			problems = append(problems, f.Problem(p.Pos, fmt.Sprintf("part %q touches no other part", p.Name), "every part must touch another one", hint))
		}
	}
	for i := range f.Joints {
		j := &f.Joints[i]
		if len(j.Between) != 2 {
			continue
		}
		a, okA := s.index[j.Between[0]]
		b, okB := s.index[j.Between[1]]
		if !okA || !okB {
			continue // the reader has said so
		}
		if _, ok := s.contact(a, b); !ok {
			gap := boxGap(s.solids[a].solid.Bounds(), s.solids[b].solid.Bounds())
			hint := "move them together: a filler's thickness is not drawn, the two parts touch"
			if gap <= 0 {
				hint = "their outlines meet, but another part or air lies between them"
			}
			between := fmt.Sprintf(" (%.2f mm between them)", gap*1e3)
			if gap < 1e-6 {
				between = ""
			}
			problems = append(problems, f.Problem(j.Pos, fmt.Sprintf("joint %q: %s and %s do not touch%s", j.Name, j.Between[0], j.Between[1], between),
				"a joint joins two parts whose faces touch", hint))
		}
	}
	if len(problems) > 0 {
		return problems
	}
	return nil
}

// nearest is the part closest to part i, by outlines.
func (s *Shape) nearest(i int) (name string, gapM float64) {
	gapM = math.Inf(1)
	for k := range s.solids {
		if k == i {
			continue
		}
		if d := boxGap(s.solids[i].solid.Bounds(), s.solids[k].solid.Bounds()); d < gapM {
			name, gapM = s.solids[k].spec.Name, d
		}
	}
	return name, math.Max(gapM, 0)
}

// boxGap is the distance between two boxes, m; negative when they overlap.
func boxGap(a, b part.Box) float64 {
	sum, inside := 0.0, math.Inf(-1)
	for ax := range a.Min {
		d := math.Max(a.Min[ax]-b.Max[ax], b.Min[ax]-a.Max[ax])
		inside = math.Max(inside, d)
		if d > 0 {
			sum += d * d
		}
	}
	if sum == 0 {
		return inside
	}
	return math.Sqrt(sum)
}

// sizesInDoubt lists geometry quantities with doubt: changing them means cutting the device into cells anew.
func sizesInDoubt(f *device.File) []Unknown {
	var out []Unknown
	for _, q := range f.Doubtful() {
		if strings.HasPrefix(q.Path, "parts.") && q.Dim == lengthDim {
			out = append(out, Unknown{Path: q.Path, About: strings.TrimPrefix(q.Path, "parts."), Dim: q.Dim, Prior: q.Prior(), Source: "the file", Stated: true})
		}
	}
	return out
}

// patchPlanes are the grid planes that the edges of boundary patches need.
func (s *Shape) patchPlanes(v device.Values) (extra [3][]float64, err error) {
	for i := range s.File.Boundaries {
		b := &s.File.Boundaries[i]
		if len(b.Patch) == 0 {
			continue
		}
		box, _, err := s.patchBox(b, v)
		if err != nil {
			return extra, device.Problems{s.File.Problem(b.Pos, fmt.Sprintf("boundary %q: %v", b.Name, err), "", "")}
		}
		for a := range extra {
			extra[a] = append(extra[a], box.Min[a], box.Max[a])
		}
	}
	return extra, nil
}

// patchBox is the flat box a boundary's patch covers on its face.
func (s *Shape) patchBox(b *device.Boundary, v device.Values) (part.Box, part.FaceInfo, error) {
	name, side, ok := strings.Cut(b.Face, ".")
	i, known := s.index[name]
	if !ok || !known {
		return part.Box{}, part.FaceInfo{}, fmt.Errorf("a patch needs a face such as 'plate.top', not %q", b.Face)
	}
	face, err := part.Face(s.solids[i].body, side)
	if err != nil {
		return part.Box{}, face, err
	}
	size, off := b.Patch.At(v), b.Offset.At(v)
	box := part.Box{Min: face.Center, Max: face.Center}
	next := 0
	for a := range box.Min {
		if a == face.Axis {
			continue
		}
		box.Min[a] += off[next] - size[next]/2
		box.Max[a] += off[next] + size[next]/2
		next++
	}
	return box, face, nil
}

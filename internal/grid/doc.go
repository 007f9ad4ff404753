// Package grid cuts solids into the cells of a tensor-product grid and reads from them what a heat model needs: who owns each
// cell, how open the faces between cells are, which sealed air there is, and which surface lies outside. It knows no
// temperature and no material.
//
// # Planes
//
// Grid planes follow the flat faces of the solids. Planes closer than Options.SnapM become one, so a hair's breadth between
// two measured parts never makes a sliver. The plane kept is the outermost one when only upper ends (or only lower ends) of
// solids meet there, else that of the thinnest thing. To tell who touches whom, solids count as moved onto the plane kept;
// volumes keep their true size through volume fractions, up to what sticks out past a plane into outer air (less than SnapM).
//
// # Cells
//
// Later solids cut earlier ones. Cells that a curved, oblique or snapped surface crosses are sampled on a small lattice: one
// point per piece between true planes, and 8 per axis along which a solid's section changes. What is sampled: shares by
// volume, apertures of faces on their own side, and which void of the cell hangs together. Cells that are less than 1 %
// active, or cut off from all others, count as outer air; their volume is left out.
//
// # Surface
//
// Flat outer faces come from the apertures and are exact. The area of curved and oblique surfaces comes from the solids' own
// surface elements, so it is the true area, not that of stairs.
//
// Start reading at Build.
package grid

import (
	"fmt"
	"math"
	"sort"

	"finwright/internal/part"
)

// Outside is the Owner of cells of outer air.
const Outside = -1

// Options say how finely to cut. The zero value gives the defaults.
type Options struct {
	MaxCellM    float64      // longest cell, m; 0: 1/32 of the longest extent (1/64 with TargetCells)
	SnapM       float64      // planes closer than this become one, m; 0: 0.02 mm
	Across      int          // cells across each thin feature (wall, plate, fin, gap) at the least; 0: 2
	GrowthMax   float64      // a cell is at most this many times as long as its neighbour; 0: 1.7; at least 1.45
	MaxCells    int          // more cells than this is an error; 0: 2 million
	TargetCells int          // > 0: coarsen until no more than this many come out, as far as the features allow
	Extra       [3][]float64 // planes that must exist besides those of the solids, m
	Refine      int          // halve every cell this many times (Snap then no longer bounds the cells)
}

// Share is one body's part of a cell that several bodies share.
type Share struct {
	Cell int32
	Body int16
	Frac float64 // of the cell's whole volume
}

// Region is one sealed body of air: void that is not connected with the outside. Its body index is AirBase + its index.
type Region struct {
	Cells    int     // cells it owns
	VolumeM3 float64 // its shares of other cells included
}

// Exposed is one element of the outer surface.
type Exposed struct {
	Cell       int32
	Axis, Sign int8     // the side of the cell it is on; for a surface that cuts through a cell, the side its normal looks to most
	Body       int16    // whose surface it is
	AreaM2     float64  // true area
	Normal     part.Vec // unit vector outward
	DistM      float64  // from the middle of the cell (of its active part where a surface cuts it) to the surface, along Normal
	Centre     part.Vec // middle of the element
}

// Grid is the cells. Cell (i,j,k) has index (k*NY+j)*NX+i, in every slice.
type Grid struct {
	NX, NY, NZ int
	X, Y, Z    []float64 // planes, m: NX+1, NY+1, NZ+1 of them

	AirBase int       // number of solids: body AirBase+r is sealed air region r
	Owner   []int16   // body with the largest share of the cell, or Outside
	Solid   []float32 // share of the cell's volume that is active (solid or sealed air); 0 when the owner is Outside
	Mixed   []Share   // shares in cells with several active bodies, sorted by cell, then body; see Shares
	Regions []Region
	Open    [3][]float32 // part of the +axis face through which both its cells are active, 0..1
	Exposed []Exposed    // sorted by cell, then side

	solids  []part.Solid
	planes  [3][]float64 // X, Y, Z
	n       [3]int       // NX, NY, NZ
	stride  [3]int       // from a cell to the next along an axis
	rules   [3][]rule    // how layers are sampled
	tinyM   float64      // far below any size, above rounding
	state   []int32      // what is in a cell: a body or region, Outside, or a cut cell
	cuts    []cutCell    // sorted by cell
	vox     []int16      // samples of the cut cells
	mixedAt map[int32][2]int32
	volumes []float64 // by body

	nodes      int32 // of the flood
	pieceOwner []int16
	cutShares  []cutShare
	touching   touching
	contacts   []Contact
}

// Error is a grid that cannot be built, in words for the person who described the parts.
type Error struct {
	What string // what is wrong
	Hint string // what to change
}

func (e *Error) Error() string { return e.What + ": " + e.Hint }

// Build cuts the solids into cells. The errors are *Error.
func Build(solids []part.Solid, opt Options) (*Grid, error) {
	opt, err := opt.withDefaults(solids)
	if err != nil {
		return nil, err
	}
	planes, rules, err := layOut(solids, opt)
	if err != nil {
		return nil, err
	}
	g := &Grid{AirBase: len(solids), solids: solids, planes: planes, rules: rules}
	g.X, g.Y, g.Z = planes[0], planes[1], planes[2]
	g.NX, g.NY, g.NZ = len(g.X)-1, len(g.Y)-1, len(g.Z)-1
	g.n = [3]int{g.NX, g.NY, g.NZ}
	g.stride = [3]int{1, g.NX, g.NX * g.NY}
	g.tinyM = opt.SnapM * 1e-4
	g.fill()
	g.sample()
	g.flood()
	g.settle()
	g.faces()
	g.oblique()
	g.finish()
	return g, nil
}

func (opt Options) withDefaults(solids []part.Solid) (Options, error) {
	if len(solids) == 0 {
		return opt, &Error{"there are no parts", "describe at least one"}
	}
	if len(solids) > math.MaxInt16/2 {
		return opt, &Error{fmt.Sprintf("there are %d parts", len(solids)), fmt.Sprintf("%d is the most", math.MaxInt16/2)}
	}
	for _, v := range []float64{opt.MaxCellM, opt.SnapM, opt.GrowthMax} {
		if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 {
			return opt, &Error{"largest cell, snap distance and growth must be numbers above zero", "correct them, or leave them out"}
		}
	}
	if opt.Across > 50 {
		return opt, &Error{fmt.Sprintf("%d cells across every thin thing are too many", opt.Across), "2 to 4 are usual"}
	}
	if opt.SnapM > 0 && opt.SnapM < 1e-6 {
		return opt, &Error{fmt.Sprintf("the snap distance of %.3g mm is below 0.001 mm", opt.SnapM*1e3), "0.02 mm is usual; nothing measured with calipers needs less than 0.005 mm"}
	}
	if opt.Across < 0 || opt.MaxCells < 0 || opt.TargetCells < 0 || opt.Refine < 0 || opt.Refine > 6 {
		return opt, &Error{"cells across, most cells, target and refinement cannot be negative, and no more than 6 refinements", "correct them, or leave them out"}
	}
	for a := range opt.Extra {
		for _, v := range opt.Extra[a] {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return opt, &Error{"an extra plane is not a number", "correct it"}
			}
		}
	}
	if opt.SnapM == 0 {
		opt.SnapM = 2e-5
	}
	if opt.Across == 0 {
		opt.Across = 2
	}
	if opt.GrowthMax == 0 {
		opt.GrowthMax = 1.7
	}
	opt.GrowthMax = math.Max(opt.GrowthMax, 1.45)
	if opt.MaxCells == 0 {
		opt.MaxCells = 2_000_000
	}
	return opt, nil
}

// Locate finds the cell that holds p; ok is false outside the grid. On a plane the upper cell is meant, but at the very end.
func (g *Grid) Locate(p part.Vec) (cell int, ok bool) {
	var at [3]int
	for a := range at {
		i, ok := g.Index(a, p[a])
		if !ok {
			return 0, false
		}
		at[a] = i
	}
	return (at[2]*g.NY+at[1])*g.NX + at[0], true
}

// Index finds the cell layer along an axis that holds a coordinate.
func (g *Grid) Index(axis int, m float64) (i int, ok bool) {
	p := g.planes[axis]
	if !(m >= p[0] && m <= p[len(p)-1]) {
		return 0, false
	}
	i = sort.SearchFloat64s(p, m)
	if i == len(p) || p[i] != m {
		i--
	}
	return min(i, len(p)-2), true
}

// IJK takes a cell index apart.
func (g *Grid) IJK(cell int) [3]int {
	return [3]int{cell % g.NX, cell / g.NX % g.NY, cell / (g.NX * g.NY)}
}

// CellSize is the length of the cells in layer i along an axis, m.
func (g *Grid) CellSize(axis, i int) float64 { return g.planes[axis][i+1] - g.planes[axis][i] }

// Box is the space of a cell.
func (g *Grid) Box(cell int) part.Box {
	at := g.IJK(cell)
	var b part.Box
	for a, i := range at {
		b.Min[a], b.Max[a] = g.planes[a][i], g.planes[a][i+1]
	}
	return b
}

// Side is the side of a body that the element belongs to: 2·axis, +1 for the positive one.
func (e *Exposed) Side() int {
	if e.Sign > 0 {
		return 2*int(e.Axis) + 1
	}
	return 2 * int(e.Axis)
}

// Centre is the middle of a cell.
func (g *Grid) Centre(cell int) part.Vec { return g.Box(cell).Centre() }

// Volume is the whole volume of a cell, m³; times Solid it is that of what is active in it.
func (g *Grid) Volume(cell int) float64 {
	at := g.IJK(cell)
	return g.CellSize(0, at[0]) * g.CellSize(1, at[1]) * g.CellSize(2, at[2])
}

// Shares are the bodies of a cell that several share; nil for a plain cell.
func (g *Grid) Shares(cell int) []Share {
	r, ok := g.mixedAt[int32(cell)]
	if !ok {
		return nil
	}
	return g.Mixed[r[0]:r[1]]
}

// BodyVolumeM3 is the volume of a body (or of a sealed air region) in the cells.
func (g *Grid) BodyVolumeM3(body int) float64 {
	if body < 0 || body >= len(g.volumes) {
		return 0
	}
	return g.volumes[body]
}

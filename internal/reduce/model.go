package reduce

import (
	"errors"
	"fmt"
	"math"

	"finwright/internal/heat"
)

// Instance is a device under some values of what is not known of it.
type Instance struct {
	Heat *heat.Model
	Air  Air // nil: no sealed air
}

// Face is where a cell meets the next one along an axis.
type Face struct {
	Axis int8 // 0, 1, 2: the conductance is in GX, GY, GZ
	Cell int32
}

// Air gives what crosses sealed air, which depends on temperatures: radiation on that of the air, motion on how far the walls are
// apart.
type Air interface {
	// Faces are those whose conductance depends on temperatures.
	Faces() []Face
	// Bodies are the means it depends on.
	Bodies() []Mean
	// Conductances sets dst to the conductances of faces, W/K, at the bodies' means. It keeps nothing and allocates nothing.
	Conductances(dst []float64, faces []Face, meansK []float64)
}

// Mean is a mean temperature over cells.
type Mean struct {
	Cells []int32
	Share []float64 // sums to 1
}

// Model is a device on a few modes, for any values of what is not known of it: all that depends on the cells has been worked out.
// It may be used by several goroutines at the same time.
type Model struct {
	*Basis
	sources int
	// faces are the conductances that do not depend on temperatures, in groups that go up and down together; caps are the
	// capacities in the same way.
	faces   []faceGroup
	caps    []capGroup
	source  [][]float64 // R: Σ share v
	surface []surfaceTerms
	air     *airTerms
	terms   []float32 // the fields of air, then the squares of all surfaces' groups: see combine
	look    []int32   // cells in which errors are judged
	lookV   []float64 // the modes there, R each
	first   int32     // an active cell
	// lookLo and lookHi are what the snapshots showed there, as departures from T0
	lookLo, lookHi []float64

	Ranges         []Range   // of the unknowns
	Checked        []Checked // runs at other draws than those of training
	worstK, apartK float64   // the largest of what the checks showed
}

// faceGroup stands for Σ g Δv Δvᵀ over faces whose g is a fixed multiple of that of one of them.
type faceGroup struct {
	of  Face
	sum []float64 // triangle, per W/K of that face
}

// capGroup stands for Σ C v vᵀ in the same way.
type capGroup struct {
	cell int32
	sum  []float64 // triangle, per J/K of that cell
}

// surfaceTerms is one surface of the model: elements with the same ratio of half-cell conductance to area share a group.
type surfaceTerms struct {
	areaM2   float64
	elements int
	capJK    float64 // of its cells, under the first instance
	groups   []elementGroup
}

type elementGroup struct {
	element int       // whose ratio stands for the group
	areaM2  float64   // of the group
	sum     []float64 // R: Σ A v
	square  []float64 // triangle: Σ A v vᵀ
}

// airTerms is conduction through the faces that depend on temperatures, by empirical interpolation: a few of them are looked at,
// and the rest follows.
type airTerms struct {
	bodies []([]float64) // R: each body's mean departure from T0 per mode
	faces  []Face        // those looked at
	refWK  []float64     // their conductances where all deviations are 0
	fit    []float64     // deviations of fields from those of faces: fields x faces, row by row
	still  []float64     // triangle: all deviations 0
	fields [][]float64   // triangles
	offRel float64       // root mean square error of the heat that crosses over the samples, as a share
}

// Stepper makes a stepper for the device under the values of in, which must be cut into the model's cells; only the conductances,
// capacities and surfaces of a few of them are read (Cells). tolK is the error allowed per step, K.
func (m *Model) Stepper(in Instance, tolK float64) (*Stepper, error) {
	return m.stepper(in, tolK, m.R)
}

// Cells are those whose capacity, faces and surface elements a stepper reads.
func (m *Model) Cells() (capacities []int32, faces []Face) {
	for i := range m.caps {
		capacities = append(capacities, m.caps[i].cell)
	}
	for i := range m.faces {
		faces = append(faces, m.faces[i].of)
	}
	return capacities, faces
}

// AirFaces are those of sealed air at which a stepper asks Air for conductances.
func (m *Model) AirFaces() []Face {
	if m.air == nil {
		return nil
	}
	return m.air.faces
}

// check tells why in is not the device that the model was made of.
func (m *Model) check(in Instance) error {
	h := in.Heat
	switch {
	case h == nil:
		return errors.New("reduce: no model is given")
	case h.Cells() != m.N:
		return fmt.Errorf("reduce: the model has %d cells, the modes %d", h.Cells(), m.N)
	case len(h.Sources) != m.sources:
		return fmt.Errorf("reduce: the model has %d sources, the reduced one %d", len(h.Sources), m.sources)
	case len(h.Surfaces) != len(m.surface):
		return fmt.Errorf("reduce: the model has %d surfaces, the reduced one %d", len(h.Surfaces), len(m.surface))
	case (in.Air == nil) != (m.air == nil):
		return errors.New("reduce: sealed air must be given where the reduced model has it, and only there")
	}
	for i := range m.surface {
		if len(h.Surfaces[i].Cells) != m.surface[i].elements {
			return fmt.Errorf("reduce: surface %q is another one than that of the reduced model", h.Surfaces[i].Name)
		}
	}
	return nil
}

func (f Face) of(h *heat.Model) float64 {
	switch f.Axis {
	case 0:
		return h.GX[f.Cell]
	case 1:
		return h.GY[f.Cell]
	}
	return h.GZ[f.Cell]
}

// next is the cell on the other side.
func (f Face) next(h *heat.Model) int {
	return int(f.Cell) + [3]int{1, h.NX, h.NX * h.NY}[f.Axis]
}

func finite(x float64) bool { return math.Abs(x) <= math.MaxFloat64 }

// String tells the model's sizes.
func (m *Model) String() string {
	s := fmt.Sprintf("%d modes, %d groups of faces, %d of capacities, %d surfaces in %d groups", m.R, len(m.faces), len(m.caps), len(m.surface), m.elementGroups())
	if m.air != nil {
		s += fmt.Sprintf(", sealed air in %d fields told by %d faces, off by %.1g", len(m.air.fields), len(m.air.faces), m.air.offRel)
	}
	return s
}

func (m *Model) elementGroups() (n int) {
	for i := range m.surface {
		n += len(m.surface[i].groups)
	}
	return n
}

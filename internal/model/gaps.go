package model

import (
	"math"

	"finwright/internal/surface"
)

// airGap is what the columns of sealed air have in common that run between the same two parts, along the same axis, over the
// same length: the difference between their ends, and so one Nusselt number.
type airGap struct {
	region           int
	axis             int8
	lo, hi           int16 // parts at the low and the high end
	lengthM, heightM float32
}

// readGaps finds each sealed-air cell's gap: the air column through it along the axis on which that is shortest. Columns that
// begin and end on one part have none: the difference between its ends is not known from means.
func (m *Model) readGaps() {
	s := m.Shape
	m.gapOf = make([]int32, len(s.Grid.Owner))
	known := map[airGap]int32{}
	for cell, owner := range s.Grid.Owner {
		m.gapOf[cell] = -1
		b := int(owner)
		if !s.airBody(b) {
			continue
		}
		k := airGap{region: b - len(s.solids)}
		var length [3]float32
		for a := range s.airRuns {
			length[a] = s.airRuns[a].lengthM[cell]
			if length[a] < length[k.axis] {
				k.axis = int8(a)
			}
		}
		k.lo, k.hi = s.airRuns[k.axis].lo[cell], s.airRuns[k.axis].hi[cell]
		if k.lo == k.hi || k.lo < 0 || k.hi < 0 || s.airBody(int(k.lo)) || s.airBody(int(k.hi)) {
			continue
		}
		k.lengthM = length[k.axis]
		i, j := (k.axis+1)%3, (k.axis+2)%3 // along the walls; the height is along the one that rises more
		switch rise := math.Abs(m.Under.Up[i]) - math.Abs(m.Under.Up[j]); {
		case math.Abs(rise) < 1e-9:
			k.heightM = max(length[i], length[j])
		case rise > 0:
			k.heightM = length[i]
		default:
			k.heightM = length[j]
		}
		at, ok := known[k]
		if !ok {
			at = int32(len(m.gaps))
			known[k] = at
			m.gaps = append(m.gaps, k)
		}
		m.gapOf[cell] = at
	}
	m.gapNu, m.gapMove = make([]float64, len(m.gaps)), make([]float64, len(m.gaps))
	for i := range m.gapNu {
		m.gapNu[i] = 1 // until there is a field
	}
}

// gapNusselt gives every gap's Nusselt number at the bodies' mean temperatures; the air's properties are those at the mean of
// its region.
func (m *Model) gapNusselt(meanK []float64) []float64 {
	air := make([]surface.Air, len(m.airK))
	for r := range air {
		air[r] = surface.AirAt(meanK[len(m.Shape.solids)+r], m.Under.PressurePa)
	}
	out := make([]float64, len(m.gaps))
	for i := range m.gaps {
		k := &m.gaps[i]
		warmerLowK := meanK[k.lo] - meanK[k.hi]
		rise := m.Under.Up[k.axis] // from the low end to the high one
		if warmerLowK < 0 {
			rise = -rise
		}
		tilt := angle(rise) // 0: the warm wall below
		a := &air[k.region]
		ra := surface.Rayleigh(a, warmerLowK, float64(k.lengthM))
		nu := surface.SealedGapNu(ra, a.Pr, float64(k.heightM/k.lengthM), tilt)
		out[i] = 1 + m.gapFactor*(nu-1)
	}
	return out
}

// sealedScatterFrac is the scatter of the relations for sealed gaps (surface.SealedGapNu), which device gaps with their open
// edges meet less well than the cells they were measured in: the larger of the published figures.
const sealedScatterFrac = 0.15

// gapsMove tells whether the air in any gap would move, to an effect, between walls that are 30 K apart.
func (m *Model) gapsMove() bool {
	air := surface.AirAt(m.Under.AirK+20, m.Under.PressurePa)
	for i := range m.gaps {
		k := &m.gaps[i]
		ra := surface.Rayleigh(&air, 30, float64(k.lengthM))
		rise := m.Under.Up[k.axis]
		for _, tilt := range [2]float64{angle(rise), angle(-rise)} {
			if surface.SealedGapNu(ra, air.Pr, float64(k.heightM/k.lengthM), tilt) > 1.05 {
				return true
			}
		}
	}
	return false
}

// bodyMeansK is the mean temperature of every body, parts and sealed air, by volume.
func (m *Model) bodyMeansK(tK []float64) []float64 {
	g := m.Shape.Grid
	sum, vol := make([]float64, len(m.Shape.names)), make([]float64, len(m.Shape.names))
	dx, dy, dz := widths(g.X), widths(g.Y), widths(g.Z)
	cell := 0
	for k := range dz {
		for j := range dy {
			area := dy[j] * dz[k]
			owners := g.Owner[cell : cell+len(dx)]
			for i, t := range tK[cell : cell+len(dx)] {
				if b := owners[i]; b >= 0 {
					v := dx[i] * area
					sum[b] += v * t
					vol[b] += v
				}
			}
			cell += len(dx)
		}
	}
	for b := range sum {
		sum[b] /= vol[b]
	}
	return sum
}

// What makes the sealed air's conductivity worth a renewal: 0.5 K change the radiative share by 0.5 %, and 1 % is far below the
// scatter of the gaps' law. On the demo's first device they leave less than 0.01 K of error in any sensor; 2 K and 4 % leave 0.05 K.
const (
	airMoveK   = 0.5
	gapMoveRel = 0.01
)

// A gap lets more heat across when its walls are further apart in temperature, which brings them together: at the onset of
// motion Nu rises with the difference to the power 1.44 (surface.TiltedGapLaw), and following it all the way would swing for
// ever between still and moving. A gap whose Nu turns back goes half the way, which turns a swing of −1.44 into one of −0.22.
// A field that is otherJumpK away is another one, to be followed at once.
const otherJumpK = 20.0

// refreshAir updates radiation and convection across sealed air when a region's mean temperature has moved by more than
// airMoveK or the convection in a gap by more than gapMoveRel.
func (m *Model) refreshAir(tK []float64, workers int) bool {
	meanK := m.bodyMeansK(tK)
	nu := m.gapNusselt(meanK)
	regionK := meanK[len(m.Shape.solids):]
	moved, other := false, false
	for i, t := range regionK {
		d := math.Abs(t - m.airK[i])
		moved = moved || d > airMoveK
		other = other || d > otherJumpK
	}
	for i := range nu {
		moved = moved || math.Abs(nu[i]-m.gapNu[i]) > gapMoveRel*m.gapNu[i]
	}
	if !moved {
		return false
	}
	copy(m.airK, regionK)
	for i := range nu {
		move := nu[i] - m.gapNu[i]
		if move*m.gapMove[i] < 0 && !other {
			move /= 2
		}
		m.gapNu[i] += move
		m.gapMove[i] = move
	}
	m.spreadAir(workers)
	m.conductances(true, workers)
	return true
}

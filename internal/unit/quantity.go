package unit

import "math"

// Kind says how a quantity was stated.
type Kind uint8

// The kinds.
const (
	Absent  Kind = iota // not stated
	Exact               // one number
	Spread              // a number and ±
	Range               // from … to …
	Unknown             // the word "unknown": Lo..Hi is Dim.Wide
)

// Quantity is a physical quantity with its doubt. Mid, Lo and Hi are SI; Lo <= Mid <= Hi is the 90 % interval. The zero value
// is absent.
type Quantity struct {
	Dim         Dim
	Kind        Kind
	Mid, Lo, Hi float64
	Text        string // as written; empty for one made by a program
}

// ExactSI is a quantity without doubt.
func ExactSI(si float64, dim Dim) Quantity {
	return Quantity{Dim: dim, Kind: Exact, Mid: si, Lo: si, Hi: si}
}

// RangeSI is a quantity between two values. Its middle is the median of its Prior: the geometric mean of a wide positive
// range, the arithmetic one otherwise.
func RangeSI(lo, hi float64, dim Dim) Quantity {
	q := Quantity{Dim: dim, Kind: Range, Lo: lo, Hi: hi}
	if q.wide() {
		q.Mid = math.Min(math.Max(math.Sqrt(lo)*math.Sqrt(hi), lo), hi)
	} else {
		q.Mid = math.Min(math.Max(lo/2+hi/2, lo), hi)
	}
	return q
}

// Doubtful says whether the quantity has any width.
func (q Quantity) Doubtful() bool { return q.Hi > q.Lo }

// logRatio is the ratio of the ends above which a positive interval is taken as log-normal.
const logRatio = 1.5

func (q Quantity) wide() bool { return q.Dim != Temperature && q.Lo > 0 && q.Hi/q.Lo > logRatio }

// Prior is the distribution this quantity stands for.
func (q Quantity) Prior() Prior { return Prior{Mid: q.Mid, Lo: q.Lo, Hi: q.Hi, Log: q.wide()} }

// Prior is a distribution with median Mid and 90 % of it between Lo and Hi. It is normal, or normal in the logarithm when
// Log; when Mid is not in the middle, each side has its own width (two half normals that meet at the median).
type Prior struct {
	Mid, Lo, Hi float64 // SI
	Log         bool
}

// z90 is the standard normal score of the 95th percentile (Abramowitz & Stegun, Table 26.5: 1.64485).
const z90 = 1.6448536269514722

// zMax bounds Score: a standard normal has less than 1e-298 of its probability beyond.
const zMax = 37

// At is the value at a standard normal score z: At(0) = Mid, At(±1.645) = Hi, Lo. A distribution whose interval does not
// reach below zero never gives a value below zero.
func (p Prior) At(z float64) float64 {
	if !(p.Hi > p.Lo) {
		return p.Mid
	}
	lo, mid, hi := p.axis()
	side := hi - mid
	if z < 0 {
		side = mid - lo
	}
	v := mid + z/z90*side
	if p.Log {
		return math.Exp(v)
	}
	if p.Lo >= 0 && v < 0 {
		return 0
	}
	return v
}

// Score is the standard normal score of a value, the reverse of At, within ±37. Of a distribution without width it is 0.
func (p Prior) Score(v float64) float64 {
	if !(p.Hi > p.Lo) {
		return 0
	}
	lo, mid, hi := p.axis()
	if p.Log {
		if v <= 0 {
			return -zMax
		}
		v = math.Log(v)
	}
	side := hi - mid
	if v < mid {
		side = mid - lo
	}
	switch {
	case v == mid:
		return 0
	case side <= 0: // all of this side lies on the median itself
		return math.Copysign(zMax, v-mid)
	}
	return math.Max(-zMax, math.Min(zMax, (v-mid)/side*z90))
}

// Sigma is the standard deviation, SI, or that of the natural logarithm when Log. For uneven sides it is their mean.
func (p Prior) Sigma() float64 {
	if !(p.Hi > p.Lo) {
		return 0
	}
	lo, _, hi := p.axis()
	return (hi - lo) / (2 * z90)
}

// axis gives the three values on the axis on which the distribution is normal.
func (p Prior) axis() (lo, mid, hi float64) {
	if p.Log {
		return math.Log(p.Lo), math.Log(p.Mid), math.Log(p.Hi)
	}
	return p.Lo, p.Mid, p.Hi
}

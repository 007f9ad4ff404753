package model

import (
	"math"

	"finwright/internal/device"
	"finwright/internal/unit"
)

// Unknown is one doubtful quantity that a model uses: stated with doubt by the user, left "unknown", or taken from the
// library or a default because the file says nothing.
type Unknown struct {
	Path   string // names it in device.Values
	About  string // in words: "conductance of chip | plate (thermal pad)"
	Dim    unit.Dim
	Prior  unit.Prior
	Source string // where the prior comes from
	Stated bool   // the user's own figure, as against one we brought
}

// Fixed is something decided without doubt on the user's behalf.
type Fixed struct{ About, Value, Source string }

// resolver gives every quantity its number and keeps the list of those that were in doubt.
type resolver struct {
	values   device.Values
	unknowns []Unknown
	seen     map[string]bool
	fixed    []Fixed
}

func newResolver(v device.Values) *resolver {
	return &resolver{values: v, seen: map[string]bool{}}
}

// value is the number to use for a quantity: the chosen one, else its middle. Doubtful quantities are recorded once.
func (r *resolver) value(path, about, source string, q unit.Quantity, stated bool) float64 {
	if q.Doubtful() && !r.seen[path] {
		r.seen[path] = true
		if !stated && q.Dim != unit.Temperature && q.Hi-q.Lo < 2*littleDoubt*q.Mid {
			r.decide(about, unit.Format(q.Mid, q.Dim), source)
			return q.Mid
		}
		r.unknowns = append(r.unknowns, Unknown{Path: path, About: about, Dim: q.Dim, Prior: q.Prior(), Source: source, Stated: stated})
	}
	if x, ok := r.values[path]; ok {
		if q.Dim == unit.Ratio && q.Mid < 1 {
			return math.Max(0.005, math.Min(x, 0.99)) // a share stays a share, however wide the search
		}
		return x
	}
	return q.Mid
}

// littleDoubt is the half width of a library value, as a share of it, under which it is taken as exact: it moves no rise by
// more than that.
const littleDoubt = 0.03

// stated is value for a quantity of the file.
func (r *resolver) stated(q device.Q, about string) float64 {
	source := "the file"
	if q.Kind == unit.Unknown {
		source = "unknown in the file: a wide default"
	}
	return r.value(q.Path, about, source, q.Quantity, true)
}

// decide records a default that carries no doubt.
func (r *resolver) decide(about, value, source string) {
	for _, f := range r.fixed {
		if f.About == about {
			return
		}
	}
	r.fixed = append(r.fixed, Fixed{about, value, source})
}

package relation

import (
	"fmt"
	"math"
	"sort"

	"finwright/internal/surface"
)

// quantity is an input or a result of a relation.
type quantity struct {
	name string // as written in a table, and in the formula where it is a symbol: "Ra"
	kind kind
	// optional inputs may be left out; absent is what they then are. Not a number: results that need it have no figure.
	optional bool
	absent   float64
	signed   bool // may be zero or below; all others must be above zero
}

// values are the inputs or results of a relation by name, SI.
type values map[string]float64

// relation is one formula, or several put together as in a worked example.
type relation struct {
	name    string
	formula string
	source  string       // of the formula
	law     *surface.Law // when the published range is about one of the inputs or results; else nil
	in, out []quantity
	eval    func(v values) values // must give all of out; not a number where there is no figure
}

// registry holds all relations by name.
var registry = func() map[string]*relation {
	m := map[string]*relation{}
	for _, group := range [][]relation{natural(), forced(), channels(), gaps(), air(), radiation(), traced()} {
		for i := range group {
			r := &group[i]
			if m[r.name] != nil {
				panic("relation: two relations are called " + r.name)
			}
			m[r.name] = r
		}
	}
	return m
}()

// Names lists the relations that a table may name, sorted.
func Names() []string {
	out := make([]string, 0, len(registry))
	for name := range registry {
		out = append(out, name)
	}
	sort.Strings(out)
	return out
}

func find(qs []quantity, name string) *quantity {
	for i := range qs {
		if qs[i].name == name {
			return &qs[i]
		}
	}
	return nil
}

// at evaluates one result. note says when the published range of the formula was left.
func (r *relation) at(v values, result string) (value float64, note string) {
	full := values{}
	for _, q := range r.in {
		if x, given := v[q.name]; given {
			full[q.name] = x
		} else {
			full[q.name] = q.absent
		}
	}
	out := r.eval(full)
	value, ok := out[result]
	if !ok {
		panic(fmt.Sprintf("relation: %s does not give its %s", r.name, result))
	}
	if r.law != nil {
		for _, of := range []values{full, out} {
			if x, known := of[r.law.Number]; known && !math.IsNaN(x) {
				note = r.law.Note(x)
			}
		}
	}
	return value, note
}

// standardGravityMS2 is what package surface takes (exact, CGPM 1901). Books take 9.8 or 9.81: their worked examples state it.
const standardGravityMS2 = 9.80665

// number is a dimensionless input or result.
func number(name string) quantity { return quantity{name: name, kind: ratio} }

// airInputs are what a worked example states of its air. Books round each property, so that the Prandtl number need not be
// the ratio of the other two.
func airInputs() []quantity {
	return []quantity{
		{name: "k", kind: conductivity}, {name: "viscosity", kind: diffusivity}, {name: "diffusivity", kind: diffusivity},
		number("Pr"), {name: "beta", kind: perKelvin},
		{name: "g", kind: gravity, optional: true, absent: standardGravityMS2},
	}
}

// airWithoutPr is for relations in which the Prandtl number does not stand.
func airWithoutPr() (out []quantity) {
	for _, q := range airInputs() {
		if q.name != "Pr" {
			out = append(out, q)
		}
	}
	return out
}

// stated is the air of a worked example.
func stated(v values) *surface.Air {
	return &surface.Air{KWmK: v["k"], NuM2s: v["viscosity"], AlphaM2s: v["diffusivity"], Pr: v["Pr"], BetaPerK: v["beta"]}
}

// rayleigh is that of the stated air and gravity.
func rayleigh(v values, lengthM float64) float64 {
	return surface.Rayleigh(stated(v), v["surface"]-v["air"], lengthM) * v["g"] / standardGravityMS2
}

func temperatures() []quantity {
	return []quantity{{name: "surface", kind: temperature}, {name: "air", kind: temperature}}
}

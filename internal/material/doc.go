// Package material is the library of what devices are made of: materials, surface finishes, joint fillers, and the
// temperatures that skin and cells may not pass. Every figure has its doubt (90 % interval) and its source.
//
// The tables are written as one would write them in a device file ("167 W/mK ± 8 %") and read by package unit, so that the
// library and a user's own figures mean the same. Values are near 25 °C; metals and polymers change by less than their
// stated doubt between 0 and 100 °C, silicon and wax by more (see their notes).
//
// Read library.go first. Not here: "like" (one material made from another), which belongs to the device file.
package material

import (
	"sort"
	"strings"

	"finwright/internal/cite"
	"finwright/internal/unit"
)

// Kind is the sort of material: what touch limits ask for.
type Kind string

// The kinds.
const (
	Metal     Kind = "metal"
	Glass     Kind = "glass"
	Ceramic   Kind = "ceramic"
	Semi      Kind = "semiconductor"
	Plastic   Kind = "plastic"
	Elastomer Kind = "elastomer"
	Foam      Kind = "foam"
	Wood      Kind = "wood"
	Laminate  Kind = "laminate"
	Cell      Kind = "cell"
	Wax       Kind = "wax"
	Board     Kind = "board"     // a circuit board with its parts
	Component Kind = "component" // what is soldered onto one, taken as one material
	Lump      Kind = "lump"      // another built-up module taken as one material
)

// Material is one entry of the library. KInPlane and KThrough are equal when it conducts alike in all directions.
type Material struct {
	Name             string
	Aliases          []string
	Kind             Kind
	Metal            bool // a plain metal: a bare joint with another is a metal joint
	Soft             bool // yields to what presses on it (rubber, foam)
	Board            bool // a populated board
	Soldered         bool // a component that is soldered onto one, bare silicon included
	KInPlane         unit.Quantity
	KThrough         unit.Quantity // along a sheet's thickness
	DensityKgM3      unit.Quantity
	SpecificHeatJkgK unit.Quantity
	DefaultFinish    string  // the finish a part of it usually has
	MaxServiceK      float64 // highest temperature in long use, K, from memory of data sheets; 0 when far above any device
	Source           string  // of the figures, see package cite
	Note             string
}

// Finish is a surface: total hemispherical emissivity near room temperature, and the share of sunlight absorbed.
type Finish struct {
	Name             string
	Aliases          []string
	Emissivity       unit.Quantity
	SolarAbsorptance unit.Quantity
	Source           string
}

// Filler is what fills a joint. ThicknessM is the bond line it usually leaves, when the file does not say.
type Filler struct {
	Name        string
	Aliases     []string
	KWmK        unit.Quantity
	ThicknessM  unit.Quantity
	Adhesive    bool    // holds the parts by itself
	Releasable  bool    // comes apart again without harm
	MaxServiceK float64 // K; 0 when no limit matters here
	Caution     string  // for the person who applies it
	Source      string
}

// Lookup finds a material by name or alias; case, dashes, the order of words and American spelling do not matter.
func Lookup(name string) (Material, bool) { m, ok := materialsByName[key(name)]; return m, ok }

// LookupFinish finds a finish likewise.
func LookupFinish(name string) (Finish, bool) { f, ok := finishesByName[key(name)]; return f, ok }

// LookupFiller finds a filler likewise.
func LookupFiller(name string) (Filler, bool) { f, ok := fillersByName[key(name)]; return f, ok }

// Names lists the materials, sorted.
func Names() []string { return names(materials, func(m Material) string { return m.Name }) }

// FinishNames lists the finishes, sorted.
func FinishNames() []string { return names(finishes, func(f Finish) string { return f.Name }) }

// FillerNames lists the fillers, sorted.
func FillerNames() []string { return names(fillers, func(f Filler) string { return f.Name }) }

// Status says how far the figures can be trusted.
func (m Material) Status() cite.Status { return cite.StatusOf(m.Source) }

// Status says how far the figures can be trusted.
func (f Finish) Status() cite.Status { return cite.StatusOf(f.Source) }

// Status says how far the figures can be trusted.
func (f Filler) Status() cite.Status { return cite.StatusOf(f.Source) }

func names[T any](list []T, name func(T) string) []string {
	out := make([]string, 0, len(list))
	for _, e := range list {
		out = append(out, name(e))
	}
	sort.Strings(out)
	return out
}

var respell = strings.NewReplacer("-", " ", "_", " ", ",", " ", "aluminum", "aluminium", "gray", "grey", "anodized", "anodised", "mold", "mould", "oxidized", "oxidised")

// key is the form under which names are compared: "Copper, oxidized" is "oxidised copper".
func key(name string) string {
	words := strings.Fields(respell.Replace(strings.ToLower(name)))
	sort.Strings(words)
	return strings.Join(words, " ")
}

func index[T any](list []T, spellings func(T) []string) map[string]T {
	m := map[string]T{}
	for _, e := range list {
		for _, s := range spellings(e) {
			if _, taken := m[key(s)]; taken {
				panic("material: two entries are both called " + s)
			}
			m[key(s)] = e
		}
	}
	return m
}

var (
	materialsByName = index(materials, func(m Material) []string { return append([]string{m.Name}, m.Aliases...) })
	finishesByName  = index(finishes, func(f Finish) []string { return append([]string{f.Name}, f.Aliases...) })
	fillersByName   = index(fillers, func(f Filler) []string { return append([]string{f.Name}, f.Aliases...) })
)

// must reads a figure of our own tables.
func must(text string, dim unit.Dim) unit.Quantity {
	q, err := unit.Parse(text, dim)
	if err != nil {
		panic("material: " + err.Error())
	}
	return q
}

const zeroCelsiusK = 273.15

// celsius is a service limit in K; 0 stays "none".
func celsius(c float64) float64 {
	if c == 0 {
		return 0
	}
	return c + zeroCelsiusK
}

// split reads "name | alias | alias".
func split(s string) (name string, aliases []string) {
	parts := strings.Split(s, "|")
	for i := range parts {
		parts[i] = strings.TrimSpace(parts[i])
	}
	return parts[0], parts[1:]
}

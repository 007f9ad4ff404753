// Package cite is the list of published works that the program's numbers come from.
//
// A number's source is a text such as "[Incropera 2007] Table A.1; specific heat from memory": keys in brackets stand for a
// work of this list, and three phrases say where no work was opened: "from memory", "common practice, no source" and
// "our estimate". In returns the works a text names, StatusOf how far it can be trusted.
//
// Here are works, not numbers: each number stays beside its source in the package that knows it.
package cite

import (
	"regexp"
	"sort"
	"strings"
)

// Status says how a number was come by, surest first.
type Status uint8

// The states.
const (
	Confirmed      Status = iota // stands in the named work, and was seen there or in a second public place
	FromMemory                   // remembered, not looked up
	CommonPractice               // what the trade does; no source
	Estimate                     // our own estimate or derivation
	Unsourced                    // the text names nothing
)

// String is the status in words.
func (s Status) String() string {
	return [...]string{"confirmed", "from memory", "common practice, no source", "our estimate", "no source"}[min(s, Unsourced)]
}

// Source is a published work.
type Source struct {
	Key    string // as written in brackets
	Text   string // the full reference
	Status Status // Confirmed when the work, or a second place that repeats figures of it, was opened; FromMemory otherwise
}

var sources = []Source{
	{"AA 6061", "The Aluminum Association, typical properties of 6061-T6, as repeated by public data sheets", Confirmed},
	{"Adhesives handbook", "Handbook of Adhesives and Sealants, p. 382: thermal conductivity of filled epoxies; p. 452: lap shear of cyanoacrylates", Confirmed},
	{"ASTM C1055", "ASTM C1055, Standard Guide for Heated System Surface Conditions that Produce Contact Burn Injuries", Confirmed},
	{"CDA C11000", "Copper Development Association, fact sheet on C11000 electrolytic tough pitch copper", Confirmed},
	{"Cooper 1969", "Cooper, Mikic & Yovanovich, Thermal contact conductance, Int. J. Heat Mass Transfer 12 (1969) 279-300", Confirmed},
	{"Crawford", "Crawford, Plastics Engineering, table of thermal properties (title from memory)", FromMemory},
	{"ECMA-287", "ECMA-287, Safety of electronic equipment, touch temperature limits", Confirmed},
	{"Fortescue 2011", "Fortescue, Stark & Swinerd (eds.), Spacecraft Systems Engineering, 4th ed. (2011), Table 11.3", Confirmed},
	{"Hutchinson 2018", "Hutchinson et al., boron nitride filled epoxy, Polymers (2018)", Confirmed},
	{"IEC 62368-1", "IEC 62368-1, Audio/video, information and communication technology equipment: Safety requirements, Table 38 (touch temperatures TS1)", Confirmed},
	{"ISO 13732-1", "ISO 13732-1:2006, Ergonomics of the thermal environment: contact with hot surfaces", Confirmed},
	{"Incropera 2007", "Incropera, DeWitt, Bergman & Lavine, Fundamentals of Heat and Mass Transfer, 6th ed. (2007)", Confirmed},
	{"LFP pouch cell", "measured conductivities and heat capacity of a 20 Ah lithium iron phosphate pouch cell, arXiv abstract", Confirmed},
	{"Lemmon 2004", "Lemmon & Jacobsen, Viscosity and thermal conductivity of nitrogen, oxygen, argon and air, Int. J. Thermophys. 25 (2004) 21-69", Confirmed},
	{"NIST cryogenic", "NIST cryogenic material property fits, valid to 300 K (aluminium 6061-T6, polyamide)", Confirmed},
	{"PMC7340094", "article PMC7340094, Table VI: properties of copper foil in FR4 boards", Confirmed},
	{"Pouch cell 2023", "through-plane conductivity and heat capacity of a 46 Ah pouch cell, Appl. Sci. 13 (2023) 2870", Confirmed},
	{"Prasher 2002", "Prasher et al., bond line thickness of particle laden pastes, ASME IMECE2002-32118", Confirmed},
	{"Sarvar 1990", "Sarvar et al., thermal conductivity of FR4 laminate in and through its plane, J. Electron. Mater. 19 (1990)", Confirmed},
	{"Thome", "Thome, table of emissivities in his heat transfer data book (EPFL)", Confirmed},
	{"cell data sheets", "public data sheets of small lithium-ion cells: charging 0 to 45 °C, discharging -20 to 60 °C", Confirmed},
	{"emissivity table", "public table of total normal emissivities and solar absorptances of spacecraft surfaces", Confirmed},
	{"public data sheets", "public data sheets and property tables of the material, two or more that agree", Confirmed},
	{"thermography manuals", "emissivity tables in public manuals of infrared thermometers and cameras", Confirmed},
}

var byKey = func() map[string]Source {
	m := map[string]Source{}
	for _, s := range sources {
		m[s.Key] = s
	}
	return m
}()

// Lookup finds a work by its key.
func Lookup(key string) (Source, bool) {
	s, ok := byKey[key]
	return s, ok
}

// Keys lists all keys, sorted.
func Keys() []string {
	out := make([]string, 0, len(sources))
	for _, s := range sources {
		out = append(out, s.Key)
	}
	sort.Strings(out)
	return out
}

var bracketed = regexp.MustCompile(`\[([^\[\]]+)\]`)

// In returns the works that a text names in brackets, in the order of first mention, each once. unknown are keys that are not
// in the list.
func In(text string) (named []Source, unknown []string) {
	seen := map[string]bool{}
	for _, m := range bracketed.FindAllStringSubmatch(text, -1) {
		if seen[m[1]] {
			continue
		}
		seen[m[1]] = true
		if s, ok := byKey[m[1]]; ok {
			named = append(named, s)
		} else {
			unknown = append(unknown, m[1])
		}
	}
	return named, unknown
}

// StatusOf is the least sure of what a source text says: one "our estimate" makes the whole an estimate.
func StatusOf(text string) Status {
	switch {
	case strings.Contains(text, "our estimate"):
		return Estimate
	case strings.Contains(text, "common practice, no source"):
		return CommonPractice
	case strings.Contains(text, "from memory"):
		return FromMemory
	}
	named, unknown := In(text)
	if len(named) == 0 || len(unknown) > 0 {
		return Unsourced
	}
	worst := Confirmed
	for _, s := range named {
		worst = max(worst, s.Status)
	}
	return worst
}

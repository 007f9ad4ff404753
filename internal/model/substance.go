package model

import (
	"fmt"

	"finwright/internal/device"
	"finwright/internal/joint"
	"finwright/internal/material"
	"finwright/internal/unit"
)

const lengthDim = unit.Length

// substance is a part's material with numbers chosen.
type substance struct {
	name        string
	kWmK        [3]float64 // along x, y, z
	rhoKgM3     float64
	cpJkgK      float64
	sort        joint.Sort
	emissivity  float64
	sunAbsorbed float64
	finish      string
	touchKind   string // row of the touch-limit table
}

// substanceOf looks a part's material and finish up, in the file first, then in the library. Without sun it is not asked how
// much of it a finish absorbs.
func (r *resolver) substanceOf(f *device.File, p *device.Part, size [3]float64, sunny bool) (substance, error) {
	name := p.Material
	var own *device.OwnMaterial
	for i := range f.Materials {
		if f.Materials[i].Name == p.Material {
			own = &f.Materials[i]
			if own.Like != "" {
				name = own.Like
			}
		}
	}
	lib, known := material.Lookup(name)
	if !known && own == nil {
		return substance{}, fmt.Errorf("material %q is neither in the library nor in this file", p.Material)
	}
	s := substance{name: p.Material, touchKind: string(lib.Kind),
		sort: joint.Sort{Metal: lib.Metal, Soft: lib.Soft, Board: lib.Board, Soldered: lib.Soldered}}
	path := "materials." + p.Material
	pick := func(q device.Q, libQ unit.Quantity, key, about string) (float64, error) {
		about = fmt.Sprintf("%s of %s", about, p.Material)
		if own != nil && q.Given() {
			return r.stated(q, about), nil
		}
		if !known {
			return 0, fmt.Errorf("material %q of this file states no %s and is not like a library one", p.Material, key)
		}
		return r.value(path+"."+key, about, lib.Source, libQ, false), nil
	}
	var ownQ device.OwnMaterial
	if own != nil {
		ownQ = *own
	}
	var err error
	var kIn, kAcross float64
	if kIn, err = pick(ownQ.Conductivity, lib.KInPlane, "conductivity", "conductivity"); err != nil {
		return s, err
	}
	kAcross = kIn
	switch {
	case own != nil && own.Through.Given():
		kAcross = r.stated(own.Through, "conductivity through "+p.Material)
	case own != nil && own.Conductivity.Given():
		// stated as one figure: taken as the same in all directions
	case known && lib.KThrough.Mid != lib.KInPlane.Mid:
		kAcross = r.value(path+".conductivity through", "conductivity through "+p.Material, lib.Source, lib.KThrough, false)
	}
	if s.rhoKgM3, err = pick(ownQ.Density, lib.DensityKgM3, "density", "density"); err != nil {
		return s, err
	}
	if s.cpJkgK, err = pick(ownQ.SpecificHeat, lib.SpecificHeatJkgK, "specific heat", "specific heat"); err != nil {
		return s, err
	}
	across := thinnest(size)
	if own != nil && own.Normal != "" {
		across = axisIndex(own.Normal)
	}
	for a := range s.kWmK {
		s.kWmK[a] = kIn
		if a == across {
			s.kWmK[a] = kAcross
		}
	}

	s.finish = p.Finish
	if s.finish == "" {
		s.finish = lib.DefaultFinish
		if s.finish == "" {
			s.finish = "plastic"
		}
		r.decide("finish of "+p.Name, s.finish, "our default for "+p.Material)
	}
	for i := range f.Finishes {
		fin := &f.Finishes[i]
		if fin.Name != s.finish {
			continue
		}
		s.emissivity = r.stated(fin.Emissivity, "emissivity of "+fin.Name)
		s.sunAbsorbed = s.emissivity
		if sunny && fin.Absorbs.Given() {
			s.sunAbsorbed = r.stated(fin.Absorbs, "sun absorbed by "+fin.Name)
		}
		return s, nil
	}
	fin, ok := material.LookupFinish(s.finish)
	if !ok {
		return s, fmt.Errorf("finish %q is neither in the library nor in this file", s.finish)
	}
	s.emissivity = r.value("finishes."+fin.Name+".emissivity", "emissivity of "+fin.Name, fin.Source, fin.Emissivity, false)
	if !sunny {
		return s, nil
	}
	s.sunAbsorbed = r.value("finishes."+fin.Name+".sun absorbed", "sun absorbed by "+fin.Name, fin.Source, fin.SolarAbsorptance, false)
	return s, nil
}

// thinnest is the axis of the smallest extent.
func thinnest(size [3]float64) int {
	t := 0
	for a := 1; a < 3; a++ {
		if size[a] < size[t] {
			t = a
		}
	}
	return t
}

package model

import (
	"fmt"
	"math"

	"finwright/internal/device"
	"finwright/internal/grid"
	"finwright/internal/joint"
	"finwright/internal/material"
	"finwright/internal/surface"
	"finwright/internal/unit"
)

// Joint is the contact between two touching parts, with the conductance used.
type Joint struct {
	A, B    int    // bodies
	Name    string // the file's name for it, or ""
	What    string // in words: "thermal pad, 1 mm" or "press fit (our default)"
	HWm2K   float64
	AreaM2  float64
	stairs  float64 // area of the cell faces that carry it, over the true area: above 1 at curved contacts
	LimitK  float64 // highest service temperature of its filler, K; 0 when none
	LimitBy string  // source of the limit
	Glued   bool
}

// jointsOf gives every pair of touching parts its conductance: the file's joint, or the default by kind.
func (r *resolver) jointsOf(s *Shape, subs []substance) ([]Joint, error) {
	stated := map[[2]int]*device.Joint{}
	for i := range s.File.Joints {
		j := &s.File.Joints[i]
		if len(j.Between) != 2 {
			continue
		}
		a, okA := s.index[j.Between[0]]
		b, okB := s.index[j.Between[1]]
		if okA && okB {
			stated[pair(a, b)] = j
		}
	}
	var out []Joint
	for _, c := range s.contacts {
		if s.airBody(c.A) || s.airBody(c.B) {
			continue
		}
		j := Joint{A: c.A, B: c.B, AreaM2: c.AreaM2, stairs: c.FacesM2 / c.AreaM2}
		if spec := stated[pair(c.A, c.B)]; spec != nil {
			if err := r.statedJoint(&j, spec, s, subs); err != nil {
				return nil, device.Problems{s.File.Problem(spec.Pos, fmt.Sprintf("joint %q: %v", spec.Name, err), "", "")}
			}
		} else {
			r.defaultJoint(&j, s, subs, c)
		}
		out = append(out, j)
	}
	return out, nil
}

func pair(a, b int) [2]int { return [2]int{min(a, b), max(a, b)} }

// statedJoint works a joint of the file out: conductance stated outright, a filler's bond line, or a dry joint by pressure
// or kind.
func (r *resolver) statedJoint(j *Joint, spec *device.Joint, s *Shape, subs []substance) error {
	j.Name = spec.Name
	between := s.names[j.A] + " | " + s.names[j.B]
	coverage := 1.0
	if spec.Coverage.Given() {
		coverage = r.stated(spec.Coverage, "coverage of "+spec.Name)
	}
	path := under(spec.Fitted, "joints."+spec.Name)
	if spec.Filler != "" {
		fill, ok := material.LookupFiller(spec.Filler)
		if !ok {
			return fmt.Errorf("filler %q is not in the library", spec.Filler)
		}
		j.What = fill.Name
		j.LimitK, j.LimitBy, j.Glued = fill.MaxServiceK, "highest service temperature of "+fill.Name+", data sheets, from memory", fill.Adhesive
		if !spec.Conductance.Given() {
			k := 0.0
			if spec.Conducts.Given() {
				k = r.stated(spec.Conducts, "conductivity of the filler in "+spec.Name)
			} else {
				k = r.value(path+".conductivity", fmt.Sprintf("conductivity of %s in %s (%s)", fill.Name, spec.Name, between), fill.Source, fill.KWmK, false)
			}
			t := 0.0
			if spec.Thickness.Given() {
				t = r.stated(spec.Thickness, "thickness of "+spec.Name)
			} else {
				t = r.value(path+".thickness", fmt.Sprintf("thickness of %s in %s (%s)", fill.Name, spec.Name, between), fill.Source, fill.ThicknessM, false)
			}
			if k <= 0 || t <= 0 {
				return fmt.Errorf("the filler's conductivity and thickness must be above zero")
			}
			j.What = fmt.Sprintf("%s, %s", fill.Name, unit.Format(t, unit.Length))
			h, err := joint.BondLine{ThicknessM: t, KWmK: k, Coverage: coverage, VoidKWmK: airKWmK}.Conductance()
			if err != nil {
				return err
			}
			j.HWm2K = h
			return nil
		}
	}
	switch {
	case spec.Conductance.Given():
		if j.What == "" {
			j.What = "stated"
		}
		j.HWm2K = coverage * r.stated(spec.Conductance, "conductance of "+spec.Name+" ("+between+")")
	case spec.Pressure.Given():
		if !subs[j.A].sort.Metal || !subs[j.B].sort.Metal {
			return fmt.Errorf("a pressure tells the conductance of metal on metal only; for %s and %s state 'conductance' or 'kind'", s.names[j.A], s.names[j.B])
		}
		j.What = "dry metal, pressed"
		// σ/m of 7 µm and a contact hardness of 1.1 GPa: fairly smooth machined aluminium (Mechanical Engineers' Handbook vol. 4)
		contact := joint.BareContact{K1WmK: subs[j.A].kWmK[0], K2WmK: subs[j.B].kWmK[0], RoughnessM: 1e-6, Slope: 1e-6 / 7e-6,
			PressurePa: r.stated(spec.Pressure, "pressure on "+spec.Name), HardnessPa: 1.1e9, GasKWmK: airKWmK,
			GasJumpM: joint.GasJumpM(0.9, 0.9, 313, surface.StandardPressurePa)}
		_, _, h, err := contact.Conductance()
		if err != nil {
			return err
		}
		r.decide("roughness of "+spec.Name, "1 µm, slope 0.14, hardness 1.1 GPa", "Mechanical Engineers' Handbook vol. 4, fairly smooth faces")
		j.HWm2K = coverage * h
	case spec.Kind != "":
		if _, ok := joint.RangeOf(joint.Kind(spec.Kind)); !ok {
			return fmt.Errorf("kind %q is not known", spec.Kind)
		}
		r.kindJoint(j, joint.Kind(spec.Kind), path+".conductance", between)
		j.HWm2K *= coverage
	default:
		return fmt.Errorf("it says nothing: give a filler, a conductance, a pressure or a kind")
	}
	return nil
}

// defaultJoint is what touching parts get when the file says nothing.
func (r *resolver) defaultJoint(j *Joint, s *Shape, subs []substance, c grid.Contact) {
	kind := joint.Default(subs[c.A].sort, subs[c.B].sort)
	between := s.names[c.A] + " | " + s.names[c.B]
	fitted := s.solids[c.A].spec.Fitted
	if fitted == "" {
		fitted = s.solids[c.B].spec.Fitted
	}
	r.kindJoint(j, kind, under(fitted, "contacts."+between), between)
	j.What += " (our default)"
}

// under puts the path of a joint below that of the retrofit that made it: what was learned of a stock joint, or of another retrofit's
// joint of the same name, is not known of this one.
func under(fitted, path string) string {
	if fitted == "" {
		return path
	}
	return fitted + "." + path
}

func (r *resolver) kindJoint(j *Joint, kind joint.Kind, path, between string) {
	d, _ := joint.RangeOf(kind)
	q := unit.Quantity{Dim: unit.FilmCoefficient, Kind: unit.Range, Lo: d.LoWm2K, Mid: d.MidWm2K, Hi: d.HiWm2K}
	j.What = string(kind)
	j.HWm2K = r.value(path, fmt.Sprintf("contact conductance of %s (%s)", between, kind), d.Source, q, false)
}

// airKWmK is the conductivity of air near 40 °C, in the voids and between the asperities of a joint.
const airKWmK = 0.027

// label is how the joint is shown.
func (j *Joint) label(names []string) string {
	return fmt.Sprintf("%s | %s (%s)", names[j.A], names[j.B], j.What)
}

// resistance is the joint's contribution per area of cell faces, m2 K/W; 0 when it conducts without limit.
func (j *Joint) resistance() float64 {
	if math.IsInf(j.HWm2K, 1) {
		return 0
	}
	return j.stairs / j.HWm2K
}

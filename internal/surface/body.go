package surface

import "math"

// Whole bodies. The length is √A, A the whole outer area: on it all compact shapes look nearly alike.

// BodyDiffusionLaw is what a body in still air loses when nothing moves at all.
var BodyDiffusionLaw = Law{
	Name:    "body in air at rest, conduction only",
	Formula: "Nu0 = S/√A: 3.41 for compact bodies (sphere 3.545, cube 3.389, thin square 3.259, 2 x 1 x 0.12 slab 3.448)",
	Source:  "conduction shape factors: Incropera et al., 6th ed., Table 4.1; exact capacitance of the cube and square; boundary-element values for boxes",
	Number:  "longest/middle side", Lo: 1, Hi: 10, ScatterFrac: 0.04,
	Outside: "body longer than ten times its width: the conduction limit is extrapolated",
}

// compactNu0 is Nu0 of a body of which only the area is known; all boxes up to 2:1 lie within -4.5 % and +1.2 %.
const compactNu0 = 3.41

// CuboidDiffusionNu returns Nu0 = S/√A of a box with the given sides. It is a fit of ours, within 1.2 %, to
// boundary-element solutions from thin squares to 2:1 boxes, and to the 10:1 bar of Incropera et al. Table 4.1:
//
//	Nu0 = [3.39 - 0.131 exp(-27 t)] (1 + 0.033 ln² x),  t = shortest/middle, x = longest/middle
func CuboidDiffusionNu(aM, bM, cM float64) float64 {
	if aM < bM {
		aM, bM = bM, aM
	}
	if bM < cM {
		bM, cM = cM, bM
	}
	if aM < bM {
		aM, bM = bM, aM
	}
	l := math.Log(aM / bM)
	return (3.39 - 0.131*math.Exp(-27*cM/bM)) * (1 + 0.033*l*l)
}

// CuboidLaw is natural convection around a whole box.
var CuboidLaw = Law{
	Name:    "box in air, natural convection around the whole",
	Formula: "Nu = Nu0 + F(Pr) G Ra^(1/4), length √A, F = 0.670/[1 + (0.5/Pr)^(9/16)]^(4/9), G = 2^(1/8) {[0.625 L^(4/3) W + H (L+W)^(4/3)]/(HW+WL+LH)^(7/6)}^(3/4)",
	Source:  "Yovanovich 1987; Lee, Yovanovich & Jafarpur, J. Thermophys. Heat Transfer 5 (1991) 208-216 (coefficients from memory)",
	Number:  "Ra", Lo: 0, Hi: 1e8, ScatterFrac: 0.15,
	Outside: "box in air: Ra on √A above 1e8, the laminar relation is extrapolated and reads low",
}

// FaceLaw is how Patch.Film puts the relations for single plates together on the faces of one body.
var FaceLaw = Law{
	Name:    "faces of one body, natural convection put together",
	Formula: "h = k Nu0/√A + (k/l) NuL [(s0+l)^(3/4) - s0^(3/4)]/l^(3/4): NuL the upright (laminar and Ra^(1/3) parts at the power 6), upward or downward relation without its small-plate term (0.68; a/ln(1 + a/NuT)), s0 the warm run upstream",
	Source:  "composition of ours after Lee, Yovanovich & Jafarpur 1991 and Raithby & Hollands 1998; on boxes of 20 to 160 mm the sum is within 7 % of the relation for the whole box",
	Number:  "Ra", Lo: 0, Hi: 1e8, ScatterFrac: 0.15,
	Outside: "faces of one body: Ra on √A above 1e8, checked only as single plates",
}

// CuboidG returns the body-gravity function of a box with upright side heightM. L is the longer of the other two.
func CuboidG(lengthM, widthM, heightM float64) float64 {
	l, w, h := max(lengthM, widthM), min(lengthM, widthM), heightM
	return math.Pow(2, 0.125) * math.Pow((0.625*math.Pow(l, 4.0/3)*w+h*math.Pow(l+w, 4.0/3))/math.Pow(h*w+w*l+l*h, 7.0/6), 0.75)
}

// CuboidNu returns the mean Nusselt number on √A, ra being the Rayleigh number of the length √A. See CuboidLaw.
func CuboidNu(ra, pr, lengthM, widthM, heightM float64) float64 {
	f := 0.670 / math.Pow(1+math.Pow(0.5/pr, 9.0/16), 4.0/9)
	return CuboidDiffusionNu(lengthM, widthM, heightM) + f*CuboidG(lengthM, widthM, heightM)*fourth(ra)
}

// BodyForcedLaw is forced convection over a whole compact body.
var BodyForcedLaw = Law{
	Name:    "compact body in a stream",
	Formula: "Nu = Nu0 + [0.15 (Pmax/√A)^(1/2) Re^(1/2) + 0.35 Re^0.566] Pr^(1/3), length √A",
	Source:  "Yovanovich, AIAA paper 1988 (coefficients from memory; agrees with Whitaker's sphere within 1 %)",
	Number:  "Re", Lo: 0, Hi: 1e5, ScatterFrac: 0.20,
	Outside: "body in a stream: Re on √A above 1e5, the relation is extrapolated",
}

// BodyForcedLayerNu returns the part of the relation that the stream adds to Nu0. perimeterRatio is Pmax/√A, Pmax the
// longest outline seen by the stream (cube 1.63, sphere 1.77, flat box 2.3). See BodyForcedLaw.
func BodyForcedLayerNu(re, pr, perimeterRatio float64) float64 {
	return (0.15*math.Sqrt(perimeterRatio*re) + 0.35*math.Pow(re, 0.566)) * math.Cbrt(pr)
}

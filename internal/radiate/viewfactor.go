package radiate

import "math"

// ViewParallel returns the view factor between two equal rectangles, sideA by sideB, directly opposed at a distance.
// Lengths must be above zero, here and below. Closed form C-11 of Howell, A Catalog of Radiation Heat Transfer Configuration
// Factors.
func ViewParallel(sideAM, sideBM, distanceM float64) float64 {
	x, y := sideAM/distanceM, sideBM/distanceM
	x1, y1 := 1+x*x, 1+y*y
	return 2 / (math.Pi * x * y) * (0.5*math.Log(x1*y1/(1+x*x+y*y)) +
		x*math.Sqrt(y1)*math.Atan(x/math.Sqrt(y1)) +
		y*math.Sqrt(x1)*math.Atan(y/math.Sqrt(x1)) -
		x*math.Atan(x) - y*math.Atan(y))
}

// ViewPerpendicular returns the view factor from a rectangle (edge by fromM) to one standing on its edge (edge by toM)
// at a right angle. Closed form C-14 of Howell, A Catalog of Radiation Heat Transfer Configuration Factors.
func ViewPerpendicular(edgeM, fromM, toM float64) float64 {
	h, w := toM/edgeM, fromM/edgeM
	h2, w2 := h*h, w*w
	s := h2 + w2
	return 1 / (math.Pi * w) * (w*math.Atan(1/w) + h*math.Atan(1/h) - math.Sqrt(s)*math.Atan(1/math.Sqrt(s)) +
		0.25*(math.Log((1+w2)*(1+h2)/(1+s))+
			w2*math.Log(w2*(1+s)/((1+w2)*s))+
			h2*math.Log(h2*(1+s)/((1+h2)*s))))
}

// ViewDisks returns the view factor from a disk to a parallel coaxial one at a distance.
// Closed form C-41 of Howell, A Catalog of Radiation Heat Transfer Configuration Factors (Incropera et al., 6th ed., Table 13.2).
func ViewDisks(fromRadiusM, toRadiusM, distanceM float64) float64 {
	ri, rj := fromRadiusM/distanceM, toRadiusM/distanceM
	s := 1 + (1+rj*rj)/(ri*ri)
	// (s - √(s²-4q))/2 without the difference of two nearly equal numbers
	q := (rj / ri) * (rj / ri)
	return 2 * q / (s + math.Sqrt(s*s-4*q))
}

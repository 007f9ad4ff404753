package model

import "math"

// SectionOf cuts the device with a plane through the part that makes most heat. A plane normal to the device's thinnest
// direction would hide the layers, so it contains the thinnest direction and the up axis.
func (m *Model) SectionOf(tK []float64, under *Under) Section {
	g := m.Shape.Grid
	planes := [3][]float64{g.X, g.Y, g.Z}
	// the picture's vertical axis is up; its horizontal one the thinner of the other two
	v := under.UpAxis
	h, n := (v+1)%3, (v+2)%3
	if extent(planes[n]) < extent(planes[h]) {
		h, n = n, h
	}
	// through the middle of the part that makes most heat
	at := 0
	best := -1.0
	for i := range m.Sources {
		if p := m.Sources[i].FullW; p > best {
			best, at = p, m.Sources[i].Part
		}
	}
	b := m.Shape.solids[at].solid.Bounds()
	cutM := (b.Min[n] + b.Max[n]) / 2
	idx := 0
	for idx < len(planes[n])-2 && planes[n][idx+1] <= cutM {
		idx++
	}
	s := Section{Axis: n, AtM: cutM, UName: "xyz"[h : h+1], VName: "xyz"[v : v+1], UPlanesM: planes[h], VPlanesM: planes[v], Names: m.Shape.names}
	nu, nv := len(planes[h])-1, len(planes[v])-1
	s.TK = make([]float64, nu*nv)
	s.Part = make([]int, nu*nv)
	stride := [3]int{1, g.NX, g.NX * g.NY}
	for jv := 0; jv < nv; jv++ {
		for iu := 0; iu < nu; iu++ {
			c := idx*stride[n] + iu*stride[h] + jv*stride[v]
			q := jv*nu + iu
			if under.UpSign < 0 {
				q = (nv-1-jv)*nu + iu // up in the picture is up in use
			}
			s.Part[q] = int(g.Owner[c])
			s.TK[q] = tK[c]
			if g.Owner[c] < 0 {
				s.Part[q], s.TK[q] = -1, math.NaN()
			}
		}
	}
	if under.UpSign < 0 {
		s.VName = "-" + s.VName
		s.VPlanesM = make([]float64, nv+1)
		for j := range s.VPlanesM {
			s.VPlanesM[j] = -planes[v][nv-j]
		}
	}
	return s
}

func extent(p []float64) float64 { return p[len(p)-1] - p[0] }

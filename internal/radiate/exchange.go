package radiate

import (
	"fmt"
	"math"
)

// Exchange is the long-wave exchange of N surfaces and Far far fields, reflections included. AreaM2[i*(N+Far)+j] is the exchange
// area (script F times area) between surface i and surface or far field j, m²: the net loss of surface i is
//
//	Q_i = Σj AreaM2_ij σ (T_i⁴ - T_j⁴)
//
// It is symmetric among surfaces, never negative, and zero from a surface to itself. Black surfaces have A_i F_ij.
type Exchange struct {
	N, Far int
	AreaM2 []float64
}

// NewExchange works out the exchange areas from areas, emissivities 0..1 and views that Smooth has made reciprocal and closed.
//
// It is the network of radiosities (Oppenheim 1956; Incropera et al., 6th ed., §13.3): between radiosity J_i and emissive power
// E_i of a surface the conductance A_i ε_i/(1-ε_i), between J_i and J_j the conductance A_i F_ij. Eliminating every J leaves
// conductances between the E alone. Eliminating a node sets g_ij += g_ik g_kj/Σ g_k (star to mesh): nothing is ever subtracted,
// so the result is as accurate as the input for any emissivity, 0 (an adiabatic, re-radiating wall) and 1 included.
func NewExchange(areaM2, emissivity []float64, v *Views) (*Exchange, error) {
	net, err := newNetwork(areaM2, emissivity, v, "emissivity")
	if err != nil {
		return nil, err
	}
	net.reduce()
	n, w := v.N, v.N+v.Far
	x := &Exchange{N: n, Far: v.Far, AreaM2: make([]float64, n*w)}
	for i := range n {
		for j := range w {
			if i != j {
				x.AreaM2[i*w+j] = net.between(net.end[i], net.end[j])
			}
		}
	}
	return x, nil
}

// Row are the exchange areas of surface i.
func (x *Exchange) Row(i int) []float64 {
	w := x.N + x.Far
	return x.AreaM2[i*w : (i+1)*w]
}

// Absorbed is what each surface takes in of light that falls on it, W/m² of its own area. incidentWm2 is what comes straight from
// outside (sun by package ray's Lit, sky and ground by their shares); what a surface does not absorb it scatters evenly over
// its hemisphere, to other surfaces, itself and out to the far fields, and so on until all is absorbed or out:
//
//	H_i = incident_i + Σj F_ij (1-α_j) H_j,   absorbed_i = α_i H_i
//
// absorptance is 0..1, views are smoothed ones. Light between surfaces that neither absorb nor see out has nowhere to go; no
// light can get there, and what the input says does is left out.
func Absorbed(areaM2, absorptance []float64, v *Views, incidentWm2 []float64) ([]float64, error) {
	net, err := newNetwork(areaM2, absorptance, v, "absorptance")
	if err != nil {
		return nil, err
	}
	if len(incidentWm2) != v.N {
		return nil, fmt.Errorf("%d surfaces need as many numbers of incident light, not %d", v.N, len(incidentWm2))
	}
	for i, q := range incidentWm2 {
		if !(q >= 0) || math.IsInf(q, 1) {
			return nil, fmt.Errorf("%g W/m² of light on surface %d: it must be zero or more", q, i+1)
		}
		net.powerW[i] = areaM2[i] * q
	}
	net.reduce()
	out := make([]float64, v.N)
	for i := range out {
		if areaM2[i] > 0 {
			out[i] = net.powerW[net.end[i]] / areaM2[i]
		}
	}
	return out, nil
}

// network is nodes joined by conductances, m². Nodes 0..n-1 are what leaves the surfaces (radiosity), then come the far fields,
// then a node for the surface itself (emission, absorption) where it is grey. A black one is its own node.
type network struct {
	n, size int
	g       []float64 // size x size, symmetric
	powerW  []float64 // fed into a node
	end     []int     // by surface, then far field: the node of its temperature
}

func newNetwork(areaM2, emissivity []float64, v *Views, name string) (*network, error) {
	if err := v.enclosed(areaM2); err != nil {
		return nil, err
	}
	if len(emissivity) != v.N {
		return nil, fmt.Errorf("%d surfaces need as many values of %s, not %d", v.N, name, len(emissivity))
	}
	for i, e := range emissivity {
		if !(e >= 0 && e <= 1) {
			return nil, fmt.Errorf("surface %d has an %s of %g: it lies between 0 and 1", i+1, name, e)
		}
	}
	if r, c := v.Defect(areaM2); r > 1e-6 || c > 1e-6 {
		return nil, fmt.Errorf("the views fail reciprocity by %.2g and closure by %.2g of an area: smooth them first", r, c)
	}
	w := v.N + v.Far
	size := w + v.N
	net := &network{n: v.N, size: size, g: make([]float64, size*size), powerW: make([]float64, size), end: make([]int, w)}
	for j := range net.end {
		net.end[j] = j
	}
	for i, e := range emissivity {
		for j, f := range v.Row(i) {
			switch {
			case j >= v.N:
				net.join(i, j, areaM2[i]*f)
			case j < i:
				net.join(i, j, (areaM2[i]*f+areaM2[j]*v.Row(j)[i])/2)
			}
		}
		if e < 1 {
			net.end[i] = w + i
			net.join(i, w+i, areaM2[i]*e/(1-e))
		}
	}
	return net, nil
}

func (net *network) join(i, j int, areaM2 float64) {
	net.g[i*net.size+j] += areaM2
	net.g[j*net.size+i] += areaM2
}

func (net *network) between(i, j int) float64 { return net.g[i*net.size+j] }

// reduce eliminates the radiosity of every grey surface. What is fed into a node goes on to its neighbours by their conductance.
func (net *network) reduce() {
	for k := range net.n {
		if net.end[k] == k {
			continue
		}
		row := net.g[k*net.size : (k+1)*net.size]
		sum := 0.0
		for _, g := range row {
			sum += g
		}
		if sum == 0 {
			continue // sees only itself, and does not absorb
		}
		for i, gi := range row {
			if gi == 0 {
				continue
			}
			net.powerW[i] += net.powerW[k] * (gi / sum)
			to := net.g[i*net.size : (i+1)*net.size]
			for j, gj := range row {
				if j != i {
					to[j] += max(gi, gj) / sum * min(gi, gj) // in this order: symmetric to the last bit, and no underflow
				}
			}
		}
		net.powerW[k] = 0
		for i := range row {
			row[i], net.g[i*net.size+k] = 0, 0
		}
	}
}

package thermocouple

import (
	"fmt"
	"math"
	"strings"
)

// Type is a letter-designated thermocouple type.
type Type byte

// The base-metal types.
const (
	K Type = 'K' // nickel-chromium / nickel-aluminium
	T Type = 'T' // copper / constantan
	J Type = 'J' // iron / constantan
	E Type = 'E' // nickel-chromium / constantan
	N Type = 'N' // nicrosil / nisil
)

// Types lists the types known, the most usual first.
var Types = []Type{K, T, J, E, N}

// String is the letter.
func (t Type) String() string { return string(rune(t)) }

// ParseType reads a type as loggers write it: "K", "k", "type K", "TC K", "K-type".
func ParseType(text string) (Type, error) {
	s := strings.ToUpper(text)
	for _, word := range []string{"THERMOCOUPLE", "TYPE", "TYP", "TC"} {
		s = strings.Replace(s, word, " ", 1)
	}
	s = strings.Trim(s, " -_()[]:.")
	if len(s) == 1 {
		if _, ok := direct[Type(s[0])]; ok {
			return Type(s[0]), nil
		}
	}
	return 0, fmt.Errorf("thermocouple type %q is not one of K, T, J, E, N: write the letter on the plug or the logger's setting", text)
}

// The exponential term of type K above 0 °C. NIST Monograph 175, type K table of coefficients.
const (
	kExpMV     = 0.118597600000
	kExpPerC2  = -0.118343200000e-03
	kExpCentre = 126.9686
)

// RangeError tells that a temperature or a voltage is outside what the type's reference function covers.
type RangeError struct {
	Type   Type
	Value  float64
	Unit   string // "°C" or "mV"
	Lo, Hi float64
}

func (e *RangeError) Error() string {
	hint := "check the type letter and the wiring"
	switch {
	case math.IsNaN(e.Value):
		hint = "the reading is missing"
	case e.Unit == "mV" && e.Value > e.Hi:
		hint = "an open sensor reads like this, or the column is not in mV, or the type letter is wrong"
	}
	return fmt.Sprintf("%.6g %s is outside type %s, which goes from %.6g to %.6g %s: %s", e.Value, e.Unit, e.Type, e.Lo, e.Hi, e.Unit, hint)
}

// known returns the pieces of the type's reference function.
func (t Type) known() ([]piece, error) {
	p, ok := direct[t]
	if !ok {
		return nil, fmt.Errorf("there is no thermocouple type %q here: K, T, J, E and N are known", t.String())
	}
	return p, nil
}

// RangeC is the range of the reference function, °C. An unknown type has none (0, 0).
func (t Type) RangeC() (loC, hiC float64) {
	p, err := t.known()
	if err != nil {
		return 0, 0
	}
	return p[0].loC, p[len(p)-1].hiC
}

// at is E and dE/dt of one piece, mV and mV/K. A piece reaches a little over its ends, for Newton's steps.
func (p piece) at(t Type, tC float64) (mV, mVK float64) {
	for i := len(p.c) - 1; i >= 0; i-- { // Horner, value and derivative together
		mVK = mVK*tC + mV
		mV = mV*tC + p.c[i]
	}
	if t == K && p.loC == 0 {
		d := tC - kExpCentre
		x := kExpMV * math.Exp(kExpPerC2*d*d)
		mV += x
		mVK += 2 * kExpPerC2 * d * x
	}
	return mV, mVK
}

// pieceAt picks the piece that holds tC.
func (t Type) pieceAt(tC float64) (piece, error) {
	ps, err := t.known()
	if err != nil {
		return piece{}, err
	}
	if lo, hi := t.RangeC(); !(tC >= lo && tC <= hi) {
		return piece{}, &RangeError{t, tC, "°C", lo, hi}
	}
	for _, p := range ps {
		if tC <= p.hiC {
			return p, nil
		}
	}
	return ps[len(ps)-1], nil
}

// EMFmV is the voltage of a thermocouple with its measuring junction at tC and its reference junction at 0 °C, mV.
// Valid: RangeC. Outside it returns a *RangeError and no value.
// Source: NIST Monograph 175 (1993), reference functions; IEC 60584-1:2013.
func (t Type) EMFmV(tC float64) (float64, error) {
	p, err := t.pieceAt(tC)
	if err != nil {
		return 0, err
	}
	mV, _ := p.at(t, tC)
	return mV, nil
}

// SeebeckMVK is the slope dE/dt at tC, mV/K. Valid: RangeC.
func (t Type) SeebeckMVK(tC float64) (float64, error) {
	p, err := t.pieceAt(tC)
	if err != nil {
		return 0, err
	}
	_, mVK := p.at(t, tC)
	return mVK, nil
}

// TempC is the temperature at which EMFmV gives emfMV, °C, to rounding. emfMV is referred to 0 °C: add the junction's own voltage
// first, or use ReadingK. Valid: the voltages of RangeC.
func (t Type) TempC(emfMV float64) (float64, error) {
	ps, err := t.known()
	if err != nil {
		return 0, err
	}
	first, last := ps[0], ps[len(ps)-1]
	loMV, _ := first.at(t, first.loC)
	hiMV, _ := last.at(t, last.hiC)
	if !(emfMV >= loMV && emfMV <= hiMV) {
		return 0, &RangeError{t, emfMV, "mV", loMV, hiMV}
	}
	p := last
	for _, q := range ps {
		if top, _ := q.at(t, q.hiC); emfMV <= top {
			p = q
			break
		}
	}
	// Newton's steps, kept inside a bracket: E(t) is rising throughout, but nearly flat at the coldest end.
	loC, hiC := p.loC, p.hiC
	tC, err := t.PolynomialC(emfMV)
	if err != nil || tC < loC || tC > hiC {
		tC = (loC + hiC) / 2
	}
	for range 100 {
		mV, mVK := p.at(t, tC)
		if mV < emfMV {
			loC = tC
		} else {
			hiC = tC
		}
		next := tC - (mV-emfMV)/mVK
		if !(next >= loC && next <= hiC) {
			next = (loC + hiC) / 2
		}
		if math.Abs(next-tC) < 1e-10 {
			return next, nil
		}
		tC = next
	}
	return tC, nil
}

// PolynomialC is the published approximate inverse, °C. errLoK..errHiK of its piece bound the error, 0.06 K at most.
// Source: NIST Monograph 175 (1993), approximate inverse functions.
func (t Type) PolynomialC(emfMV float64) (float64, error) {
	ps, ok := inverse[t]
	if !ok {
		_, err := t.known()
		return 0, err
	}
	// The printed ends are rounded to 1 µV, so the table's own last point may lie half of that outside.
	const roundMV = 0.0006
	lo, hi := ps[0].loMV, ps[len(ps)-1].hiMV
	if !(emfMV >= lo-roundMV && emfMV <= hi+roundMV) {
		return 0, &RangeError{t, emfMV, "mV", lo, hi}
	}
	p := ps[len(ps)-1]
	for _, q := range ps {
		if emfMV <= q.hiMV {
			p = q
			break
		}
	}
	tC := 0.0
	for i := len(p.d) - 1; i >= 0; i-- {
		tC = tC*emfMV + p.d[i]
	}
	return tC, nil
}

// zeroCK is 0 °C in kelvin.
const zeroCK = 273.15

// ReadingK is the temperature of the measuring junction, K, from the voltage at the instrument's terminals and the temperature of
// those terminals (the cold junction), K:
//
//	t = E⁻¹( reading + E(t_junction) )
//
// Voltages add, temperatures do not: adding the junction's degrees to the reading's is a common mistake.
func (t Type) ReadingK(readingMV, junctionK float64) (float64, error) {
	jMV, err := t.EMFmV(junctionK - zeroCK)
	if err != nil {
		return 0, fmt.Errorf("cold junction: %w", err)
	}
	tC, err := t.TempC(readingMV + jMV)
	if err != nil {
		return 0, err
	}
	return tC + zeroCK, nil
}

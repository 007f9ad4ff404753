package learn

import (
	"fmt"
	"math"
	"strings"

	"finwright/internal/device"
	"finwright/internal/material"
	"finwright/internal/unit"
)

// Errors of readings made by hand, as 90 % half-widths. Common practice, no source.
const (
	bareReadingK = 1.0 // of a reading whose error is not stated
	touchK       = 5.0 // the least, of a finger's estimate
	reflectedK   = 3.0 // of the temperature that a thermometer sees reflected
)

// usualSetting is the emissivity that infrared thermometers are set to as bought. Common practice, no source.
const usualSetting = 0.95

// handSpot is a reading made by hand, corrected and doubted by how it was made.
func handSpot(f *device.File, r *device.Run, s *device.Spot) spot {
	halfK := (s.Reads.Hi - s.Reads.Lo) / 2
	if halfK == 0 {
		halfK = bareReadingK
	}
	at := fmt.Sprintf("%s after %s", s.At, unit.Format(s.After.Mid, unit.Time))
	out := spot{place: s.At, atS: s.After.Mid, readK: s.Reads.Mid}
	switch s.By {
	case "touch":
		at = s.At + " (by touch)" + at[len(s.At):]
		halfK = math.Max(halfK, touchK)
	case "thermocouple":
		// what its wire leads away and a taped bead misses is the same share of every reading, but each is fixed anew
		out.riseK = out.readK - ambient(f, r)
		halfK = math.Hypot(halfK, z90*logLossShare*out.riseK)
	case "infrared":
		eps, epsSD := seenEmissivity(f, s)
		set := usualSetting
		if s.SetTo.Given() {
			set = s.SetTo.Mid
		}
		around := surroundings(f, r)
		t, perEps, perAround := infraredK(out.readK, around, eps, set)
		halfK = math.Hypot(halfK*set/eps*math.Pow(out.readK/t, 3), z90*math.Hypot(perEps*epsSD, perAround*reflectedK/z90))
		out.readK = t
		at = fmt.Sprintf("%s (infrared, read %s at emissivity %.2f)%s", s.At, unit.Format(s.Reads.Mid, unit.Temperature), eps, at[len(s.At):])
	}
	out.noiseK, out.text = halfK/z90, at
	return out
}

// infraredK is the temperature of a grey spot of emissivity eps that a thermometer set to another emissivity reads as readK, with what is
// around it at aroundK, and how it changes with eps and aroundK. The thermometer takes what it receives, eps T⁴ + (1-eps) Ta⁴, for
// set Tr⁴ + (1-set) Ta⁴ (grey and total, as in Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, §12.8, radiosity of an opaque
// grey surface; the band of a real thermometer makes the power a little larger than 4).
func infraredK(readK, aroundK, eps, set float64) (tK, perEps, perAround float64) {
	a4 := math.Pow(aroundK, 4)
	t4 := (set*math.Pow(readK, 4) + (eps-set)*a4) / eps
	tK = math.Pow(math.Max(t4, math.Pow(aroundK/2, 4)), 0.25)
	perT := 4 * eps * math.Pow(tK, 3)
	return tK, (a4 - t4) / perT, (eps - set) * 4 * math.Pow(aroundK, 3) / perT
}

// seenEmissivity is that of the spot, stated or from the finish of its part, and its standard deviation.
func seenEmissivity(f *device.File, s *device.Spot) (eps, sd float64) {
	if q := s.Emissivity; q.Given() {
		return q.Mid, math.Max(0.01, (q.Hi-q.Lo)/2/z90)
	}
	name, _, _ := strings.Cut(s.At, ".")
	name, _, _ = strings.Cut(name, " ")
	for i := range f.Parts {
		p := &f.Parts[i]
		if p.Name != name && !strings.HasPrefix(s.At, p.Name) {
			continue
		}
		finish := p.Finish
		if finish == "" {
			if m, ok := material.Lookup(p.Material); ok {
				finish = m.DefaultFinish
			}
		}
		for k := range f.Finishes {
			if q := f.Finishes[k].Emissivity; f.Finishes[k].Name == finish {
				return q.Mid, math.Max(0.01, (q.Hi-q.Lo)/2/z90)
			}
		}
		if fin, ok := material.LookupFinish(finish); ok {
			q := fin.Emissivity
			return q.Mid, math.Max(0.01, (q.Hi-q.Lo)/2/z90)
		}
	}
	return 0.9, 0.1 // nothing known of it: most things that are not bare metal. Common practice, no source
}

func surroundings(f *device.File, r *device.Run) float64 {
	if r.Surroundings.Given() {
		return r.Surroundings.Mid
	}
	if f.Conditions.Surroundings.Given() && !r.Ambient.Given() {
		return f.Conditions.Surroundings.Mid
	}
	return ambient(f, r)
}

// bareMetal is the emissivity below which an infrared reading tells more of what is reflected than of the spot. Common practice, no source.
const bareMetal = 0.5

// doubtedReadings are words on readings that say little for how they were made.
func (st *study) doubtedReadings() []string {
	var out []string
	for i := range st.runs {
		f, r := st.runs[i].file, st.runs[i].spec
		for k := range r.Spots {
			s := &r.Spots[k]
			if s.By != "infrared" {
				continue
			}
			if eps, _ := seenEmissivity(f, s); eps < bareMetal {
				h := handSpot(f, r, s)
				out = append(out, fmt.Sprintf("The infrared reading at %s (%s) was on a surface of emissivity %.2f, which mostly mirrors what is around it: it is taken for %s ± %.0f K. Put a piece of tape or a dab of matt paint there, read that, and say so: emissivity: 0.95.",
					s.At, unit.Format(s.Reads.Mid, unit.Temperature), eps, unit.Format(h.readK, unit.Temperature), z90*h.noiseK))
			}
		}
	}
	return out
}

package main

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"

	"finwright/internal/device"
	"finwright/internal/forecast"
	"finwright/internal/model"
	"finwright/internal/session"
	"finwright/internal/unit"
)

// test is one kind of bench test of a demo device, with two thermocouples outside.
type test struct {
	Demo, Design string
	Places       []string
	AmbientC     float64
}

// The first ends after about 80 min by an empty battery; the others are harder or longer.
var tests = []test{
	{"cave-lamp", "finned copper back with keel", []string{"body.top centre", "62 23 44 mm"}, 12},
	{"direction-finder", "finned copper back with keel", []string{"finned back.back centre", "window.front centre"}, 24},
	{"direction-finder", "screen off", []string{"skin.back centre", "window.front centre"}, 24},
}

const stopped = session.Stopped

func (t test) name() string { return fmt.Sprintf("%s, %s, %g °C", t.Demo, t.Design, t.AmbientC) }

// load reads the design and the bench's conditions: the room is known to half a kelvin.
func (t test) load() (*device.File, *device.Conditions, error) {
	path := "demo/" + t.Demo + "/" + t.Demo + ".yaml"
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, nil, err
	}
	f, err := device.Parse(path, data)
	if err != nil {
		return nil, nil, err
	}
	v, _, err := f.Variant(t.Design)
	if err != nil {
		return nil, nil, err
	}
	q, err := unit.Parse(fmt.Sprintf("%g °C ± 0.5 K", t.AmbientC), unit.Temperature)
	if err != nil {
		return nil, nil, err
	}
	return v, &device.Conditions{Ambient: device.Q{Quantity: q, Path: "bench.ambient"}}, nil
}

// truth makes bench tests. The runs are 3-D ones on other cells than the forecast's, or reduced ones; to what the model gives
// come errors that the forecast's own model of errors only stands for.
type truth struct {
	bench      *forecast.Bench
	test       test
	conditions *device.Conditions
	shape      *model.Shape
	cells      int
}

func (tr *truth) in3D(f *device.File, cells int) error {
	var err error
	if tr.shape, err = model.NewShape(f, nil, model.Fineness{TargetCells: cells, Across: 3}); err != nil {
		return err
	}
	m, err := tr.shape.At(nil, tr.conditions, "")
	if err == nil {
		tr.cells = m.ActiveCells()
	}
	return err
}

// seen is one test: how it ends, and what the logger has written.
type seen struct {
	endS            float64
	stopped, lasted bool
	probes          []forecast.Readings
}

// until are the readings up to a time.
func (s *seen) until(tS float64) []forecast.Readings {
	out := make([]forecast.Readings, len(s.probes))
	for i, r := range s.probes {
		n := 0
		for n < len(r.TimeS) && r.TimeS[n] <= tS {
			n++
		}
		out[i] = forecast.Readings{TimeS: r.TimeS[:n], TK: r.TK[:n]}
	}
	return out
}

// Errors of the invented bench, standard deviations.
const (
	rowS      = 10.0
	offsetK   = 1.2   // each thermocouple's own
	gainFrac  = 0.02  // its contact
	lagS      = 10.0  // time constant of the glued bead, half normal
	noiseK    = 0.12  // of a reading, with
	noiseLike = 0.5   // this correlation to the one before
	lastK     = 0.1   // the logger's last digit
	driftKH   = 0.4   // the room warms or cools so much in an hour, and the device with it
	modelFrac = 0.015 // what the model misses of a rise, at each place: a constant part …
	waveFrac  = 0.01  // … and a wave of 20 to 60 min
)

// make draws a device and makes its test.
func (tr *truth) make(ctx context.Context, rng *rand.Rand) (*seen, error) {
	z := make([]float64, tr.bench.Unknowns())
	for i := range z {
		z[i] = rng.NormFloat64()
	}
	v := tr.bench.Values(z)
	timeS, curves, own, fullS, err := tr.run(ctx, z, v)
	if err != nil {
		return nil, err
	}
	s := &seen{endS: own.AtS, stopped: own.Kind == session.Stopped, lasted: own.Kind != session.Stopped && fullS >= own.AtS}
	driftKS := driftKH * rng.NormFloat64() / 3600
	for _, curve := range curves {
		offset, gain, lag := offsetK*rng.NormFloat64(), gainFrac*rng.NormFloat64(), lagS*math.Abs(rng.NormFloat64())
		constant, wave := modelFrac*rng.NormFloat64(), waveFrac*math.Sqrt2*rng.NormFloat64()
		period, phase := 60*(20+40*rng.Float64()), 2*math.Pi*rng.Float64()
		var r forecast.Readings
		bead, noise, k := curve[0], noiseK*rng.NormFloat64(), 0
		for t := 0.0; t < own.AtS; t += rowS {
			for k < len(timeS)-2 && timeS[k+1] < t {
				k++
			}
			w := (t - timeS[k]) / (timeS[k+1] - timeS[k])
			at := curve[k] + w*(curve[k+1]-curve[k])
			at += (at - curve[0]) * (constant + wave*math.Sin(2*math.Pi*t/period+phase))
			at += driftKS * t
			bead = at + (bead-at)*math.Exp(-rowS/math.Max(lag, 0.1))
			noise = noiseLike*noise + math.Sqrt(1-noiseLike*noiseLike)*noiseK*rng.NormFloat64()
			read := bead + offset + gain*(bead-curve[0]) + noise
			r.TimeS, r.TK = append(r.TimeS, t), append(r.TK, math.Round(read/lastK)*lastK)
		}
		s.probes = append(s.probes, r)
	}
	return s, nil
}

// run makes the run itself.
func (tr *truth) run(ctx context.Context, z []float64, v device.Values) (timeS []float64, curves [][]float64, own session.End, fullS float64, err error) {
	if tr.shape == nil {
		r, err := tr.bench.Run(ctx, z)
		if err != nil {
			return nil, nil, own, 0, err
		}
		return r.TimeS, r.ReadK, r.Own, r.FullS, nil
	}
	m, err := tr.shape.At(v, tr.conditions, "")
	if err != nil {
		return nil, nil, own, 0, err
	}
	res, err := session.Run(ctx, m, session.Spec{Values: v, Bare: true, Watch: tr.test.Places, UntilS: 4 * 3600, TolK: 0.05})
	if err != nil {
		return nil, nil, own, 0, err
	}
	for _, place := range tr.test.Places {
		for i := range res.Series {
			if s := &res.Series[i]; s.Kind == "place" && s.Name == place {
				curves = append(curves, s.ValueK)
			}
		}
	}
	if len(curves) != len(tr.test.Places) {
		return nil, nil, own, 0, fmt.Errorf("%d curves for %d places", len(curves), len(tr.test.Places))
	}
	return res.TimeS, curves, res.Own, res.End.AtS, nil
}

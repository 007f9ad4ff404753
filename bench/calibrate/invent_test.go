package main

import (
	"context"
	"errors"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"gonum.org/v1/gonum/stat"

	"finwright/internal/device"
	"finwright/internal/infer"
)

// small is an invented device with a stop and a log that is quick to learn: a chip on a metal block, in doubt where the demo's devices are.
const small = `device: small
invented: true
materials:
  block metal: {conductivity: 150 W/mK, density: 2700 kg/m3, specific heat: 800 to 1000 J/kgK}
  chip stuff: {conductivity: 100 W/mK, density: 2500 kg/m3, specific heat: 700 to 900 J/kgK}
finishes:
  dark: {emissivity: 0.9}
parts:
  block: {material: block metal, finish: dark, box: 40 x 40 x 10 mm}
  chip: {material: chip stuff, finish: dark, plate: 20 x 20 mm, thickness: 5 mm, on: block.front, heat: 3 to 5 W}
joints:
  bond: {between: [chip, block], conductance: 400 to 1600 W/m2K}
sensors:
  chip sensor: {at: chip, stops at: 75 °C ± 3 K}
boundaries:
  air: {face: block, film: 12 to 20 W/m2K, ambient: 20 °C}
conditions: {ambient: 20 °C}
stock runs:
  - name: on the bench
    ambient: 20 °C
    stops after: 12 to 15 min
    log: bench.csv
    channels: {back: block.back centre}
    log error: 2 K
`

// The whole calibration, with thirty small devices. The sum of squared scores of right ones has a chance of 0.01, shared out over what is
// asked, to fail: it lies within 0.45 and 1.9 of its mean. That the same draws, spread to twice or half their width, do fail, for all that is
// asked, shows that the bounds are not too wide.
func TestSmallDevices(t *testing.T) {
	path := filepath.Join(t.TempDir(), "small.yaml")
	if err := errors.Join(os.WriteFile(path, []byte(small), 0o600), os.WriteFile(filepath.Join(filepath.Dir(path), "bench.csv"), nil, 0o600)); err != nil {
		t.Fatal(err)
	}
	f, err := device.Load(path)
	if err != nil {
		t.Fatal(err)
	}
	const devices = 30
	factors := []float64{1, 0.5, 2} // of the draws' spread
	outs := make([]outcome, len(factors))
	for i := range devices {
		rng := rand.New(rand.NewPCG(7, uint64(i)))
		r, err := try(context.Background(), f, options{cells: 300}, rng)
		if err != nil {
			t.Fatalf("device %d: %v", i+1, err)
		}
		if !r.settled {
			t.Errorf("device %d: the sample has not settled", i+1)
		}
		outs[0].add(f.Device, r)
		for n, factor := range factors[1:] {
			wrong := *r
			for k := range asked {
				draws := column(r.answers[1:], k)
				mean := stat.Mean(draws, nil)
				for d := range draws {
					draws[d] = mean + factor*(draws[d]-mean)
				}
				wrong.ranks[k] = infer.Rank(r.answers[0][k], draws, rng)
			}
			outs[1+n].add(f.Device, &wrong)
		}
	}
	for n, factor := range factors {
		out := &outs[n]
		if err := out.judge(); err != nil {
			t.Fatal(err)
		}
		for _, j := range out.Judged {
			t.Logf("draws spread by %g, %s: 90 %% intervals hold it in %.2f, 50 %% in %.2f, spread %.2f of what it should be (p %.5f)", factor, j.Quantity, j.In90.Share, j.In50.Share, j.Ratio, j.P)
			if objected := j.P < 0.01/float64(len(asked)); objected != (factor != 1) {
				t.Errorf("draws spread by %g, %s: %.2f of the spread that right intervals give (p %.5f)", factor, j.Quantity, j.Ratio, j.P)
			}
		}
	}
}

// Command posterior samples a set of invented problems with package infer, for compare.py to check against closed answers and against
// a general-purpose sampler.
//
//	posterior -dir D >D/problems.json
//
// Standard output gets the problems with what infer reports of each, as JSON; D gets the samples themselves, 0.f64, 1.f64 and so on:
// float64, little-endian, step by step, all walkers of a step together, all unknowns of a walker together.
package main

import (
	"bufio"
	"context"
	"encoding/binary"
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"

	"finwright/internal/infer"
)

// problem is a posterior: residuals A z + C + Q z₀², those in OneSided censored, -ln Φ(-r), or the network of network.go when
// there is no A. Unknowns are standard normal scores.
type problem struct {
	Name     string      `json:"name"`
	N        int         `json:"n"`
	A        [][]float64 `json:"a,omitempty"`
	C        []float64   `json:"c,omitempty"`
	Q        []float64   `json:"q,omitempty"` // nil: linear
	OneSided []int       `json:"oneSided,omitempty"`
	Network  *readings   `json:"network,omitempty"`
	Worth    int         `json:"worth"` // independent draws asked for
	Found    found       `json:"found"`
}

// found is what infer reports.
type found struct {
	Sentence  string      `json:"sentence"`
	Mean      []float64   `json:"mean"`
	Cov       [][]float64 `json:"cov"`
	Quantiles [][]float64 `json:"quantiles"` // unknown, share
	ESS       []float64   `json:"ess"`
	Calls     int         `json:"calls"`   // to sample
	Searched  int         `json:"search"`  // calls to find the modes
	Walkers   int         `json:"walkers"` //
	Steps     int         `json:"steps"`   // kept
	Modes     int         `json:"modes"`   //
}

// session is everything, for compare.py.
type session struct {
	Bound    float64    `json:"bound"` // |z| <= Bound
	Shares   []float64  `json:"shares"`
	Problems []*problem `json:"problems"`
}

func (p *problem) residuals(_ context.Context, z, dst []float64) error {
	if p.Network != nil {
		p.Network.residuals(z, dst)
		return nil
	}
	for i, row := range p.A {
		dst[i] = p.C[i]
		for k, v := range row {
			dst[i] += v * z[k]
		}
		if p.Q != nil {
			dst[i] += p.Q[i] * z[0] * z[0]
		}
	}
	return nil
}

// random is a linear problem with normal entries, column k of A times columns(k).
func random(name string, n, m int, columns func(k int) float64, oneSided ...int) *problem {
	rng := rand.New(rand.NewPCG(uint64(n), uint64(m)))
	p := &problem{Name: name, N: n, OneSided: oneSided}
	for range m {
		row := make([]float64, n)
		for k := range row {
			row[k] = columns(k) * rng.NormFloat64()
		}
		p.A, p.C = append(p.A, row), append(p.C, rng.NormFloat64())
	}
	return p
}

func problems() []*problem {
	even := func(scale float64) func(int) float64 { return func(int) float64 { return scale } }
	all := []*problem{
		{Name: "linear, 3 unknowns, only a sum known well", N: 3, A: [][]float64{{50, 50, 0}, {0, 2, -2}}, C: []float64{-30, 1}},
		random("linear, 5 unknowns, 4 readings", 5, 4, even(2)),
		random("linear, 8 unknowns, scales 1 to 100", 8, 9, func(k int) float64 { return math.Pow(100, float64(k)/7) }),
		random("linear, 20 unknowns, 12 readings", 20, 12, even(2)),
		random("one of 5 readings one-sided, 6 unknowns", 6, 5, even(3), 1),
		random("two of 5 readings one-sided, 6 unknowns", 6, 5, even(3), 0, 3),
		{Name: "curved valley", N: 3, A: [][]float64{{0, 3, 0}}, C: []float64{1.5}, Q: []float64{-2.25}},
		{Name: "curved valley, three times as narrow", N: 3, A: [][]float64{{0, 9, 0}}, C: []float64{4.5}, Q: []float64{-6.75}},
		{Name: "two places", N: 2, A: [][]float64{{0, 0}, {0.25, 0}}, C: []float64{-2.8125, -0.075}, Q: []float64{1.25, 0}},
		{Name: "two places 15 sd apart, 5 unknowns", N: 5, A: [][]float64{{0, 0, 0, 0, 0}, {1, 2, 0, 0, 0}, {0, 1, 1, 3, 0}, {0.2, 0, 0, 0, 0.5}},
			C: []float64{-8, 0.4, -0.7, -0.3}, Q: []float64{2, 0, 0, 0}},
		{Name: "network of two heat capacities", N: 4, Network: seen()},
	}
	for _, p := range all {
		if p.Worth = 20000; p.Q != nil { // where walkers are slow
			p.Worth = 5000
		}
	}
	return all
}

// sample finds the modes, samples and writes the states to file.
func (p *problem) sample(bound float64, shares []float64, file string) error {
	ctx := context.Background()
	model := infer.Problem{N: p.N, M: len(p.A), OneSided: p.OneSided, Residuals: p.residuals}
	if p.Network != nil {
		model.M = p.Network.count()
	}
	fit, err := infer.MAP(ctx, model, infer.Options{Bound: bound, Starts: 8, Seed: 1})
	if err != nil {
		return err
	}
	post, err := infer.Sample(ctx, model, fit, infer.SampleOptions{Seed: 2, Workers: 2, Calls: 20_000_000, ESS: p.Worth})
	if err != nil {
		return err
	}
	if post.Status != infer.Converged {
		return fmt.Errorf("%s", post.Sentence(nil))
	}
	states := post.States()
	p.Found = found{Sentence: post.Sentence(nil), Mean: post.Mean, ESS: post.ESS, Calls: post.Calls, Searched: fit.Calls, Walkers: post.Walkers,
		Steps: len(states) / post.Walkers, Modes: post.Modes}
	for i := range p.N {
		row, quantiles := make([]float64, p.N), make([]float64, len(shares))
		for k := range row {
			row[k] = post.Cov.At(i, k)
		}
		for k, s := range shares {
			quantiles[k] = post.Quantile(i, s)
		}
		p.Found.Cov, p.Found.Quantiles = append(p.Found.Cov, row), append(p.Found.Quantiles, quantiles)
	}
	return write(states, file)
}

func write(states [][]float64, file string) error {
	f, err := os.Create(file)
	if err != nil {
		return err
	}
	b := bufio.NewWriter(f)
	for _, z := range states {
		if err := binary.Write(b, binary.LittleEndian, z); err != nil {
			return err
		}
	}
	if err := b.Flush(); err != nil {
		return err
	}
	return f.Close()
}

func run() error {
	dir := flag.String("dir", "", "where the samples are written")
	flag.Parse()
	if *dir == "" || flag.NArg() > 0 {
		return fmt.Errorf("posterior -dir D: a directory is needed")
	}
	s := session{Bound: 6, Shares: []float64{0.05, 0.25, 0.5, 0.75, 0.95}, Problems: problems()}
	for k, p := range s.Problems {
		if err := p.sample(s.Bound, s.Shares, filepath.Join(*dir, fmt.Sprintf("%d.f64", k))); err != nil {
			return fmt.Errorf("%s: %w", p.Name, err)
		}
		fmt.Fprintf(os.Stderr, "%s: %s\n", p.Name, p.Found.Sentence)
	}
	return json.NewEncoder(os.Stdout).Encode(s)
}

func main() {
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, "posterior:", err)
		os.Exit(1)
	}
}

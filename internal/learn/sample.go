package learn

import (
	"context"
	"fmt"
	"math"
	"slices"

	"finwright/internal/infer"
	"finwright/internal/work"
)

// What sampling the posterior is asked for: two hundred draws tell a 5 % point to about a sixth of a standard deviation.
const (
	sampleCalls = 5000
	sampleESS   = 200
	sampleRHat  = 1.02 // with four groups of walkers worth fifty draws each its own noise is about 0.01
)

// confirmed is how many draws of the posterior are run in 3-D.
const confirmed = 8

// apartSD is how far, in standard deviations of an observation, 3-D and reduced models may come apart over the posterior before that
// counts as a further error: it then makes the observation's error 2 % larger.
const apartSD = 0.2

// farFromStop is how far, in standard deviations, a device stays from its stop for the distance to matter no more.
const farFromStop = -2.0

// sampled is a sample of the posterior with what is told of it.
type sampled struct {
	*infer.Posterior
	told *Sample
}

// sample draws from the posterior by the reduced models, runs some draws in 3-D on the same cells, and where the two come apart takes
// the difference for a further error of the observations and samples once more.
func (s *study) sample(ctx context.Context, fit *infer.Result) (*sampled, error) {
	var out *sampled
	for again := range 2 {
		p, err := s.draw(ctx, fit)
		if err != nil {
			return nil, err
		}
		if p.Cov == nil || len(p.Draws) == 0 {
			return nil, nil // stopped before there was a sample: the Gaussian about the best values is what there is
		}
		told := &Sample{Converged: p.Status == infer.Converged, Calls: p.Calls, LeastESS: slices.Min(p.ESS), WorstRHat: slices.Max(p.RHat), Words: p.Sentence(s.names())}
		told.Loose, told.LooseOf = s.loosest(p)
		out = &sampled{p, told}
		if again == 1 {
			told.Added = true
		}
		if ctx.Err() != nil {
			return out, nil
		}
		apart, err := s.apart(ctx, fit.Z, p.Draws[:min(confirmed, len(p.Draws))])
		if err != nil {
			if ctx.Err() != nil {
				return out, nil
			}
			return nil, err
		}
		told.Confirmed = min(confirmed, len(p.Draws))
		worst := 0
		for i := range apart {
			if apart[i] > apart[worst] {
				worst = i
			}
		}
		told.ApartSD, told.ApartOf = apart[worst], s.residualName(worst)
		if told.ApartSD < apartSD || again == 1 {
			return out, nil
		}
		s.widen = make([]float64, len(apart))
		for i, a := range apart {
			s.widen[i] = 1 / math.Sqrt(1+a*a)
		}
		if fit, err = infer.MAP(ctx, s.problem(), infer.Options{Workers: s.opt.Workers, Seed: s.opt.Seed, From: fit.Z, MaxIter: 12}); err != nil {
			return nil, err
		}
		if fit.Cov == nil {
			return out, nil
		}
	}
	return out, nil
}

// draw samples the posterior by weighed draws of the Gaussian where that is near enough, else by walkers.
func (s *study) draw(ctx context.Context, fit *infer.Result) (*infer.Posterior, error) {
	before := s.sims.Load()
	opt := infer.SampleOptions{Workers: s.opt.Workers, Calls: max(s.opt.Calls, 2*(2*len(s.unknowns)+24)), ESS: s.opt.ESS, RHat: sampleRHat, Draws: s.opt.Draws, Seed: s.opt.Seed,
		Progress: func(calls, expected int) {
			s.expected.Store(before + int64(len(s.runs))*int64(expected+weight3D*confirmed))
		}}
	p, err := infer.Weigh(ctx, s.problem(), fit, opt)
	if err != nil || p.Status != infer.CallLimit {
		return p, err
	}
	before = s.sims.Load()
	return infer.Sample(ctx, s.problem(), fit, opt)
}

// apart is by how much 3-D and reduced residuals differ over draws, beyond their difference at the anchor's scores best: root of the mean
// square for each residual. One-sided ones that both satisfy by far do not differ.
func (s *study) apart(ctx context.Context, best []float64, draws [][]float64) ([]float64, error) {
	points := append([][]float64{best}, draws...)
	off := make([][]float64, len(points))
	errs := make([]error, len(points))
	var jobs []func()
	for k, z := range points {
		off[k] = make([]float64, s.size)
		jobs = append(jobs, func() { errs[k] = s.differ(ctx, z, off[k]) })
	}
	if err := work.InParallel(ctx, s.opt.Workers, jobs); err != nil {
		return nil, err
	}
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	out := make([]float64, s.size)
	for i := range out {
		for k := 1; k < len(off); k++ {
			d := off[k][i] - off[0][i]
			out[i] += d * d / float64(len(draws))
		}
		out[i] = math.Sqrt(out[i])
	}
	return out, nil
}

// differ sets dst to 3-D residuals less reduced ones at scores z.
func (s *study) differ(ctx context.Context, z, dst []float64) error {
	v := s.values(z)
	for i, at := 0, 0; i < len(s.runs); i++ {
		o := &s.runs[i]
		n := o.residuals()
		direct := o.in3D(o.shape)
		near := make([]float64, n)
		if err := direct.compare(ctx, v, dst[at:at+n], nil, nil); err != nil {
			return err
		}
		if err := o.compare(ctx, v, near, nil, nil); err != nil {
			return err
		}
		for k, one := range o.oneSided() {
			a, b := dst[at+k], near[k]
			if one {
				a, b = math.Max(farFromStop, a), math.Max(farFromStop, b)
			}
			dst[at+k] = a - b
		}
		s.tell(weight3D)
		at += n
	}
	return nil
}

// residualName says which observation a residual belongs to.
func (s *study) residualName(i int) string {
	for k := range s.runs {
		if n := s.runs[k].residuals(); i < n {
			return s.runs[k].name
		} else {
			i -= n
		}
	}
	return ""
}

// loosest is by what share of its 90 % interval's width an end of it may move when learned again, one standard deviation, and for which
// unknown that is largest: the standard error of a normal's 5 % point from n independent draws is 2.11 sd/√n, and parts of the sample lie
// √(R-hat² - 1) sd apart.
func (s *study) loosest(p *infer.Posterior) (share float64, of string) {
	for i, u := range s.unknowns {
		r, n := math.Max(1, p.RHat[i]), math.Max(1, p.ESS[i])
		if math.IsNaN(r) || math.IsNaN(n) { // too short a sample to tell
			r, n = 1, 1
		}
		if x := math.Min(1, math.Hypot(2.11/math.Sqrt(n), math.Sqrt(r*r-1))/(2*z90)); x > share {
			share, of = x, u.About
		}
	}
	return share, of
}

// warnings tell of a sample that is not to be trusted.
func (p *sampled) warnings() []string {
	var out []string
	t := p.told
	if !t.Converged {
		out = append(out, fmt.Sprintf("The intervals are not settled: learned again with another --seed, their ends may move by some %.0f %% of the width, most for %s. The middle is better known. Another run, or fewer figures in doubt, would settle them.", 100*t.Loose, t.LooseOf))
	}
	if t.Confirmed > 0 && t.ApartSD > 0.5 {
		out = append(out, fmt.Sprintf("At %d draws that were run in 3-D as well, the fast model came apart from it by %.1f standard deviations of what was seen in %s; that was added to the error of the observations.", t.Confirmed, t.ApartSD, t.ApartOf))
	}
	return out
}

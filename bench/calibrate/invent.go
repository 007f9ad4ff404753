package main

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
	"strings"

	"finwright/internal/device"
	"finwright/internal/infer"
	"finwright/internal/learn"
	"finwright/internal/model"
	"finwright/internal/session"
	"finwright/internal/unit"
	"finwright/internal/work"
)

// The errors drawn, 1 standard deviation; they are those that the file states and learning says of itself, written here a second time.
const (
	z90        = 1.6448536269514722
	modelK     = 0.7  // the model's own on a temperature; at one place it changes with the logarithm of time
	timeShare  = 0.02 // on a time
	logNoiseK  = 0.3
	logLoss    = 0.03
	watchedFor = 2.0 // times the moment that the file says something of, until who watches goes home
)

// tried is one device.
type tried struct {
	seen    string  // what was observed, in words
	minutes float64 // its own
	ranks   [len(asked)]int
	settled bool
}

// try invents a device of the kind f, observes it, learns it back and ranks it.
func try(ctx context.Context, f *device.File, o options, rng *rand.Rand) (*tried, error) {
	cells := model.Fineness{TargetCells: o.cells, Across: 1}
	shape, err := model.NewShape(f, nil, cells)
	if err != nil {
		return nil, err
	}
	known, err := unknowns(f, shape)
	if err != nil {
		return nil, err
	}
	truth := device.Values{}
	for _, u := range known {
		truth[u.Path] = u.Prior.At(rng.NormFloat64())
	}
	g := *f
	g.StockRuns = append([]device.StockRun(nil), f.StockRuns...)
	logs := map[string]map[string]learn.Trace{}
	out := &tried{}
	for i := range g.StockRuns {
		words, err := observe(ctx, shape, truth, &g, i, logs, rng)
		if err != nil {
			return nil, err
		}
		out.seen += strings.Repeat("; ", min(1, i)) + words
	}
	res, err := learn.Learn(ctx, &g, learn.Options{Fineness: cells, Anchor: cells, Seed: rng.Uint64(), Draws: draws,
		ReadLog: func(path string, columns []string) (map[string]learn.Trace, error) {
			for name, traces := range logs {
				if strings.HasSuffix(path, name) {
					return traces, nil
				}
			}
			return nil, fmt.Errorf("no log %s was made", path)
		}})
	if err != nil {
		return nil, err
	}
	out.settled = res.Sample != nil && res.Sample.Converged
	if len(res.Draws) != draws+1 {
		return nil, fmt.Errorf("%d draws", len(res.Draws)-1)
	}

	// what nothing was learned of is drawn from its prior, independently
	all := append([]device.Values{truth}, res.Draws[1:]...)
	for k, v := range all[1:] {
		full := device.Values{}
		for _, u := range known {
			full[u.Path] = u.Prior.At(rng.NormFloat64())
		}
		for p, x := range v {
			full[p] = x
		}
		all[k+1] = full
	}
	answers := make([][len(asked)]float64, len(all))
	errs := make([]error, len(all))
	most := taught(res)
	var jobs []func()
	for k, v := range all {
		jobs = append(jobs, func() {
			answers[k], errs[k] = answer(ctx, shape, v)
			answers[k][2] = v[most]
		})
	}
	if err := work.InParallel(ctx, 2, jobs); err != nil {
		return nil, err
	}
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	out.minutes = answers[0][0]
	for k := range asked {
		var of []float64
		for _, a := range answers[1:] {
			of = append(of, a[k])
		}
		out.ranks[k] = infer.Rank(answers[0][k], of, rng)
	}
	return out, nil
}

// taught is the unknown that was narrowed most.
func taught(r *learn.Result) string {
	best := 0
	for i, u := range r.Unknowns {
		if u.Narrowed > r.Unknowns[best].Narrowed {
			best = i
		}
	}
	return r.Unknowns[best].Path
}

// unknowns are those of all runs and of the answer's conditions.
func unknowns(f *device.File, shape *model.Shape) ([]model.Unknown, error) {
	var out []model.Unknown
	seen := map[string]bool{}
	add := func(us ...model.Unknown) {
		for _, u := range us {
			if !seen[u.Path] {
				seen[u.Path] = true
				out = append(out, u)
			}
		}
	}
	m, err := shape.At(nil, nil, "")
	if err != nil {
		return nil, err
	}
	add(m.Unknowns...)
	for i := range f.StockRuns {
		r := &f.StockRuns[i]
		if m, err = shape.At(nil, &r.Conditions, r.Mode); err != nil {
			return nil, err
		}
		add(m.Unknowns...)
		if q := r.Start; q.Doubtful() {
			add(model.Unknown{Path: q.Path, Prior: q.Prior()})
		}
	}
	return out, nil
}

// answer is how long a device lasts under the file's conditions, min, at most four hours and whatever its battery says, and what its first
// sensor reads after 15 min, K.
func answer(ctx context.Context, shape *model.Shape, v device.Values) ([len(asked)]float64, error) {
	var out [len(asked)]float64
	m, err := shape.At(v, nil, "")
	if err != nil {
		return out, err
	}
	spec := session.Spec{Values: v, UntilS: 4 * 3600, NoEmpty: true, Bare: true, Workers: 1, TolK: 0.05}
	res, err := session.Run(ctx, m, spec)
	if err != nil {
		return out, err
	}
	out[0] = res.Own.AtS / 60
	spec.NoStop, spec.UntilS = true, 15*60
	if res, err = session.Run(ctx, m, spec); err != nil {
		return out, err
	}
	s := res.Series[res.Gates[0].Series].ValueK
	out[1] = s[len(s)-1]
	return out, nil
}

// observe replaces what stock run i of the file says by what is seen of the true device, errors included.
func observe(ctx context.Context, shape *model.Shape, truth device.Values, f *device.File, i int, logs map[string]map[string]learn.Trace, rng *rand.Rand) (string, error) {
	r := &f.StockRuns[i]
	m, err := shape.At(truth, &r.Conditions, r.Mode)
	if err != nil {
		return "", err
	}
	said := []device.Q{r.StopsAfter, r.RunningAfter, r.EmptyAfter, r.DimsAfter}
	patienceS, share := 0.0, 0.05
	for _, q := range said {
		if q.Given() {
			patienceS = max(patienceS, q.Mid)
			if q.Hi > q.Lo {
				share = (q.Hi - q.Lo) / 2 / q.Mid
			}
		}
	}
	patienceS *= watchedFor
	startK := m.StartK
	if r.Start.Given() {
		startK = r.Start.At(truth)
	}
	spec := session.Spec{Values: truth, StartK: startK, UntilS: patienceS, NoStop: true, NoEmpty: true, Bare: true, Workers: 1, TolK: 0.05}
	for k := range r.Channels {
		spec.Watch = append(spec.Watch, r.Channels[k].At)
	}
	words := ""
	moment := func(res *session.Result, kind string) (float64, bool) {
		at := crossing(res, kind, modelK*rng.NormFloat64())
		at += math.Hypot(share/z90, timeShare) * at * rng.NormFloat64()
		return max(at, 20), at < patienceS
	}
	stated := func(atS float64) device.Q {
		return device.Q{Quantity: unit.RangeSI(atS*(1-share), atS*(1+share), unit.Time)}
	}
	dims := r.DimsAfter.Given()
	r.StopsAfter, r.RunningAfter, r.EmptyAfter, r.DimsAfter = device.Q{}, device.Q{}, device.Q{}, device.Q{}
	if dims {
		undimmed := spec
		undimmed.NoDim = true
		res, err := session.Run(ctx, m, undimmed)
		if err != nil {
			return "", err
		}
		if at, ok := moment(res, "step"); ok {
			r.DimsAfter = exactMid(stated(at), at)
			words = fmt.Sprintf("first step after %.0f min", at/60)
		}
	}
	res, err := session.Run(ctx, m, spec)
	if err != nil {
		return "", err
	}
	endS := patienceS
	if at, ok := moment(res, "trip"); ok {
		r.StopsAfter = exactMid(stated(at), at)
		words += fmt.Sprintf(" stops after %.0f min", at/60)
		endS = r.StopsAfter.Lo
	} else if !dims {
		r.RunningAfter = device.Q{Quantity: unit.ExactSI(patienceS, unit.Time)}
		words += fmt.Sprintf(" runs on after %.0f min", patienceS/60)
	}
	if r.Log != "" {
		words += ", with a log"
		logs[r.Log] = logged(res, r, ambientK(f, r), endS, rng)
	}
	if words == "" {
		r.Spots = []device.Spot{{At: f.Sensors[0].At, After: device.Q{Quantity: unit.ExactSI(60, unit.Time)}, Reads: device.Q{Quantity: unit.RangeSI(startK-50, startK+50, unit.Temperature)}}}
		words = "nothing"
	}
	return strings.TrimSpace(words), nil
}

// exactMid makes at the middle of what is stated, whatever the width.
func exactMid(q device.Q, at float64) device.Q { q.Mid = at; return q }

// crossing is when the first sensor's temperature passes its limit, s; far away when none does.
func crossing(res *session.Result, kind string, offK float64) float64 {
	first := math.Inf(1)
	for _, g := range res.Gates {
		if g.Kind != kind {
			continue
		}
		t := res.Series[g.Series].ValueK
		for i := 1; i < len(t); i++ {
			if t[i] >= g.LimitK+offK {
				first = min(first, res.TimeS[i]-(t[i]-g.LimitK-offK)/(t[i]-t[i-1])*(res.TimeS[i]-res.TimeS[i-1]))
				break
			}
		}
	}
	return first
}

// logged is what a logger shows of a run: each probe has an offset and a loss throughout, each value noise, and the device is not quite the
// model, by a Gaussian process in the logarithm of time (exponential covariance, drawn step by step).
func logged(res *session.Result, r *device.StockRun, ambientK, endS float64, rng *rand.Rand) map[string]learn.Trace {
	offsetK := 2 / z90
	if r.Error.Given() {
		offsetK = r.Error.Mid / z90
	}
	out := map[string]learn.Trace{}
	for k := range r.Channels {
		ch := &r.Channels[k]
		var values []float64
		for i := range res.Series {
			if s := &res.Series[i]; s.Name == ch.At && s.Kind == "place" {
				values = s.ValueK
			}
		}
		off, loss := offsetK*rng.NormFloat64(), logLoss*rng.NormFloat64()
		drift, last := modelK*rng.NormFloat64(), 1.0
		var tr learn.Trace
		for at := 10.0; at <= endS; at += 10 {
			rho := math.Exp(-math.Abs(math.Log(at / last)))
			drift = rho*drift + modelK*math.Sqrt(1-rho*rho)*rng.NormFloat64()
			last = at
			n := len(values)
			j := sort.SearchFloat64s(res.TimeS[:n], at)
			if j >= n {
				break
			}
			v := values[j]
			if j > 0 {
				w := (at - res.TimeS[j-1]) / (res.TimeS[j] - res.TimeS[j-1])
				v = values[j-1] + w*(values[j]-values[j-1])
			}
			tr.TimeS = append(tr.TimeS, at)
			tr.ValueK = append(tr.ValueK, v+off-loss*(v-ambientK)+drift+logNoiseK*rng.NormFloat64())
		}
		out[ch.Name] = tr
	}
	return out
}

func ambientK(f *device.File, r *device.StockRun) float64 {
	for _, q := range []device.Q{r.Ambient, f.Conditions.Ambient} {
		if q.Given() {
			return q.Mid
		}
	}
	return device.DefaultAmbientK
}

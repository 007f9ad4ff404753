package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sort"
	"strings"

	"gonum.org/v1/gonum/stat"

	"finwright/internal/device"
	"finwright/internal/infer"
	"finwright/internal/learn"
	"finwright/internal/model"
	"finwright/internal/session"
	"finwright/internal/unit"
)

// The errors drawn, 1 standard deviation; they are those that the file states and learning says of itself, written here a second time.
const (
	z90        = 1.6448536269514722
	modelK     = 0.7  // the model's own on a temperature; at one place it changes with the logarithm of time
	timeShare  = 0.02 // on a time
	logNoiseK  = 0.3
	logLoss    = 0.03
	watchedFor = 2.0 // times the moment at which the file says that something happened, until who watches goes home
)

// tried is one device.
type tried struct {
	device  string
	seen    string                         // what was observed, in words
	answers [draws + 1][len(asked)]float64 // of the true device, and of draws
	ranks   [len(asked)]int
	settled bool
	calls   int // of the reduced models, for the sample
}

func (t *tried) String() string {
	mean, sd := stat.MeanStdDev(column(t.answers[1:], 0), nil)
	return fmt.Sprintf("%s: %s. It acts after %.1f min, by draws %.1f ± %.1f; ranks %v of %d, %d calls", t.device, t.seen, t.answers[0][0], mean, sd, t.ranks, draws, t.calls)
}

// column is the answers to one question.
func column(answers [][len(asked)]float64, k int) []float64 {
	var out []float64
	for _, a := range answers {
		out = append(out, a[k])
	}
	return out
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
	out := &tried{device: f.Device}
	var truth device.Values
	var g *device.File
	var logs map[string]map[string]learn.Trace
	for err = errUnseen; errors.Is(err, errUnseen); {
		truth = device.Values{}
		for _, u := range known {
			truth[u.Path] = u.Prior.At(rng.NormFloat64())
		}
		g, logs, out.seen, err = observeAll(ctx, shape, truth, f, rng)
	}
	if err != nil {
		return nil, err
	}
	res, err := learn.Learn(ctx, g, learn.Options{Fineness: cells, Anchor: cells, Workers: 1, Seed: rng.Uint64(), Draws: draws, ESS: worth,
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
	if res.Sample != nil {
		out.settled, out.calls = res.Sample.Converged, res.Sample.Calls
	}
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
	most := taught(res)
	for k, v := range all {
		if out.answers[k], err = answer(ctx, shape, v); err != nil {
			return nil, err
		}
		out.answers[k][2] = v[most]
	}
	for k := range asked {
		out.ranks[k] = infer.Rank(out.answers[0][k], column(out.answers[1:], k), rng)
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
	for i := range f.Runs {
		r := &f.Runs[i]
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

// What is asked of a device runs for shortS, and for longS where it does nothing by itself before.
const (
	shortS = 30 * 60.0
	longS  = 4 * 3600.0
)

// answer is after how many minutes under the file's conditions a sensor of the device first acts, whatever its battery says, and what its
// first sensor reads after 15 min, K. One that does nothing in four hours takes 240 plus the kelvins that are then missing, so that no two
// devices are alike.
func answer(ctx context.Context, shape *model.Shape, v device.Values) ([len(asked)]float64, error) {
	var out [len(asked)]float64
	m, err := shape.At(v, nil, "")
	if err != nil {
		return out, err
	}
	spec := session.Spec{Values: v, UntilS: shortS, NoStop: true, NoDim: true, NoEmpty: true, Bare: true, Workers: 1, TolK: 0.05}
	res, err := session.Run(ctx, m, spec)
	if err != nil {
		return out, err
	}
	out[1] = at(res.TimeS, res.Series[res.Gates[0].Series].ValueK, 15*60)
	acts := firstAct(res)
	if math.IsInf(acts, 1) {
		spec.UntilS = longS
		if res, err = session.Run(ctx, m, spec); err != nil {
			return out, err
		}
		acts = firstAct(res)
	}
	if out[0] = acts / 60; math.IsInf(acts, 1) {
		missing := math.Inf(1)
		for _, g := range res.Gates {
			missing = min(missing, g.LimitK-slices.Max(res.Series[g.Series].ValueK))
		}
		out[0] = longS/60 + missing
	}
	return out, nil
}

// firstAct is when the first sensor passes a limit, s.
func firstAct(res *session.Result) float64 {
	return min(crossing(res, "trip", 0), crossing(res, "step", 0))
}

// errUnseen tells of a device that shows nothing to learn from where the file has something: it is set aside and another drawn. That depends
// on what is seen alone, so that ranks stay even.
var errUnseen = errors.New("no first step was seen")

// observeAll is the file with what is seen of the true device, its logs, and all of it in words.
func observeAll(ctx context.Context, shape *model.Shape, truth device.Values, f *device.File, rng *rand.Rand) (*device.File, map[string]map[string]learn.Trace, string, error) {
	g := *f
	g.Runs = append([]device.Run(nil), f.Runs...)
	logs := map[string]map[string]learn.Trace{}
	var words []string
	for i := range g.Runs {
		w, err := observe(ctx, shape, truth, &g, i, logs, rng)
		if err != nil {
			return nil, nil, "", err
		}
		words = append(words, w)
	}
	return &g, logs, strings.Join(words, "; "), nil
}

// observe replaces what stock run i of the file says by what is seen of the true device, errors included.
func observe(ctx context.Context, shape *model.Shape, truth device.Values, f *device.File, i int, logs map[string]map[string]learn.Trace, rng *rand.Rand) (string, error) {
	r := &f.Runs[i]
	m, err := shape.At(truth, &r.Conditions, r.Mode)
	if err != nil {
		return "", err
	}
	patienceS, share := max(r.RunningAfter.Mid, r.EmptyAfter.Mid), 0.05
	for _, q := range []device.Q{r.StopsAfter, r.DimsAfter} {
		if q.Given() {
			patienceS, share = watchedFor*q.Mid, (q.Hi-q.Lo)/2/q.Mid
		}
	}
	startK := m.StartK
	if r.Start.Given() {
		startK = r.Start.At(truth)
	}
	spec := session.Spec{Values: truth, StartK: startK, UntilS: patienceS, NoStop: true, NoEmpty: true, Bare: true, Workers: 1, TolK: 0.05}
	for k := range r.Channels {
		spec.Watch = append(spec.Watch, r.Channels[k].At)
	}
	for k := range r.Spots {
		spec.Watch = append(spec.Watch, r.Spots[k].At)
	}
	words := ""
	moment := func(res *session.Result, kind string) (float64, bool) {
		t := crossing(res, kind, modelK*rng.NormFloat64())
		seen := t < patienceS // whoever is there when it happens sees it, however well the time is then noted
		t += math.Hypot(share/z90, timeShare) * t * rng.NormFloat64()
		return max(t, 20), seen
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
		t, ok := moment(res, "step")
		if !ok {
			return "", errUnseen // a file cannot say that no step was seen
		}
		r.DimsAfter = exactMid(stated(t), t)
		words = fmt.Sprintf("first step after %.0f min", t/60)
	}
	res, err := session.Run(ctx, m, spec)
	if err != nil {
		return "", err
	}
	endS := patienceS
	if t, ok := moment(res, "trip"); ok {
		r.StopsAfter = exactMid(stated(t), t)
		words += fmt.Sprintf(" stops after %.0f min", t/60)
		endS = r.StopsAfter.Lo
	} else if slices.ContainsFunc(res.Gates, func(g session.Gate) bool { return g.Kind == "trip" }) {
		r.RunningAfter = device.Q{Quantity: unit.ExactSI(patienceS, unit.Time)}
		words += fmt.Sprintf(" runs on after %.0f min", patienceS/60)
	}
	if r.Log != "" {
		words += ", with a log"
		logs[r.Log] = logged(res, r, ambientK(f, r), endS, rng)
	}
	var spots []device.Spot
	for _, s := range r.Spots {
		if s.By != "" {
			return "", fmt.Errorf("a reading by %s is not invented here", s.By)
		}
		if s.After.Mid <= endS {
			t := at(res.TimeS, curve(res, s.At), s.After.Mid)
			halfK := (s.Reads.Hi - s.Reads.Lo) / 2
			t += math.Hypot(halfK/z90, modelK) * rng.NormFloat64()
			s.Reads = device.Q{Quantity: unit.RangeSI(t-halfK, t+halfK, unit.Temperature)}
			spots = append(spots, s)
			words += ", with a reading"
		}
	}
	r.Spots = spots
	return strings.Trim(words, ", "), nil
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
func logged(res *session.Result, r *device.Run, ambientK, endS float64, rng *rand.Rand) map[string]learn.Trace {
	offsetK := 2 / z90
	if r.Error.Given() {
		offsetK = r.Error.Mid / z90
	}
	out := map[string]learn.Trace{}
	for k := range r.Channels {
		ch := &r.Channels[k]
		values := curve(res, ch.At)
		off, loss := offsetK*rng.NormFloat64(), logLoss*rng.NormFloat64()
		drift, last := modelK*rng.NormFloat64(), 1.0
		var tr learn.Trace
		for t := 10.0; t <= endS; t += 10 {
			rho := math.Exp(-math.Abs(math.Log(t / last)))
			drift = rho*drift + modelK*math.Sqrt(1-rho*rho)*rng.NormFloat64()
			last = t
			v := at(res.TimeS, values, t)
			tr.TimeS = append(tr.TimeS, t)
			tr.ValueK = append(tr.ValueK, v+off-loss*(v-ambientK)+drift+logNoiseK*rng.NormFloat64())
		}
		out[ch.Name] = tr
	}
	return out
}

// curve is a watched place's temperatures.
func curve(res *session.Result, place string) []float64 {
	for i := range res.Series {
		if s := &res.Series[i]; s.Name == place && s.Kind == "place" {
			return s.ValueK
		}
	}
	return nil
}

// at reads a curve at a time within it, by straight lines.
func at(timeS, valueK []float64, t float64) float64 {
	n := len(valueK)
	j := min(max(1, sort.SearchFloat64s(timeS[:n], t)), n-1)
	w := min(1, (t-timeS[j-1])/(timeS[j]-timeS[j-1]))
	return valueK[j-1] + w*(valueK[j]-valueK[j-1])
}

func ambientK(f *device.File, r *device.Run) float64 {
	for _, q := range []device.Q{r.Ambient, f.Conditions.Ambient} {
		if q.Given() {
			return q.Mid
		}
	}
	return device.DefaultAmbientK
}

// Package advise says what to measure next: of the measurements that a person can make with a scale, a stopwatch before a fan, a
// thermocouple, a meter, which one shrinks the doubt in the decision most, per minute of effort. Each is predicted at draws of what
// is not known; where its reading goes with the answer, reading it would narrow the answer.
//
// Start reading at Advise.
package advise

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
	"sync"

	"gonum.org/v1/gonum/stat"

	"finwright/internal/device"
	"finwright/internal/infer"
	"finwright/internal/model"
	"finwright/internal/standin"
	"finwright/internal/work"
)

// Decision is what is to be decided: whether a design lasts. HeadroomK is, per draw of what is in doubt and by the draws' numbers, what
// is left of the nearest limit at the goal: it lasts where that is above zero. Draw 0, at the best values, does not count; draws
// that could not be made are NaN.
type Decision struct {
	Design    string // "" or "stock": the device as it is
	HeadroomK []float64
	Unknowns  []model.Unknown // of the design
	Mode      string          // it runs in; the device as it is is measured in the same; "": the file's
}

// Options of Advise. The zero value is good.
type Options struct {
	Best     device.Values
	Learned  []device.Values // as in standin.Options: the draws must be those of the decision
	Fineness model.Fineness  // of the 3-D runs that train; zero: standin's own
	Workers  int             // zero takes two
	Seed     uint64
	Progress func(done, expected int, what string)
}

// Ranked is a measurement with what it is expected to do.
type Ranked struct {
	Measurement `json:",inline"`
	Part        float64 // of the variance of the headroom it is expected to take away
	PartSE      float64
	AfterK      float64 // 90 % half width of the headroom that is expected then
	PerMinuteK  float64 // what the 90 % half width shrinks by, per minute of effort
	ClearAfter  float64 // chance that it is then clear, nine in ten, whether the design lasts
	Lo, Hi      float64 // between which the reading will lie, 90 %, SI
	LoHi        string  // the same in words
	Tells       string  // what it says most about that matters here
}

// Advice is what to measure next.
type Advice struct {
	Design     string
	Mode       string // to measure in; "" where the device has no modes
	Chance     float64
	HeadroomK  float64 // median
	HalfWidthK float64 // 90 % half width of the headroom: half the way from its 5 to its 95 % point
	ClearNow   bool    // nine in ten either way already
	Draws      int
	Ranked     []Ranked // best first
	Then       *Ranked  // what to do after the first: figures count from there; nil when nothing adds much
	All        float64  // part of the variance that all of them together would take away
	Left       []string // what they tell little of even together, and matters
	Words      []string

	answer   []float64
	readings [][]float64 // per ranked measurement and draw
	designs  [2]*standin.Design
}

// ErrFew is returned when the decision has too few draws.
var ErrFew = errors.New("too few draws of what is in doubt could be made to say what to measure")

// LeastPart of the variance: less is nothing.
const LeastPart = 0.03

const (
	leastDraws = 60
	// A measurement is advised first only if it takes away at least half as much as the best one: many small figures a minute each
	// decide nothing.
	worthwhile = 0.5
)

// Advise predicts every measurement that f allows at the draws of the decision, and ranks them. After Ctrl-C it returns the context's
// error.
func Advise(ctx context.Context, f *device.File, dec Decision, opt Options) (*Advice, error) {
	if opt.Workers <= 0 {
		opt.Workers = 2
	}
	n := len(dec.HeadroomK) - 1
	shape, err := model.NewShape(f, opt.Best, model.Coarse)
	if err != nil {
		return nil, err
	}
	m, err := shape.At(opt.Best, room(false), dec.Mode)
	if err != nil {
		return nil, err
	}
	outside, inside := places(f, m)
	draws, designs, err := predict(ctx, f, append(append([]string(nil), outside...), inside...), n, dec.Mode, opt)
	if err != nil {
		return nil, err
	}
	// draws that both sides could make
	var use []int
	for k := 1; k <= n; k++ {
		if h := dec.HeadroomK[k]; !math.IsNaN(h) && !math.IsInf(h, 0) && draws[k].still != nil && draws[k].fan != nil {
			use = append(use, k)
		}
	}
	if len(use) < leastDraws {
		return nil, ErrFew
	}
	var answer []float64
	var kept []drawn
	for _, k := range use {
		// what only the design has is drawn here as it was there
		for p, x := range standin.Draw(dec.Unknowns, opt.Learned, opt.Best, k) {
			draws[k].values[p] = x
		}
		answer = append(answer, dec.HeadroomK[k])
		kept = append(kept, draws[k])
	}
	dec.Mode = m.Under.Mode
	a, err := rank(answer, kept, dec, possible(f, m, outside, inside, dec.Unknowns, kept))
	if err == nil {
		a.designs = designs
	}
	return a, err
}

// predict makes the stock device's runs in a room and before a fan, at draws 0 to n.
func predict(ctx context.Context, f *device.File, watch []string, n int, mode string, opt Options) ([]drawn, [2]*standin.Design, error) {
	const chunk = 10
	out := make([]drawn, n+1)
	var designs [2]*standin.Design
	train := standin.Options{Best: opt.Best, Learned: opt.Learned, Draws: n, Watch: watch, Mode: mode, Fineness: opt.Fineness, Seed: opt.Seed, Workers: 1}
	names := [2]string{"still air", "a fan"}
	expected, done := 2*(train.Runs()+n/chunk+1), 0
	var mu sync.Mutex
	tell := func(what string) {
		mu.Lock()
		defer mu.Unlock()
		done = min(done+1, expected)
		if opt.Progress != nil {
			opt.Progress(done, expected, what)
		}
	}
	errs := make([]error, 2)
	var jobs []func()
	for i := range designs {
		jobs = append(jobs, func() {
			own := train
			own.Conditions = room(i == 1)
			own.Progress = func() { tell(names[i]) }
			designs[i], errs[i] = standin.Build(ctx, f, own)
		})
	}
	if err := work.InParallel(ctx, opt.Workers, jobs); err != nil {
		return nil, designs, err
	}
	if err := errors.Join(errs...); err != nil {
		return nil, designs, err
	}
	jobs = nil
	for i, d := range designs {
		for from := 0; from <= n; from += chunk {
			jobs = append(jobs, func() {
				for k := from; k < min(from+chunk, n+1); k++ {
					o, err := d.Ask(ctx, d.Draws[k])
					if err != nil {
						continue // that draw is left out
					}
					if i == 0 {
						out[k].still = o
					} else {
						out[k].fan = o
					}
				}
				tell(names[i])
			})
		}
	}
	if err := work.InParallel(ctx, opt.Workers, jobs); err != nil {
		return nil, designs, err
	}
	for k := range out {
		v := make(device.Values, len(designs[0].Draws[k]))
		for p, x := range designs[0].Draws[k] {
			v[p] = x
		}
		out[k].values = v
		if out[k].still != nil {
			out[k].partKg = out[k].still.PartKg
		}
	}
	return out, designs, nil
}

// rank works out what each measurement is expected to do.
func rank(answer []float64, draws []drawn, dec Decision, list []Measurement) (*Advice, error) {
	a := &Advice{Design: dec.Design, Mode: dec.Mode, Draws: len(answer)}
	if a.Design == "" {
		a.Design = "stock"
	}
	sorted := append([]float64(nil), answer...)
	sort.Float64s(sorted)
	a.HeadroomK = infer.Quantile(sorted, 0.5)
	a.HalfWidthK = (infer.Quantile(sorted, 0.95) - infer.Quantile(sorted, 0.05)) / 2
	for _, h := range answer {
		if h > 0 {
			a.Chance += 1 / float64(len(answer))
		}
	}
	a.ClearNow = a.Chance >= 0.9 || a.Chance <= 0.1
	about := causes(answer, draws, dec.Unknowns)
	var readings [][]float64
	var errorSD []float64
	for _, m := range list {
		r := make([]float64, len(draws))
		for k := range draws {
			r[k] = m.read(&draws[k])
		}
		x, err := infer.ExpectedNarrowing(answer, [][]float64{r}, []float64{m.errorSD})
		if err != nil || x.BeforeSD == 0 {
			continue // a reading that is no number at some draw, such as a place that is not there
		}
		out := Ranked{Measurement: m, Part: x.Part, PartSE: x.PartSE}
		a.spreads(&out, x)
		s := append([]float64(nil), r...)
		sort.Float64s(s)
		out.Lo, out.Hi = infer.Quantile(s, 0.05), infer.Quantile(s, 0.95)
		if m.log {
			out.Lo, out.Hi = math.Exp(out.Lo), math.Exp(out.Hi)
		}
		out.LoHi = between(out.Lo, out.Hi, m.dim)
		out.Tells = tellsMost(r, about)
		a.Ranked = append(a.Ranked, out)
		readings, errorSD = append(readings, r), append(errorSD, m.errorSD)
	}
	if len(a.Ranked) == 0 {
		a.Words = a.words()
		return a, nil
	}
	order := make([]int, len(a.Ranked))
	for i := range order {
		order[i] = i
	}
	largest := 0.0
	for i := range a.Ranked {
		largest = math.Max(largest, a.Ranked[i].Part)
	}
	group := func(i int) int { // worthwhile ones first, then what tells something, then what does not
		switch p := a.Ranked[i].Part; {
		case p >= worthwhile*largest && p >= LeastPart:
			return 0
		case p >= LeastPart:
			return 1
		}
		return 2
	}
	sort.SliceStable(order, func(x, y int) bool {
		i, k := order[x], order[y]
		if g, h := group(i), group(k); g != h {
			return g < h
		}
		return a.Ranked[i].PerMinuteK > a.Ranked[k].PerMinuteK
	})
	first := order[0]
	a.then(answer, readings, errorSD, first)
	a.left(answer, readings, errorSD, order, about)
	ranked := make([]Ranked, len(order))
	a.readings = make([][]float64, len(order))
	for i, at := range order {
		ranked[i], a.readings[i] = a.Ranked[at], readings[at]
	}
	a.answer = answer
	a.Ranked = ranked
	a.Words = a.words()
	return a, nil
}

// spreads fills what a narrowing does to the interval and to the decision.
func (a *Advice) spreads(r *Ranked, x infer.Narrowing) {
	shrink := x.AfterSD / x.BeforeSD
	r.AfterK = a.HalfWidthK * shrink
	r.PerMinuteK = a.HalfWidthK * (1 - shrink) / r.EffortM
	r.ClearAfter = clearAfter(a.HeadroomK, a.HalfWidthK/z90, r.AfterK/z90)
}

// clearAfter is the chance that a normal answer of mean m and standard deviation before is known to lie on one side of zero, nine in ten, once its
// standard deviation is after: its mean then is normal about m with variance before² - after² (preposterior analysis: Raiffa & Schlaifer, Applied
// Statistical Decision Theory, 1961, part 3).
func clearAfter(m, before, after float64) float64 {
	const z80 = 1.2815515594457831 // a tenth of the normal lies above
	moves := math.Sqrt(math.Max(0, before*before-after*after))
	if moves < 1e-9*before {
		if math.Abs(m) >= z80*after {
			return 1
		}
		return 0
	}
	upper := func(x float64) float64 { return 0.5 * math.Erfc(x/math.Sqrt2) }
	return upper((z80*after-m)/moves) + upper((z80*after+m)/moves)
}

// cause is an unknown that matters, with its scores at the draws.
type cause struct {
	about  string
	part   float64 // correlation with the answer, squared
	scores []float64
	with   float64
}

// causes are the unknowns that go with the answer, most first.
func causes(answer []float64, draws []drawn, unknowns []model.Unknown) []cause {
	values := make([]device.Values, len(draws))
	for k := range draws {
		values[k] = draws[k].values
	}
	z, of := standin.Scores(unknowns, values)
	var out []cause
	for i, u := range of {
		c := cause{about: u.About, scores: make([]float64, len(draws))}
		for k := range draws {
			c.scores[k] = z[k][i]
		}
		c.with = correlation(c.scores, answer)
		c.part = c.with * c.with
		out = append(out, c)
	}
	sort.SliceStable(out, func(a, b int) bool { return out[a].part > out[b].part })
	return out
}

// correlation is zero where one of the two does not vary.
func correlation(a, b []float64) float64 {
	if r := stat.Correlation(a, b, nil); !math.IsNaN(r) {
		return r
	}
	return 0
}

// tellsMost names the cause by which a reading and the answer are tied most.
func tellsMost(reading []float64, about []cause) string {
	best, name := 0.02, ""
	for _, c := range about {
		if x := math.Abs(c.with * correlation(c.scores, reading)); x > best {
			best, name = x, c.about
		}
	}
	return name
}

// then finds what adds most to the first measurement.
func (a *Advice) then(answer []float64, readings [][]float64, errorSD []float64, first int) {
	before := a.Ranked[first]
	for i := range a.Ranked {
		if i == first {
			continue
		}
		x, err := infer.ExpectedNarrowing(answer, [][]float64{readings[first], readings[i]}, []float64{errorSD[first], errorSD[i]})
		if err != nil || x.Part < before.Part+LeastPart {
			continue
		}
		r := a.Ranked[i]
		r.Part, r.PartSE = x.Part, x.PartSE
		a.spreads(&r, x)
		r.PerMinuteK = (before.AfterK - r.AfterK) / r.EffortM
		if a.Then == nil || r.PerMinuteK > a.Then.PerMinuteK {
			a.Then = &r
		}
	}
}

// left finds what all measurements together would leave, and which causes none of them tells of.
func (a *Advice) left(answer []float64, readings [][]float64, errorSD []float64, order []int, about []cause) {
	var r [][]float64
	var sd []float64
	for _, i := range order {
		if len(r) < len(answer)/15 && a.Ranked[i].Part >= LeastPart {
			r, sd = append(r, readings[i]), append(sd, errorSD[i])
		}
	}
	if len(r) == 0 {
		return
	}
	if x, err := infer.ExpectedNarrowing(answer, r, sd); err == nil {
		a.All = math.Max(x.Part, a.Ranked[order[0]].Part)
	}
	for _, c := range about {
		if c.part < 0.1 || len(a.Left) == 3 {
			break
		}
		if x, err := infer.ExpectedNarrowing(c.scores, r, sd); err == nil && x.Part < 0.2 {
			a.Left = append(a.Left, c.about)
		}
	}
}

// words says the advice.
func (a *Advice) words() []string {
	design := "“" + a.Design + "”"
	if a.Design == "stock" {
		design = "the device as it is"
	}
	out := []string{fmt.Sprintf("To decide whether %s lasts: its chance is %s, and what is left to its nearest limit at the end is %.1f K ± %.1f K.", design, chanceWords(a.Chance), a.HeadroomK, a.HalfWidthK)}
	first := "Measure first: "
	if a.ClearNow {
		out = append(out, "That is nine in ten or more already: measuring narrows the margin, it hardly changes the decision.")
		first = "If anything, measure first: "
	}
	if len(a.Ranked) == 0 || a.Ranked[0].Part < LeastPart {
		return append(out, "None of the measurements on the list tells enough to be worth the effort.")
	}
	r := &a.Ranked[0]
	s := fmt.Sprintf("%s%s%s. It takes %.0f min, needs %s, and will read %s. It should bring the ± %.1f K down to ± %.1f K", first, r.What, r.in(), r.EffortM, r.Needs, r.LoHi, a.HalfWidthK, r.AfterK)
	if r.Tells != "" {
		s += ", because it tells of “" + r.Tells + "”"
	}
	s += "."
	if !a.ClearNow {
		s += fmt.Sprintf(" The chance that the answer is clear after that, nine in ten either way, is %s.", chanceWords(r.ClearAfter))
	}
	out = append(out, s)
	if t := a.Then; t != nil {
		out = append(out, fmt.Sprintf("Then: %s%s (%.0f min), for ± %.1f K.", t.What, t.in(), t.EffortM, t.AfterK))
	}
	if len(a.Left) > 0 {
		out = append(out, "All of these tell little of “"+strings.Join(a.Left, "” and of “")+"”: that part of the doubt stays until the finished retrofit is tried on the bench.")
	}
	return slices.Clip(out)
}

// in says in which mode the device runs for a measurement.
func (m *Measurement) in() string {
	if m.Mode == "" {
		return ""
	}
	return ", in mode " + m.Mode
}

// chanceWords does not promise certainty from a few hundred draws.
func chanceWords(p float64) string {
	switch {
	case p > 0.99:
		return "over 99 %"
	case p < 0.01:
		return "below 1 %"
	}
	return fmt.Sprintf("%.0f %%", 100*p)
}

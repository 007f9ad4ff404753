package benchtest

import (
	"context"
	"fmt"
	"math"

	"finwright/internal/device"
	"finwright/internal/model"
	"finwright/internal/session"
	"finwright/internal/work"
)

// RunSheet is the plan of a test.
type RunSheet struct {
	Device, Design string
	Invented       bool
	RoomK          float64
	Mode           string
	Up             string // side that is up: "top"

	EveryS  float64 // one reading each
	Probes  []Chosen
	Inside  *Chosen // the best place inside, where one helps
	Room    RoomProbe
	Fixings []Fixing

	MainBond *Bond // whose fault the probes were chosen for
	Bonds    []Suspicion
	End      Ending // how it is expected to end, all as planned
	LengthS  float64
	// JointS is when the readings show a MainBond worse by ProbeFactor beyond doubt, LastS when they say whether it lasts; +Inf: not in this test.
	JointS, LastS float64 // LastS 0: the model is sure beforehand
	Lasts         bool    // what LastS would say, all as planned
	Table         []SheetRow

	WarmStartK   float64 // a start this much warmer …
	WarmStartS   float64 // … costs this much time, s; NaN where it ends otherwise
	CoolS        float64 // after a run, until all places are within a kelvin of the room; +Inf: longer than followed
	LyingOn      string  // a face on cloth …
	LyingK       float64 // … warms the sensor by this much at the end
	SafetyStops  []SafetyStop
	Pairs        []PairRun
	Sensors      bool // there is a sensor that stops or dims it
	FedByBattery bool
}

// Ending is how a run is expected to end.
type Ending struct {
	By       string // the sensor; "" : the battery, or the end of the time asked for
	Kind     string // "trip", "step", "battery" or "time"
	LoS, S   float64
	HiS      float64 // +Inf: it may not end so at all
	EmptyS   float64 // middle of the battery's end; +Inf when fed from outside
	ChanceOf float64 // that it gets to the battery's end, or to that of the time asked for
}

// SheetRow is one line of the table to compare with while the test runs.
type SheetRow struct {
	AtS    float64
	Lo, Hi []float64 // by probe, 90 % of what is expected, K
	Fault  []float64 // with the main bond worse by ProbeFactor
}

// SafetyStop is when to switch off.
type SafetyStop struct {
	What   string
	LimitK float64
	ProbeK float64 // what the first probe reads then; NaN when it does not come near
	Source string
}

// PairRun is one run of the pairs that decide.
type PairRun struct {
	Design string
	WindMS float64
	Kind   session.EndKind
	EndS   float64
	Failed string
}

// fanMS is the air speed half a metre in front of a strong household fan. Common practice, no source.
const fanMS = 3.0

// decided is how many standard deviations count as beyond doubt (95 % one-sided).
const decided = z90

// readTimes are how many times of a curve are looked at.
const readTimes = 8

// Plan works out the run sheet for a design.
func Plan(ctx context.Context, f *device.File, opt Options) (*RunSheet, error) {
	r, err := newRig(f, opt)
	if err != nil {
		return nil, err
	}
	r.counting(opt.Progress, r.runsNeeded()+6+4*anchorWeight)
	field, err := r.warmed(ctx)
	if err != nil {
		return nil, err
	}
	r.say(2)
	list, hottest := r.candidates(field)
	if hottest < 0 {
		return nil, fmt.Errorf("no face of this design can be reached with a probe: is it all boundaries? A test wants an outside in air")
	}
	watch := make([]string, len(list))
	for i := range list {
		watch[i] = list[i].At
	}
	e, err := r.measure(ctx, watch)
	if err != nil {
		return nil, err
	}
	name := opt.Retrofit
	if name == "" {
		name = "stock"
	}
	s := &RunSheet{Device: f.Device, Design: name, Invented: f.Invented, RoomK: r.at.RoomK, Mode: r.mid.Under.Mode, FedByBattery: !math.IsInf(e.base.emptyS, 1), Sensors: len(e.base.gates) > 0}
	s.Up = sideWords[2*r.mid.Under.UpAxis+(r.mid.Under.UpSign+1)/2]
	s.End = r.ending(e)
	s.LengthS = math.Min(s.End.S, r.untilS)
	times := make([]float64, readTimes)
	for k := range times {
		times[k] = s.LengthS * math.Pow(float64(k+1)/readTimes, 1.5)
	}
	goal := e.goal(s.LengthS)
	main := e.mainBond(goal)
	if s.Probes, s.Inside, err = r.choose(e, list, hottest, main, times, goal); err != nil {
		return nil, err
	}
	if s.Inside != nil && s.Inside.AtSd < 1.3*s.Probes[min(1, len(s.Probes)-1)].AtSd {
		s.Inside = nil // not worth a wire through the seam
	}
	chosen := make([]int, len(s.Probes))
	for i := range s.Probes {
		for k := range list {
			if list[k].At == s.Probes[i].At {
				chosen[i] = k
			}
		}
	}
	if err := r.bondsTold(s, e, chosen, times, main); err != nil {
		return nil, err
	}
	if err := r.decide(s, e, chosen, goal, main); err != nil {
		return nil, err
	}
	s.EveryS = everyS(e, chosen, s.LengthS)
	r.table(s, e, chosen, main)
	area, skinK := r.skinOf(field)
	s.Room = roomProbe(area, skinK, r.at.RoomK)
	rise := at(e.base.timeS, e.base.placeK[chosen[0]], s.LengthS) - r.at.RoomK
	if s.Fixings, err = fixings(s.Probes[0].Metal, rise); err != nil {
		return nil, err
	}
	if s.CoolS, err = r.cooling(ctx, field); err != nil {
		return nil, err
	}
	r.say(1)
	if err := r.further(ctx, s, f, opt, e, chosen[0]); err != nil {
		return nil, err
	}
	return s, nil
}

// sideWords are the sides a device may have up, by axis and sign.
var sideWords = [6]string{"left", "right", "bottom", "top", "back", "front"}

// counting has progress told.
func (r *rig) counting(tell func(done, expected int), expected int) {
	if tell == nil {
		return
	}
	r.tell = counter(tell, expected)
}

// goal is the smallest margin of the sensors at a time; without sensors the time the battery is empty, which nothing but power moves.
func (e *effects) goal(s float64) row {
	if len(e.base.gates) == 0 {
		return e.row(func(t *trace) float64 { return math.Min(t.emptyS, 1e9) })
	}
	g := e.nearestGate(s)
	return e.row(func(t *trace) float64 { return at(t.timeS, t.gates[g].marginK, s) })
}

// nearestGate is the sensor's act that is nearest at a time.
func (e *effects) nearestGate(s float64) int {
	best, g := math.Inf(1), -1
	for k := range e.base.gates {
		if m := at(e.base.timeS, e.base.gates[k].marginK, s); m < best {
			best, g = m, k
		}
	}
	return g
}

// mainBond is the bond whose fault costs most of the goal; -1 without bonds.
func (e *effects) mainBond(goal row) int {
	main, most := -1, 0.0
	for b := range e.fault {
		if d := math.Abs(goal.shift(b, ProbeFactor)); main < 0 || d > most {
			main, most = b, d
		}
	}
	return main
}

// ending says when the run is expected to end, in 90 %.
func (r *rig) ending(e *effects) Ending {
	none, _ := r.network(nil, nil)
	prior := none.given(nil)
	out := Ending{Kind: "time", S: r.untilS, LoS: r.untilS, HiS: r.untilS, EmptyS: e.base.emptyS, ChanceOf: 1}
	if !math.IsInf(e.base.emptyS, 1) {
		x := e.row(func(t *trace) float64 { return math.Log(t.emptyS) })
		_, sd := prior.of(x, -1, 1)
		out.Kind, out.S = "battery", e.base.emptyS
		out.LoS, out.HiS = out.S*math.Exp(-z90*sd), out.S*math.Exp(z90*sd)
	}
	for k := range e.base.gates {
		lo, mid, hi := math.Inf(1), math.Inf(1), math.Inf(1)
		lowest := math.Inf(1)
		for i := 0; i <= 200; i++ {
			s := r.untilS * float64(i) / 200
			m, sd := prior.of(e.row(func(t *trace) float64 { return at(t.timeS, t.gates[k].marginK, s) }), -1, 1)
			note := func(v float64, first *float64) {
				if v <= 0 && math.IsInf(*first, 1) {
					*first = s
				}
			}
			note(m-z90*sd, &lo)
			note(m, &mid)
			note(m+z90*sd, &hi)
			lowest = math.Min(lowest, m/math.Max(sd, 1e-9))
		}
		out.ChanceOf = math.Min(out.ChanceOf, normal(lowest))
		if mid < out.S {
			out.By, out.Kind = e.base.gates[k].sensor, e.base.gates[k].kind
			out.LoS, out.S, out.HiS = lo, mid, hi
		} else if lo < out.LoS {
			out.LoS = lo
		}
	}
	return out
}

// normal is the share of a normal distribution below x standard deviations.
func normal(x float64) float64 { return math.Erfc(-x/math.Sqrt2) / 2 }

// bondsTold says how well the probes see a fault of each bond.
func (r *rig) bondsTold(s *RunSheet, e *effects, chosen []int, times []float64, main int) error {
	rs, chs := e.readingsOf(chosen, times)
	w, err := r.network(rs, chs)
	if err != nil {
		return err
	}
	for b := range r.bonds {
		s.Bonds = append(s.Bonds, r.suspicion(w, b, func(c int) string { return s.Probes[c].Words }))
	}
	if main >= 0 {
		s.MainBond = &r.bonds[main]
	}
	return nil
}

// suspicion says how a fault of a bond would show.
func (r *rig) suspicion(w *network, b int, place func(channel int) string) Suspicion {
	x := Suspicion{Bond: r.bonds[b], AtSd: w.seen(b, ProbeFactor), LeastFactor: w.leastSeen(b)}
	for i := range w.readings {
		if d := w.readings[i].shift(b, ProbeFactor); math.Abs(d) > math.Abs(x.ShowsK) {
			x.ShowsK, x.ShowsAt = d, place(w.readings[i].channel)
		}
	}
	return x
}

// decide finds when the readings have told enough.
func (r *rig) decide(s *RunSheet, e *effects, chosen []int, goal row, main int) error {
	s.JointS, s.LastS = math.Inf(1), math.Inf(1)
	end := e.goal(math.Min(r.untilS, s.End.EmptyS))
	s.Lasts = len(e.base.gates) == 0 || end.base > 0
	none, err := r.network(nil, nil)
	if err != nil {
		return err
	}
	if _, sd := none.given(nil).of(end, -1, 1); len(e.base.gates) > 0 && math.Abs(end.base) > decided*sd {
		s.LastS = 0
	}
	for k := 1; k <= 20; k++ {
		untilS := s.LengthS * float64(k) / 20
		times := make([]float64, readTimes)
		for i := range times {
			times[i] = untilS * math.Pow(float64(i+1)/readTimes, 1.5)
		}
		rs, chs := e.readingsOf(chosen, times)
		w, err := r.network(rs, chs)
		if err != nil {
			return err
		}
		if main >= 0 && math.IsInf(s.JointS, 1) && w.seen(main, ProbeFactor) >= clear {
			s.JointS = untilS
		}
		if len(e.base.gates) > 0 && math.IsInf(s.LastS, 1) {
			if _, sd := w.given(w.misfit(basesOf(rs), -1, 1)).of(end, -1, 1); math.Abs(end.base) > decided*sd {
				s.LastS = untilS
			}
		}
	}
	return nil
}

// everyS is the time between readings: a fifth of a kelvin apart at the steepest, at least 120 in the run.
func everyS(e *effects, chosen []int, lengthS float64) float64 {
	steep := 1e-9
	for _, k := range chosen {
		t := &e.base
		for i := 1; i < len(t.timeS) && t.timeS[i] <= lengthS; i++ {
			steep = math.Max(steep, math.Abs(t.placeK[k][i]-t.placeK[k][i-1])/(t.timeS[i]-t.timeS[i-1]))
		}
	}
	best := 1.0
	for _, s := range []float64{2, 5, 10, 30, 60} {
		if s*steep <= 0.2 && s <= lengthS/120 {
			best = s
		}
	}
	return best
}

// table is what the probes should read.
func (r *rig) table(s *RunSheet, e *effects, chosen []int, main int) {
	none, _ := r.network(nil, nil)
	prior := none.given(nil)
	step := tableStepS(s.LengthS)
	for k := 1; float64(k)*step <= s.LengthS*1.001; k++ {
		x := SheetRow{AtS: float64(k) * step}
		for c := range chosen {
			v := e.row(func(t *trace) float64 { return at(t.timeS, t.placeK[chosen[c]], x.AtS) })
			m, sd := prior.of(v, -1, 1)
			sd = math.Sqrt(sd*sd + plannedErrorSd*plannedErrorSd + math.Pow(modelShare*(m-r.at.RoomK), 2))
			x.Lo, x.Hi = append(x.Lo, m-z90*sd), append(x.Hi, m+z90*sd)
			x.Fault = append(x.Fault, m+v.shift(main, ProbeFactor))
		}
		s.Table = append(s.Table, x)
	}
}

// tableStepS makes some six to eight rows at round minutes.
func tableStepS(lengthS float64) float64 {
	for _, m := range []float64{1, 2, 3, 5, 10, 15, 20, 30, 60} {
		if lengthS/(60*m) <= 8 {
			return 60 * m
		}
	}
	return 3600 * math.Ceil(lengthS/3600/8)
}

// warmStartK is how much warmer the device is at the start in the run that shows what a warm start costs.
const warmStartK = 5.0

// further makes the runs that answer single questions: a warm start, lying on cloth, the cool-down, limits, the pairs.
func (r *rig) further(ctx context.Context, s *RunSheet, f *device.File, opt Options, e *effects, first int) error {
	s.WarmStartK, s.WarmStartS, s.LyingK = warmStartK, math.NaN(), math.NaN()
	errs := make([]error, 7)
	var full, warm *session.Result
	var lying trace
	jobs := []func(){
		func() {
			full, errs[0] = r.session(ctx, r.shape, session.Spec{StartK: r.at.StartK, UntilS: r.untilS})
			r.say(1)
		},
		func() {
			start := r.at.StartK
			if start == 0 {
				start = r.at.RoomK
			}
			warm, errs[1] = r.session(ctx, r.shape, session.Spec{StartK: start + warmStartK, UntilS: r.untilS, Bare: true})
			r.say(1)
		},
		func() {
			if s.LyingOn = r.broadFace(); s.LyingOn != "" {
				lying, errs[2] = r.lying(ctx, s.LyingOn)
			}
			r.say(1)
		},
	}
	s.Pairs = pairsOf(opt.Retrofit)
	for i := range s.Pairs {
		jobs = append(jobs, func() {
			errs[3+i] = r.pair(ctx, f, opt, &s.Pairs[i])
			r.say(anchorWeight)
		})
	}
	if err := work.InParallel(ctx, r.workers, jobs); err != nil {
		return err
	}
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	if full.Own.Kind == warm.Own.Kind && full.Own.Kind == session.Stopped {
		s.WarmStartS = full.Own.AtS - warm.Own.AtS
	}
	if lying.timeS != nil && len(e.base.gates) > 0 {
		g := e.nearestGate(s.LengthS)
		s.LyingK = at(e.from.timeS, e.from.gates[g].marginK, s.LengthS) - at(lying.timeS, lying.gates[g].marginK, s.LengthS)
	}
	s.SafetyStops = safety(full, e, first, r.at.RoomK)
	return nil
}

func (r *rig) session(ctx context.Context, shape *model.Shape, spec session.Spec) (*session.Result, error) {
	m, err := shape.At(r.base, nil, "")
	if err != nil {
		return nil, err
	}
	spec.Values, spec.Brief, spec.TolK, spec.Workers = r.unbiased(r.base), true, tolK, 1
	return session.Run(ctx, m, spec)
}

// broadFace is the largest face a hand can reach.
func (r *rig) broadFace() string {
	best, name := 0.0, ""
	for i := range r.mid.Surfaces {
		s := &r.mid.Surfaces[i]
		face := r.mid.BodyName(s.Body) + "." + sideWords[s.Side]
		if _, err := device.ParsePlace(face, r.file); s.Reach && s.AreaM2 > best && err == nil {
			best, name = s.AreaM2, face
		}
	}
	return name
}

// lying is the run with a face on cloth.
func (r *rig) lying(ctx context.Context, face string) (trace, error) {
	g := *r.file
	g.Conditions.RestsOn = []device.RestsOn{{Face: face, What: "cloth"}}
	shape, err := model.NewShape(&g, r.base, r.fine)
	if err != nil {
		return trace{}, err
	}
	q := *r
	q.file, q.shape = &g, shape
	return q.run(ctx, r.base, nil)
}

// pairsOf are the runs that decide: the design before and after, in still air and in front of a fan.
func pairsOf(retrofit string) []PairRun {
	out := []PairRun{{Design: "stock"}, {Design: "stock", WindMS: fanMS}}
	if retrofit != "" {
		out = append(out, PairRun{Design: retrofit}, PairRun{Design: retrofit, WindMS: fanMS})
	}
	return out
}

// pair runs one of them, with the device's own stops.
func (r *rig) pair(ctx context.Context, f *device.File, opt Options, p *PairRun) error {
	name := p.Design
	if name == "stock" {
		name = ""
	}
	v, _, err := f.Variant(name)
	if err != nil {
		return err
	}
	set := r.at
	set.WindMS, set.StartK = p.WindMS, 0
	g, _ := bench(v, set)
	shape, err := model.NewShape(g, r.base, r.anchor)
	if err != nil {
		p.Failed = err.Error()
		return nil
	}
	m, err := shape.At(r.base, nil, "")
	if err != nil {
		return err
	}
	res, err := session.Run(ctx, m, session.Spec{Values: r.base, UntilS: opt.UntilS, Bare: true, TolK: tolK, Workers: 1})
	if err != nil {
		return err
	}
	p.Kind, p.EndS = res.End.Kind, res.End.AtS
	return nil
}

// farGlueK is how far from its limit a glue may stay and still be worth a line, K. Common practice, no source.
const farGlueK = 30.0

// safety is what else ends the test: limits of hand, cell and glue, and what the first probe reads when one is reached, by the ratio
// of rises at the end.
func safety(res *session.Result, e *effects, first int, roomK float64) []SafetyStop {
	var out []SafetyStop
	glue, left := -1, math.Inf(1) // of the glues the one that comes nearest to its limit
	for i := range res.Limits {
		if l := &res.Limits[i]; l.Kind == "glue" && l.LimitK-l.HighestK < math.Min(left, farGlueK) {
			glue, left = i, l.LimitK-l.HighestK
		}
	}
	for i := range res.Limits {
		l := &res.Limits[i]
		if l.Kind == "trip" || l.Kind == "step" || l.Kind == "glue" && i != glue {
			continue
		}
		x := SafetyStop{What: l.Name, LimitK: l.LimitK, ProbeK: math.NaN(), Source: l.Source}
		probeK := at(e.base.timeS, e.base.placeK[first], l.AtS)
		if l.HighestK > roomK+1 && probeK > roomK+1 {
			x.ProbeK = roomK + (probeK-roomK)*(l.LimitK-roomK)/(l.HighestK-roomK)
		}
		out = append(out, x)
	}
	return out
}

package heat

import (
	"context"
	"fmt"
	"math"

	"finwright/internal/linsolve"
)

// Options of a stepper or a steady solve; the zero value is good.
type Options struct {
	TolK       float64 // error allowed per step in any cell, K; 0 means 0.02
	FirstStepS float64 // 0: from the fastest cell
	MaxStepS   float64 // 0: no limit. Set it where a law swings in time while the body is at rest.
	FixedStepS float64 // > 0: every step this long, without error control (for studies of convergence)
	// LinTolK is the error in every cell that the residual of a linear solve may
	// amount to, K; 0 means TolK/25 in time, a tenth of that in fixed steps, 1e-5 K at rest. The heat balance does
	// not depend on it.
	LinTolK float64
	Workers int     // goroutines of the linear solver; 0 lets it choose
	AtS     float64 // Steady: the time at which laws are asked
}

func (o Options) withDefaults() (Options, error) {
	for _, v := range [...]float64{o.TolK, o.FirstStepS, o.MaxStepS, o.FixedStepS, o.LinTolK} {
		if !(v >= 0 && finite(v)) {
			return o, &ModelError{"tolerances and step lengths must be finite and not negative"}
		}
	}
	if !finite(o.AtS) {
		return o, &ModelError{"the time of a steady solve must be finite"}
	}
	if o.TolK == 0 {
		o.TolK = 0.02
	}
	if o.MaxStepS == 0 {
		o.MaxStepS = math.Inf(1)
	}
	return o, nil
}

// Step is one accepted step.
type Step struct {
	FromS, ToS       float64
	LinearIterations int     // including those of rejected trials
	FilmPasses       int     // solves that the surfaces' films took; 2 at least
	ErrK             float64 // estimated error of the step in the worst cell
	Rejected         int     // trials thrown away before it
}

// Stats counts over the life of a stepper.
type Stats struct{ Steps, Rejected, LinearIterations int }

// SurfaceState is a surface at the stepper's present time.
type SurfaceState struct {
	MeanK, MaxK, MinK float64 // of the surface itself, not its cells
	HeatW             float64 // net heat out
	GainW             float64 // gain within it: HeatW + GainW is what the film carries away
	Film              Film
}

// Stepper carries a model through time. Not safe for concurrent use.
type Stepper struct {
	m   *Model
	opt Options
	op  *linsolve.Operator
	lin *linsolve.Solver
	b   *boundary

	powerW []float64 // in force
	wantW  []float64 // from the next step on
	timeS  float64
	// The last step ran from oldS with tOld, qOld to timeS with tNow, qNow;
	// q = C dT/dt in W. tNew is the trial, tMid and qMid its stage at γ.
	oldS             float64
	tOld, tNow, tNew []float64
	tMid             []float64
	qOld, qNow, qMid []float64
	rhs              []float64
	invC             []float64 // 1/CapJK, 0 where inactive
	rateS            float64   // op.Diag is C·rateS but for the films
	joinedS          float64   // the time of the temperatures that Refresh last saw

	// passes over all cells, and their arguments
	capacityPass, middlePass, endPass, errorPass, largestPass, keepPass, expectPass pass
	argH, argAhead, argBend                                                         float64

	// per surface: net heat out and gain at the same four instants, and the film now
	heatOld, heatNow, heatMid, heatNew []float64
	gainOld, gainNow, gainMid, gainNew []float64
	filmNow                            []Film
	state                              []SurfaceState
	stateOK                            bool

	started bool // Init was called
	restart bool // qNow must be found from the temperatures
	hasStep bool // tOld … belong to a step that ends at timeS
	smooth  bool // the slope is continuous from the last step into this one
	shock   bool // the last step damped a transient that it did not resolve
	nextS   float64
	lastErr float64 // of the last accepted step over its tolerance
	sizeK   float64 // largest temperature met, for the rounding level
	acc     account
	accOld  account
	stats   Stats
}

// NewStepper prepares a stepper. It keeps m; nothing in m but what Refresh
// changes may change afterwards. Call Init before the first step. Power is zero
// until SetPower.
func NewStepper(m *Model, opt Options) (*Stepper, error) {
	if err := m.check(); err != nil {
		return nil, err
	}
	opt, err := opt.withDefaults()
	if err != nil {
		return nil, err
	}
	if opt.LinTolK == 0 {
		opt.LinTolK = opt.TolK / 25
		if opt.FixedStepS > 0 {
			opt.LinTolK /= 10 // no estimate of the step's error to hide behind
		}
	}
	n, ns := m.Cells(), len(m.Surfaces)
	st := &Stepper{m: m, opt: opt, powerW: make([]float64, len(m.Sources)), wantW: make([]float64, len(m.Sources))}
	st.op = &linsolve.Operator{Grid: m.Grid, GX: m.GX, GY: m.GY, GZ: m.GZ, Diag: make([]float64, n)}
	st.b = newBoundary(m, st.op, opt.LinTolK, opt.Workers) // films as well as the solver knows temperatures
	st.capacityPass, st.middlePass, st.endPass = st.capacityCells, st.middleCells, st.endCells
	st.errorPass, st.largestPass, st.keepPass, st.expectPass = st.errorCells, st.largestCells, st.keepCells, st.expectCells
	st.setCapacity(1)
	if st.lin, err = linsolve.New(st.op, linsolve.Options{Workers: opt.Workers}); err != nil {
		return nil, err
	}
	for _, v := range []*[]float64{&st.tOld, &st.tNow, &st.tNew, &st.tMid, &st.qOld, &st.qNow, &st.qMid, &st.rhs, &st.invC} {
		*v = make([]float64, n)
	}
	for c, cp := range m.CapJK {
		if cp > 0 {
			st.invC[c] = 1 / cp
		}
	}
	for _, v := range []*[]float64{&st.heatOld, &st.heatNow, &st.heatMid, &st.heatNew, &st.gainOld, &st.gainNow, &st.gainMid, &st.gainNew} {
		*v = make([]float64, ns)
	}
	st.filmNow, st.state = make([]Film, ns), make([]SurfaceState, ns)
	st.acc, st.accOld = newAccount(m), newAccount(m)
	return st, nil
}

// Init sets the temperatures at time tS, forgets the past and zeroes the account.
func (st *Stepper) Init(tK []float64, tS float64) error {
	if err := st.m.checkField(tK); err != nil {
		return err
	}
	if !finite(tS) {
		return &ModelError{"the time to start from must be finite"}
	}
	copy(st.tNow, tK)
	copy(st.tOld, tK)
	st.timeS, st.oldS, st.joinedS = tS, tS, tS
	st.sizeK = 0
	for _, t := range tK {
		st.sizeK = math.Max(st.sizeK, math.Abs(t))
	}
	st.started, st.restart = true, true
	st.hasStep, st.smooth, st.shock, st.stateOK = false, false, false, false
	st.nextS, st.lastErr = 0, 1
	st.acc.begin(st.m.CapJK, st.tNow)
	st.stats = Stats{}
	return st.derive()
}

// InitUniform is Init with one temperature everywhere.
func (st *Stepper) InitUniform(tK, tS float64) error {
	for c := range st.tNew {
		st.tNew[c] = tK
	}
	return st.Init(st.tNew, tS)
}

// SetPower sets the power of each source, W, from the present time on. A change
// bends the temperatures; the next step starts anew, short enough to follow.
func (st *Stepper) SetPower(powerW []float64) error {
	if err := st.m.checkPower(powerW); err != nil {
		return err
	}
	copy(st.wantW, powerW)
	return nil
}

// applyPower puts the powers wanted in force. A change of power changes the slopes
// of its cells by as much; no other slope is touched.
func (st *Stepper) applyPower() {
	rate := 0.0
	for i := range st.m.Sources {
		dw := st.wantW[i] - st.powerW[i]
		if dw == 0 {
			continue
		}
		s := &st.m.Sources[i]
		for e, c := range s.Cells {
			dq := dw * s.Share[e]
			st.qNow[c] += dq
			rate = math.Max(rate, math.Abs(dq)*st.invC[c])
		}
		st.powerW[i] = st.wantW[i]
		st.smooth, st.hasStep = false, false
		if st.b.canHold {
			st.restart = true // the heat of held cells must be found anew, and their slopes are not theirs
		}
	}
	if rate > 0 && st.nextS > 0 {
		st.nextS = math.Min(st.nextS, firstMoves*st.opt.TolK/rate)
		st.lastErr = 1
	}
}

// Restart says that laws changed abruptly at the present time (another ambient, a
// fan switched on): the next step starts from the films and slopes as they are now.
func (st *Stepper) Restart() { st.restart, st.stateOK = true, false }

// firstMoves: a first step moves no cell by more than this many tolerances; from
// there the error control takes over.
const firstMoves = 25

// Time is the present time, s.
func (st *Stepper) Time() float64 { return st.timeS }

// TK is the present temperature of each cell, K. The slice is the stepper's own
// and holds until the next call of Advance, RewindTo or Init.
func (st *Stepper) TK() []float64 { return st.tNow }

// Prev is the temperature at the start of the last step, under the same terms.
func (st *Stepper) Prev() []float64 { return st.tOld }

// PowerW is the power of each source now; do not change it.
func (st *Stepper) PowerW() []float64 { return st.wantW }

// Stats tells what the stepper has done since Init.
func (st *Stepper) Stats() Stats { return st.stats }

// SurfaceState tells how surface i stands at the present time.
func (st *Stepper) SurfaceState(i int) SurfaceState {
	if !st.stateOK {
		for j := range st.state {
			st.state[j] = st.b.stateOf(j, st.tNow, st.filmNow[j])
			st.state[j].HeatW, st.state[j].GainW = st.heatNow[j], st.gainNow[j]
		}
		st.stateOK = true
	}
	return st.state[i]
}

func (b *boundary) stateOf(i int, tK []float64, f Film) SurfaceState {
	s := &b.m.Surfaces[i]
	out := SurfaceState{MeanK: b.meanOf(i, tK, f), MaxK: math.Inf(-1), MinK: math.Inf(1), Film: f}
	for e, c := range s.Cells {
		t := elementK(s.HalfWK[e], s.AreaM2[e], tK[c], f)
		out.MaxK, out.MinK = math.Max(out.MaxK, t), math.Min(out.MinK, t)
	}
	return out
}

// Advance makes one accepted step, not past untilS. On an error the stepper still
// stands where it stood (after a *BalanceError, at the end of the step).
func (st *Stepper) Advance(ctx context.Context, untilS float64) (Step, error) {
	if !st.started {
		return Step{}, &ModelError{"Init must come before the first step"}
	}
	if !(untilS > st.timeS) || math.IsNaN(untilS) {
		return Step{}, &ModelError{fmt.Sprintf("cannot step from %.9g s to %.9g s", st.timeS, untilS)}
	}
	if err := ctx.Err(); err != nil {
		return Step{}, err
	}
	st.applyPower()
	if err := st.refresh(untilS); err != nil {
		return Step{}, err
	}
	if st.restart {
		st.hasStep = false
		if err := st.derive(); err != nil {
			return Step{}, err
		}
	}
	if st.nextS == 0 {
		st.nextS = st.firstStepS()
	}
	fixed := st.opt.FixedStepS > 0
	hS := st.plannedS()
	out := Step{FromS: st.timeS}
	leastS := math.Max(1e-9*math.Min(1, st.nextS), 4e-16*math.Abs(st.timeS))
	tolK := st.opt.TolK
	for {
		if err := ctx.Err(); err != nil {
			return out, err
		}
		takeS, toS := hS, st.timeS+hS
		// do not leave a sliver for the last step
		if left := untilS - st.timeS; left <= hS*(1+1e-9) {
			takeS, toS = left, untilS
		} else if !fixed && left < 2*hS {
			takeS = left / 2
			toS = st.timeS + takeS
		}
		errK, rawK, err := st.try(ctx, takeS, toS, &out)
		if ctx.Err() != nil {
			return out, ctx.Err()
		}
		switch {
		case err != nil && fixed:
			return out, &StepError{st.timeS, takeS, "the step cannot be solved", err}
		case err != nil:
			hS = takeS / 4
		case fixed || errK <= tolK:
			out.ToS, out.ErrK = toS, errK
			if takeS >= 0.5*hS {
				st.nextS = takeS * growth(errK/tolK, st.lastErr, out.Rejected > 0)
				if takeS < hS { // clipped: what was planned is not worse
					st.nextS = math.Max(st.nextS, hS)
				}
			}
			st.lastErr = math.Max(errK/tolK, 1e-3)
			st.accept(toS, takeS, rawK > tolK)
			return out, st.acc.check(st.m.CapJK, st.tNow)
		default:
			hS = takeS * math.Max(0.2, 0.9*math.Cbrt(tolK/errK))
		}
		out.Rejected++
		st.stats.Rejected++
		if hS < leastS {
			return out, &StepError{st.timeS, takeS, fmt.Sprintf("the error stays at %.2g K (allowed %.2g K) however short the step", errK, tolK), err}
		}
	}
}

// plannedS is how long the next step is to be.
func (st *Stepper) plannedS() float64 {
	if st.opt.FixedStepS > 0 {
		return st.opt.FixedStepS
	}
	return math.Min(st.nextS, st.opt.MaxStepS)
}

// refresh renews the conductances for the step to come. They are constant in it, and
// the slope at its start still carries those of the step before, so they should be
// those of the time t_G at which both, with the weights that TR-BDF2 gives them, are
// right in the middle of the step:
//
//	w t_G(before) + (1 − w) t_G = t + h/2
//
// which makes the renewal a method of second order like the rest. The temperatures
// of that time continue the last step in a straight line.
func (st *Stepper) refresh(untilS float64) error {
	if st.m.Refresh == nil {
		return nil
	}
	atS, tK := st.timeS, st.tNow
	if lastS := st.timeS - st.oldS; st.hasStep && st.nextS > 0 {
		hS := min(st.plannedS(), untilS-st.timeS)
		atS = (st.timeS + hS/2 - Weight*st.joinedS) / (1 - Weight)
		atS = min(max(atS, st.timeS), st.timeS+min(hS, 2*lastS))
		st.argAhead = (atS - st.timeS) / lastS
		st.b.all.run(st.expectPass)
		tK = st.tMid
	}
	st.joinedS = atS
	if !st.m.Refresh(tK, st.b.all.crew.Workers()) {
		return nil
	}
	st.b.conductancesChanged()
	st.setCapacity(1) // the hierarchy is built on the equations of a step, as at the start
	if err := st.lin.SetConductances(); err != nil {
		return &StepError{st.timeS, 0, "conductances were refreshed", err}
	}
	return nil
}

// expectCells continues the last step in a straight line, into tMid.
func (st *Stepper) expectCells(lo, hi int) (_, _ float64) {
	t0, t1, out, ahead := st.tOld, st.tNow, st.tMid, st.argAhead
	for c := lo; c < hi; c++ {
		out[c] = t1[c] + ahead*(t1[c]-t0[c])
	}
	return 0, 0
}

// growth is the factor for the next step: a PI controller on the error ratio, for
// an estimate of third order with a weak memory, as in DOPRI5 (Hairer, Nørsett &
// Wanner, Solving Ordinary Differential Equations I, sect. II.4: 1/k − 0.75 β and β).
func growth(ratio, last float64, rejected bool) float64 {
	const beta = 0.07
	f := 0.9 * math.Pow(math.Max(ratio, 1e-6), 0.75*beta-1.0/3) * math.Pow(last, beta)
	most := 4.0
	if rejected {
		most = 1
	}
	return math.Min(math.Max(f, 0.3), most)
}

func (st *Stepper) firstStepS() float64 {
	if st.opt.FirstStepS > 0 {
		return st.opt.FirstStepS
	}
	rate := 0.0
	for c, q := range st.qNow {
		rate = math.Max(rate, math.Abs(q)*st.invC[c])
	}
	if rate == 0 {
		return 1
	}
	return math.Min(firstMoves*st.opt.TolK/rate, 60)
}

// accept makes the trial the present.
func (st *Stepper) accept(toS, hS float64, shock bool) {
	copyAccount(&st.accOld, &st.acc)
	st.acc.add(hS, st.powerW, [3][]float64{st.heatNow, st.heatMid, st.heatNew}, [3][]float64{st.gainNow, st.gainMid, st.gainNew})
	st.sizeK = max(st.sizeK, st.b.all.most(st.keepPass))
	st.qOld, st.qNow = st.qNow, st.qOld
	st.tOld, st.tNow, st.tNew = st.tNow, st.tNew, st.tOld
	st.heatOld, st.heatNow, st.heatNew = st.heatNow, st.heatNew, st.heatOld
	st.gainOld, st.gainNow, st.gainNew = st.gainNow, st.gainNew, st.gainOld
	copy(st.filmNow, st.b.film)
	st.oldS, st.timeS = st.timeS, toS
	st.hasStep, st.smooth, st.shock, st.stateOK = true, true, shock, false
	st.stats.Steps++
}

// RewindTo ends the last step at tS inside it: the step is computed again from
// its start, with its account and the power it had. It may be called once per step.
// On an error other than a wrong tS the stepper stands at the step's start.
func (st *Stepper) RewindTo(tS float64) error {
	switch {
	case tS == st.timeS:
		return nil
	case !st.hasStep:
		return &ModelError{"there is no step to rewind"}
	case !(tS > st.oldS && tS < st.timeS):
		return &ModelError{fmt.Sprintf("%.9g s lies outside the last step, %.9g to %.9g s", tS, st.oldS, st.timeS)}
	}
	st.tOld, st.tNow, st.tNew = st.tNew, st.tOld, st.tNow
	st.qOld, st.qNow = st.qNow, st.qOld
	st.heatOld, st.heatNow, st.heatNew = st.heatNew, st.heatOld, st.heatNow
	st.gainOld, st.gainNow, st.gainNew = st.gainNew, st.gainOld, st.gainNow
	copyAccount(&st.acc, &st.accOld)
	st.timeS = st.oldS
	st.hasStep, st.smooth, st.stateOK = false, false, false
	st.stats.Steps--
	var out Step
	hS := tS - st.timeS
	_, rawK, err := st.try(context.Background(), hS, tS, &out)
	if err != nil {
		st.restart = true
		return &StepError{st.timeS, hS, "the step cannot be shortened", err}
	}
	st.accept(tS, hS, rawK > st.opt.TolK)
	return st.acc.check(st.m.CapJK, st.tNow)
}

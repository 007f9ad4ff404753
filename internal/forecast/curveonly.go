package forecast

import (
	"errors"
	"fmt"
	"math"

	"finwright/internal/curve"
)

// CurveOptions steer FromCurve. The zero value is good.
type CurveOptions struct {
	LimitK      float64       // the temperature at the probe that must not be reached, K; 0: none
	ProbeErrorK float64       // half width (90 %) of the probe's constant error
	Room        curve.Samples // the room's temperature, where it was logged
	NarrowK     float64       // half-width of the steady temperature's interval at which it counts as known; zero takes 1 K
	Seed        uint64
}

// CurveState is what the readings of one probe say by themselves, without a device file: where the temperature is going, and when.
// Films that grow with temperature, a battery that runs empty and a device that stops itself are not in it.
type CurveState struct {
	Probe   string
	NowS    float64
	NowK    float64
	SteadyK Interval // the temperature it comes to
	TauS    Interval // slow time constant
	// SettlesS is when 95 % of the whole change is done.
	SettlesS Interval
	Reaches  float64  // chance that the limit is reached; NaN without a limit
	LimitS   Interval // when, where it is
	Trend    string   // in words: does the rise over the room still change? Empty without the room
	Decided  bool
	Why      string
	Curve    Curve
	Refused  string // in words, where the readings say nothing yet; the other figures are then not given
}

// settled is the share of the change after which a curve counts as settled.
const settled = 0.95

// FromCurve looks at the readings from the start to now.
func FromCurve(name string, r Readings, opt CurveOptions) (*CurveState, error) {
	if err := r.check(name); err != nil {
		return nil, err
	}
	nan := Interval{math.NaN(), math.NaN(), math.NaN()}
	s := &CurveState{Probe: name, NowS: math.NaN(), NowK: math.NaN(), SteadyK: nan, TauS: nan, SettlesS: nan, LimitS: nan, Reaches: math.NaN(), Why: "not decided"}
	n := len(r.TimeS)
	if n == 0 {
		s.Refused = "there are no readings yet"
		return s, nil
	}
	s.NowS, s.NowK = r.TimeS[n-1], r.TK[n-1]
	if !(opt.NarrowK > 0) {
		opt.NarrowK = 1
	}
	series := curve.Series{Samples: curve.Samples{TimeS: r.TimeS, TK: r.TK}, Room: opt.Room}
	fit, err := curve.Warming(series, curve.WarmingOptions{ProbeErrorK: opt.ProbeErrorK, Seed: opt.Seed})
	if err != nil {
		s.Refused = err.Error()
		return s, nil
	}
	if len(fit.Draws) == 0 {
		return nil, errors.New("forecast: a fit without draws")
	}
	if opt.Room.Len() > 0 && fit.TauS.Given() {
		if t, err := curve.SteadyRise(series, r.TimeS[0]+(s.NowS-r.TimeS[0])*2/3, s.NowS, fit.TauS.Mid); err == nil {
			s.Trend = t.Sentence()
		}
	}
	if !fit.SteadyK.Given() {
		s.Refused = fit.SteadyK.Refused
		return s, nil
	}
	s.SteadyK = Interval{fit.SteadyK.Lo, fit.SteadyK.Mid, fit.SteadyK.Hi}
	if fit.TauS.Given() {
		s.TauS = Interval{fit.TauS.Lo, fit.TauS.Mid, fit.TauS.Hi}
	}
	var settles, limit []weighted
	reaches := 0.0
	for _, d := range fit.Draws {
		whole := math.Abs(d.SlowK + d.FastK)
		at := fit.StartS
		if left := math.Abs(d.SlowK) / ((1 - settled) * whole); whole > 0 && left > 1 {
			at += d.TauS * math.Log(left)
		}
		settles = append(settles, weighted{at, 1})
		if opt.LimitK > 0 {
			if at := reachesS(d, fit.StartS, opt.LimitK); !math.IsInf(at, 1) {
				reaches += 1 / float64(len(fit.Draws))
				limit = append(limit, weighted{at, 1})
			}
		}
	}
	s.SettlesS = interval(settles)
	s.Curve = s.band(fit)
	width := (s.SteadyK.Hi - s.SteadyK.Lo) / 2
	if opt.LimitK > 0 {
		s.Reaches, s.LimitS = reaches, interval(limit)
		switch {
		case s.NowK >= opt.LimitK:
			s.Decided, s.Why, s.Reaches = true, "it has reached the limit", 1
		case reaches > sure:
			s.Decided, s.Why = true, "it will reach the limit"
		case reaches < 1-sure:
			s.Decided, s.Why = true, "it stays below the limit"
		}
		return s, nil
	}
	if width < opt.NarrowK {
		s.Decided, s.Why = true, fmt.Sprintf("the temperature it comes to is known to ± %.1f K", width)
	}
	return s, nil
}

// reachesS is when a curve reaches a temperature, +Inf where it does not. It rises from the fit's start: looked for step by step and
// then closed in on.
func reachesS(d curve.Draw, startS, limitK float64) float64 {
	at := func(tS float64) float64 {
		t := d.SteadyK - d.SlowK*math.Exp(-(tS-startS)/d.TauS)
		if d.FastTauS > 0 {
			t -= d.FastK * math.Exp(-(tS-startS)/d.FastTauS)
		}
		return t
	}
	if d.SteadyK <= limitK {
		return math.Inf(1)
	}
	lo, hi := startS, startS
	for at(hi) < limitK {
		lo, hi = hi, hi+d.TauS/8
		if hi > startS+40*d.TauS {
			return math.Inf(1)
		}
	}
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; at(mid) < limitK {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// band is the curve over twice the time it takes to settle, and no less than what was seen.
func (s *CurveState) band(fit *curve.Fit) Curve {
	c := Curve{Probe: s.Probe, NowS: s.NowS, NowK: s.NowK}
	to := math.Max(1.2*s.SettlesS.Mid, 1.2*s.NowS)
	const points = 60
	for k := 1; k <= points; k++ {
		tS := fit.StartS + (to-fit.StartS)*float64(k)/points
		e := fit.At(tS)
		if !e.Given() {
			break
		}
		c.TimeS, c.LoK, c.MidK, c.HiK = append(c.TimeS, tS), append(c.LoK, e.Lo), append(c.MidK, e.Mid), append(c.HiK, e.Hi)
	}
	return c
}

package standin

import (
	"context"
	"math"
	"sort"

	"finwright/internal/device"
	"finwright/internal/model"
	"finwright/internal/session"
)

// Outcome is a session at full power to its goal.
type Outcome struct {
	GoalS float64 // the battery's end, or the time asked for
	// HeadroomK is what is left of the limit that comes nearest, at any time up to the goal: negative, how far it is missed by. The
	// design lasts when it is positive. +Inf where nothing sets a limit.
	HeadroomK float64
	Nearest   string // that limit: "s stops it"
	// EndS, Kind and By are how it ends: the first of stop, power step, passed limit and goal.
	EndS float64
	Kind session.EndKind
	By   string
	OwnS float64 // when the device itself ends: its first stop, or the goal
	// ActsS is when a sensor first acts, by a stop or a power step; +Inf when none does.
	ActsS float64
	// MarginK is what was left of the nearest limit up to OwnS, SkinK the highest that a hand could touch.
	MarginK, SkinK float64
	BatteryS       float64 // when the battery would be empty; NaN without one
	// TimeS and SensorK are the curve of the first sensor; nil without one.
	TimeS, SensorK []float64
	Reads          map[string][]float64 // the places of Options.Watch, K, at TimeS
	PartKg         []float64            // what the parts weigh, in the file's order
}

// Lasts says whether it gets to its goal.
func (o *Outcome) Lasts() bool { return o.HeadroomK > 0 }

// bound is one temperature not to pass.
type bound struct {
	series int
	limitK float64
	kind   session.EndKind
	name   string // of the limit
	by     string
}

// Ask makes the session at values v. What the 3-D run of Anchor says beyond the stand-in at the best values is applied as a share of
// the rise over the air.
func (d *Design) Ask(ctx context.Context, v device.Values) (*Outcome, error) {
	res, m, err := d.Run(ctx, v, 0)
	if err != nil {
		return nil, err
	}
	return d.outcome(res, m, d.ratioAt(v)), nil
}

// Ask3D is Ask in 3-D, on cells of its own that are cut for v's sizes; nothing is applied. fine is their number; zero takes that of
// the stand-in.
func (d *Design) Ask3D(ctx context.Context, v device.Values, fine model.Fineness) (*Outcome, error) {
	res, m, err := d.run3D(ctx, v, fine)
	if err != nil {
		return nil, err
	}
	return d.outcome(res, m, func(string) float64 { return 1 }), nil
}

func (d *Design) run3D(ctx context.Context, v device.Values, fine model.Fineness) (*session.Result, *model.Model, error) {
	if fine == (model.Fineness{}) {
		fine = d.opt.Fineness
	}
	shape, err := model.NewShape(d.File, v, fine)
	if err != nil {
		return nil, nil, err
	}
	m, err := shape.At(v, d.conditions, d.opt.Mode)
	if err != nil {
		return nil, nil, err
	}
	res, err := session.Run(ctx, m, d.spec(m, v, 0))
	return res, m, err
}

// AskAt is Ask in air of another temperature; Options.Ambient must have been set. Surroundings, sky and ground whose temperatures
// are stated keep them.
func (d *Design) AskAt(ctx context.Context, v device.Values, airK float64) (*Outcome, error) {
	at := make(device.Values, len(v)+1)
	for p, x := range v {
		at[p] = x
	}
	at[d.path] = airK
	return d.Ask(ctx, at)
}

// airTolK is how closely WarmestAir is found: well below what a person knows of the air.
const airTolK = 0.2

// HasAir tells whether the air temperature can be changed.
func (d *Design) HasAir() bool { return d.path != "" }

// WarmestAir is the air temperature at which a design under values v just lasts, K: +Inf where it lasts over all of the span that was
// trained for, -Inf where it lasts nowhere in it. before is what Ask gave at these values. Headroom falls as the air warms, by
// about one kelvin per kelvin, so a secant finds it in a few sessions.
func (d *Design) WarmestAir(ctx context.Context, v device.Values, before *Outcome) (float64, error) {
	from := d.AirK
	if x, ok := v[d.path]; ok {
		from = x
	}
	lo, hi := d.AirK-AmbientSpanK, d.AirK+AmbientSpanK
	if math.IsInf(before.HeadroomK, 1) {
		return math.Inf(1), nil
	}
	type point struct{ airK, headK float64 }
	a := point{from, before.HeadroomK}
	slope := -1.0
	clear, missed := point{math.Inf(-1), math.Inf(1)}, point{math.Inf(1), math.Inf(-1)} // nearest known on either side
	for range 8 {
		if a.headK > 0 && a.airK > clear.airK {
			clear = a
		} else if a.headK <= 0 && a.airK < missed.airK {
			missed = a
		}
		if math.Abs(a.headK) < airTolK || missed.airK-clear.airK < airTolK {
			return a.airK - a.headK/slope, nil
		}
		if a.airK >= hi && a.headK > 0 {
			return math.Inf(1), nil
		}
		if a.airK <= lo && a.headK <= 0 {
			return math.Inf(-1), nil
		}
		next := math.Max(lo, math.Min(hi, a.airK-a.headK/slope))
		if !(next > clear.airK && next < missed.airK) {
			next = (clear.airK + missed.airK) / 2
		}
		o, err := d.AskAt(ctx, v, next)
		if err != nil {
			return 0, err
		}
		b := point{next, o.HeadroomK}
		if s := (b.headK - a.headK) / (b.airK - a.airK); s < -0.2 && s > -5 {
			slope = s
		}
		a = b
	}
	return a.airK, nil
}

// Anchor takes what a finer 3-D run of the same design at the best values says beyond the stand-in: for each watched temperature the
// ratio of the rises over the air, late in the run.
func (d *Design) Anchor(ctx context.Context, fine *session.Result) error {
	res, _, err := d.Run(ctx, d.opt.Best, 0)
	if err != nil {
		return err
	}
	d.fineRatio = risesOver(fine, res)
	return nil
}

// A rise below leastRiseK tells no ratio; neither finer cells nor sizes in doubt change one by more than mostApart.
const leastRiseK, mostApart = 2.0, 1.5

// risesOver is, by name of the curve, the rise over the air in a as a multiple of that in b, late in the shorter of the two runs but
// as long as both were at full power.
func risesOver(a, b *session.Result) map[string]float64 {
	atS := math.Inf(1)
	for _, r := range []*session.Result{a, b} {
		atS = math.Min(atS, r.Own.AtS)
		if r.End.Kind == session.Dimmed {
			atS = math.Min(atS, r.End.AtS)
		}
	}
	out := map[string]float64{}
	for i := range a.Series {
		for k := range b.Series {
			if sa, sb := &a.Series[i], &b.Series[k]; sa.Name == sb.Name && sa.Kind == sb.Kind {
				riseA, riseB := valueAt(a.TimeS, sa.ValueK, atS)-a.AmbientK, valueAt(b.TimeS, sb.ValueK, atS)-b.AmbientK
				if riseA > leastRiseK && riseB > leastRiseK {
					out[sa.Name] = math.Max(1/mostApart, math.Min(mostApart, riseA/riseB))
				}
			}
		}
	}
	return out
}

// sizeEffect is what one size in doubt does to the rises: by the name of the curve, the change of their logarithm per standard score.
type sizeEffect struct {
	of   model.Unknown
	perZ map[string]float64
}

// resize finds what sizes in doubt do, by two 3-D runs each on cells of their own: the reduced model knows one shape only.
func (d *Design) resize(ctx context.Context) error {
	for _, u := range d.Unknowns {
		if !isSize(u) {
			continue
		}
		var runs [2]*session.Result
		z := d.scoreOf(u, d.opt.Best)
		for i, step := range []float64{1, -1} {
			v := make(device.Values, len(d.opt.Best)+1)
			for p, x := range d.opt.Best {
				v[p] = x
			}
			v[u.Path] = u.Prior.At(z + step)
			var err error
			if runs[i], _, err = d.run3D(ctx, v, model.Fineness{}); err != nil {
				return err
			}
		}
		e := sizeEffect{u, risesOver(runs[0], runs[1])}
		for name, r := range e.perZ {
			e.perZ[name] = math.Log(r) / 2
		}
		d.sizes = append(d.sizes, e)
	}
	return nil
}

// scoreOf is an unknown's standard score under values v.
func (d *Design) scoreOf(u model.Unknown, v device.Values) float64 {
	if x, ok := v[u.Path]; ok {
		return u.Prior.Score(x)
	}
	return 0
}

// ratioAt is by how much a curve's rise at values v is to be multiplied: for finer cells, and for sizes that are not those of the shape.
func (d *Design) ratioAt(v device.Values) func(series string) float64 {
	return func(series string) float64 {
		r, ok := d.fineRatio[series]
		if !ok {
			r = 1
		}
		for _, e := range d.sizes {
			r *= math.Exp(e.perZ[series] * (d.scoreOf(e.of, v) - d.scoreOf(e.of, d.opt.Best)))
		}
		return r
	}
}

// outcome reads what matters from a session at full power.
func (d *Design) outcome(res *session.Result, m *model.Model, ratio func(series string) float64) *Outcome {
	curve := func(i int) []float64 {
		s := &res.Series[i]
		r := ratio(s.Name)
		if r == 1 {
			return s.ValueK
		}
		out := make([]float64, len(s.ValueK))
		for k, t := range s.ValueK {
			out[k] = t + (r-1)*(t-res.AmbientK)
		}
		return out
	}
	o := &Outcome{GoalS: res.Own.AtS, EndS: res.Own.AtS, Kind: res.Own.Kind, OwnS: res.Own.AtS, HeadroomK: math.Inf(1), MarginK: math.Inf(1),
		SkinK: math.NaN(), BatteryS: math.NaN(), TimeS: res.TimeS, ActsS: math.Inf(1), Reads: map[string][]float64{}}
	for i := range m.Parts {
		o.PartKg = append(o.PartKg, m.Parts[i].MassKg)
	}
	if w := fullDrawW(m); w > 0 {
		o.BatteryS = m.Battery.EnergyJ / w
	}
	var bounds []bound
	for _, g := range res.Gates {
		name := res.Series[g.Series].Name
		if g.Kind == "trip" {
			bounds = append(bounds, bound{g.Series, g.LimitK, session.Stopped, name + " stops it", name})
		} else {
			bounds = append(bounds, bound{g.Series, g.LimitK, session.Dimmed, name + " dims it", name})
		}
	}
	next := 0 // sensors obey nothing here, so that all limits are those of skin, cell and glue, in the order of their curves
	skin := -1
	for i := range res.Series {
		switch s := &res.Series[i]; s.Kind {
		case "skin", "cell", "glue":
			l := &res.Limits[next]
			bounds = append(bounds, bound{i, l.LimitK, session.LimitPassed, l.Name, l.Name})
			if s.Kind == "skin" && skin < 0 {
				skin = i
			}
			next++
		case "place":
			o.Reads[s.Name] = curve(i)
		case "sensor":
			if o.SensorK == nil {
				o.SensorK = curve(i)
			}
		}
	}
	for _, b := range bounds {
		t := curve(b.series)
		for k := range t {
			if h := b.limitK - t[k]; h < o.HeadroomK {
				o.HeadroomK, o.Nearest = h, b.name
			}
		}
		if at := reached(res.TimeS, t, b.limitK); at < o.EndS {
			o.EndS, o.Kind, o.By = at, b.kind, b.by
		}
		if b.kind != session.LimitPassed {
			o.ActsS = math.Min(o.ActsS, reached(res.TimeS, t, b.limitK))
		}
		if b.kind == session.Stopped {
			o.OwnS = math.Min(o.OwnS, reached(res.TimeS, t, b.limitK))
		}
	}
	for _, b := range bounds {
		if b.kind != session.Dimmed {
			o.MarginK = math.Min(o.MarginK, b.limitK-highestTo(res.TimeS, curve(b.series), o.OwnS))
		}
	}
	if skin >= 0 {
		o.SkinK = highestTo(res.TimeS, curve(skin), o.OwnS)
	}
	return o
}

// reached is when a curve first comes to a limit, s; +Inf when it does not.
func reached(timeS, t []float64, limitK float64) float64 {
	for k := range t {
		if t[k] < limitK {
			continue
		}
		if k == 0 {
			return timeS[0]
		}
		return timeS[k-1] + (limitK-t[k-1])/(t[k]-t[k-1])*(timeS[k]-timeS[k-1])
	}
	return math.Inf(1)
}

// highestTo is a curve's highest value up to a time.
func highestTo(timeS, t []float64, untilS float64) float64 {
	top := valueAt(timeS, t, untilS)
	for k := range t {
		if timeS[k] > untilS {
			break
		}
		top = math.Max(top, t[k])
	}
	return top
}

// valueAt reads a curve at a time, by straight lines; beyond its ends it is level.
func valueAt(timeS, t []float64, atS float64) float64 {
	n := min(len(timeS), len(t))
	k := sort.SearchFloat64s(timeS[:n], atS)
	switch {
	case n == 0:
		return math.NaN()
	case k == 0:
		return t[0]
	case k >= n:
		return t[n-1]
	}
	w := (atS - timeS[k-1]) / (timeS[k] - timeS[k-1])
	return t[k-1] + w*(t[k]-t[k-1])
}

// At reads a curve of the outcome at a time, K.
func (o *Outcome) At(curve []float64, atS float64) float64 { return valueAt(o.TimeS, curve, atS) }

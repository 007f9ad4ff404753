package session

import (
	"errors"
	"fmt"
	"math"
	"sort"

	"finwright/internal/heat"
	"finwright/internal/unit"
)

// finish works out margins, hottest place, ledger and section at the device's end, then lets it cool.
func (r *run) finish() error {
	res, m := r.res, r.m
	defer func() { // limits and a soak-back are found after the fact
		sort.SliceStable(res.Events, func(a, b int) bool { return res.Events[a].AtS < res.Events[b].AtS })
	}()
	endPower := append([]float64(nil), r.c.powerW...)
	if res.Own.Kind != TimeOver {
		// the power that was on up to the end, for the ledger and for where it would settle
		r.c.running = true
		r.c.setPower()
		copy(endPower, r.c.powerW)
		r.c.running = false
		r.c.setPower()
	}
	tK := r.st.TK()
	res.Steps = r.st.Stats().Steps
	if r.spec.Brief {
		if !r.spec.Bare {
			if p := m.HottestReach(); p != nil {
				res.Hottest = Outflow{Name: p.Name, HighestK: p.Read(tK, r.films)}
			}
		}
		r.margins()
		return nil
	}
	for i := range m.Parts {
		mean, top := m.PartProbe(i, false).Read(tK, r.films), m.PartProbe(i, true).Read(tK, r.films)
		ps := PartState{Name: m.Parts[i].Name, MeanK: mean, HighestK: top, MassKg: m.Parts[i].MassKg, CapacityJK: m.Parts[i].CapacityJK}
		for s := range m.Sources {
			if m.Sources[s].Part == i {
				ps.HeatW += endPower[s]
			}
		}
		res.Parts = append(res.Parts, ps)
	}
	b := r.st.Balance()
	res.Balance = Balance{InJ: b.InJ, SunJ: b.GainJ, OutJ: b.OutJ, StoredJ: b.StoredJ, ClosureRel: b.ClosureRel}
	res.Ledger = ledger(m, tK, r.st, endPower, res.Own.AtS)
	for _, o := range res.Ledger.Outflows {
		if o.HighestK > res.Hottest.HighestK && o.Reach {
			res.Hottest = o
		}
	}
	res.Section = m.SectionOf(tK, &m.Under)
	if err := r.settle(endPower); err != nil {
		return err
	}
	r.margins()
	return r.coolDown()
}

// settleTolK is how well a temperature of rest need be known: tenths are shown.
const settleTolK = 1e-3

// settle finds where everything would come to rest if the power at the end stayed on for ever.
func (r *run) settle(powerW []float64) error {
	steady, _, err := heat.Steady(r.ctx, r.m.Heat, powerW, heat.Options{Workers: r.spec.Workers, LinTolK: settleTolK}, r.st.TK())
	var none *heat.NoWayOutError
	if errors.As(err, &none) {
		return nil // heat that cannot leave settles nowhere; the limits keep NaN
	}
	if err != nil {
		return err
	}
	films := r.m.Films(steady, r.st.Time())
	for _, w := range r.watch {
		if w.limit >= 0 {
			r.res.Limits[w.limit].SettleK = w.probe.Read(steady, films)
		}
	}
	return nil
}

// margins fills what is left of each limit, picks the nearest and says how many minutes there are between the end and the
// battery's.
func (r *run) margins() {
	res := r.res
	for i := range res.Limits {
		l := &res.Limits[i]
		l.MarginK = l.LimitK - l.HighestK
		if res.Nearest < 0 || l.MarginK < res.Limits[res.Nearest].MarginK {
			res.Nearest = i
		}
	}
	b := r.m.Battery
	if b == nil || !b.Discharges {
		return
	}
	switch fullW := r.c.fullDrawW(); {
	case fullW <= 0 || res.End.Kind == TimeOver:
	case res.End.Kind == BatteryEmpty:
		res.MarginMin = r.minutesToNearest()
	default:
		res.MarginMin = (res.End.AtS - b.EnergyJ/fullW) / 60
	}
}

// minutesToNearest estimates how long after the end the first limit would be reached if the power stayed on: each watched
// temperature goes on towards where it would settle at the rate it had at the end, as a single exponential. +Inf when none
// would be reached; NaN when settling was not worked out.
func (r *run) minutesToNearest() float64 {
	first := math.Inf(1)
	for _, w := range r.watch {
		if w.limit < 0 {
			continue
		}
		l := &r.res.Limits[w.limit]
		if math.IsNaN(l.SettleK) {
			return math.NaN()
		}
		v := r.res.Series[w.series].ValueK
		n := len(v)
		if l.SettleK <= l.LimitK || n < 3 {
			continue
		}
		rate := (v[n-1] - v[n-3]) / (r.res.TimeS[n-1] - r.res.TimeS[n-3]) // K/s
		if rate <= 0 {
			continue
		}
		tau := (l.SettleK - v[n-1]) / rate
		first = math.Min(first, tau*math.Log((l.SettleK-v[n-1])/(l.SettleK-l.LimitK)))
	}
	return first / 60
}

// coolDown follows a device that has stopped itself with the power that really remains, and tells of a soak-back and of when it could
// start again.
func (r *run) coolDown() error {
	if r.spec.CoolS <= 0 || r.res.Own.Kind != Stopped {
		return nil
	}
	res := r.res
	until := res.Own.AtS + r.spec.CoolS
	top := make([]float64, len(r.c.probes))
	topS := make([]float64, len(r.c.probes))
	atEnd := make([]float64, len(r.c.probes))
	again := make([]bool, len(r.c.probes))
	for k, p := range r.c.probes {
		top[k] = p.Read(r.st.TK(), r.films)
		atEnd[k] = top[k]
		again[k] = res.Own.Kind != Stopped // an empty battery does not start again
	}
	for r.st.Time() < until-1e-6 {
		s, err := r.st.Advance(r.ctx, until)
		if err != nil {
			return err
		}
		r.samples(s.FromS, s.ToS)
		r.leftJ = math.Max(0, r.leftJ-r.c.drawW*(s.ToS-r.leftAtS))
		r.leftAtS = s.ToS
		for k, p := range r.c.probes {
			t := p.Read(r.st.TK(), r.films)
			if t > top[k] {
				top[k], topS[k] = t, s.ToS
			}
			if !again[k] && t <= r.c.againK[k] {
				again[k] = true
				at := r.locate(s.FromS, s.ToS, func(x float64) bool { return r.readAt(p, x) <= r.c.againK[k] })
				res.Events = append(res.Events, Event{at, fmt.Sprintf("%s is down to %s: it could start again", r.c.names[k], unit.Format(r.c.againK[k], unit.Temperature))})
			}
		}
	}
	for k := range top {
		if top[k] > atEnd[k]+0.5 {
			res.Events = append(res.Events, Event{topS[k], fmt.Sprintf("soak-back: %s still rose to %s after the end", r.c.names[k], unit.Format(top[k], unit.Temperature))})
		}
	}
	return nil
}

package benchtest

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/mat"

	"finwright/internal/curve"
	"finwright/internal/device"
	"finwright/internal/model"
	"finwright/internal/session"
	"finwright/internal/unit"
	"finwright/internal/work"
)

// Logged is one probe's cleaned readings.
type Logged struct {
	Name, At string
	ErrorK   float64 // half width of the 90 % interval of its constant error; zero takes that of a planned probe
	curve.Samples
}

// Log is a test's log, with its time 0 at switch-on.
type Log struct {
	Probes []Logged
	Room   curve.Samples // may be empty
	// Ended is how the run ended, when the person says so; EndS when, zero: found in the log.
	Ended EndedBy
	EndS  float64
	// Before are readings of the stock device at the same places, each with its room, by place.
	Before map[string]curve.Series
}

// EndedBy is how a run ended.
type EndedBy string

// The ways.
const (
	EndNotSaid EndedBy = ""
	EndByHeat  EndedBy = "stopped itself"
	EndEmpty   EndedBy = "battery empty"
	EndByHand  EndedBy = "switched off by hand"
	EndRunning EndedBy = "still running"
)

// Verdict is what a log says.
type Verdict struct {
	Device, Design string
	Invented       bool
	RoomK, StartK  float64
	RoomErrorK     float64 // half width of its 90 % interval
	RoomFrom       string  // where the room's temperature comes from
	RoomDriftK     float64 // last less first; taken off the readings as far as the device feels it

	Ended  EndedBy
	EndS   float64
	Said   bool                // the person said so
	Chance map[EndedBy]float64 // of the ways that were weighed, when it was not said; nil otherwise

	Planned Ending // how it was expected to end, all as planned
	Curves  []Curve
	Points  []Point
	Ahead   []Settling // where the probes would have gone on to; none where the device ended by itself or would have before
	// Fits says whether the readings can be explained at all; Off by how many standard deviations they miss, root mean square.
	Fits bool
	Off  float64

	AsPlanned float64 // chance that no bond is at fault
	Bonds     []Suspicion
	Blamed    []int // indices into Bonds: the bond at fault, or those that the log cannot tell apart

	Margin  curve.Estimate // K, of the sensor nearest to its act, at the end of the run; refused without a sensor
	Sensor  string
	Power   curve.Estimate // W, from the slope at switch-on and the model's heat capacity
	PowerW  float64        // the model's
	Pairs   []Before
	Forward []Forecast
	Next    []string
	Taught  []Taught
}

// Curve is what one probe's curve says on its own.
type Curve struct {
	Name, At string
	Tau      curve.Estimate // s
	Steady   curve.Estimate // rise over the room it comes to, K
	Seen     curve.Estimate // share of the whole change that was seen
	Two      bool           // two exponentials were likelier than one
	Trend    string         // over the last part of a long run with the room's drift taken off
	Verdict  curve.Verdict
	Refused  string // why there is none of these
}

// Point is one reading beside the model's.
type Point struct {
	Probe    string
	AtS      float64
	ReadK    float64 // with the room's drift taken off
	PlannedK float64
	SdK      float64 // of all doubt in PlannedK and the reading
	FoundK   float64 // the model with what the test found
}

// Settling is where a place goes on to after the log's end, by the model with what was found.
type Settling struct {
	Probe, At        string
	Share            float64 // of the rise to LaterK that had been made at the log's end
	LaterK, LoK, HiK float64 // settled, or at the battery's end
	LaterS           float64 // when nineteen twentieths of that rise are made
}

// Before is one place before and after.
type Before struct {
	At string
	curve.Pair
	Failed string
}

// Forecast is how the design would do elsewhere, by draws of what is left in doubt.
type Forecast struct {
	Words        string
	RoomK        float64
	SunWm2       float64
	Kinds        map[session.EndKind]int
	LoS, S, HiS  float64
	Lasts        float64 // share of the draws that get to the battery's end, or to the time asked for, within the device's own limits
	HandTooHot   float64 // share in which the hottest place passes the limit for a hand
	HottestK     float64 // middle of the draws
	Draws        int
	MarginLoK    float64 // nearest sensor's margin at the end, 5 % and 50 % of the draws; NaN without a sensor
	MarginK      float64
	DeviceEndsIn string
}

// Taught is a figure that the test has narrowed.
type Taught struct {
	About      string
	Dim        unit.Dim
	WasLo, Was float64
	WasHi      float64
	Lo, Mid    float64
	Hi         float64
	Narrowed   float64
}

// ErrNoProbe is returned for a log without a probe at a place of the device.
var ErrNoProbe = errors.New("no column of the log has a place on the device: say where each probe was, such as: --channel 'back=shell.back centre'")

// sunny is the direct sun of the verdict, W/m², on the worst side: a clear summer noon. Common practice, no source.
const sunny = 800.0

// hotRoomK is the other room of the verdict.
const hotRoomK = zeroC + 35

// Judge holds a design's model against the log of its test.
func Judge(ctx context.Context, f *device.File, log Log, opt Options) (*Verdict, error) {
	if len(log.Probes) == 0 {
		return nil, ErrNoProbe
	}
	v := &Verdict{Device: f.Device, Design: opt.Retrofit, Invented: f.Invented}
	if v.Design == "" {
		v.Design = "stock"
	}
	lastS := 0.0
	for _, p := range log.Probes {
		if p.Len() == 0 {
			return nil, fmt.Errorf("probe %q has no readings that can be used", p.Name)
		}
		lastS = math.Max(lastS, p.TimeS[p.Len()-1])
	}
	if lastS < leastLogS {
		return nil, fmt.Errorf("the log ends after %.0f s: it shows nothing yet; let the test run for %.0f min at least", lastS, leastLogS/60)
	}
	ended, endS := log.Ended, log.EndS
	if endS == 0 {
		if endS = offAt(log.Probes); endS == 0 {
			endS = lastS
			if ended == EndNotSaid {
				ended = EndRunning
			}
		}
	}
	v.EndS, v.Said = endS, log.Ended != EndNotSaid
	v.room(f, &log, &opt)

	r, err := newRig(f, opt)
	if err != nil {
		return nil, err
	}
	r.untilS = math.Max(r.untilS, endS*1.02+30)
	draws := opt.Draws
	if draws <= 0 {
		draws = 16
	}
	r.counting(opt.Progress, r.runsNeeded()+3*draws)
	watch := make([]string, len(log.Probes))
	for i, p := range log.Probes {
		if _, err := r.mid.Probe(p.At); err != nil {
			return nil, fmt.Errorf("probe %q: %w", p.Name, err)
		}
		watch[i] = p.At
	}
	e, err := r.measure(ctx, watch)
	if err != nil {
		return nil, err
	}
	tauS := slowest(&e.base, r.at.RoomK)
	asRead := slices.Clone(log.Probes)
	log.takeDriftOff(tauS)
	readings, channels, readK := r.logged(e, &log, endS)
	w, err := r.network(readings, channels)
	if err != nil {
		return nil, err
	}

	// how did it end? by what is known before its end is told
	_, best := r.weigh(w, readK, nil)
	if ended == EndNotSaid {
		ended = v.howEnded(w, w.given(w.misfit(readK, best.bond, best.factor)), best, e, endS)
	}
	v.Ended = ended
	var also func(guess) float64
	if len(e.base.gates) > 0 && len(e.base.timeS) > 1 {
		g := e.nearestGate(endS)
		margin := e.row(func(t *trace) float64 { return at(t.timeS, t.gates[g].marginK, endS) })
		v.Sensor = e.base.gates[g].sensor
		if ended == EndByHeat && e.base.gates[g].kind == "trip" {
			// the sensor read its own stop temperature then: one more reading, without a probe's constant error
			readings = append(readings, reading{channel: len(channels), tS: endS, riseK: stopSdK / modelShare, row: margin})
			channels = append(channels, channel{place: -1})
			readK = append(readK, 0)
			if w, err = r.network(readings, channels); err != nil {
				return nil, err
			}
		} else {
			also = func(h guess) float64 { // it had not stopped itself until then
				m, sd := w.given(w.misfit(readK, h.bond, h.factor)).of(margin, h.bond, h.factor)
				return normal(m / math.Max(sd, 0.1))
			}
		}
	}
	all, best := r.weigh(w, readK, also)
	v.blame(r, w, all, &log)
	after := w.given(w.misfit(readK, best.bond, best.factor))
	chi := w.chi2(w.misfit(readK, best.bond, best.factor))
	n := float64(len(readK))
	v.Off, v.Fits = math.Sqrt(chi/n), chi < n+3*math.Sqrt(2*n)
	v.points(r, w, after, best, &log, readK)
	v.Planned = r.ending(e)
	v.Power = curve.Estimate{Refused: "no curve can be read"}
	for _, p := range r.mid.FullPowerW() {
		v.PowerW += p
	}
	v.curves(e, asRead, log.Room, endS, tauS)
	v.margin(e, after, best, endS)
	v.settling(e, after, best, &log, endS)
	v.before(&log, endS)
	if err := v.forward(ctx, f, opt, r, w, readK, all, e, draws); err != nil {
		return v, err
	}
	v.taught(r, after, best)
	v.next(r, best)
	return v, nil
}

// leastLogS is the shortest log that is judged, s.
const leastLogS = 60.0

// stopSdK is how far the model's sensor may be from the device's at the moment of its stop, besides the stop's own doubt. Common
// practice, no source.
const stopSdK = 0.7

// offAt is when the first of the probes begins to cool for good, s; 0 when none does.
func offAt(probes []Logged) float64 {
	first := math.Inf(1)
	for _, p := range probes {
		if p.Len() < 30 {
			continue
		}
		sw, err := curve.Switches(p.Samples)
		if err != nil {
			continue
		}
		for k := len(sw) - 1; k >= 0; k-- {
			if sw[k].On || !sw[k].AtS.Given() || sw[k].AtS.Mid <= leastLogS {
				continue
			}
			first = math.Min(first, sw[k].AtS.Mid)
			break
		}
	}
	if math.IsInf(first, 1) {
		return 0
	}
	return first
}

// firstReadS is how long after switch-on a reading still counts as one before it.
const firstReadS = 20.0

// room fills in the room's and the start temperature from the log where nothing is said.
func (v *Verdict) room(f *device.File, log *Log, opt *Options) {
	set := &opt.Setting
	first, n := 0.0, 0
	for _, p := range log.Probes {
		if p.TimeS[0] <= firstReadS {
			first += p.TK[0]
			n++
		}
	}
	first /= float64(n)
	switch {
	case set.RoomK != 0:
		v.RoomFrom = "as said, here or in the device file"
	case log.Room.Len() > 0:
		set.RoomK, v.RoomFrom = log.Room.TK[0], "the room's probe at the start"
	case n > 0:
		set.RoomK, set.RoomErrorK, v.RoomFrom = first, 1, "the probes' first readings, ± 1 K: no probe of the room"
	default:
		set.RoomK, set.RoomErrorK, v.RoomFrom = roomFor(f), 2, "the device file, ± 2 K: no probe of the room"
	}
	if set.StartK == 0 && n > 0 && math.Abs(first-set.RoomK) > warmStart {
		set.StartK = first
	}
	if set.RoomErrorK == 0 {
		set.RoomErrorK = RoomErrorK
	}
	v.RoomK, v.StartK, v.RoomErrorK = set.RoomK, set.StartK, set.RoomErrorK
	if v.StartK == 0 {
		v.StartK = v.RoomK
	}
	if k := log.Room.Len(); k > 1 {
		v.RoomDriftK = log.Room.TK[k-1] - log.Room.TK[0]
	}
}

// warmStart is by how much the probes' first readings must differ from the room before the device counts as started warm, K: below it
// the probes' own errors could be it.
const warmStart = 2.0

// slowest is the time constant by which the run expected nears its end, s: when the probe slowest to get there has done 1-1/e of it.
func slowest(t *trace, roomK float64) float64 {
	worst := 0.0
	for _, k := range t.placeK {
		if len(k) == 0 {
			continue
		}
		want := k[0] + (1-1/math.E)*(k[len(k)-1]-k[0])
		for i := range k {
			if k[i] >= want {
				worst = math.Max(worst, t.timeS[i])
				break
			}
		}
	}
	return worst
}

// takeDriftOff takes off the readings what the room moved, as the device feels it through its time constant:
//
//	d felt/dt = (room - felt)/τ
func (log *Log) takeDriftOff(tauS float64) {
	room := log.Room
	if room.Len() < 2 {
		return
	}
	for i := range log.Probes {
		p := &log.Probes[i]
		tK := slices.Clone(p.TK)
		felt, last := room.TK[0], 0.0
		for k, s := range p.TimeS {
			for last < s { // in steps short against the time constant, each with the room at its middle
				to := math.Min(s, last+math.Max(tauS, 1)/5)
				felt += (at(room.TimeS, room.TK, (to+last)/2) - felt) * (1 - math.Exp(-(to-last)/math.Max(tauS, 1)))
				last = to
			}
			tK[k] -= felt - room.TK[0]
		}
		p.TK = tK
	}
}

// logged picks the readings that are compared: before switch-on, and some times of the run, each a mean of what was read around it.
func (r *rig) logged(e *effects, log *Log, endS float64) ([]reading, []channel, []float64) {
	var rs []reading
	var chs []channel
	var readK []float64
	for c := range log.Probes {
		p := &log.Probes[c]
		sd := p.ErrorK / z90
		if sd == 0 {
			sd = plannedErrorSd
		}
		chs = append(chs, channel{c, sd})
		add := func(s, k float64) {
			x := e.row(func(t *trace) float64 { return at(t.timeS, t.placeK[c], s) })
			rs, readK = append(rs, e.reading(c, s, x)), append(readK, k)
		}
		if p.TimeS[0] <= firstReadS {
			add(p.TimeS[0], p.TK[0])
		}
		lastS := -1.0
		for k := 1; k <= readTimes; k++ {
			want := endS * math.Pow(float64(k)/readTimes, 1.5)
			if s, tK, ok := around(p.Samples, want, endS); ok && s > lastS+1 && s > firstReadS {
				add(s, tK)
				lastS = s
			}
		}
	}
	return rs, chs, readK
}

// around is the mean of the readings within 1 % of the run of a time, or the nearest one within 6 %; nothing is filled in.
func around(p curve.Samples, want, endS float64) (s, tK float64, ok bool) {
	n, near := 0, -1
	for i, t := range p.TimeS {
		if t > endS+1 {
			break
		}
		if math.Abs(t-want) <= 0.01*endS {
			s, tK, n = s+t, tK+p.TK[i], n+1
		}
		if near < 0 || math.Abs(t-want) < math.Abs(p.TimeS[near]-want) {
			near = i
		}
	}
	if n > 0 {
		return s / float64(n), tK / float64(n), true
	}
	if near >= 0 && math.Abs(p.TimeS[near]-want) <= 0.06*endS {
		return p.TimeS[near], p.TK[near], true
	}
	return 0, 0, false
}

// howEnded weighs stop, empty battery and a hand on the switch by how likely each was at that moment. Beforehand they are alike, a hand a
// quarter of the others. Common practice, no source.
func (v *Verdict) howEnded(w *network, s state, best guess, e *effects, endS float64) EndedBy {
	const handOdds = 0.25
	odds := map[EndedBy]float64{EndByHand: handOdds / endS}
	if len(e.base.gates) > 0 {
		g := e.nearestGate(endS)
		of := func(sec float64) row {
			return e.row(func(t *trace) float64 { return at(t.timeS, t.gates[g].marginK, sec) })
		}
		m, sd := s.of(of(endS), best.bond, best.factor)
		before, _ := s.of(of(endS*0.9), best.bond, best.factor)
		slope := math.Max((before-m)/(0.1*endS), 0.1/60) // K/s by which the margin shrinks
		sd = math.Hypot(sd, stopSdK)
		odds[EndByHeat] = math.Exp(-m*m/(2*sd*sd)) / (sd * math.Sqrt(2*math.Pi)) * slope
	}
	if !math.IsInf(e.base.emptyS, 1) {
		m, sd := s.of(e.row(func(t *trace) float64 { return math.Log(t.emptyS) }), best.bond, best.factor)
		sd = math.Hypot(sd, 0.05)
		d := (math.Log(endS) - m) / sd
		odds[EndEmpty] = math.Exp(-d*d/2) / (sd * math.Sqrt(2*math.Pi)) / endS
	}
	sum, top, is := 0.0, 0.0, EndByHand
	for _, k := range []EndedBy{EndByHeat, EndEmpty, EndByHand} {
		sum += odds[k]
		if odds[k] > top {
			top, is = odds[k], k
		}
	}
	v.Chance = map[EndedBy]float64{}
	for k, o := range odds {
		v.Chance[k] = o / sum
	}
	return is
}

// blame says what the log says of each bond.
func (v *Verdict) blame(r *rig, w *network, all []guess, log *Log) {
	v.AsPlanned = chanceOf(all, -1)
	place := func(c int) string {
		if c < len(log.Probes) {
			return log.Probes[c].At
		}
		return "the device's own sensor at its stop"
	}
	for b := range r.bonds {
		x := r.suspicion(w, b, place)
		x.Chance = chanceOf(all, b)
		for i, q := range []float64{0.05, 0.5, 0.95} {
			x.Factor[i] = factorAt(all, b, q)
		}
		v.Bonds = append(v.Bonds, x)
	}
	if v.AsPlanned > 0.5 || len(v.Bonds) == 0 {
		return
	}
	// the likeliest, and those that the log holds nearly as likely, until they carry most of the blame
	order := make([]int, len(v.Bonds))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case v.Bonds[a].Chance > v.Bonds[b].Chance:
			return -1
		case v.Bonds[a].Chance < v.Bonds[b].Chance:
			return 1
		}
		return 0
	})
	sum := 0.0
	for _, b := range order {
		if sum > 0.8*(1-v.AsPlanned) || v.Bonds[b].Chance < 0.05 {
			break
		}
		v.Blamed = append(v.Blamed, b)
		sum += v.Bonds[b].Chance
	}
}

// points are the readings beside the model's.
func (v *Verdict) points(r *rig, w *network, after state, best guess, log *Log, readK []float64) {
	none, _ := r.network(nil, nil)
	prior := none.given(nil)
	for i := range w.readings {
		x := &w.readings[i]
		if x.channel >= len(log.Probes) {
			continue
		}
		p := Point{Probe: log.Probes[x.channel].Name, AtS: x.tS, ReadK: readK[i], PlannedK: x.base}
		_, sd := prior.of(x.row, -1, 1)
		p.SdK = math.Sqrt(sd*sd + w.noise(i, i))
		p.FoundK, _ = after.of(x.row, best.bond, best.factor)
		v.Points = append(v.Points, p)
	}
}

// settling finds where the probes would have gone on to.
func (v *Verdict) settling(e *effects, after state, best guess, log *Log, endS float64) {
	lastS := e.base.timeS[len(e.base.timeS)-1]
	if v.Ended != EndRunning && v.Ended != EndByHand || lastS < 1.1*endS {
		return
	}
	for g := range e.base.gates {
		margin := e.row(func(t *trace) float64 { return at(t.timeS, t.gates[g].marginK, lastS) })
		if m, _ := after.of(margin, best.bond, best.factor); m <= 0 {
			return // it would act before it settles
		}
	}
	for c, p := range log.Probes {
		reads := func(s float64) (k, sd float64) {
			return after.of(e.row(func(t *trace) float64 { return at(t.timeS, t.placeK[c], s) }), best.bond, best.factor)
		}
		endK, _ := reads(endS)
		laterK, sd := reads(lastS)
		if laterK-v.RoomK < leastRiseK {
			continue
		}
		sd = math.Hypot(sd, modelShare*(laterK-v.RoomK))
		a := Settling{Probe: p.Name, At: p.At, Share: (endK - v.RoomK) / (laterK - v.RoomK), LaterK: laterK, LoK: laterK - z90*sd, HiK: laterK + z90*sd, LaterS: lastS}
		for _, s := range e.base.timeS {
			if k, _ := reads(s); k-v.RoomK >= 0.95*(laterK-v.RoomK) {
				a.LaterS = s
				break
			}
		}
		v.Ahead = append(v.Ahead, a)
	}
}

// leastRiseK is the rise below which it is not told how much of it was seen, K.
const leastRiseK = 2.0

// curves reads each probe's curve on its own.
func (v *Verdict) curves(e *effects, probes []Logged, room curve.Samples, endS, tauS float64) {
	if room.Len() == 0 {
		room = curve.Samples{TimeS: []float64{0}, TK: []float64{v.RoomK}}
	}
	for i, p := range probes {
		c := Curve{Name: p.Name, At: p.At}
		s := curve.Series{Samples: p.Samples, Room: room}
		errorK := p.ErrorK
		if errorK == 0 {
			errorK = plannedErrorSd * z90
		}
		fit, err := curve.Warming(s, curve.WarmingOptions{ToS: endS, ProbeErrorK: errorK, RoomErrorK: RoomErrorK, Seed: 1})
		if err != nil {
			c.Refused = err.Error()
			no := curve.Estimate{Refused: c.Refused}
			c.Tau, c.Steady, c.Seen = no, no, no
		} else {
			c.Tau, c.Steady, c.Seen, c.Two = fit.TauS, fit.RiseK, fit.SeenShare, fit.Exponentials == 2
			if t := &e.base; !v.Power.Given() {
				v.power(fit, p.Samples, t, t.placeK[i], endS)
			}
		}
		for _, since := range []struct {
			fromS    float64
			readings int
		}{{math.Min(3*tauS, endS/2), 12}, {math.Min(2*tauS, endS/2), 4}, {0, 4}} { // few readings must reach further back
			from := since.fromS
			if inside(p.TimeS, from, endS) < since.readings {
				continue
			}
			if tr, err := curve.SteadyRise(s, from, endS, tauS); err == nil {
				c.Trend, c.Verdict = tr.Sentence(), tr.Verdict
			}
			break
		}
		v.Curves = append(v.Curves, c)
	}
}

func inside(timeS []float64, from, to float64) int {
	n := 0
	for _, s := range timeS {
		if s >= from && s <= to {
			n++
		}
	}
	return n
}

// capacityShare is how well the capacity that a probe stands for is known, half width of 90 %: that of parts' masses and specific heats.
// Common practice, no source.
const capacityShare = 0.25

// power reads the power from the slope of a probe's curve. The capacity that the probe stands for is the model's power over the slope of the
// model's own curve there, read in the same way: a probe on the warmest face stands for less than the whole device, one behind an air
// gap for something else again.
func (v *Verdict) power(fit *curve.Fit, s curve.Samples, t *trace, placeK []float64, endS float64) {
	var own curve.Samples
	step := max(1, s.Len()/mostOwn)
	for i := 0; i < s.Len() && s.TimeS[i] <= endS; i += step {
		own.TimeS, own.TK = append(own.TimeS, s.TimeS[i]), append(own.TK, at(t.timeS, placeK, s.TimeS[i]))
	}
	model, err := curve.Warming(curve.Series{Samples: own, Room: curve.Samples{TimeS: []float64{0}, TK: []float64{v.RoomK}}}, curve.WarmingOptions{Seed: 1})
	if err != nil {
		v.Power.Refused = "the model's own curve there cannot be read: " + err.Error()
		return
	}
	slopes, lag := make([]float64, len(model.Draws)), 0
	for i, d := range model.Draws {
		slopes[i] = d.SlowK / d.TauS
		if d.FastK*d.SlowK < 0 {
			lag++
		}
	}
	if 2*lag > len(slopes) {
		v.Power.Refused = "the probes begin to warm late, behind walls or air: put one on the part that is heated, or on metal joined to it"
		return
	}
	slopeKS := quantile(slopes, 0.5)
	if !(slopeKS > 0) {
		v.Power.Refused = "the probe hardly warms"
		return
	}
	c := v.PowerW / slopeKS
	v.Power = curve.PowerFromWarming(fit, unit.Quantity{Dim: unit.HeatCapacity, Kind: unit.Range, Lo: c * (1 - capacityShare), Mid: c, Hi: c * (1 + capacityShare)}, curve.WholeDevice)
}

// mostOwn is how many points of the model's own curve are read.
const mostOwn = 300

// margin is how far the nearest sensor was from its act at the end.
func (v *Verdict) margin(e *effects, after state, best guess, endS float64) {
	if len(e.base.gates) == 0 {
		v.Margin.Refused = "the device file names no sensor that stops or dims it"
		return
	}
	g := e.nearestGate(endS)
	m, sd := after.of(e.row(func(t *trace) float64 { return at(t.timeS, t.gates[g].marginK, endS) }), best.bond, best.factor)
	v.Margin = curve.Estimate{Lo: m - z90*sd, Mid: m, Hi: m + z90*sd}
}

// before compares with the stock device's log at the same places, at this room and equal power.
func (v *Verdict) before(log *Log, endS float64) {
	for _, p := range log.Probes {
		b, ok := log.Before[p.At]
		if !ok {
			continue
		}
		x := Before{At: p.At}
		one, err := curve.Warming(b, curve.WarmingOptions{ProbeErrorK: plannedErrorSd * z90, RoomErrorK: RoomErrorK, Seed: 1})
		var two *curve.Fit
		if err == nil {
			two, err = curve.Warming(curve.Series{Samples: p.Samples, Room: curve.Samples{TimeS: []float64{0}, TK: []float64{v.RoomK}}}, curve.WarmingOptions{ToS: endS, ProbeErrorK: plannedErrorSd * z90, RoomErrorK: RoomErrorK, Seed: 1})
		}
		if err == nil {
			x.Pair, err = curve.Compare(curve.Run{Fit: one}, curve.Run{Fit: two}, curve.Same{RoomK: v.RoomK, SameProbe: true})
		}
		if err != nil {
			x.Failed = err.Error()
			no := curve.Estimate{Refused: x.Failed}
			x.BeforeRiseK, x.AfterRiseK, x.LessK = no, no, no
		}
		v.Pairs = append(v.Pairs, x)
	}
}

// forward makes forecasts by draws of what the test left in doubt.
func (v *Verdict) forward(ctx context.Context, f *device.File, opt Options, r *rig, w *network, readK []float64, all []guess, e *effects, draws int) error {
	v.Forward = []Forecast{{Words: "this room, still air", RoomK: r.at.RoomK}, {Words: "35 °C, still air", RoomK: hotRoomK}, {Words: "35 °C, full sun on its worst side", RoomK: hotRoomK, SunWm2: sunny}}
	values := make([]device.Values, draws)
	rng := rand.New(rand.NewPCG(opt.Seed, 0xbe7c))
	var margin *row
	if v.Ended != EndByHeat && len(e.base.gates) > 0 {
		g := e.nearestGate(v.EndS)
		x := e.row(func(t *trace) float64 { return at(t.timeS, t.gates[g].marginK, v.EndS) })
		margin = &x
	}
	for i := range values {
		g := drawn(all, (float64(i)+0.5)/float64(draws))
		s := w.given(w.misfit(readK, g.bond, g.factor))
		root := rootOf(s.cov)
		var z []float64
		for try := 0; try < 30; try++ {
			z = s.draw(root, rng)
			if margin == nil || margin.base+margin.shift(g.bond, g.factor)+mat.Dot(mat.NewVecDense(len(z), margin.perZ), mat.NewVecDense(len(z), z)) > 0 {
				break // a draw in which it would have stopped is none of this run
			}
		}
		n := len(r.unknowns)
		lnH := slices.Clone(z[n:])
		if g.bond >= 0 {
			lnH[g.bond] -= math.Log(g.factor)
		}
		values[i] = r.with(z[:n], lnH)
	}
	results := make([][]*session.Result, len(v.Forward))
	errs := make([]error, len(v.Forward)*draws)
	var jobs []func()
	for k := range v.Forward {
		fc := &v.Forward[k]
		design, _, err := f.Variant(opt.Retrofit)
		if err != nil {
			return err
		}
		g, _ := bench(design, Setting{RoomK: fc.RoomK, SunWm2: fc.SunWm2, Mode: opt.Setting.Mode})
		shape, err := model.NewShape(r.free(g), r.base, r.fine)
		if err != nil {
			return err
		}
		results[k] = make([]*session.Result, draws)
		for i := range values {
			x := make(device.Values, len(values[i]))
			for p, y := range values[i] {
				x[p] = y
			}
			x = r.unbiased(x)
			x[roomPath] = fc.RoomK
			at := len(jobs)
			jobs = append(jobs, func() {
				m, err := shape.At(x, nil, "")
				if err == nil {
					results[k][i], err = session.Run(ctx, m, session.Spec{Values: x, Brief: true, TolK: tolK, Workers: 1})
				}
				errs[at] = err
				r.say(1)
			})
		}
	}
	if err := work.InParallel(ctx, r.workers, jobs); err != nil {
		return err
	}
	if err := errors.Join(errs...); err != nil {
		return err
	}
	for k := range v.Forward {
		v.Forward[k].take(results[k])
	}
	return nil
}

// drawn is the hypothesis at a share of all their probability.
func drawn(all []guess, share float64) guess {
	sum := 0.0
	for _, g := range all {
		if sum += g.share; sum >= share {
			return g
		}
	}
	return all[0]
}

// rootOf is a lower triangular root of a covariance that may be singular.
func rootOf(c *mat.SymDense) *mat.TriDense {
	n := c.SymmetricDim()
	jitter := mat.NewSymDense(n, nil)
	jitter.CopySym(c)
	for i := 0; i < n; i++ {
		jitter.SetSym(i, i, c.At(i, i)+1e-9)
	}
	var chol mat.Cholesky
	var l mat.TriDense
	if !chol.Factorize(jitter) {
		l := mat.NewTriDense(n, mat.Lower, nil)
		for i := 0; i < n; i++ {
			l.SetTri(i, i, math.Sqrt(math.Max(0, c.At(i, i))))
		}
		return l
	}
	chol.LTo(&l)
	return &l
}

// draw is one draw of unknowns and bonds; scores stay within ± 2.5 prior standard deviations of the state's mean.
func (s state) draw(root *mat.TriDense, rng *rand.Rand) []float64 {
	n := s.mean.Len()
	x := mat.NewVecDense(n, nil)
	for i := range n {
		x.SetVec(i, math.Max(-2.5, math.Min(2.5, rng.NormFloat64())))
	}
	var y mat.VecDense
	y.MulVec(root, x)
	y.AddVec(&y, s.mean)
	return slices.Clone(y.RawVector().Data)
}

// take fills a forecast in from its draws.
func (fc *Forecast) take(results []*session.Result) {
	fc.Kinds, fc.Draws = map[session.EndKind]int{}, len(results)
	var ends, hottest, margins []float64
	for _, res := range results {
		fc.Kinds[res.Own.Kind]++
		own := res.Own
		dimmed := res.End.Kind == session.Dimmed
		if dimmed {
			own = res.End
		}
		ends = append(ends, own.AtS)
		if (own.Kind == session.BatteryEmpty || own.Kind == session.TimeOver) && !dimmed {
			fc.Lasts++
		}
		least := math.Inf(1)
		for i := range res.Limits {
			l := &res.Limits[i]
			switch l.Kind {
			case "skin":
				if l.MarginK < 0 {
					fc.HandTooHot++
				}
			case "trip", "step":
				least = math.Min(least, l.MarginK)
			}
		}
		hottest = append(hottest, res.Hottest.HighestK)
		if !math.IsInf(least, 1) {
			margins = append(margins, least)
		}
	}
	n := float64(len(results))
	fc.Lasts, fc.HandTooHot = fc.Lasts/n, fc.HandTooHot/n
	fc.LoS, fc.S, fc.HiS = quantile(ends, 0.05), quantile(ends, 0.5), quantile(ends, 0.95)
	fc.HottestK = quantile(hottest, 0.5)
	fc.MarginLoK, fc.MarginK = quantile(margins, 0.05), quantile(margins, 0.5)
}

// quantile by straight lines between the order statistics (i - ½)/n; NaN of nothing.
func quantile(x []float64, q float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	s := slices.Clone(x)
	slices.Sort(s)
	p := math.Max(0, math.Min(float64(len(s)-1), q*float64(len(s))-0.5))
	i := min(int(p), len(s)-2)
	if i < 0 {
		return s[0]
	}
	return s[i] + (p-float64(i))*(s[i+1]-s[i])
}

// taught lists what the test narrowed, most first.
func (v *Verdict) taught(r *rig, after state, best guess) {
	for i := range r.unknowns {
		u := &r.unknowns[i]
		was, is := math.Sqrt(r.cov[i][i]), math.Sqrt(math.Max(0, after.cov.At(i, i)))
		if was <= 0 || 1-is/was < 0.1 {
			continue
		}
		z := u.score + after.mean.AtVec(i)
		v.Taught = append(v.Taught, Taught{About: u.About, Dim: u.Dim, WasLo: u.Prior.At(u.score - z90*was), Was: u.Prior.At(u.score), WasHi: u.Prior.At(u.score + z90*was),
			Lo: u.Prior.At(z - z90*is), Mid: u.Prior.At(z), Hi: u.Prior.At(z + z90*is), Narrowed: 1 - is/was})
	}
	slices.SortStableFunc(v.Taught, func(a, b Taught) int {
		switch {
		case a.Narrowed > b.Narrowed:
			return -1
		case a.Narrowed < b.Narrowed:
			return 1
		}
		return 0
	})
}

package app

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"finwright/internal/benchlog"
	"finwright/internal/curve"
	"finwright/internal/device"
	"finwright/internal/follow"
	"finwright/internal/forecast"
	"finwright/internal/learn"
	"finwright/internal/report"
	"finwright/internal/unit"
)

// WatchOptions steer Watch.
type WatchOptions struct {
	Settings string   // what is said of the log, as a device file's log reading says it
	Device   string   // device file; empty: the curve alone
	Design   string   // a retrofit of it; empty: stock
	Probes   []string // "column = place", where the device file does not say it
	Room     string   // column of the room's temperature
	Ambient  string   // temperature of the room, such as 23 °C ± 1 K
	WindMS   float64  // air speed on the bench; 0: still
	Limit    string   // without a device file: the temperature that must not be reached
	Priors   bool     // do not learn from the stock runs first
	Once     bool     // take what is there, and do not wait for more
	Narrow   float64  // half-width of the end's interval, as a share, at which the answer counts as known; 0: the forecast's own
	Seed     uint64
	Every    time.Duration    // time between looks at the log; 0: a second
	Waiting  func(why string) // is told, when set, why there is nothing to show yet
}

// watching is the state of one test under watch.
type watching struct {
	src  follow.Source
	opt  WatchOptions
	said benchlog.Options
	tell Tell

	design *device.File
	file   *device.File
	fc     *forecast.Forecast
	probes []forecast.Probe
	column []string // of each probe
	limitK float64

	last    report.WatchFigures
	told    bool    // there was something to show
	askedS  float64 // time of the test for which the last forecast was made
	waiting string
}

// Watch follows the log of a running test and shows a forecast each time there is something new to say. It returns the last one: when
// the device has ended, when the source has, after one look when asked, or with the context's error after Ctrl-C. A source that is
// only a file is waited for as long as it takes.
func Watch(ctx context.Context, src follow.Source, opt WatchOptions, tell Tell, show func(*report.WatchFigures)) (*report.WatchFigures, error) {
	w := &watching{src: src, opt: opt, tell: tell, askedS: math.Inf(-1)}
	if err := w.prepare(); err != nil {
		return nil, err
	}
	if opt.Every <= 0 {
		opt.Every = time.Second
	}
	waited := ""
	for {
		text, grew, ended, err := src.Look()
		if err != nil {
			return w.result(), err
		}
		from := time.Now()
		if grew || ended || opt.Once {
			told, err := w.take(ctx, text, ended || opt.Once)
			if err != nil {
				return w.result(), err
			}
			if told && show != nil {
				show(w.result())
			}
			if !w.told && w.waiting != waited && opt.Waiting != nil {
				waited = w.waiting
				opt.Waiting(waited)
			}
		}
		switch {
		case (ended || opt.Once) && !w.told:
			return nil, errors.New(w.waiting)
		case ended || opt.Once || w.last.Ended:
			w.last.Final = true
			return w.result(), nil
		}
		// a long log takes a while to read: it is not read so often
		pause := max(opt.Every, 4*time.Since(from))
		if err := sleep(ctx, pause); err != nil {
			if text, _, _, lerr := src.Look(); lerr == nil && opt.Device == "" { // a curve alone is quick to look at once more
				if _, terr := w.take(ctx, text, true); terr != nil {
					return w.result(), errors.Join(err, terr)
				}
			}
			w.last.Final = true
			return w.result(), err
		}
	}
}

func sleep(ctx context.Context, d time.Duration) error {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-t.C:
		return ctx.Err()
	}
}

// result is a copy of the last state; nil before there is one.
func (w *watching) result() *report.WatchFigures {
	if !w.told {
		return nil
	}
	r := w.last
	r.Notes = append(slices.Clone(w.src.Notes()), r.Notes...)
	return &r
}

// prepare reads what does not depend on the log, so that mistakes are told at once.
func (w *watching) prepare() error {
	var err error
	if w.said, err = benchlog.ParseOptions(w.opt.Settings); err != nil {
		return err
	}
	for _, p := range w.opt.Probes {
		if _, _, err := probeOption(p); err != nil {
			return err
		}
	}
	if w.opt.Device == "" {
		for _, only := range []struct{ said, flag string }{{w.opt.Design, "design"}, {w.opt.Ambient, "room"}} {
			if only.said != "" {
				return fmt.Errorf("--%s belongs to a device file: say which, with --device", only.flag)
			}
		}
		if w.opt.WindMS != 0 {
			return errors.New("--air belongs to a device file: say which, with --device")
		}
		if len(w.opt.Probes) > 0 {
			return errors.New("--channel belongs to a device file: say which, with --device")
		}
		if w.opt.Limit != "" {
			q, err := unit.Parse(w.opt.Limit, unit.Temperature)
			if err != nil {
				return fmt.Errorf("--limit: %w", err)
			}
			w.limitK = q.Mid
		}
		return nil
	}
	if w.opt.Limit != "" {
		return errors.New("--limit is for a test without a device file: the device file says itself at which temperatures its sensors act")
	}
	if w.file, err = device.Load(w.opt.Device); err != nil {
		return err
	}
	if w.design, _, err = w.file.Variant(w.opt.Design); err != nil {
		return err
	}
	w.last.Device, w.last.Design, w.last.Invented = w.file.Device, w.opt.Design, w.file.Invented
	if w.last.Design == "" {
		w.last.Design = "stock"
	}
	if w.opt.Ambient != "" {
		if _, err := unit.Parse(w.opt.Ambient, unit.Temperature); err != nil {
			return fmt.Errorf("--room: %w", err)
		}
	}
	return nil
}

// probeOption takes "column = place" apart.
func probeOption(text string) (column, place string, err error) {
	column, place, ok := strings.Cut(text, "=")
	column, place = strings.TrimSpace(column), strings.TrimSpace(place)
	if !ok || column == "" || place == "" {
		return "", "", fmt.Errorf(`--channel %q: expected a column of the log and where its probe is, such as "T1=shell.back centre"`, text)
	}
	return column, place, nil
}

// quietS is how much longer the test must have gone on before it is forecast anew: ten seconds, and later a fiftieth of its time.
func (w *watching) quietS() float64 { return math.Max(10, w.askedS/50) }

// take reads the log so far and makes a forecast where there is enough that is new. It says whether there is something to show.
func (w *watching) take(ctx context.Context, text []byte, last bool) (told bool, err error) {
	if len(text) == 0 {
		w.waiting = w.src.Name() + ": nothing came in that could be read; is it the right one?"
		return false, nil
	}
	l, err := w.read(text)
	if err != nil {
		if w.told {
			return false, nil // it was understood before: the rest of a row is still to come
		}
		w.waiting = err.Error()
		return false, nil
	}
	if !last && l.EndS < w.askedS+w.quietS() && l.EndS >= w.askedS {
		return false, nil
	}
	if l.EndS < w.askedS { // written anew: another test
		w.askedS = math.Inf(-1)
		w.fc, w.last.Ended = nil, false
	}
	if w.opt.Device == "" {
		err = w.curves(l)
	} else {
		err = w.device(ctx, l)
	}
	if errors.Is(err, errTooEarly) {
		w.waiting = fmt.Sprintf("%s: %v", w.src.Name(), err)
		return false, nil
	}
	if err != nil {
		return false, err
	}
	w.told, w.askedS = true, l.EndS
	return true, nil
}

// errTooEarly is what is waited for.
var errTooEarly = errors.New("there are no readings of the run yet")

// read understands the log so far. A device that sends readings without a time gets that of their coming.
func (w *watching) read(text []byte) (*logRead, error) {
	l, err := w.understand(text, w.said)
	s, live := w.src.(*follow.Stream)
	if err == nil || !live || w.said.IntervalS > 0 {
		return l, err
	}
	// is it only the time that is missing? Then it can be read by any interval, and by the time at which each line came
	any := w.said
	any.IntervalS = 1
	l, without := w.understand(text, any)
	if without != nil || l.log.Guess.Clock != benchlog.ClockSample {
		return nil, err
	}
	g := l.log.Guess
	delimiter := map[string]string{"semicolon": ";", "tab": "\t", "pipe": "|", "space": " "}[g.Options().Delimiter]
	comma := g.Decimal == "comma"
	if delimiter == "" {
		delimiter = ","
		if comma {
			delimiter = ";"
		}
	}
	stamped := s.Stamped(text, g.FirstLine, delimiter, comma)
	opt := w.said
	opt.Columns = slices.Clone(opt.Columns)
	for i := range opt.Columns {
		opt.Columns[i].Field++
	}
	again, without := w.understand(stamped, opt)
	if without != nil {
		return nil, err
	}
	again.note("it tells no time: each reading has that of its coming")
	return again, nil
}

func (w *watching) understand(text []byte, opt benchlog.Options) (*logRead, error) {
	return understandLog(w.src.Name(), opt, func(o benchlog.Options) (*benchlog.Log, error) {
		return benchlog.ReadWith(w.src.Name(), bytes.NewReader(text), o)
	})
}

// fill takes over what is the same for both kinds of forecast.
func (w *watching) fill(l *logRead) {
	w.last.File, w.last.NowS, w.last.Rows, w.last.Assumed, w.last.Notes = w.src.Name(), l.EndS, l.Rows, slices.Clone(l.Assumed), slices.Clone(l.Notes)
	w.last.Reading = l.Reading
	w.last.Read = nil
	for _, c := range l.log.Columns {
		r := l.readingsOf(c)
		x := report.WatchedColumn{Name: c}
		step := 1 + len(r.TimeS)/drawnReadings
		for i := 0; i < len(r.TimeS); i += step {
			x.TimeS, x.TK = append(x.TimeS, r.TimeS[i]), append(x.TK, r.TK[i])
		}
		w.last.Read = append(w.last.Read, x)
	}
}

// drawnReadings is how many readings of a column are kept for drawing.
const drawnReadings = 400

// readingsOf are a column's readings from the start of the run on.
func (l *logRead) readingsOf(column string) forecast.Readings {
	tr := l.fromStart([]string{column})[column]
	return forecast.Readings{TimeS: tr.TimeS, TK: tr.ValueK}
}

// curves makes the forecast of who has no device file.
func (w *watching) curves(l *logRead) error {
	w.fill(l)
	var room curve.Samples
	if w.opt.Room != "" {
		tr, ok := l.traces[w.opt.Room]
		if !ok {
			return w.noColumn(l, w.opt.Room)
		}
		room = curve.Samples{TimeS: tr.TimeS, TK: tr.ValueK}
	}
	w.last.Alone = nil
	for _, c := range l.log.Columns {
		if c == w.opt.Room {
			continue
		}
		s, err := forecast.FromCurve(c, w.untilStop(l, c), forecast.CurveOptions{LimitK: w.limitK, Room: room, ProbeErrorK: device.DefaultLogErrorK, Seed: w.opt.Seed})
		if err != nil {
			return fmt.Errorf("%s: %w", w.src.Name(), err)
		}
		w.last.Alone = append(w.last.Alone, *s)
	}
	if len(w.last.Alone) == 0 {
		return fmt.Errorf("%s has no column of temperatures to follow; finwright bench read shows how it is understood", w.src.Name())
	}
	w.last.LimitK = w.limitK
	w.ended(l, l.log.Columns, lastingFallShare)
	return nil
}

// untilStop are a column's readings up to where the device stopped, if it has.
func (w *watching) untilStop(l *logRead, column string) forecast.Readings {
	r := l.readingsOf(column)
	if atS, ok := l.stopped([]string{column}, lastingFallShare); ok {
		k, _ := slices.BinarySearch(r.TimeS, atS)
		r = forecast.Readings{TimeS: r.TimeS[:k], TK: r.TK[:k]}
	}
	return r
}

func (w *watching) noColumn(l *logRead, column string) error {
	return fmt.Errorf("%s has no column %q of temperatures; it has %s", w.src.Name(), column, strings.Join(l.log.Columns, ", "))
}

// device makes the forecast by the device file.
func (w *watching) device(ctx context.Context, l *logRead) error {
	w.fill(l)
	if w.fc == nil {
		if err := w.begin(ctx, l); err != nil {
			return err
		}
	}
	w.last.Assumed = append(w.last.Assumed, w.last.Taken...)
	fall := lastingFallShare
	for i := range w.design.Sensors {
		if len(w.design.Sensors[i].Steps) > 0 {
			fall = dimmedFallShare
		}
	}
	w.ended(l, w.column, fall)
	nowS := l.EndS
	if w.last.Ended {
		nowS = w.last.EndedS
	}
	readings := make([]forecast.Readings, len(w.column))
	for i, c := range w.column {
		r := l.readingsOf(c)
		k, _ := slices.BinarySearch(r.TimeS, nowS+1e-9)
		readings[i] = forecast.Readings{TimeS: r.TimeS[:k], TK: r.TK[:k]}
	}
	if w.last.Ended {
		// what was known just before says how it ended; draws that end a little earlier are as good as those that end then
		nowS *= 0.97
	}
	s, err := w.fc.Update(ctx, readings, nowS)
	if errors.Is(err, forecast.ErrImpossible) {
		w.last.Notes = append(w.last.Notes, err.Error())
		return nil
	}
	if err != nil {
		return err
	}
	w.last.State = s
	if w.last.Ended {
		w.last.EndedAs = w.fc.EndedAs(w.last.EndedS)
	}
	return nil
}

// begin makes the forecast's draws, once the log is there: it tells which columns there are and how warm the room is.
func (w *watching) begin(ctx context.Context, l *logRead) error {
	places, said := map[string]string{}, map[string]bool{}
	errorK := map[string]float64{}
	for i := range w.file.Runs {
		r := &w.file.Runs[i]
		for _, ch := range r.Channels {
			places[ch.Name] = ch.At
			if r.Error.Given() {
				errorK[ch.Name] = r.Error.Mid
			}
		}
	}
	for _, p := range w.opt.Probes {
		column, place, _ := probeOption(p) // prepare has read it
		if _, ok := l.traces[column]; !ok {
			return w.noColumn(l, column)
		}
		places[column], said[column] = place, true
	}
	w.column, w.probes, w.last.Taken = nil, nil, nil
	var at []string
	for _, c := range l.log.Columns {
		if place := places[c]; place != "" && c != w.opt.Room {
			if !said[c] {
				if err := placesFit(w.design, []string{place}); err != nil {
					w.last.Taken = append(w.last.Taken, fmt.Sprintf("%q is left out: the device file has it at %s, which this design does not have; say where it is now with --channel", c, place))
					continue
				}
			}
			p := forecast.Probe{Name: c, Place: place, OffsetK: errorK[c] / z90}
			if own, ok := l.class[c]; ok {
				p.OffsetK = own / z90
			}
			w.probes, w.column, at = append(w.probes, p), append(w.column, c), append(at, place)
		}
	}
	if len(at) == 0 {
		return fmt.Errorf("%s: where its probes are is not known: say it, such as --channel %q (it has %s)", w.src.Name(), first(l.log.Columns)+"=shell.back centre", strings.Join(l.log.Columns, ", "))
	}
	if err := placesFit(w.design, at); err != nil {
		return err
	}
	run := runOf(w.file, w.opt.Design, w.src.Name()) // nil: the file does not know of it
	room, err := w.room(l, run)
	if err != nil {
		return err
	}
	if w.opt.WindMS > 0 {
		run = nil // in other air than the file says
	}
	mode := ""
	switch {
	case run != nil:
		mode = run.Mode
		w.last.Taken = append(w.last.Taken, "air, sun, posture, mode and what it lies on are those of the file's run "+run.Label())
	case w.opt.WindMS > 0:
		w.last.Taken = append(w.last.Taken, "air of "+unit.Format(w.opt.WindMS, unit.Velocity)+", no sun; "+benchPosture)
	default:
		w.last.Taken = append(w.last.Taken, "still air (say otherwise with --air), no sun; "+benchPosture)
	}
	var learned []device.Values
	others := withoutLog(w.file, w.src.Name()) // what is learned must not know the log that it is held against
	if len(others.Runs) > 0 && !w.opt.Priors {
		if learned, err = w.learn(ctx, others); err != nil {
			return err
		}
	}
	w.tell.say("making the fast model", 0, 1)
	b, err := forecast.NewBench(ctx, w.tested(run, room), forecast.BenchOptions{Mode: mode, Places: at, Learned: learned, Seed: w.opt.Seed})
	if err != nil {
		return err
	}
	w.last.Taken = append(w.last.Taken, b.Warnings...)
	const draws = 400
	w.fc, err = forecast.New(ctx, b, w.probes, forecast.Options{Draws: draws, Seed: w.opt.Seed, NarrowFrac: w.opt.Narrow,
		Progress: func(runs int) {
			if runs <= draws {
				w.tell.say("drawing what is not known", float64(runs), draws)
			}
		}})
	return err
}

// benchPosture is said of what a bench takes from the device file.
const benchPosture = "posture and what it lies on are those of the device file's conditions"

func first(names []string) string {
	if len(names) == 0 {
		return "T1"
	}
	return names[0]
}

const z90 = 1.6448536269514722

// learn finds what the runs of others, the file without the log under watch, tell about the device.
func (w *watching) learn(ctx context.Context, others *device.File) ([]device.Values, error) {
	logs, err := openLogs(others)
	if err != nil {
		return nil, err
	}
	g, read := logs.forLearning(others)
	res, err := learn.Learn(ctx, g, learn.Options{Seed: w.opt.Seed, ReadLog: read, Draws: learnedDraws,
		Progress: func(done, expected int) { w.tell.say("learning from the runs", float64(done), float64(expected)) }})
	if err != nil {
		return nil, err
	}
	names := make([]string, len(others.Runs))
	for i := range names {
		names[i] = others.Runs[i].Label()
	}
	w.last.Taken = append(w.last.Taken, "what these runs taught is taken over: "+strings.Join(names, "; "))
	return res.Draws, nil
}

// learnedDraws is how many draws of what was learned are asked for: enough to tell how the unknowns go together.
const learnedDraws = 400

// tested is the design under the conditions of its run, or on a bench where the file knows of none.
func (w *watching) tested(run *device.Run, room device.Q) *device.File {
	if run != nil {
		return w.design.During(&run.Conditions, room)
	}
	return w.design.OnBench(room, w.opt.WindMS)
}

// room is the temperature of the room: as said, as the file says of the run, as logged, or as the probes read it before they warmed.
func (w *watching) room(l *logRead, run *device.Run) (device.Q, error) {
	var q unit.Quantity
	switch {
	case w.opt.Ambient == "" && w.opt.Room == "" && run != nil && run.Ambient.Given():
		q = run.Ambient.Quantity
	case w.opt.Ambient != "":
		var err error
		if q, err = unit.Parse(w.opt.Ambient, unit.Temperature); err != nil {
			return device.Q{}, err
		}
	default:
		mean, n := 0.0, 0.0
		from := w.column
		if w.opt.Room != "" {
			if _, ok := l.traces[w.opt.Room]; !ok {
				return device.Q{}, w.noColumn(l, w.opt.Room)
			}
			from = []string{w.opt.Room}
		}
		for _, c := range from {
			r := l.readingsOf(c)
			for i := range r.TK {
				if i < firstReadings && r.TimeS[i] <= startS || w.opt.Room != "" {
					mean += r.TK[i]
					n++
				}
			}
		}
		if n == 0 {
			return device.Q{}, errTooEarly
		}
		mean /= n
		what := "the probes' first readings"
		if w.opt.Room != "" {
			what = fmt.Sprintf("%q", w.opt.Room)
		}
		q = unit.RangeSI(mean-roomErrorK, mean+roomErrorK, unit.Temperature)
		w.last.Taken = append(w.last.Taken, fmt.Sprintf("the room and the device at the start: %s ± %.0f K, from %s; say it with --room where that is wrong", unit.Format(math.Round(10*mean)/10, unit.Temperature), roomErrorK, what))
	}
	return device.Q{Quantity: q, Path: "bench.ambient"}, nil // no path that runs may have taught of: this is another room
}

const (
	firstReadings = 5
	startS        = 60.0
	roomErrorK    = 1.0 // half width (90 %): a cheap probe after another, common practice, no source
)

// A device has ended when its probes have begun to cool and have lost such a share of their rise, or have cooled for so long: a power
// step cools too, but to another warm temperature. Common practice, no source.
const (
	lastingFallShare = 0.08
	dimmedFallShare  = 0.6
)

// stopped is when the columns' probes began to cool for good.
func (l *logRead) stopped(columns []string, share float64) (atS float64, ok bool) {
	atS = math.Inf(1)
	for _, x := range l.Columns {
		if !x.Temperature || !slices.Contains(columns, x.Name) || len(x.Switches) == 0 {
			continue
		}
		s := x.Switches[len(x.Switches)-1]
		tr := l.fromStart([]string{x.Name})[x.Name]
		n := len(tr.ValueK)
		if s.On || !s.AtS.Given() || s.AtS.Mid <= 0 || n == 0 {
			continue
		}
		top := slices.Max(tr.ValueK)
		if fell := top - tr.ValueK[n-1]; fell >= math.Max(share*(top-tr.ValueK[0]), 1) && s.AtS.Mid < atS {
			atS, ok = s.AtS.Mid, true
		}
	}
	return atS, ok
}

// ended notes that the device has ended.
func (w *watching) ended(l *logRead, columns []string, share float64) {
	if atS, ok := l.stopped(columns, share); ok {
		w.last.Ended, w.last.EndedS = true, atS
	}
}

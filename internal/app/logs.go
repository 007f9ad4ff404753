package app

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"finwright/internal/benchlog"
	"finwright/internal/compare"
	"finwright/internal/curve"
	"finwright/internal/device"
	"finwright/internal/learn"
	"finwright/internal/report"
	"finwright/internal/thermocouple"
	"finwright/internal/unit"
)

// logRead is one logger's file: what it says, cleaned, and how it was understood.
type logRead struct {
	report.LogFigures
	log    *benchlog.Log
	traces map[string]learn.Trace // temperatures by column, without what was dropped
	class  map[string]float64     // error of a column by its thermocouple's class, K
}

// cleanable is how many readings a curve needs before a spike or a flat line can be told from what the device did.
const cleanable = 30

// openLog reads a logger's file, turns thermocouples' voltages into temperatures, drops what the logger or the probe spoilt, and
// looks for the switch-on and the stop.
func openLog(path string, opt benchlog.Options) (*logRead, error) {
	return understandLog(path, opt, func(o benchlog.Options) (*benchlog.Log, error) { return benchlog.OpenWith(path, o) })
}

// understandLog is openLog for a log that read reads from anywhere; path is for messages.
func understandLog(path string, opt benchlog.Options, read func(benchlog.Options) (*benchlog.Log, error)) (*logRead, error) {
	opt, probes, err := wires(opt)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	opt.Convert = func(letter string, mV, coldC float64) (float64, error) {
		tK, err := probes[letter].ReadingK(mV, coldC+273.15)
		return tK - 273.15, err
	}
	log, err := read(opt)
	if err != nil {
		return nil, err
	}
	g, sum := log.Guess, log.Summary
	l := &logRead{log: log, traces: map[string]learn.Trace{}, class: map[string]float64{}}
	l.LogFigures = report.LogFigures{File: path, Understood: g.Words(), FirstRows: g.First, Assumed: slices.Clone(g.Questions), Rows: sum.Rows, EndS: sum.LastS, Reading: g.Options().String()}
	for _, f := range g.Findings {
		l.Notes = append(l.Notes, f.String())
	}
	for _, m := range sum.Missing {
		l.Notes = append(l.Notes, m.String())
	}
	for _, f := range sum.Findings {
		l.Notes = append(l.Notes, f.String())
	}
	for _, e := range log.Events {
		l.Events = append(l.Events, report.LogEvent(e))
	}
	if err := l.columns(probes); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	l.askStart()
	return l, nil
}

// wires are the thermocouple types that are said of a log's columns, by letter, and the options with just these letters. Types and
// classes that are not known are an error.
func wires(opt benchlog.Options) (benchlog.Options, map[string]thermocouple.Type, error) {
	out := map[string]thermocouple.Type{}
	opt.Columns = slices.Clone(opt.Columns)
	for i := range opt.Columns {
		c := &opt.Columns[i]
		if c.Thermocouple != "" {
			t, err := thermocouple.ParseType(c.Thermocouple)
			if err != nil {
				return opt, nil, fmt.Errorf("column %d: %w", c.Field, err)
			}
			c.Thermocouple = t.String()
			out[c.Thermocouple] = t
		}
		if c.Class == "" {
			continue
		}
		if _, err := thermocouple.ParseClass(c.Class); err != nil {
			return opt, nil, fmt.Errorf("column %d: %w", c.Field, err)
		}
		if c.Thermocouple == "" {
			return opt, nil, fmt.Errorf(`column %d: a tolerance class belongs to a thermocouple: say its type too, such as: column %d thermocouple "K" class %q`, c.Field, c.Field, c.Class)
		}
	}
	return opt, out, nil
}

// columns describes the log's columns and cleans its temperatures.
func (l *logRead) columns(probes map[string]thermocouple.Type) error {
	g := l.log.Guess
	channels := g.Channels()
	shown := g.Columns
	if g.LongForm > 0 {
		shown = channels
	}
	for _, c := range shown {
		x := report.LogColumn{Field: c.Field, Name: c.Name, What: c.What(), LowK: math.NaN(), HighK: math.NaN()}
		k := slices.IndexFunc(channels, func(ch benchlog.Column) bool { return ch == c })
		if k < 0 || c.Kind() != benchlog.Temperature {
			l.Columns = append(l.Columns, x)
			continue
		}
		x.Temperature = true
		var s curve.Samples
		for _, p := range l.log.Channels[k].Points {
			x.Readings += p.N
			s.TimeS, s.TK = append(s.TimeS, p.TimeS), append(s.TK, p.Mean)
		}
		if x.Readings > s.Len() {
			l.note(fmt.Sprintf("%q: means of its readings are used, %d of them", c.Name, s.Len()))
		}
		if (c.Role == benchlog.RoleTemperature || c.Role == benchlog.RoleThermocouple) && !g.Notes && s.Len() >= cleanable {
			if err := l.clean(&x, &s); err != nil {
				return fmt.Errorf("column %q: %w", c.Name, err)
			}
		}
		if s.Len() > 0 {
			x.LowK, x.HighK = slices.Min(s.TK), slices.Max(s.TK)
			if c.Thermocouple != "" {
				l.tolerance(&x, c, probes[c.Thermocouple])
			}
		}
		l.traces[c.Name] = learn.Trace{TimeS: s.TimeS, ValueK: s.TK}
		l.Columns = append(l.Columns, x)
	}
	return nil
}

// note adds a note once.
func (l *logRead) note(text string) {
	if !slices.Contains(l.Notes, text) {
		l.Notes = append(l.Notes, text)
	}
}

// clean takes out of a column what is no temperature of the thing, and finds its switches.
func (l *logRead) clean(x *report.LogColumn, s *curve.Samples) error {
	cleaned, err := curve.Clean(*s, curve.Samples{}, curve.CleanOptions{})
	if err != nil {
		return err
	}
	for _, d := range cleaned.Dropped {
		k := slices.IndexFunc(x.Dropped, func(o report.LogDrop) bool { return o.Reason == d.Reason.String() })
		if k < 0 {
			k = len(x.Dropped)
			x.Dropped = append(x.Dropped, report.LogDrop{Reason: d.Reason.String(), FirstS: d.TimeS, FirstReason: fmt.Sprintf("at %s %s", unit.Format(d.TimeS, unit.Time), d.Why)})
		}
		x.Dropped[k].Readings++
	}
	gaps, longest := 0, curve.Note{}
	for _, n := range cleaned.Notes {
		if !n.Gap {
			l.note(fmt.Sprintf("%s: at %s %s", x.Name, unit.Format(n.TimeS, unit.Time), n.Remark))
			continue
		}
		if gaps++; n.ByS > longest.ByS {
			longest = n
		}
	}
	if gaps > 0 {
		l.note(fmt.Sprintf("%s: %d times there are no readings for a while; the longest is %s, from %s on; nothing is filled in", x.Name, gaps, unit.Format(longest.ByS, unit.Time), unit.Format(longest.TimeS, unit.Time)))
	}
	*s = cleaned.Samples
	if s.Len() >= cleanable {
		if x.Switches, err = curve.Switches(*s); err != nil {
			return err
		}
	}
	return nil
}

// tolerance is the error that the thermocouple's class allows over what the column reads.
func (l *logRead) tolerance(x *report.LogColumn, c benchlog.Column, t thermocouple.Type) {
	class := thermocouple.IEC2
	if c.Class == "" {
		l.Assumed = append(l.Assumed, fmt.Sprintf(`the tolerance class of %q is not known: taken as %s; it stands on the wire's packing; say it, such as: column %d thermocouple %q class "IEC 1"`, c.Name, class, c.Field, c.Thermocouple))
	} else {
		class, _ = thermocouple.ParseClass(c.Class) // wires has read it
	}
	lo, err := t.ToleranceK(class, x.LowK-273.15)
	hi, err2 := t.ToleranceK(class, x.HighK-273.15)
	if err := errors.Join(err, err2); err != nil {
		l.note(fmt.Sprintf("%q: %v", c.Name, err))
		return
	}
	x.ErrorK, x.ErrorSource = math.Max(lo, hi), fmt.Sprintf("type %s by %s, for new wire; the instrument's own error comes on top", t, class)
	l.class[c.Name] = x.ErrorK
}

// askStart asks whether the run began later than its log. Power switched on in the log shows first in the quickest probe.
func (l *logRead) askStart() {
	opt := l.log.Guess.Options()
	if opt.StartS != 0 {
		return
	}
	first, by := curve.Estimate{Lo: math.Inf(1), Mid: math.Inf(1)}, ""
	for _, x := range l.Columns {
		if len(x.Switches) == 0 || !x.Switches[0].AtS.Given() {
			continue
		}
		if s := x.Switches[0]; s.AtS.Mid < first.Mid {
			if first, by = s.AtS, x.Name; !s.On {
				return // it was on from the beginning
			}
		}
	}
	if first.Lo > math.Max(3*l.log.Guess.StepS, laterS) && by != "" {
		l.Assumed = append(l.Assumed, fmt.Sprintf("the run is taken to begin with its log, though %q begins to warm only at %s; if the device was switched on then, say: start %.0f s", by, unit.Format(first.Mid, unit.Time), first.Mid))
	}
}

// laterS is how long after the start a probe may begin to warm without a question: behind a wall or an air gap heat needs some
// minutes to reach it. Common practice, no source.
const laterS = 180

// fileLogs are the logs of a device file, read.
type fileLogs struct {
	runs   []report.LogFigures
	names  []string            // of each run's log, "" without one; two runs in one log have names of their own
	byName map[string]*logRead // as they were read for each run
}

// openLogs reads every log the file names, so that a broken one is told of before anything is computed, and gives each run the
// error of its probes where the file states none.
func openLogs(f *device.File) (*fileLogs, error) {
	out := &fileLogs{names: make([]string, len(f.Runs)), byName: map[string]*logRead{}}
	var problems device.Problems
	for i := range f.Runs {
		r := &f.Runs[i]
		if r.Log == "" {
			continue
		}
		hint := ""
		if r.LogReading != "" {
			hint = "it is read as log reading says; take that line out to have it guessed anew"
		}
		bad := func(err error) {
			problems = append(problems, f.Problem(r.Pos, fmt.Sprintf("log %q: %v", r.Log, err), "", hint))
		}
		path := filepath.Join(filepath.Dir(f.Path), filepath.FromSlash(r.Log))
		opt, err := benchlog.ParseOptions(r.LogReading)
		if err != nil {
			bad(err)
			continue
		}
		l, err := openLog(path, opt)
		if err != nil {
			bad(err)
			continue
		}
		l.Run, l.File = r.Label(), r.Log
		if err := l.use(f, i); err != nil {
			bad(err)
			continue
		}
		name := r.Log
		if out.byName[name] != nil {
			name = fmt.Sprintf("%s (%s)", r.Log, r.Nth())
		}
		out.names[i], out.byName[name] = name, l
		out.runs = append(out.runs, l.LogFigures)
	}
	if len(problems) > 0 {
		return nil, problems
	}
	return out, nil
}

// use says which columns a run needs, and how wrong they may be.
func (l *logRead) use(f *device.File, run int) error {
	r := &f.Runs[run]
	errorK, stated := 0.0, r.Error.Given()
	var sources []string
	for _, ch := range r.Channels {
		tr, ok := l.traces[ch.Name]
		if !ok {
			return fmt.Errorf("it has no column %q of temperatures; it has %s", ch.Name, strings.Join(l.log.Columns, ", "))
		}
		k := slices.IndexFunc(l.Columns, func(x report.LogColumn) bool { return x.Name == ch.Name && x.Temperature })
		x := &l.Columns[k]
		x.Place = ch.At
		if len(tr.TimeS) == 0 || tr.TimeS[len(tr.TimeS)-1] < 0 {
			return fmt.Errorf("column %q has no reading during the run that can be used; finwright bench read shows why", ch.Name)
		}
		switch own, ok := l.class[ch.Name]; {
		case stated:
			x.ErrorK, x.ErrorSource = r.Error.Mid, "stated"
		case ok:
			errorK = math.Max(errorK, own)
			sources = append(sources, x.ErrorSource)
		default:
			x.ErrorK, x.ErrorSource = device.DefaultLogErrorK, "our default"
			errorK = math.Max(errorK, device.DefaultLogErrorK)
		}
	}
	l.compareStop(r)
	if len(sources) > 0 {
		f.AssumeLogError(run, errorK, "the widest of its probes: "+strings.Join(slices.Compact(sources), ", "))
	}
	return nil
}

// compareStop notes where the log shows another stop than the file states. A device that takes power steps may cool before it stops.
func (l *logRead) compareStop(r *device.Run) {
	if !r.StopsAfter.Given() || r.DimsAfter.Given() {
		return
	}
	first, by := curve.Estimate{Lo: math.Inf(1), Mid: math.Inf(1), Hi: math.Inf(1)}, ""
	for _, x := range l.Columns {
		for _, s := range x.Switches {
			if x.Place != "" && !s.On && s.AtS.Given() && s.AtS.Mid > 0 && s.AtS.Mid < first.Mid {
				first, by = s.AtS, x.Name
			}
		}
	}
	if by != "" && (first.Hi < r.StopsAfter.Lo || first.Lo > r.StopsAfter.Hi+laterS) {
		l.note(fmt.Sprintf("%q begins to cool at %s, while the file says stops after %s: is it the log of this run, and when in it did the run begin?", by, unit.Format(first.Mid, unit.Time), r.StopsAfter.Text))
	}
}

// forLearning is the file with logs that ls.read finds by their names, and that reader: it hands on what was read already, from the
// start of each run on. Two runs may be in one log, each with a start of its own.
func (ls *fileLogs) forLearning(f *device.File) (*device.File, learn.LogReader) {
	g := *f
	g.Runs = slices.Clone(f.Runs)
	byPath := map[string]*logRead{}
	for i, name := range ls.names {
		if name != "" {
			g.Runs[i].Log = name
			byPath[filepath.Join(filepath.Dir(f.Path), filepath.FromSlash(name))] = ls.byName[name]
		}
	}
	return &g, func(path string, columns []string) (map[string]learn.Trace, error) {
		l := byPath[path]
		if l == nil {
			return nil, errors.New("it was not read before")
		}
		return l.fromStart(columns), nil
	}
}

// fromStart are the traces of some columns from the start of the run on.
func (l *logRead) fromStart(columns []string) map[string]learn.Trace {
	out := map[string]learn.Trace{}
	for _, c := range columns {
		tr := l.traces[c]
		k, _ := slices.BinarySearch(tr.TimeS, 0)
		out[c] = learn.Trace{TimeS: tr.TimeS[k:], ValueK: tr.ValueK[k:]}
	}
	return out
}

// assumed lists what was assumed in reading the logs, for a study's list.
func (ls *fileLogs) assumed() []compare.Assumption {
	var out []compare.Assumption
	for _, l := range ls.runs {
		for _, a := range l.Assumed {
			out = append(out, compare.Assumption{About: "reading of the log " + l.File, Value: a, Source: "our default: the log does not say it"})
		}
	}
	return out
}

// ReadLogsOptions steer ReadLogs.
type ReadLogsOptions struct {
	Settings string // what is said of the files, as a device file's log reading says it
	Together bool   // the files saw one run: later ones are put on the first one's clock
	Remember string // the device file in which the reading is written down; may be empty
}

// LogsRead is what ReadLogs found.
type LogsRead struct {
	Logs       []report.LogFigures
	Aligned    []report.LogAlignment
	Remembered []RememberedLog
}

// RememberedLog is a reading that was written into a device file.
type RememberedLog struct{ Device, Run, Log, Reading string }

// ReadLogs reads loggers' files and says how they were understood. It changes nothing but, when asked, the device file's log
// reading of these logs.
func ReadLogs(paths []string, opt ReadLogsOptions) (*LogsRead, error) {
	said, err := benchlog.ParseOptions(opt.Settings)
	if err != nil {
		return nil, err
	}
	if opt.Together && len(paths) < 2 {
		return nil, errors.New("logs of one run are put on one clock: name two or more")
	}
	out := &LogsRead{Aligned: []report.LogAlignment{}, Remembered: []RememberedLog{}}
	var logs []*logRead
	var errs []error
	for _, path := range paths {
		l, err := openLog(path, said)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		logs = append(logs, l)
	}
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	for _, l := range logs[1:] {
		if !opt.Together {
			break
		}
		a, err := align(logs[0], l)
		if err != nil {
			return nil, err
		}
		out.Aligned = append(out.Aligned, a)
		l.Reading = a.Settings
	}
	for _, l := range logs {
		out.Logs = append(out.Logs, l.LogFigures)
	}
	if opt.Remember != "" {
		if out.Remembered, err = remember(opt.Remember, logs); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// alignedColumns is how many columns of each of two logs are tried against each other.
const alignedColumns = 4

// align puts log b on the clock of log a by the two columns that are most alike.
func align(a, b *logRead) (report.LogAlignment, error) {
	var best benchlog.Alignment
	var out report.LogAlignment
	var last error
	for _, ca := range a.log.Columns[:min(len(a.log.Columns), alignedColumns)] {
		for _, cb := range b.log.Columns[:min(len(b.log.Columns), alignedColumns)] {
			al, err := benchlog.Align(benchlog.Trace(a.traces[ca]), benchlog.Trace(b.traces[cb]))
			if err != nil {
				last = fmt.Errorf("%s and %s: %w", a.File, b.File, err)
				continue
			}
			if al.Explained > best.Explained {
				best = al
				out = report.LogAlignment{File: b.File, Column: cb, OnFile: a.File, OnColumn: ca}
			}
		}
	}
	if out.File == "" {
		if last == nil {
			last = fmt.Errorf("%s and %s have no temperatures to compare", a.File, b.File)
		}
		return out, last
	}
	if math.Abs(best.Rate-1) <= best.RateTellsBy {
		// The curves do not tell the clocks' rates apart: the offset alone, where the middles of the two meet.
		tr := b.traces[out.Column]
		mid := (tr.TimeS[0] + tr.TimeS[len(tr.TimeS)-1]) / 2
		best.OffsetS, best.Rate = best.OffsetS+(best.Rate-1)*mid, 1
	}
	out.OffsetS, out.Rate, out.RateTellsBy, out.Explained, out.Words = best.OffsetS, best.Rate, best.RateTellsBy, best.Explained, best.String()
	// time of a = offset + rate · time of b, and time of b = (its log's - start) · its rate
	o := b.log.Guess.Options()
	own := o.Rate
	if own == 0 {
		own = 1
	}
	rate := round(own*best.Rate, 1e-5)
	o.StartS = round(o.StartS-best.OffsetS/rate, 0.1)
	if o.Rate = 0; rate != 1 {
		o.Rate = rate
	}
	out.Settings = o.String()
	return out, nil
}

func round(x, step float64) float64 { return math.Round(x/step) / math.Round(1/step) }

// longestReading is how many characters of a reading are written into a device file before columns that its run does not use
// are left out.
const longestReading = 2000

// remember writes how the logs are read into the device file, beside each.
func remember(path string, logs []*logRead) ([]RememberedLog, error) {
	f, err := device.Load(path)
	if err != nil {
		return nil, err
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	before := string(data)
	out := []RememberedLog{}
	for _, l := range logs {
		runs := runsOf(f, l.File)
		switch {
		case len(runs) == 0:
			return nil, fmt.Errorf("%s has no run with this log: nothing was written; add one first, under stock runs or retrofit runs, such as:\n  - {log: %s, channels: {%s: shell.front centre}}", path, filepath.Base(l.File), strings.Join(l.log.Columns[:min(1, len(l.log.Columns))], ""))
		case len(runs) > 1:
			return nil, fmt.Errorf("%s has %d runs with the log %s: nothing was written; write into the right one by hand:\n  log reading: %s", path, len(runs), l.File, device.SingleQuoted(l.Reading))
		}
		r := &f.Runs[runs[0]]
		reading := l.Reading
		if len(reading) > longestReading {
			reading = l.used(r)
		}
		if data, err = device.RememberLogReading(path, data, runs[0], reading); err != nil {
			return nil, err
		}
		out = append(out, RememberedLog{path, r.Label(), r.Log, reading})
	}
	if string(data) == before {
		return out, nil
	}
	return out, WriteWhole(path, data, true)
}

// runsOf are the runs that name this file as their log.
func runsOf(f *device.File, log string) []int {
	info, err := os.Stat(log)
	if err != nil {
		return nil
	}
	var out []int
	for i := range f.Runs {
		if f.Runs[i].Log == "" {
			continue
		}
		path, err := f.LogPath(f.Runs[i].Log)
		if err != nil {
			continue
		}
		if other, err := os.Stat(path); err == nil && os.SameFile(info, other) {
			out = append(out, i)
		}
	}
	return out
}

// used is the reading with only the columns that a run needs.
func (l *logRead) used(r *device.Run) string {
	o, err := benchlog.ParseOptions(l.Reading)
	if err != nil {
		return l.Reading
	}
	o.Columns = slices.DeleteFunc(o.Columns, func(c benchlog.ColumnOption) bool {
		return c.Role != benchlog.RoleColdJunction && !slices.ContainsFunc(r.Channels, func(ch device.Channel) bool { return ch.Name == c.Name })
	})
	return o.String()
}

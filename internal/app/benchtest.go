package app

import (
	"context"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"finwright/internal/benchlog"
	"finwright/internal/benchtest"
	"finwright/internal/curve"
	"finwright/internal/device"
	"finwright/internal/learn"
	"finwright/internal/report"
	"finwright/internal/unit"
)

// BenchOptions steer PlanBench and JudgeBench.
type BenchOptions struct {
	Design  string // a retrofit; "" is the device as it is
	Setting benchtest.Setting
	UntilS  float64
	Seed    uint64
}

// benchLearns is about how much of a plan's or a verdict's time goes into learning.
const benchLearns = 0.4

// benchStart learns what a file's stock runs say, with one bar for all.
func benchStart(ctx context.Context, f *device.File, opt BenchOptions, what string, tell Tell) (benchtest.Options, error) {
	learned, _, err := learnFile(ctx, f, LearnOptions{Seed: opt.Seed}, func(task string, done, total float64) { tell.say(task, benchLearns*done/total, 1) })
	if err != nil && !errors.Is(err, learn.ErrNothing) {
		return benchtest.Options{}, err
	}
	return benchtest.Options{Retrofit: opt.Design, Setting: opt.Setting, Learned: learned, UntilS: opt.UntilS, Seed: opt.Seed,
		Progress: func(done, expected int) {
			tell.say(what, benchLearns+(1-benchLearns)*float64(done)/float64(expected), 1)
		}}, nil
}

// PlanBench works out the run sheet of a test.
func PlanBench(ctx context.Context, path string, opt BenchOptions, tell Tell) (*report.PlannedTest, error) {
	f, err := device.Load(path)
	if err != nil {
		return nil, err
	}
	if _, _, err := f.Variant(opt.Design); err != nil {
		return nil, err
	}
	bo, err := benchStart(ctx, f, opt, "planning the test", tell)
	if err != nil {
		return nil, err
	}
	s, err := benchtest.Plan(ctx, f, bo)
	if err != nil {
		return nil, err
	}
	return &report.PlannedTest{RunSheet: s, Cautions: report.SheetCautions(benchWork(f, opt.Design)), File: filepath.Base(path)}, nil
}

// benchWork is what a person does and touches in a test.
func benchWork(f *device.File, design string) report.Work {
	w := report.Work{Cell: f.Battery != nil, SkinC: math.NaN()}
	for i := range f.Retrofits {
		if f.Retrofits[i].Name != design {
			continue
		}
		for k := range f.Retrofits[i].Changes {
			w.Glue = w.Glue || len(f.Retrofits[i].Changes[k].Rejoin) > 0
		}
	}
	return w
}

// JudgeOptions steer JudgeBench.
type JudgeOptions struct {
	BenchOptions
	Channels []string // "name=place"
	Room     string   // the column of the room's probe; "" looks for one that says so
	Ended    benchtest.EndedBy
	EndS     float64
	Reading  string // how the log is read, as a device file's log reading says it
}

// JudgeBench holds a design against the log of its test.
func JudgeBench(ctx context.Context, path, logPath string, opt JudgeOptions, tell Tell) (*report.JudgedTest, error) {
	f, err := device.Load(path)
	if err != nil {
		return nil, err
	}
	design, _, err := f.Variant(opt.Design)
	if err != nil {
		return nil, err
	}
	channels, reading, err := channelsOf(f, design, logPath, opt)
	if err != nil {
		return nil, err
	}
	said, err := benchlog.ParseOptions(reading)
	if err != nil {
		return nil, err
	}
	l, err := openLog(logPath, said)
	if err != nil {
		return nil, err
	}
	out := &report.JudgedTest{Log: filepath.Base(logPath)}
	out.Assumed = append(out.Assumed, l.Assumed...)
	log, err := l.forJudging(channels, opt, out)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", logPath, err)
	}
	others := withoutLog(f, logPath) // what is learned must not know the log that it is held against
	if r := runOf(f, opt.Design, logPath); r != nil {
		if opt.Setting.RoomK == 0 && len(log.Room.TimeS) == 0 && r.Ambient.Given() {
			opt.Setting.RoomK, opt.Setting.RoomErrorK = r.Ambient.Mid, math.Max(benchtest.RoomErrorK, (r.Ambient.Hi-r.Ambient.Lo)/2)
		}
		knownRun(r, log, &opt)
	}
	bo, err := benchStart(ctx, others, opt.BenchOptions, "judging the test", tell)
	if err != nil {
		return nil, err
	}
	if opt.Design != "" {
		log.Before = stockCurves(f)
	}
	if out.Verdict, err = benchtest.Judge(ctx, f, *log, bo); out.Verdict == nil {
		return nil, err
	} else if err != nil {
		return out, err
	}
	out.Cautions = report.SheetCautions(benchWork(f, opt.Design))
	paste(out, f, logPath, reading, channels, opt)
	return out, nil
}

// withoutLog is a file without the runs that name a log.
func withoutLog(f *device.File, logPath string) *device.File {
	out := *f
	out.Runs = slices.Clone(f.Runs)
	runs := runsOf(f, logPath)
	for i := len(runs) - 1; i >= 0; i-- {
		out.Runs = slices.Delete(out.Runs, runs[i], runs[i]+1)
	}
	return &out
}

// runOf is the first run of a design that names a log; nil when none does.
func runOf(f *device.File, design, logPath string) *device.Run {
	for _, i := range runsOf(f, logPath) {
		if f.Runs[i].Retrofit == design {
			return &f.Runs[i]
		}
	}
	return nil
}

// knownRun takes over what the file says of the run, where the command says nothing.
func knownRun(r *device.Run, log *benchtest.Log, opt *JudgeOptions) {
	set := &opt.Setting
	set.Mode = r.Mode
	if set.WindMS == 0 {
		set.Under = &r.Conditions
	}
	if set.StartK == 0 && r.Start.Given() {
		set.StartK = r.Start.Mid
	}
	if log.Ended != benchtest.EndNotSaid {
		return
	}
	switch {
	case r.StopsAfter.Given():
		log.Ended = benchtest.EndByHeat
	case r.EmptyAfter.Given():
		log.Ended = benchtest.EndEmpty
	}
}

// channelsOf says which column was where: by the command, or by the design's run that names this log.
func channelsOf(f, design *device.File, logPath string, opt JudgeOptions) (out []device.Channel, reading string, err error) {
	reading = opt.Reading
	for _, c := range opt.Channels {
		name, place, ok := strings.Cut(c, "=")
		if name, place = strings.TrimSpace(name), strings.TrimSpace(place); !ok || name == "" || place == "" {
			return nil, "", fmt.Errorf("--channel %q: say which column of the log was where, such as: --channel 'back=shell.back centre'", c)
		}
		if _, err := device.ParsePlace(place, design); err != nil {
			return nil, "", fmt.Errorf("--channel %q: %w", c, err)
		}
		out = append(out, device.Channel{Name: name, At: place})
	}
	r := runOf(f, opt.Design, logPath)
	if r == nil {
		return out, reading, nil
	}
	if len(out) == 0 {
		out = r.Channels
	}
	if reading == "" {
		reading = r.LogReading
	}
	return out, reading, nil
}

// roomNames are what people call the column of the room's probe.
var roomNames = []string{"r", "room", "ambient", "air", "raum", "luft", "umgebung", "room temperature"}

// forJudging takes the probes out of a log, with its time 0 at switch-on.
func (l *logRead) forJudging(channels []device.Channel, opt JudgeOptions, out *report.JudgedTest) (*benchtest.Log, error) {
	var named []string
	for _, x := range l.Columns {
		if x.Temperature {
			named = append(named, x.Name)
		}
	}
	columns := strings.Join(named, ", ")
	if len(channels) == 0 {
		return nil, fmt.Errorf("%w\n  its columns of temperatures: %s", benchtest.ErrNoProbe, columns)
	}
	log := &benchtest.Log{Ended: opt.Ended, EndS: opt.EndS}
	for _, ch := range channels {
		tr, ok := l.traces[ch.Name]
		if !ok {
			return nil, fmt.Errorf("there is no column %q of temperatures; it has %s", ch.Name, columns)
		}
		log.Probes = append(log.Probes, benchtest.Logged{Name: ch.Name, At: ch.At, ErrorK: l.class[ch.Name], Samples: sinceOn(tr)})
	}
	room := opt.Room
	for _, x := range l.Columns {
		if room == "" && x.Temperature && slices.Contains(roomNames, strings.ToLower(x.Name)) && !slices.ContainsFunc(channels, func(c device.Channel) bool { return c.Name == x.Name }) {
			room = x.Name
			out.Assumed = append(out.Assumed, fmt.Sprintf("column %q is taken for the room's probe; say otherwise with --room-column", room))
		}
	}
	if room != "" {
		tr, ok := l.traces[room]
		if !ok {
			return nil, fmt.Errorf("there is no column %q for the room; it has %s", room, columns)
		}
		log.Room = sinceOn(tr)
	}
	return log, nil
}

// beforeOnS is how long before switch-on readings still tell how the probes differ.
const beforeOnS = 300

// sinceOn are readings from switch-on on; those shortly before it become one at 0, their mean.
func sinceOn(tr learn.Trace) curve.Samples {
	var s curve.Samples
	sum, n := 0.0, 0
	for i, t := range tr.TimeS {
		switch {
		case t > 0:
			s.TimeS, s.TK = append(s.TimeS, t), append(s.TK, tr.ValueK[i])
		case t >= -beforeOnS:
			sum += tr.ValueK[i]
			n++
		}
	}
	if n > 0 {
		s.TimeS, s.TK = append([]float64{0}, s.TimeS...), append([]float64{sum / float64(n)}, s.TK...)
	}
	return s
}

// stockCurves are the stock device's logged curves up to its stop, by place, in still air; the room is the run's ambient.
func stockCurves(f *device.File) map[string]curve.Series {
	out := map[string]curve.Series{}
	for i := range f.Runs {
		r := &f.Runs[i]
		if r.Retrofit != "" || r.Log == "" || !r.Ambient.Given() || r.Air.Given && !r.Air.Still {
			continue
		}
		path, err := f.LogPath(r.Log)
		if err != nil {
			continue
		}
		said, err := benchlog.ParseOptions(r.LogReading)
		if err != nil {
			continue
		}
		l, err := openLog(path, said)
		if err != nil {
			continue // benchStart has read it: it cannot fail but by a change meanwhile
		}
		for _, ch := range r.Channels {
			s := sinceOn(l.traces[ch.Name])
			if r.StopsAfter.Given() {
				k, _ := slices.BinarySearch(s.TimeS, r.StopsAfter.Lo)
				s.TimeS, s.TK = s.TimeS[:k], s.TK[:k]
			}
			out[ch.At] = curve.Series{Samples: s, Room: curve.Samples{TimeS: []float64{0}, TK: []float64{r.Ambient.Mid}}}
		}
	}
	return out
}

// paste writes what lets the device file know of the test.
func paste(out *report.JudgedTest, f *device.File, logPath, reading string, channels []device.Channel, opt JudgeOptions) {
	v := out.Verdict
	if opt.Design != "" && len(v.Blamed) > 0 { // learning takes a run for one with all bonds as planned
		if l := v.Found(); l != "" {
			out.Paste = []string{"- rejoin:", "    " + l}
			out.PasteWhere = fmt.Sprintf("To have every answer know it until the bond is redone, add this to the end of %q in the device file:", opt.Design)
		}
		return
	}
	if len(runsOf(f, logPath)) > 0 {
		return // it is there: learn uses it
	}
	section := "stock runs"
	run := []string{"- name: " + inYAML(strings.TrimSuffix(filepath.Base(logPath), filepath.Ext(logPath)))}
	if opt.Design != "" {
		section = "retrofit runs"
		run = append(run, "  retrofit: "+inYAML(opt.Design))
	}
	room := unit.Format(v.RoomK, unit.Temperature)
	run = append(run, fmt.Sprintf("  ambient: %s ± %s", room, unit.Format(v.RoomErrorK, unit.TemperatureDiff)))
	if w := opt.Setting.WindMS; w > 0 {
		run = append(run, "  air: "+unit.Format(w, unit.Velocity))
	} else {
		run = append(run, "  air: still")
	}
	for _, l := range f.Indoors(room) {
		run = append(run, "  "+l)
	}
	if math.Abs(v.StartK-v.RoomK) > v.RoomErrorK {
		run = append(run, "  start: "+unit.Format(v.StartK, unit.Temperature))
	}
	switch v.Ended {
	case benchtest.EndByHeat:
		run = append(run, "  stops after: "+unit.Format(math.Round(v.EndS), unit.Time)+" ± 2 %")
	case benchtest.EndEmpty:
		run = append(run, "  battery empty after: "+unit.Format(math.Round(v.EndS), unit.Time)+" ± 2 %")
	default:
		run = append(run, "  still running after: "+unit.Format(math.Round(v.EndS), unit.Time))
	}
	var places []string
	for _, c := range channels {
		places = append(places, inYAML(c.Name)+": "+inYAML(c.At))
	}
	log := filepath.Base(logPath)
	where := "put the log beside the device file and "
	if rel, err := filepath.Rel(filepath.Dir(f.Path), logPath); err == nil && filepath.IsLocal(rel) {
		log, where = filepath.ToSlash(rel), ""
	}
	run = append(run, "  log: "+inYAML(log), fmt.Sprintf("  channels: {%s}", strings.Join(places, ", ")))
	if reading != "" {
		run = append(run, "  log reading: "+device.SingleQuoted(reading))
	}
	out.Paste, out.PasteWhere = run, fmt.Sprintf("To learn again with it, %sadd this to the device file's %s:", where, section)
}

// inYAML writes a word as a value of a device file: as it is where nothing in it means something there.
func inYAML(word string) string {
	first, _ := utf8.DecodeRuneInString(word)
	_, err := strconv.ParseBool(word)
	if err != nil && unicode.IsLetter(first) && strings.TrimSpace(word) == word && !strings.ContainsAny(word, ":#'\"{}[],&*!|>%@`?") {
		return word
	}
	return device.SingleQuoted(word)
}

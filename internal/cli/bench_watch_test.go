package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strings"
	"sync"
	"testing"
	"time"
)

// watched is what a line of bench watch --json says.
type watched struct {
	NowS    float64
	Rows    int
	Final   bool
	Ended   bool
	EndedS  float64
	EndedAs []struct {
		Kind  string
		Share float64
	}
	State *struct {
		EndS        struct{ Lo, Mid, Hi float64 }
		Lasts       float64
		Decided     bool
		MisfitScore float64
	}
	Alone []struct {
		Probe, Refused string
		SteadyK        struct{ Lo, Mid, Hi float64 }
		Reaches        *float64
	}
	Notes, Assumed []string
}

func watchedLines(t *testing.T, out string) []watched {
	t.Helper()
	var all []watched
	for _, line := range strings.Split(strings.TrimSpace(out), "\n") {
		var w watched
		if err := json.Unmarshal([]byte(line), &w); err != nil {
			t.Fatalf("%v in %.200q", err, line)
		}
		all = append(all, w)
	}
	return all
}

// safe is a buffer that a command and a test may use at the same time.
type safe struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *safe) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *safe) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

// realRun is a run of the tiny lamp in 3-D: what a faultless probe on its back reads every ten seconds until it stops.
func realRun(t *testing.T) (endS float64, readC []float64) {
	t.Helper()
	got := call("run", "lamp.yaml", "--watch", "shell.back centre", "--json")
	var run struct {
		TimeS  []float64
		Series []struct {
			Name   string
			ValueK []float64
		}
		Own struct {
			Kind string
			AtS  float64
		}
	}
	if err := json.Unmarshal([]byte(got.out), &run); err != nil || run.Own.Kind != "stopped itself" {
		t.Fatalf("%v, %+v: %s", err, run.Own, got.err)
	}
	for _, s := range run.Series {
		if s.Name != "shell.back centre" {
			continue
		}
		for at, k := 0.0, 0; at < run.Own.AtS; at += 10 {
			for run.TimeS[k+1] < at {
				k++
			}
			w := (at - run.TimeS[k]) / (run.TimeS[k+1] - run.TimeS[k])
			readC = append(readC, s.ValueK[k]+w*(s.ValueK[k+1]-s.ValueK[k])-273.15)
		}
	}
	return run.Own.AtS, readC
}

// A log that grows while it is watched, by a device file: the interval narrows around the real end, and the watching ends when the
// device has.
func TestWatchGrowingLog(t *testing.T) {
	inFolder(t, map[string]string{"lamp.yaml": tiny})
	endS, readC := realRun(t)
	log, err := os.Create("today.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer log.Close()
	var out, errs safe
	done := make(chan int)
	go func() {
		done <- Main(context.Background(), []string{"bench", "watch", "today.csv", "--device", "lamp.yaml", "--unlearned", "--room", "25 °C ± 0.5 K", "--channel", "T1=shell.back centre", "--every", "20ms", "--json"},
			Terminal{In: strings.NewReader(""), Out: &out, Err: &errs})
	}()
	row := 0
	put := func(c float64) {
		if _, err := fmt.Fprintf(log, "%d,%.1f\n", 10*row, c+0.3+0.1*math.Sin(float64(7*row))); err != nil {
			t.Fatal(err)
		}
		row++
	}
	if _, err := log.WriteString("time [s],T1 [°C]\n"); err != nil {
		t.Fatal(err)
	}
	await := func(n int) {
		for range 3000 {
			if strings.Count(out.String(), "\n") >= n {
				return
			}
			time.Sleep(20 * time.Millisecond)
		}
		t.Fatalf("no line %d: %s %s", n, out.String(), errs.String())
	}
	early := len(readC) / 10 // later the doubt in the stop temperature, which no probe outside narrows, is nearly all there is
	for _, c := range readC[:early] {
		put(c)
	}
	await(1)
	for _, c := range readC[early : 9*len(readC)/10] {
		put(c)
	}
	await(2)
	for _, c := range readC[9*len(readC)/10:] {
		put(c)
	}
	await(3)
	last := readC[len(readC)-1]
	for k := 1; k <= 60; k++ {
		put(25 + (last-25)*math.Exp(-float64(k)*10/900))
	}
	if code := <-done; code != exitOK {
		t.Fatalf("exit code %d: %s", code, errs.String())
	}
	all := watchedLines(t, out.String())
	first, before := all[0], all[0]
	for _, w := range all {
		if w.State != nil && !w.Ended {
			before = w
			if e := w.State.EndS; w.NowS <= 0.92*endS && (e.Lo > endS || endS > e.Hi) { // moments before the end every later time is likelier
				t.Errorf("at %.0f s: end at %.0f s (%.0f to %.0f), really %.0f s", w.NowS, e.Mid, e.Lo, e.Hi, endS)
			}
		}
	}
	if a, b := first.State.EndS, before.State.EndS; b.Hi-b.Lo > 0.8*(a.Hi-a.Lo) {
		t.Errorf("the interval did not narrow: %+v, then %+v", a, b)
	}
	end := all[len(all)-1]
	if !end.Final || !end.Ended || math.Abs(end.EndedS-endS) > 40 || len(end.EndedAs) == 0 || end.EndedAs[0].Kind != "stopped itself" {
		t.Errorf("the end: %+v, really %.0f s", end, endS)
	}
	if strings.Contains(out.String(), "NaN") {
		t.Error("NaN in the output")
	}
}

// Standard input that ends, without a device file.
func TestWatchStandardInput(t *testing.T) {
	var log strings.Builder
	log.WriteString("time [s];case °C;room °C\n")
	for s := 0.0; s <= 3000; s += 10 {
		fmt.Fprintf(&log, "%.0f;%s;23,0\n", s, strings.Replace(fmt.Sprintf("%.1f", 23+20*(1-math.Exp(-s/700))+0.05*math.Sin(s)), ".", ",", 1))
	}
	var out, errs bytes.Buffer
	code := Main(context.Background(), []string{"bench", "watch", "-", "--room-column", "room", "--limit", "50 °C", "--every", "10ms", "--json"}, Terminal{In: strings.NewReader(log.String()), Out: &out, Err: &errs})
	if code != exitOK {
		t.Fatalf("exit code %d: %s", code, errs.String())
	}
	all := watchedLines(t, out.String())
	end := all[len(all)-1]
	if !end.Final || len(end.Alone) != 1 {
		t.Fatalf("%+v", end)
	}
	a := end.Alone[0]
	if k := a.SteadyK; a.Refused != "" || k.Lo > 43.2+273.15 || k.Hi < 42.8+273.15 || a.Reaches == nil || *a.Reaches > 0.05 {
		t.Errorf("%+v", a)
	}
}

// Ctrl-C prints the last state, for a person too.
func TestWatchCtrlC(t *testing.T) {
	var log strings.Builder
	log.WriteString("time [s],T1 [°C]\n")
	for s := 0.0; s <= 900; s += 10 {
		fmt.Fprintf(&log, "%.0f,%.2f\n", s, 23+20*(1-math.Exp(-s/700)))
	}
	inFolder(t, map[string]string{"a.csv": log.String()})
	before := everything(t)
	ctx, cancel := context.WithCancel(context.Background())
	var out, errs safe
	done := make(chan int)
	go func() {
		done <- Main(ctx, []string{"bench", "watch", "a.csv", "--every", "10ms"}, Terminal{In: strings.NewReader(""), Out: &out, Err: &errs})
	}()
	for range 1000 {
		if strings.Contains(out.String(), "goes to") {
			break
		}
		time.Sleep(10 * time.Millisecond)
	}
	cancel()
	if code := <-done; code != exitStop {
		t.Errorf("exit code %d", code)
	}
	for _, want := range []string{"15 min: T1", "Temperatures until now", "°C│", "Cautions", "with a way to cut the power"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("no %q in %s", want, out.String())
		}
	}
	if after := everything(t); after["a.csv"] != before["a.csv"] || len(after) != len(before) {
		t.Error("files changed")
	}
}

func TestWatchBadInput(t *testing.T) {
	log := "time [s],T1 [°C]\n0,22\n60,30\n120,35\n"
	for name, tc := range map[string]struct {
		args []string
		want []string
	}{
		"nothing to follow": {nil, []string{"wants one log", "finwright bench watch runs/today.csv"}},
		"two things":        {[]string{"a.csv", "--serial", "/dev/ttyNone"}, []string{"follows one thing"}},
		"no such port":      {[]string{"--serial", "/dev/ttyNone"}, []string{"/dev/ttyNone", "no such port"}},
		"no such file":      {[]string{"none.csv", "--once"}, []string{"none.csv", "nothing came in"}},
		"a folder":          {[]string{"."}, []string{"it is a folder"}},
		"words":             {[]string{"words.csv", "--once"}, []string{"words.csv", "no rows of numbers"}},
		"design alone":      {[]string{"a.csv", "--design", "x"}, []string{"--design belongs to a device file"}},
		"air alone":         {[]string{"a.csv", "--air", "2 m/s"}, []string{"--air belongs to a device file"}},
		"probe alone":       {[]string{"a.csv", "--channel", "T1 = chip"}, []string{"--channel belongs to a device file"}},
		"limit with device": {[]string{"a.csv", "--device", "lamp.yaml", "--limit", "60 °C"}, []string{"--limit is for a test without a device file"}},
		"limit in nothing":  {[]string{"a.csv", "--limit", "60"}, []string{"--limit", "unit"}},
		"probe without =":   {[]string{"a.csv", "--device", "lamp.yaml", "--channel", "T1"}, []string{`"T1=shell.back centre"`}},
		"no such column":    {[]string{"a.csv", "--once", "--device", "lamp.yaml", "--unlearned", "--channel", "T9 = chip"}, []string{`no column "T9"`, "T1"}},
		"no such place":     {[]string{"a.csv", "--once", "--device", "lamp.yaml", "--unlearned", "--channel", "T1 = lid.front centre"}, []string{"lid"}},
		"places not said":   {[]string{"a.csv", "--once", "--device", "lamp.yaml", "--unlearned"}, []string{"where its probes are is not known", "--channel", "T1"}},
		"no such design":    {[]string{"a.csv", "--device", "lamp.yaml", "--design", "outsied plate"}, []string{"outside plate"}},
		"no such device":    {[]string{"a.csv", "--device", "lmap.yaml"}, []string{"lmap.yaml"}},
		"no such room":      {[]string{"a.csv", "--once", "--room-column", "T7"}, []string{`no column "T7"`}},
		"a wrong setting":   {[]string{"a.csv", "--decimal", "dot"}, []string{"--decimal", "point or comma"}},
		"a wide interval":   {[]string{"a.csv", "--narrow", "500"}, []string{"--narrow"}},
	} {
		inFolder(t, map[string]string{"a.csv": log, "words.csv": "Dear reader\n", "lamp.yaml": tiny})
		got := call(append([]string{"bench", "watch"}, tc.args...)...)
		if got.code != exitUsage || got.out != "" {
			t.Errorf("%s: exit code %d, %q", name, got.code, got.out)
		}
		for _, want := range tc.want {
			if !strings.Contains(got.err, want) {
				t.Errorf("%s: no %q in %s", name, want, got.err)
			}
		}
	}
}

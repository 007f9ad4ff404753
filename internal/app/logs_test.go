package app

import (
	"context"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"finwright/internal/benchlog"
	"finwright/internal/device"
	"finwright/internal/report"
)

// lamp is an invented device whose stock run has a log; %s is what else the entry says.
const lamp = `device: lamp # mine
parts:
  block: {material: aluminium 6061, box: 60 x 60 x 30 mm, heat: 4 to 8 W}
sensors:
  soc: {at: block, stops at: 60 °C}
stock runs:
  - name: bench
    ambient: 22 °C
    air: still
    stops after: 25 to 35 min
    log: first.csv%s
    # where the probes were
    channels: {Chip: block, Skin: block.front centre}
`

// rise is the invented curve of the logs: switched on at 0, off at 1800 s.
func rise(tS, byK, tauS float64) float64 {
	on := func(s float64) float64 { return 1 - math.Exp(-math.Max(0, s)/tauS) }
	return 22 + byK*(on(tS)-on(tS-1800))
}

// firstLog is a log in °F with decimal commas, switched on 400 s after it began, a spike in it, and one reading missing.
func firstLog() string {
	var b strings.Builder
	b.WriteString("Zeit;Chip;Skin\r\n")
	for i := range 260 {
		t := float64(i*10 - 400)
		f := func(c float64) string { return strings.Replace(fmt.Sprintf("%.1f", c*9/5+32), ".", ",", 1) }
		chip, skin := f(rise(t, 40, 300)), f(rise(t, 15, 600))
		if i == 120 {
			chip = "250,0"
		}
		if i == 150 {
			skin = "OL"
		}
		fmt.Fprintf(&b, "%02d:%02d:%02d;%s;%s\r\n", 14+i/360, i/6%60, i*10%60, chip, skin)
	}
	return b.String()
}

const fahrenheitFrom400 = `column 2 unit "°F"; column 3 unit "°F"; start 400 s`

func TestLogsAreToldAndCleaned(t *testing.T) {
	t.Chdir(t.TempDir())
	log := firstLog()
	write(t, "first.csv", log, 0o644)
	write(t, "lamp.yaml", fmt.Sprintf(lamp, ""), 0o644)
	rep, err := Check("lamp.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if len(rep.Logs) != 1 {
		t.Fatalf("%d logs", len(rep.Logs))
	}
	told := fmt.Sprintf("%q %q %+v", rep.Logs[0].Assumed, rep.Logs[0].Notes, rep.Logs[0].Columns)
	for _, want := range []string{"taken as °C, though the lowest readings would be a room's in °F", "begins to warm only at 6.6", "say: start 4", `above the range (\"OL\" in line 152)`, "Reason:spike Readings:1", "ErrorSource:our default"} {
		if !strings.Contains(told, want) {
			t.Errorf("not told: %s in\n%s", want, told)
		}
	}

	// Said otherwise, it is read otherwise, and nothing is left to ask.
	write(t, "lamp.yaml", fmt.Sprintf(lamp, "\n    log reading: '"+fahrenheitFrom400+"'"), 0o644)
	if rep, err = Check("lamp.yaml"); err != nil {
		t.Fatal(err)
	}
	if len(rep.Logs[0].Assumed) > 0 {
		t.Errorf("still asked: %q", rep.Logs[0].Assumed)
	}
	f, err := device.Load("lamp.yaml")
	if err != nil {
		t.Fatal(err)
	}
	logs, err := openLogs(f)
	if err != nil {
		t.Fatal(err)
	}
	_, reader := logs.forLearning(f)
	traces, err := reader("first.csv", []string{"Chip", "Skin"})
	if err != nil {
		t.Fatal(err)
	}
	// 260 rows, 40 of them before the switch-on; without the spike and without the missing one.
	for name, byK := range map[string]float64{"Chip": 40, "Skin": 15} {
		tr := traces[name]
		if len(tr.TimeS) != 219 || tr.TimeS[0] != 0 {
			t.Errorf("%s: %d readings from %g s on, want 219 from 0", name, len(tr.TimeS), tr.TimeS[0])
		}
		for i, s := range tr.TimeS {
			if want := rise(s, byK, map[string]float64{"Chip": 300, "Skin": 600}[name]); math.Abs(tr.ValueK[i]-273.15-want) > 0.03 { // half of 0.1 °F
				t.Errorf("%s: %.2f °C at %g s, want %.2f", name, tr.ValueK[i]-273.15, s, want)
			}
		}
	}
	x := rep.Logs[0].Columns[1]
	if len(x.Switches) != 2 || !x.Switches[0].On || math.Abs(x.Switches[0].AtS.Mid) > 10 || x.Switches[1].On || math.Abs(x.Switches[1].AtS.Mid-1800) > 20 {
		t.Errorf("switches of %s: %+v", x.Name, x.Switches)
	}
	if read(t, "first.csv") != log {
		t.Error("the log was changed")
	}
}

// Learning tells of its logs too, and a stop that the file states otherwise is noted.
func TestLearningTellsOfItsLogs(t *testing.T) {
	t.Chdir(t.TempDir())
	write(t, "first.csv", firstLog(), 0o644)
	write(t, "lamp.yaml", strings.Replace(fmt.Sprintf(lamp, "\n    log reading: '"+fahrenheitFrom400+"'"), "25 to 35 min", "12 to 15 min", 1), 0o644)
	l, err := Learn(context.Background(), "lamp.yaml", LearnOptions{Seed: 7}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(l.Logs) != 1 || len(l.Fits) < 16 || !strings.Contains(strings.Join(l.Logs[0].Notes, "\n"), `begins to cool at 30 min, while the file says stops after 12 to 15 min`) {
		t.Errorf("%d logs, %d fits, notes %q", len(l.Logs), len(l.Fits), l.Logs[0].Notes)
	}
}

// Voltages by ITS-90 tables (NIST Monograph 175, 1 µV): type K 1.000 mV at 25 °C and 3.267 mV at 80 °C, type T 0.992 and (50 °C) 2.036.
// Tolerances by IEC 60584-1:2013: K class 1 ± 1.5 K, class 2 ± 2.5 K, T class 1 ± 0.5 K (0.4 % is below that at 80 °C).
func TestThermocouples(t *testing.T) {
	t.Chdir(t.TempDir())
	write(t, "volts.csv", "time [s],a [mV],b [mV],cold junction [°C]\n0,0.000,0.000,25.0\n10,2.267,1.044,25.0\n20,99,1.044,25.0\n30,2.267,1.044,\n", 0o644)
	write(t, "logger.csv", "time [s],a [°C]\n0,25\n10,80\n", 0o644)
	for _, tc := range []struct {
		file, say string
		column    int
		highK     float64
		errorK    float64
		assumed   int
		note      string
	}{
		{"volts.csv", "column 2 thermocouple K class 'IEC 1'; column 3 thermocouple T class 'IEC 1'", 1, 353.15, 1.5, 0, `a: 2 missing: voltage without a temperature ("99" in line 4)`},
		{"volts.csv", "column 2 thermocouple K class 'IEC 1'; column 3 thermocouple T class 'IEC 1'", 2, 323.15, 0.5, 0, "b: 1 missing: voltage without a temperature"},
		{"volts.csv", "column 2 thermocouple type-K", 1, 353.15, 2.5, 2, ""},                  // without a class the usual one is assumed
		{"logger.csv", "column 2 thermocouple K class 'ASTM special'", 1, 353.15, 1.1, 0, ""}, // ASTM E230
		{"logger.csv", "column 2 thermocouple K class 'IEC 3'", 1, 353.15, 0, 0, "covers type K from -200 to 40 °C"},
	} {
		got, err := ReadLogs([]string{tc.file}, ReadLogsOptions{Settings: strings.ReplaceAll(tc.say, "'", `"`)})
		if err != nil {
			t.Errorf("%s: %v", tc.say, err)
			continue
		}
		l := got.Logs[0]
		// 1 µV over 41 µV/K is 0.024 K, twice half a digit.
		if x := l.Columns[tc.column]; math.Abs(x.HighK-tc.highK) > 0.025 || math.Abs(x.ErrorK-tc.errorK) > 1e-12 || len(l.Assumed) != tc.assumed {
			t.Errorf("%s: %+v, assumed %q", tc.say, x, l.Assumed)
		}
		if !strings.Contains(strings.Join(l.Notes, "\n"), tc.note) {
			t.Errorf("%s: no %q in %q", tc.say, tc.note, l.Notes)
		}
	}
	for say, want := range map[string]string{
		`column 2 thermocouple "Q"`: "volts.csv: column 2: thermocouple type \"Q\" is not one of K, T, J, E, N", `column 2 thermocouple "K" class "9"`: "tolerance class \"9\" is not one of IEC 1",
		`column 2 class "IEC 1"`: "belongs to a thermocouple", "colour red": "there is no such setting",
	} {
		if _, err := ReadLogs([]string{"volts.csv"}, ReadLogsOptions{Settings: say}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %s", say, err, want)
		}
	}
}

// A class stands for the log's error where the file states none, and what the file states goes before it.
func TestClassIsTheLogsError(t *testing.T) {
	t.Chdir(t.TempDir())
	write(t, "first.csv", firstLog(), 0o644)
	for _, tc := range []struct {
		more string
		want float64
	}{
		{`column 2 thermocouple "T" class "IEC 1"; column 3 thermocouple "K" class "IEC 2"'`, 2.5},
		{`column 2 thermocouple "T" class "IEC 1"; column 3 thermocouple "T" class "IEC 1"'`, 0.5},
		{`column 2 thermocouple "T" class "IEC 1"'`, 2}, // the other one's default
		{`column 2 thermocouple "T" class "IEC 1"'` + "\n    log error: 1.2 K", 1.2},
	} {
		write(t, "lamp.yaml", fmt.Sprintf(lamp, "\n    log reading: 'column 2 unit \"°F\"; column 3 unit \"°F\"; "+tc.more), 0o644)
		f, err := device.Load("lamp.yaml")
		if err != nil {
			t.Fatal(err)
		}
		if _, err := openLogs(f); err != nil {
			t.Fatal(err)
		}
		if got := f.Runs[0].Error; math.Abs(got.Mid-tc.want) > 1e-12 {
			t.Errorf("%s: ± %g K, want %g", tc.more, got.Mid, tc.want)
		}
		for _, a := range f.Assumptions() {
			if strings.HasPrefix(a.About, "error of the log") && a.Value != fmt.Sprintf("± %g K", tc.want) {
				t.Errorf("%s: assumed %+v", tc.more, a)
			}
		}
	}
}

func TestRemember(t *testing.T) {
	t.Chdir(t.TempDir())
	log := firstLog()
	write(t, "first.csv", log, 0o644)
	write(t, "other.csv", log, 0o644)
	write(t, "lamp.yaml", fmt.Sprintf(lamp, " # the first"), 0o644)
	got, err := ReadLogs([]string{"./first.csv"}, ReadLogsOptions{Settings: fahrenheitFrom400, Remember: "lamp.yaml"})
	if err != nil {
		t.Fatal(err)
	}
	reading := got.Logs[0].Reading
	if want := fmt.Sprintf(lamp, " # the first\n    log reading: '"+reading+"'"); read(t, "lamp.yaml") != want {
		t.Errorf("the device file is now\n%s", read(t, "lamp.yaml"))
	}
	if len(got.Remembered) != 1 || got.Remembered[0] != (RememberedLog{"lamp.yaml", "bench", "first.csv", reading}) {
		t.Errorf("%+v", got.Remembered)
	}
	rep, err := Check("lamp.yaml")
	if err != nil || len(rep.Logs[0].Assumed) > 0 || rep.Logs[0].Reading != reading || fmt.Sprint(rep.Logs[0].FirstRows) != fmt.Sprint(got.Logs[0].FirstRows) {
		t.Errorf("%v: read as remembered: %+v", err, rep)
	}
	if names(t, ".") != "first.csv lamp.yaml other.csv" || read(t, "first.csv") != log {
		t.Errorf("files: %s", names(t, "."))
	}

	for name, tc := range map[string]struct {
		text, log, want string
	}{
		"no stock run":   {fmt.Sprintf(lamp, ""), "other.csv", "no run with this log"},
		"two stock runs": {fmt.Sprintf(lamp, "") + "  - {ambient: 22 °C, log: first.csv, channels: {Chip: block}}\n", "first.csv", "2 runs with the log first.csv"},
		"broken file":    {"device: x\n", "first.csv", "parts"},
		"by hand":        {fmt.Sprintf(lamp, "\n    log reading: >-\n      decimal\n      comma"), "first.csv", "write it by hand"},
	} {
		write(t, "lamp.yaml", tc.text, 0o644)
		if _, err := ReadLogs([]string{tc.log}, ReadLogsOptions{Remember: "lamp.yaml"}); err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%s: %v, want %s", name, err, tc.want)
		}
		if read(t, "lamp.yaml") != tc.text {
			t.Errorf("%s: the device file was changed", name)
		}
	}
	// A log that does not fit what is remembered any more.
	write(t, "lamp.yaml", fmt.Sprintf(lamp, "\n    log reading: 'decimal point; delimiter comma'"), 0o644)
	if _, err := Check("lamp.yaml"); err == nil || !strings.Contains(err.Error(), "take that line out to have it guessed anew") {
		t.Errorf("%v", err)
	}
}

// Two runs in one log: each is read from its own start on.
func TestTwoRunsInOneLog(t *testing.T) {
	t.Chdir(t.TempDir())
	write(t, "first.csv", "time [s],Chip [°C],Skin [°C]\n0,22,22\n600,40,30\n1200,50,35\n1800,30,30\n2400,23,23\n3000,45,31\n", 0o644)
	write(t, "lamp.yaml", fmt.Sprintf(lamp, "")+"  - {ambient: 22 °C, log: first.csv, log reading: start 2400 s, channels: {Chip: block}}\n", 0o644)
	f, err := device.Load("lamp.yaml")
	if err != nil {
		t.Fatal(err)
	}
	logs, err := openLogs(f)
	if err != nil {
		t.Fatal(err)
	}
	g, reader := logs.forLearning(f)
	for i, want := range []string{"[0 600 1200 1800 2400 3000]", "[0 600]"} {
		tr, err := reader(g.Runs[i].Log, []string{"Chip"})
		if err != nil || fmt.Sprint(tr["Chip"].TimeS) != want {
			t.Errorf("run %d: %v %v, want times %s", i, err, tr, want)
		}
	}
	if f.Runs[0].Log != "first.csv" || f.Runs[1].Log != "first.csv" || len(logs.runs) != 2 || logs.runs[1].File != "first.csv" {
		t.Errorf("the file's own logs are called %q and %q", f.Runs[0].Log, f.Runs[1].Log)
	}
	if l, err := Learn(context.Background(), "lamp.yaml", LearnOptions{Seed: 7}, nil); err != nil || len(l.Logs) != 2 || len(l.Fits) < 25 {
		t.Errorf("%v: %+v", err, l)
	}
}

// Wide logs: columns that the run does not use are left out of what is remembered, so that the line stays readable.
func TestRememberWideLog(t *testing.T) {
	t.Chdir(t.TempDir())
	var b strings.Builder
	for i := range 31 {
		for k := range 81 {
			switch {
			case i == 0 && k == 0:
				b.WriteString("time [s]")
			case i == 0 && k == 40:
				b.WriteString(",Chip [°C]")
			case i == 0 && k == 41:
				b.WriteString(",Skin [°C]")
			case i == 0:
				fmt.Fprintf(&b, ",a spare input, number %d [°C]", k)
			case k == 0:
				fmt.Fprintf(&b, "%d", i)
			default:
				fmt.Fprintf(&b, ",%d.%d", 20+i, k%10)
			}
		}
		b.WriteString("\n")
	}
	write(t, "first.csv", strings.ReplaceAll(b.String(), "input, number", "input number"), 0o644)
	write(t, "lamp.yaml", fmt.Sprintf(lamp, ""), 0o644)
	got, err := ReadLogs([]string{"first.csv"}, ReadLogsOptions{Remember: "lamp.yaml"})
	if err != nil {
		t.Fatal(err)
	}
	if r := got.Remembered[0].Reading; len(got.Logs[0].Reading) <= longestReading || len(r) > 300 || !strings.Contains(r, `column 41 name "Chip"`) || !strings.Contains(r, `column 42 name "Skin"`) {
		t.Errorf("%d characters became %s", len(got.Logs[0].Reading), r)
	}
	if _, err := Check("lamp.yaml"); err != nil {
		t.Error(err)
	}
}

// Two loggers saw one run; the second began 130 s later and its clock loses 1 %. What is remembered puts it on the first one's clock.
func TestTogether(t *testing.T) {
	t.Chdir(t.TempDir())
	var a, b strings.Builder
	a.WriteString("time [s],chip [°C]\n")
	b.WriteString("time [s];probe [°C]\n")
	for i := range 400 {
		fmt.Fprintf(&a, "%d,%.2f\n", i*10, rise(float64(i*10)-300, 40, 500))
	}
	for i := range 900 {
		s := float64(i * 4)
		fmt.Fprintf(&b, "%g;%.2f\n", s, rise(130+1.01*s-300, 20, 500))
	}
	write(t, "a.csv", a.String(), 0o644)
	write(t, "b.csv", b.String(), 0o644)
	got, err := ReadLogs([]string{"a.csv", "b.csv"}, ReadLogsOptions{Together: true})
	if err != nil {
		t.Fatal(err)
	}
	al := got.Aligned[0]
	// Two decimals of a slope of 0.08 K/s are 0.06 s a reading; 1 s and 0.05 % are far more.
	if math.Abs(al.OffsetS-130) > 1 || math.Abs(al.Rate-1.01) > 0.0005 || al.Column != "probe" || al.OnColumn != "chip" {
		t.Errorf("%+v", al)
	}
	opt, err := benchlog.ParseOptions(al.Settings)
	if err != nil {
		t.Fatal(err)
	}
	l, err := openLog("b.csv", opt)
	if err != nil {
		t.Fatal(err)
	}
	tr := l.traces["probe"]
	for i, s := range tr.TimeS {
		if want := rise(s-300, 20, 500); math.Abs(tr.ValueK[i]-273.15-want) > 0.05 { // 1 s of 0.04 K/s
			t.Fatalf("%.2f °C at %.1f s by the first clock, want %.2f", tr.ValueK[i]-273.15, s, want)
		}
	}
	// Remembered in a device file, both are on one clock when it is learned from.
	text := strings.Replace(strings.Replace(fmt.Sprintf(lamp, ""), "first.csv", "a.csv", 1), "{Chip: block, Skin: block.front centre}", "{chip: block}", 1)
	write(t, "lamp.yaml", text+"  - {ambient: 22 °C, log: b.csv, channels: {probe: block}}\n", 0o644)
	if _, err := ReadLogs([]string{"a.csv", "b.csv"}, ReadLogsOptions{Together: true, Remember: "lamp.yaml"}); err != nil {
		t.Fatal(err)
	}
	rep, err := Check("lamp.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for i, name := range []string{"chip", "probe"} {
		x := rep.Logs[i].Columns[1]
		if x.Name != name || len(x.Switches) != 2 || math.Abs(x.Switches[0].AtS.Mid-300) > 10 || math.Abs(x.Switches[1].AtS.Mid-2100) > 15 {
			t.Errorf("%s is switched at %+v, want 300 and 2100 s", x.Name, x.Switches)
		}
	}
	// Put on the first one's clock a second time, nothing is left to move.
	if again, err := align(mustOpen(t, "a.csv"), l); err != nil || math.Abs(again.OffsetS) > 1 || math.Abs(again.Rate-1) > 0.0005 {
		t.Errorf("%v: a second time %+v", err, again)
	}
	write(t, "room.csv", "time [s],room [°C]\n0,22\n600,22.1\n1200,22\n1800,22.1\n2400,22\n3000,22\n", 0o644)
	if _, err := ReadLogs([]string{"a.csv", "room.csv"}, ReadLogsOptions{Together: true}); err == nil || !strings.Contains(err.Error(), "a.csv and room.csv: the two logs have no curve in common") {
		t.Errorf("%v", err)
	}
	if _, err := ReadLogs([]string{"a.csv"}, ReadLogsOptions{Together: true}); err == nil {
		t.Error("one log was put on its own clock")
	}
}

func mustOpen(t *testing.T, path string) *logRead {
	t.Helper()
	l, err := openLog(path, benchlog.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// Whatever is wrong with a log is said with its name, for all logs of a call.
func TestReadLogsRefuses(t *testing.T) {
	t.Chdir(t.TempDir())
	write(t, "empty.csv", "", 0o644)
	write(t, "words.csv", "Dear reader,\nno log\n", 0o644)
	_, err := ReadLogs([]string{"empty.csv", "words.csv", "none.csv"}, ReadLogsOptions{})
	for _, want := range []string{"empty.csv: the log is empty", "words.csv:1: no rows of numbers", "none.csv: there is no such log"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v lacks %s", err, want)
		}
	}
}

// Every fixture that the reader of logs understands is told without a figure that is none, and reads the same from what is remembered.
func TestEveryLayoutIsTold(t *testing.T) {
	entries, err := os.ReadDir("../benchlog/testdata")
	if err != nil {
		t.Fatal(err)
	}
	told := 0
	for _, e := range entries {
		path := "../benchlog/testdata/" + e.Name()
		if e.IsDir() || e.Name() == "summaries.txt" {
			continue
		}
		got, err := ReadLogs([]string{path}, ReadLogsOptions{})
		if err != nil {
			continue // refused, see benchlog's own tests
		}
		told++
		l := got.Logs[0]
		again, err := ReadLogs([]string{path}, ReadLogsOptions{Settings: l.Reading})
		if err != nil {
			t.Errorf("%s as %s: %v", e.Name(), l.Reading, err)
			continue
		}
		if figures(again.Logs[0]) != figures(l) {
			t.Errorf("%s as %s:\n%s\nbefore:\n%s", e.Name(), l.Reading, figures(again.Logs[0]), figures(l))
		}
	}
	if told < 60 {
		t.Errorf("only %d logs were told of", told)
	}
}

// figures are the numbers of a log's temperatures.
func figures(l report.LogFigures) string {
	s := fmt.Sprintf("%d rows up to %g s", l.Rows, l.EndS)
	for _, x := range l.Columns {
		if x.Temperature {
			s += fmt.Sprintf("; %s %d %.3f %.3f %v %v", x.Name, x.Readings, x.LowK, x.HighK, x.Dropped, x.Switches)
		}
	}
	return s
}

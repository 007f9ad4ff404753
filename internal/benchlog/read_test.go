package benchlog

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestReadUnderstandsUnitsGapsAndRemarks(t *testing.T) {
	log, err := Read("x.csv", strings.NewReader("# invented\ntime [min],plate [°F],air [°C]\n0,77,20\n1.5,,21\n3,95,nan\n"))
	if err != nil {
		t.Fatal(err)
	}
	plate, air := log.Traces["plate"], log.Traces["air"]
	// 77 °F = 25 °C and 95 °F = 35 °C by the definition of the Fahrenheit scale, (t − 32)·5/9.
	want := []float64{298.15, 308.15}
	for i, w := range want {
		if math.Abs(plate.ValueK[i]-w) > 1e-9 {
			t.Errorf("plate %d: %v K, want %v", i, plate.ValueK[i], w)
		}
	}
	if plate.TimeS[1] != 180 || len(air.TimeS) != 2 || air.TimeS[1] != 90 {
		t.Errorf("times: plate %v, air %v", plate.TimeS, air.TimeS)
	}
}

func TestWhatCannotBeReadIsRefused(t *testing.T) {
	for _, tc := range []struct{ name, in, want string }{
		{"empty", "", "x.csv: the log is empty"},
		{"remarks only", "# nothing\n", "x.csv: the log has remarks but no readings"},
		{"heading only", "time [s],T1 [°C]\n", `x.csv:1: there is a heading but no readings; it reads "time [s],T1 [°C]"`},
		{"no clock", "T1 [°C];T2 [°C]\n20,1;21,5\n20,0;21,6\n", `x.csv:2: no column tells the time, and no line says how far apart the rows are; it reads "20,1;21,5": say it, such as: interval 1 s`},
		{"time stands", "time [s],T1 [°C]\n5,20\n5,21\n5,22\n", `x.csv:2: all times are equal (field 1)`},
		{"time falls", "time [s],T1 [°C]\n5,20\n4,21\n3,22\n", `x.csv:2: field 1 never rises, so it is not the time`},
		{"impossible date", "time,T1 [°C]\n45.45.2024 10:00,20\n46.45.2024 10:01,21\n", "x.csv:2: the dates fit none of year-month-day, day-month-year and month-day-year"},
		{"words for readings", "time [s],T1 [°C]\n0,22\n60,warm\n", `x.csv:3: "warm" in column "T1" is not a temperature; it reads "60,warm": if the word`},
		{"comma twice", "time [s],T1 [°C]\n0,22,4\n60,23,5\n", `x.csv:2: the rows have 3 fields under 2 names: a comma that parts the fields is probably also the decimal comma`},
		{"mixed degrees", "time [s],T1 [°F],T2\n0,70,20\n1,71,20\n", `x.csv: column "T2" has no unit, while other columns are in °F`},
		{"workbook", "PK\x03\x04....", "x.csv: it is a spreadsheet workbook or an archive, not a text file: save"},
		{"binary", "\x01\x02\x03\x04\x05\x06", "x.csv: it is binary data, not a text file"},
		{"prose", "dear reader\nno log\n", `x.csv:1: no rows of numbers were found; it reads "dear reader"`},
		{"long line", "time [s],T1 [°C]\n0,20\n1," + strings.Repeat("1", maxLine+5) + "\n", "x.csv:3: the line is longer than a million characters"},
	} {
		_, err := Read("x.csv", strings.NewReader(tc.in))
		var e *Error
		if err == nil || !strings.HasPrefix(err.Error(), tc.want) || !errors.As(err, &e) {
			t.Errorf("%s: got %v, want %s", tc.name, err, tc.want)
		}
	}
	if _, err := Open("testdata/there-is-none.csv"); err == nil || err.Error() != "testdata/there-is-none.csv: there is no such log" {
		t.Errorf("missing file: %v", err)
	}
	if _, err := Open("testdata"); err == nil || err.Error() != "testdata: it is a folder, not a log" {
		t.Errorf("folder: %v", err)
	}
}

// The standard library's conversion is the reference.
func TestNumbersAgreeWithTheStandardLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`[+-]?[0-9]{1,22}(\.[0-9]{0,12})?([eE][+-]?[0-9]{1,2})?`).Draw(t, "text")
		want, err := strconv.ParseFloat(text, 64)
		if err != nil {
			return
		}
		if got, ok := plainNumber([]byte(text), '.'); !ok || got != want {
			t.Fatalf("%s read as %v (%v), want %v", text, got, ok, want)
		}
		if got, ok := plainNumber([]byte(strings.Replace(text, ".", ",", 1)), ','); !ok || got != want {
			t.Fatalf("%s with a comma read as %v (%v), want %v", text, got, ok, want)
		}
	})
	for _, tc := range []struct {
		text    string
		decimal byte
		want    float64
		ok      bool
	}{
		{"1,234.5", '.', 1234.5, true}, {"1.234,5", ',', 1234.5, true}, {"1 234,5", ',', 1234.5, true}, {"'24.8'", '.', 24.8, true}, {"['24.8'", '.', 24.8, true},
		{"−3.5", '.', -3.5, true}, {"23,4", '.', 0, false}, {"1,23,4", '.', 0, false}, {"12.03.2024", '.', 0, false}, {"", '.', 0, false}, {"-", '.', 0, false},
		{"1e", '.', 0, false}, {"1e999", '.', 0, false}, {".", '.', 0, false}, {"0x10", '.', 0, false}, {"NaN", '.', 0, false},
	} {
		got, _, ok := parseNumber([]byte(tc.text), tc.decimal)
		if ok != tc.ok || got != tc.want {
			t.Errorf("%q: %v %v, want %v %v", tc.text, got, ok, tc.want, tc.ok)
		}
	}
}

// The standard library's calendar is the reference.
func TestStampsAgreeWithTheStandardLibrary(t *testing.T) {
	layouts := []struct {
		layout string
		o      order
	}{
		{"2006-01-02 15:04:05", orderYMD}, {"2006/01/02 15:04:05", orderYMD}, {"2006-01-02T15:04:05Z07:00", orderYMD}, {"02.01.2006 15:04:05", orderDMY}, {"02/01/2006 3:04:05 PM", orderDMY},
		{"01/02/2006 15:04:05", orderMDY}, {"1/2/06 3:04:05 pm", orderMDY}, {"02-Jan-2006 15:04:05", orderDMY}, {"Jan 2, 2006 15:04:05", orderDMY}, {"Mon, 02 Jan 2006 15:04:05", orderDMY},
		{"2006-01-02 15:04:05.000", orderYMD}, {"06-01-02 15:04:05", orderYMD}, {"2. Jan 2006 15:04:05", orderDMY}, {"2006-01-02 15:04:05 W. Europe Standard Time", orderYMD},
	}
	rapid.Check(t, func(t *rapid.T) {
		at := time.Unix(rapid.Int64Range(946684800, 4102444799).Draw(t, "unix"), 0).UTC() // 2000 to 2099
		l := layouts[rapid.IntRange(0, len(layouts)-1).Draw(t, "layout")]
		text := at.Format(l.layout)
		st, ok := parseStamp([]byte(text))
		if !ok {
			t.Fatalf("%q is not read", text)
		}
		if s, ok := st.seconds(l.o); !ok || s != float64(at.Unix()) {
			t.Fatalf("%q read as %v, want %d", text, s, at.Unix())
		}
	})
	for _, tc := range []struct {
		text string
		todS float64
	}{{"14:05:10:250", 50710.25}, {"14:05:10,25", 50710.25}, {"12:00 AM", 0}, {"12:30 PM", 45000}, {"00:00", 0}, {"100:00:01", 360001}} {
		if st, ok := parseStamp([]byte(tc.text)); !ok || math.Abs(st.todS-tc.todS) > 1e-9 {
			t.Errorf("%q read as %v %v, want %v", tc.text, st.todS, ok, tc.todS)
		}
	}
	for _, text := range []string{"14:65:00", "23.4", "1710250000", "2024-03", "14:05;23", "14:05:10,23.4,40", "T1", "12.03.2024 14:05 23,4", ""} {
		if st, ok := parseStamp([]byte(text)); ok {
			t.Errorf("%q read as the time %+v", text, st)
		}
	}
}

// A day number's example, from its definition: days since 30 December 1899.
func TestDayNumber(t *testing.T) {
	want := time.Date(2024, 3, 12, 14, 4, 50, 0, time.UTC)
	days := want.Sub(time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)).Hours() / 24
	if math.Abs(days-45363.5866898) > 1e-7 {
		t.Fatalf("%v is day %.7f", want, days)
	}
	// Seven days later the last rows; both cut in two by a decimal comma.
	log, err := Read("x", strings.NewReader("45363,5866898,23,4\n45363,5868056,23,9\n45363,5869213,24,1\n"))
	if err != nil {
		t.Fatal(err)
	}
	tr := log.Traces["ch1"]
	if len(tr.TimeS) != 3 || math.Abs(tr.TimeS[2]-20) > 0.02 || math.Abs(tr.ValueK[2]-297.25) > 1e-9 {
		t.Errorf("%v", tr)
	}
}

func TestDecoding(t *testing.T) {
	for _, tc := range []struct {
		enc       Encoding
		in, want  string
		sniffable bool
	}{
		{UTF8, "\xef\xbb\xbf°C", "°C", true},
		{Windows1252, "\xb0C \x80 \x93x\x94", "°C € “x”", true}, // WHATWG index windows-1252
		{UTF16LE, "\xff\xfe\xb0\x00C\x00\x3d\xd8\x00\xde", "°C😀", true},
		{UTF16BE, "\xfe\xff\x00\xb0\x00C\xd8\x3d\xde\x00", "°C😀", true},
		{UTF8, "a\x00\x00b", "ab", true},
	} {
		if got := sniffEncoding([]byte(tc.in)); got != tc.enc {
			t.Errorf("%q sniffed as %s, want %s", tc.in, got, tc.enc)
		}
		for _, chunk := range []int{1, 2, 3, 7, 100} {
			got, err := io.ReadAll(newDecoder(&slowReader{[]byte(tc.in), chunk}, tc.enc))
			if err != nil || string(got) != tc.want {
				t.Errorf("%q as %s in pieces of %d: %q %v, want %q", tc.in, tc.enc, chunk, got, err, tc.want)
			}
		}
	}
}

// slowReader hands out a few bytes at a time.
type slowReader struct {
	rest  []byte
	chunk int
}

func (r *slowReader) Read(p []byte) (int, error) {
	if len(r.rest) == 0 {
		return 0, io.EOF
	}
	n := copy(p, r.rest[:min(r.chunk, len(r.rest))])
	r.rest = r.rest[n:]
	return n, nil
}

func TestUnits(t *testing.T) {
	for name, u := range unitSpellings {
		if again, ok := parseUnit(u.Name); !ok || again != u {
			t.Errorf("%s: its own name %q reads as %v %v", name, u.Name, again, ok)
		}
	}
	for _, text := range []string{"°C", "C", "degC", "deg C", "[°C]", "(C)", "Â°C", "Ã‚Â°C", "ÄC", "ºC", "?C", "\ufffdC", "Celsius", "℃", "\u0081‹C", "øC"} {
		if u, ok := parseUnit(text); !ok || u.Name != "°C" {
			t.Errorf("%q reads as %v %v, want °C", text, u, ok)
		}
	}
	for _, text := range []string{"", "x", "k", "CH1", "°", "Ä", "TC"} {
		if u, ok := parseUnit(text); ok {
			t.Errorf("%q reads as the unit %v", text, u)
		}
	}
	for _, tc := range []struct{ heading, name, unit string }{
		{"T1 [°C]", "T1", "°C"}, {"T1 (degC)", "T1", "°C"}, {"T1/°C", "T1", "°C"}, {"Temp, °C", "Temp", "°C"}, {"temp_C", "temp", "°C"}, {"Chip °F", "Chip", "°F"}, {"Time in min", "Time", "min"}, {"probe C", "probe", "°C"}, {"[°C]", "", "°C"},
	} {
		if name, u, ok := splitUnit(tc.heading); !ok || name != tc.name || u.Name != tc.unit {
			t.Errorf("%q: %q %q %v", tc.heading, name, u.Name, ok)
		}
	}
	for _, h := range []string{"channel C", "T1", "wing A", "chip [upper]"} {
		if name, u, ok := splitUnit(h); ok || name != h {
			t.Errorf("%q: %q %q", h, name, u.Name)
		}
	}
	// SI Brochure, 9th ed., 2.3.1; NIST SP 811, B.8: 212 °F is 100 °C, -40 is the same in both.
	for _, tc := range []struct{ f, k float64 }{{212, 373.15}, {-40, 233.15}, {32, 273.15}} {
		if k := fahrenheit.SI(tc.f); math.Abs(k-tc.k) > 1e-9 {
			t.Errorf("%v °F is %v K, want %v", tc.f, k, tc.k)
		}
	}
}

func TestThermocoupleVoltageIsConvertedByTheCaller(t *testing.T) {
	in := "time [s],TC1 [mV],cold junction [°C]\n0,0.000,23.0\n1,0.410,24.0\n2,0.820,nan\n3,99,23\n"
	opt := mustOptions(t, `column 2 thermocouple "K"`)
	opt.Convert = func(letter string, mV, coldC float64) (float64, error) {
		if letter != "K" || mV > 55 {
			return 0, errors.New("out of the table")
		}
		return coldC + mV/0.041, nil // 41 µV/K: enough for a hook
	}
	log, err := ReadWith("x", strings.NewReader(in), opt)
	if err != nil {
		t.Fatal(err)
	}
	tr := log.Traces["TC1"]
	if len(tr.TimeS) != 2 || math.Abs(tr.ValueK[0]-296.15) > 1e-9 || math.Abs(tr.ValueK[1]-307.15) > 1e-9 {
		t.Errorf("%v, %v", tr, log.Summary.Missing)
	}
	if len(log.Columns) != 1 || log.Columns[0] != "TC1" {
		t.Errorf("columns %v", log.Columns)
	}
	// A logger that has turned it into a temperature itself keeps that; type and class only tell how wrong it may be.
	log, err = ReadWith("x", strings.NewReader("time [s],T1 [°C]\n0,20\n1,21\n"), mustOptions(t, `column 2 thermocouple "T" class "IEC 1"`))
	if c := log.Channels[0].Column; err != nil || c.Role != RoleTemperature || c.Converted || c.Thermocouple != "T" || c.Class != "IEC 1" || log.Traces["T1"].ValueK[0] != 293.15 {
		t.Errorf("%v %+v", err, c)
	}
	// Without type or conversion it stays a voltage, and a question is asked.
	log, err = Read("x", strings.NewReader(in))
	if err != nil || len(log.Columns) != 0 || log.Channels[0].Kind() != Voltage || !strings.Contains(log.Guess.String(), `"TC1" is in mV`) {
		t.Errorf("%v %v\n%v", err, log.Columns, log.Guess)
	}
}

func TestTheDateTellsTheOrderWhenItChanges(t *testing.T) {
	// Month first: from 3 to 4 April across midnight, far behind the part that is looked at.
	at := time.Date(2024, 4, 3, 2, 0, 0, 0, time.UTC)
	var b strings.Builder
	b.WriteString("time,T1 [°C]\n")
	rows := 0
	for end := at.Add(24 * time.Hour); at.Before(end); at = at.Add(2 * time.Second) {
		fmt.Fprintf(&b, "%s,%.1f\n", at.Format("01/02/2006 15:04:05"), 20+float64(rows%7))
		rows++
	}
	if b.Len() < HeadBytes {
		t.Fatal("the head holds it all")
	}
	log, err := Read("x", strings.NewReader(b.String()))
	if err != nil {
		t.Fatal(err)
	}
	if log.Summary.LastS != float64(2*(rows-1)) || log.Summary.Rows != rows {
		t.Errorf("%d rows up to %v s, want %d up to %d; %v", log.Summary.Rows, log.Summary.LastS, rows, 2*(rows-1), log.Summary.Findings)
	}
	if len(log.Summary.Findings) != 1 || !strings.Contains(log.Summary.Findings[0].What, "month-day-year") {
		t.Errorf("%v", log.Summary.Findings)
	}
}

func TestOptionsText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pick := func(name string, from ...string) string { return rapid.SampledFrom(from).Draw(t, name) }
		text := rapid.String()
		o := Options{
			Encoding:  Encoding(pick("encoding", "", "utf-8", "utf-16le", "utf-16be", "windows-1252")),
			Delimiter: pick("delimiter", "", "comma", "semicolon", "tab", "pipe", "space"),
			Decimal:   pick("decimal", "", "point", "comma"), HeadingLine: rapid.IntRange(-1, 50).Draw(t, "heading"), FirstLine: rapid.IntRange(0, 50).Draw(t, "first"),
			Mark: text.Draw(t, "mark"), Clock: ClockKind(pick("clock", "", "s", "hh:mm:ss", "d-m-y", "unix ms", "time of day", "sample")),
			IntervalS: rapid.SampledFrom([]float64{0, 0.1, 1, 86400}).Draw(t, "interval"), CloseJumps: rapid.Bool().Draw(t, "jumps"),
		}
		o.StartS, o.Rate = rapid.SampledFrom([]float64{0, -12.5, 312}).Draw(t, "start"), rapid.SampledFrom([]float64{0, 0.99, 1.01}).Draw(t, "rate")
		if o.HasCold = rapid.Bool().Draw(t, "has cold"); o.HasCold {
			o.ColdC = rapid.Float64Range(-50, 90).Draw(t, "cold")
		}
		for k := range rapid.IntRange(0, 3).Draw(t, "columns") {
			o.TimeFields = append(o.TimeFields, rapid.IntRange(1, 9).Draw(t, "time"))
			o.Codes = append(o.Codes, text.Draw(t, "code"))
			o.Columns = append(o.Columns, ColumnOption{3*k + rapid.IntRange(1, 3).Draw(t, "field"), text.Draw(t, "name"), pick("unit", "", "°C", "°F", "mV"), Role(pick("role", "", "set point", "temperature")), pick("thermocouple", "", "K"), pick("class", "", "IEC 2")})
		}
		again, err := ParseOptions(o.String())
		if err != nil || again.String() != o.String() {
			t.Fatalf("%s\nbecomes %s\n%v", o, again, err)
		}
	})
	if o := mustOptions(t, "column 2 unit °F; column 3 name a; column 2 name chip; column 2 unit K"); o.String() != `column 2 name "chip" unit "K"; column 3 name "a"` {
		t.Errorf("what is said of one column adds up to %s", o)
	}
	for _, tc := range []struct{ text, want string }{
		{"colour red", "there is no such setting"}, {"delimiter x", "the delimiter may be comma"}, {"clock never", "the clock may be s, ms"}, {"interval 0 s", "a time such as 1 s"}, {"interval 2 V", "a time such as 1 s"},
		{"column 2 unit furlong", "not a unit"}, {"column x", "such as column 3"}, {"first 0", "a line's number"}, {`mark "x`, "do not close"}, {"encoding", "a value is missing"}, {"column 2 role king", "the role may be time"},
		{"start x", "a time such as 312 s"}, {"start 2 V", "a time such as 312 s"}, {"rate 0", "a number from 0.5 to 2"}, {"rate -1", "a number from 0.5 to 2"}, {"rate NaN", "a number from 0.5 to 2"}, {"start NaN s", "a time such as"},
	} {
		if _, err := ParseOptions(tc.text); err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%q: %v, want %s", tc.text, err, tc.want)
		}
	}
}

// Every setting has an example that is understood, and is written back as itself.
func TestSettings(t *testing.T) {
	for _, s := range Settings {
		o, err := ParseOptions(s.Name + " " + s.Example)
		if err != nil || !strings.HasPrefix(o.String(), s.Name+" ") {
			t.Errorf("%s %s: %v %v", s.Name, s.Example, o, err)
		}
	}
}

// Times and events are counted from the start of the run, by the run's clock: 312 s are its start, 101 s of it 100 s of the log.
func TestRunClock(t *testing.T) {
	in := "time [s];chip [°C]\n0;20\n312;20\nswitched on\n412;30\n512;36\n"
	log, err := ReadWith("x", strings.NewReader(in), mustOptions(t, "start 5.2 min; rate 1.01"))
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{-315.12, 0, 101, 202} {
		if got := log.Traces["chip"].TimeS[i]; math.Abs(got-want) > 1e-9 {
			t.Errorf("reading %d at %v s, want %v", i, got, want)
		}
	}
	if len(log.Events) != 1 || math.Abs(log.Events[0].TimeS) > 1e-9 || math.Abs(log.Summary.LastS-202) > 1e-9 || !strings.HasPrefix(log.Guess.First[3], "3.37 min") {
		t.Errorf("%v, the last at %v s, %q", log.Events, log.Summary.LastS, log.Guess.First)
	}
}

// Probes without readings of their own, as users' files show them: the same on two inputs, the lowest of the others.
func TestCopies(t *testing.T) {
	var same, room, lowest strings.Builder
	same.WriteString("time [s],T1 [°C],T2 [°C]\n")
	room.WriteString("time [s],T1 [°C],T2 [°C],T3 [°C],T4 [°C]\n")
	lowest.WriteString("time [s],T1 [°C],T2 [°C],T3 [°C]\n")
	for i := range 20 {
		fmt.Fprintf(&same, "%d,-16.36,-16.36\n", i)
		fmt.Fprintf(&room, "%d,22.5,22.5,%d,%d\n", i, 22+i, 22+i+i%2)
		fmt.Fprintf(&lowest, "%d,%d,%d,%d\n", i, 20+i, 30, min(20+i, 30))
	}
	for _, tc := range []struct{ in, want string }{
		{same.String(), `["T1", "T2" read the same in every row: one probe on several inputs, or inputs without probes; use one of them at most]`},
		{room.String(), `[]`},
		{lowest.String(), `["T3" reads in every row what the lowest of the other probes reads: an input without a probe does that]`},
	} {
		log, err := Read("x", strings.NewReader(tc.in))
		if err != nil || fmt.Sprint(log.Summary.Findings) != tc.want {
			t.Errorf("%v %v, want %s", err, log.Summary.Findings, tc.want)
		}
	}
}

// Bins against means and deviations taken directly over the readings that a point says it stands for.
func TestBinsKeepMeansAndExtremes(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 19))
	const rows, limit = 100000, 500
	b := NewBins(2, limit)
	var all []float64
	for i := range rows {
		v := 300 + 20*math.Sin(float64(i)/9000) + rng.NormFloat64()
		all = append(all, v)
		why := []Reason{Present, Blank}
		if i%10 == 0 {
			why[1] = Present
		}
		if err := b.Row(float64(i), []float64{v, v}, why); err != nil {
			t.Fatal(err)
		}
	}
	points := b.Points(0)
	if len(points) > 2*limit+1 || len(points) < limit/2 {
		t.Errorf("%d points, want about %d", len(points), limit)
	}
	at, last := 0, math.Inf(-1)
	for _, p := range points {
		var sum, squares, time float64
		lo, hi := math.Inf(1), math.Inf(-1)
		for k := at; k < at+p.N; k++ {
			sum, time = sum+all[k], time+float64(k)
			lo, hi = math.Min(lo, all[k]), math.Max(hi, all[k])
		}
		mean := sum / float64(p.N)
		for k := at; k < at+p.N; k++ {
			squares += (all[k] - mean) * (all[k] - mean)
		}
		if math.Abs(p.Mean-mean) > 1e-9 || math.Abs(p.Std-math.Sqrt(squares/float64(p.N))) > 1e-6 || p.Min != lo || p.Max != hi || math.Abs(p.TimeS-time/float64(p.N)) > 1e-6 || p.TimeS <= last {
			t.Fatalf("point %+v from reading %d on: mean %v, %v to %v", p, at, mean, lo, hi)
		}
		at, last = at+p.N, p.TimeS
	}
	if at != rows {
		t.Errorf("the points stand for %d readings, want %d", at, rows)
	}
	n := 0
	for _, p := range b.Points(1) {
		n += p.N
	}
	if n != rows/10 {
		t.Errorf("the thin channel has %d readings, want %d", n, rows/10)
	}
}

// Two clocks apart by a known offset and rate must be found again.
func TestAlign(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 11))
	curve := func(s float64) float64 { // on at 300 s, off at 2400 s
		on := func(t0 float64) float64 { return 1 - math.Exp(-math.Max(0, s-t0)/600) }
		return 296 + 40*on(300) - 40*on(2400)
	}
	for _, tc := range []struct{ offsetS, rate float64 }{{0, 1}, {37, 1}, {-212, 1.01}, {500, 0.99}} {
		var a, b Trace
		for s := 0.0; s < 4000; s += 10 {
			a.TimeS, a.ValueK = append(a.TimeS, s), append(a.ValueK, curve(s)+0.1*rng.NormFloat64())
		}
		for s := 0.0; s < 3500; s += 4 {
			b.TimeS, b.ValueK = append(b.TimeS, s), append(b.ValueK, 290+0.6*(curve(tc.offsetS+tc.rate*s)-290)+0.1*rng.NormFloat64())
		}
		al, err := Align(a, b)
		if err != nil {
			t.Errorf("%+v: %v", tc, err)
			continue
		}
		// 0.1 K of noise on a slope of 40 K in 600 s is 1.5 s a reading; hundreds of readings leave far less. 2 s and 0.1 % are safe.
		if math.Abs(al.OffsetS-tc.offsetS) > 2 || math.Abs(al.Rate-tc.rate) > 0.001 {
			t.Errorf("%+v found as %+v", tc, al)
		}
		if moved := al.Apply(b); math.Abs(moved.TimeS[100]-(al.OffsetS+al.Rate*b.TimeS[100])) > 1e-9 {
			t.Errorf("moved to %v", moved.TimeS[100])
		}
	}
	var flat, noise Trace
	for s := 0.0; s < 1000; s += 10 {
		flat.TimeS, flat.ValueK = append(flat.TimeS, s), append(flat.ValueK, curve(s))
		noise.TimeS, noise.ValueK = append(noise.TimeS, s), append(noise.ValueK, 296+rng.NormFloat64())
	}
	if al, err := Align(flat, noise); err == nil {
		t.Errorf("a curve and noise are aligned: %v", al)
	}
	if _, err := Align(Trace{}, flat); err == nil {
		t.Error("nothing is aligned")
	}
}

// The original file is opened for reading only, and what is not read is not needed: one pass, in pieces of any size.
func TestOnePassInPieces(t *testing.T) {
	var b bytes.Buffer
	b.WriteString("time [s];chip [°C]\r\n")
	for i := range 3000 {
		fmt.Fprintf(&b, "%d;%d,5\r\n", i, 20+i%50)
	}
	whole, err := Read("x", bytes.NewReader(b.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	for _, chunk := range []int{1, 13, 4096} {
		pieces, err := Read("x", &slowReader{b.Bytes(), chunk})
		if err != nil {
			t.Fatal(err)
		}
		if fmt.Sprint(whole.Traces) != fmt.Sprint(pieces.Traces) {
			t.Errorf("in pieces of %d it reads otherwise", chunk)
		}
	}
}

// What is said goes before what is guessed.
func TestWhatIsSaidWins(t *testing.T) {
	in := "made by us;2;3\nTime;A;B\n10:00;72,5;5\n10:10;88;5\n10:20;XX;5\n"
	log, err := ReadWith("x", strings.NewReader(in), mustOptions(t, `column 2 name "chip" unit "°F"; column 3 role "set point" unit "°C"; code "XX"; code "88"; clock "mm:ss"`))
	if err != nil {
		t.Fatal(err)
	}
	tr := log.Traces["chip"]
	if len(log.Columns) != 1 || len(tr.TimeS) != 1 || tr.TimeS[0] != 600 || math.Abs(tr.ValueK[0]-273.15-22.5) > 1e-9 || log.Channels[1].Role != RoleSetPoint {
		t.Errorf("%v %v %v", log.Columns, tr, log.Summary.Missing)
	}
	log, err = ReadWith("x", strings.NewReader(in), mustOptions(t, "first 4; heading none; decimal comma"))
	if err != nil || log.Guess.FirstLine != 4 || log.Columns[0] != "ch1" || log.Summary.Rows != 2 {
		t.Errorf("%v\n%v", err, log)
	}
	if log, err = Read("x", strings.NewReader("Time,Chip,Case\n10:00,72,70\n10:10,88,80\n")); err != nil || !strings.Contains(log.Guess.String(), "a room's in °F") {
		t.Errorf("%v: no doubt about °C in\n%v", err, log)
	}
	for say, want := range map[string]string{"time 9": "no field 9", "first 99": "the first row should be in line 99", "clock s": "cannot be read as seconds", "time 3": "all times are equal (field 3)"} {
		if _, err := ReadWith("x", strings.NewReader(strings.Replace(in, "XX;", "89;", 1)), mustOptions(t, say)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %s", say, err, want)
		}
	}
}

func FuzzRead(f *testing.F) {
	for _, s := range []string{
		"time [s],T1 [°C]\n0,20\n5,21\n", "time [s],T1 [°C]\n\"0,20\n", "\ufefftime [ms], T 1 [°F]\n1e300,-1e308\n",
		"12.03.2024;14:05:10;23,4;41,7;OL\n12.03.2024;14:05:20;23,5;41,8;OL\n", "\"0.000\",\"+21.30\",\"+2.1450e+01\",\n\"1.000\",\"+21.40\",\"+2.1450e+01\",\n",
		"1710250000,nan,40.25\n1710250010,nan,40.5\n", "45363,5866898,23,4\n45363,5867898,23,4\n", "2024-03-12 14:05:10:250\t1\t20\n2024-03-12 14:05:10:250\t2\tinf\n2024-03-12 14:05:11:250\t1\t21\n",
		"['24.8', '25.0']\n['24.8', '25.0']\n", "start 14:05 chip 41 °C 108 °F\n", "\xff\xfet\x00;\x001\x00\n\x00", "D,1,03-12-24,14:05,1\nS,1,2\nD,2,03-12-24,14:06,1\n",
		"a|b\rc|d\r1|2\r", "1:30 5\n1:31 6\n", "No\tValue\tUnit\n1\t2\tmV\n2\t3\tV\n",
	} {
		f.Add(s, "")
		f.Add(s, "interval 1 s; clock sample")
	}
	files, err := filepath.Glob("testdata/*.*")
	if err != nil || len(files) < 70 {
		f.Fatal(files, err)
	}
	for _, path := range files {
		if data, err := os.ReadFile(path); err == nil && len(data) < 2000 {
			f.Add(string(data), "")
		}
	}
	f.Fuzz(func(t *testing.T, in, say string) {
		opt, err := ParseOptions(say)
		if err != nil {
			return
		}
		log, err := ReadWith("x.csv", strings.NewReader(in), opt)
		if err != nil {
			var e *Error
			if !errors.As(err, &e) || e.What == "" {
				t.Fatalf("an error that says nothing: %v", err)
			}
			return
		}
		_ = log.Guess.String()
		if _, err := ParseOptions(log.Guess.Options().String()); err != nil {
			t.Fatalf("a guess that cannot be remembered: %v", err)
		}
		for name, tr := range log.Traces {
			last := math.Inf(-1)
			for i, s := range tr.TimeS {
				if s < last || math.IsNaN(s) || math.IsInf(s, 0) {
					t.Fatalf("%q: times do not rise: %v", name, tr.TimeS)
				}
				last = s
				if k := tr.ValueK[i]; !(k > 173 && k < 974) {
					t.Fatalf("%q: %v K is no temperature", name, k)
				}
			}
		}
	})
}

package benchlog

import (
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write testdata/summaries.txt anew; read every line of it before it is committed")

// All fixtures are invented by us and tell the same invented run, so that what is read can be compared with these numbers
// whatever the layout: ten rows, 10 s apart, from 12 March 2024 14:05:10 on where a date is given.
var (
	chipC = []float64{23.4, 27.0, 30.1, 32.7, 35.0, 36.9, 38.5, 39.8, 40.9, 41.7}
	caseC = []float64{23.1, 24.0, 25.2, 26.5, 27.7, 28.9, 30.0, 31.0, 31.9, 32.7}
)

// fixtures names each file's columns for the two curves ("" where it has only one), the rows in which the chip's reading is
// missing, and what has to be said for the file to be read.
var fixtures = []struct {
	file, chip, shell string
	missing           []int
	tolK              float64 // 0: as written, 0.001
	stepS             float64 // 0: 10
	say               string
}{
	{"L01_tester.csv", "Chip", "Case", nil, 0, 0, ""},
	{"L01_range_row.csv", "Chip", "Case", nil, 0, 0, ""},
	{"L02_recorder.csv", "chip", "case", nil, 0, 0, ""},
	{"L03_labelled.csv", "chip", "case", nil, 0, 0, ""},
	{"L03_dated.csv", "U1-1", "U1-2", nil, 0, 0, ""},
	{"L04_display.csv", "chip", "case", nil, 0, 0, ""},
	{"L05_chart.txt", "chip Min", "case Min", nil, 0, 0, ""},
	{"L05_japanese.txt", "chip", "case", nil, 0, 0, "column 3 name chip; column 5 name case"},
	{"L06_panel.txt", "ch1", "ch2", []int{4}, 0, 0, ""},
	{"L07_sampler.txt", "ch3", "ch4", nil, 0, 0, ""},
	{"L07_two_shapes.txt", "ch3", "ch4", nil, 0, 0, ""},
	{"L08_signed.csv", "ch2", "ch3", nil, 0, 0, ""},
	{"L08_controller.csv", "ch2", "ch3", nil, 0, 0, ""},
	{"L09_meter.txt", "Now", "", []int{3}, 0, 0, ""},
	{"L10_cable.txt", "ch1", "", nil, 0, 0, "interval 10 s"},
	{"L11_radio_meter.txt", "Value", "", nil, 0.03, 0, "interval 10 s"}, // half of 0.1 °F is 0.028 K
	{"L12_radio_thermometer.txt", "ch1", "", nil, 0, 0, ""},
	{"L13_kiln.csv", "probe", "", nil, 0, 0, ""},
	{"L14_semicolon.csv", "Chip", "", nil, 0, 0, ""},
	{"L14_quoted.csv", "chip", "case", nil, 0, 0, ""},
	{"L14_thousands.txt", "chip", "case", nil, 0, 0, ""},
	{"L15_all_cut.csv", "ch1", "ch2", nil, 0, 0, ""},
	{"L15_day_cut.csv", "chip", "", nil, 0.28, 0, ""}, // half of 1 °F
	{"L17_phone.csv", "chip", "", nil, 0, 1, ""},
	{"L18_analyser.txt", "chip", "", nil, 0, 0, ""},
	{"L19_triple.csv", "T mean", "", nil, 0, 0, ""},
	{"L19_joined_words.csv", "Tavg", "", nil, 0, 0, ""},
	{"L22_spots.csv", "Sp1", "Sp2", nil, 0, 0, ""},
	{"L20_valve.txt", "Actual", "Actual (2)", nil, 0, 60, ""},
	{"L24_events.csv", "chip", "", nil, 0, 0, "jumps closed"},
	{"L25_joined.csv", "temp", "", nil, 0, 0, ""},
	{"enc_utf8.csv", "chip", "case", nil, 0, 0, ""},
	{"enc_utf8_bom.csv", "chip", "case", nil, 0, 0, ""},
	{"enc_utf16le.csv", "chip", "case", nil, 0, 0, ""},
	{"enc_utf16be.csv", "chip", "case", nil, 0, 0, ""},
	{"enc_utf16le_bom.csv", "chip", "case", nil, 0, 0, ""},
	{"enc_utf16be_bom.csv", "chip", "case", nil, 0, 0, ""},
	{"enc_windows1252.csv", "chip", "case", nil, 0, 0, ""},
	{"enc_c4.csv", "chip", "case", nil, 0, 0, ""},
	{"enc_twice.csv", "chip", "case", nil, 0, 0, ""},
	{"enc_thrice.csv", "chip", "case", nil, 0, 0, ""},
	{"enc_ordinal.csv", "chip", "case", nil, 0, 0, ""},
	{"enc_shiftjis.csv", "chip", "case", nil, 0, 0, ""},
	{"enc_nul.csv", "chip", "case", nil, 0, 0, ""},
	{"enc_cr.csv", "chip", "case", nil, 0, 0, ""},
	{"enc_crlf.csv", "chip", "case", nil, 0, 0, ""},
	{"clock_min.csv", "chip", "case", nil, 0, 0, ""},
	{"clock_h.csv", "chip", "case", nil, 0, 0, ""},
	{"clock_hms.csv", "chip", "case", nil, 0, 0, ""},
	{"clock_mmss.csv", "chip", "case", nil, 0, 0, ""},
	{"clock_midnight.csv", "chip", "case", nil, 0, 0, ""},
	{"clock_noon.csv", "chip", "case", nil, 0, 0, ""},
	{"clock_ampm.csv", "chip", "case", nil, 0, 0, ""},
	{"clock_ampm_spaces.txt", "Chip", "Case", nil, 0.003, 0, ""},
	{"clock_ambiguous.csv", "chip", "case", nil, 0, 0, ""},
	{"clock_month_change.csv", "chip", "case", nil, 0, 0, ""},
	{"clock_us_change.csv", "chip", "case", nil, 0, 0, ""},
	{"clock_named_month.csv", "chip", "case", nil, 0, 0, ""},
	{"clock_unix_ms.csv", "chip", "case", nil, 0, 0, ""},
	{"clock_day_number.csv", "chip", "case", nil, 0, 0, ""},
	{"clock_three_columns.csv", "chip", "case", nil, 0, 0, ""},
	{"clock_summer_begins.csv", "chip", "case", nil, 0, 0, ""},
	{"clock_summer_ends.csv", "chip", "case", nil, 0, 0, ""},
	{"clock_sample.csv", "chip", "case", nil, 0, 0, ""},
	{"clock_set_back.csv", "chip", "case", nil, 0, 0, ""},
	{"clock_shared.csv", "chip", "case", nil, 0, 0, ""},
	{"pipe.txt", "chip", "case", nil, 0.006, 0, ""},
	{"spaces.txt", "chip", "case", nil, 0, 0, ""},
	{"in_field.csv", "chip", "case", nil, 0.03, 0, ""},
	{"unit_below.csv", "chip", "case", nil, 0.006, 0, ""},
	{"duplicate.csv", "T", "T (2)", nil, 0, 0, ""},
	{"short_last.csv", "chip", "case", nil, 0, 0, ""},
	{"L21_grid.txt", "", "", nil, 0, 0, "interval 10 s"},
	{"L18_samples.csv", "", "", nil, 0, 0, "interval 10 s"},
	{"codes.csv", "", "", nil, 0, 0, ""},
	{"thermocouple.csv", "", "", nil, 0, 0, ""},
	{"noted.txt", "", "", nil, 0, 0, ""},
	{"noted_bare.txt", "", "", nil, 0, 0, ""},
	{"noted_table.csv", "", "", nil, 0, 0, ""},
}

func mustOptions(t *testing.T, text string) Options {
	t.Helper()
	o, err := ParseOptions(text)
	if err != nil {
		t.Fatal(err)
	}
	return o
}

func TestEveryLayoutTellsTheSameRun(t *testing.T) {
	for _, fx := range fixtures {
		log, err := OpenWith(filepath.Join("testdata", fx.file), mustOptions(t, fx.say))
		if err != nil {
			t.Errorf("%v", err)
			continue
		}
		if fx.chip == "" {
			continue
		}
		stepS, tolK := 10.0, 0.001
		if fx.stepS > 0 {
			stepS = fx.stepS
		}
		if fx.tolK > 0 {
			tolK = fx.tolK
		}
		for name, want := range map[string][]float64{fx.chip: chipC, fx.shell: caseC} {
			if name == "" {
				continue
			}
			tr := log.Traces[name]
			k := 0
			for i, c := range want {
				if name == fx.chip && len(fx.missing) > 0 && i == fx.missing[0] {
					continue
				}
				if k >= len(tr.TimeS) {
					t.Errorf("%s: %q has %d readings", fx.file, name, len(tr.TimeS))
					break
				}
				// 0.005 s: seven decimals of a day are 0.0086 s.
				if math.Abs(tr.TimeS[k]-stepS*float64(i)) > 0.005 || math.Abs(tr.ValueK[k]-273.15-c) > tolK {
					t.Errorf("%s: %q reads %.3f °C at %.3f s, want %.3f at %.0f", fx.file, name, tr.ValueK[k]-273.15, tr.TimeS[k], c, stepS*float64(i))
				}
				k++
			}
			if k != len(tr.TimeS) {
				t.Errorf("%s: %q has %d readings, want %d", fx.file, name, len(tr.TimeS), k)
			}
		}
	}
}

// A remembered guess must read the file exactly as the guess did, without guessing.
func TestARememberedGuessReadsTheSame(t *testing.T) {
	for _, fx := range fixtures {
		path := filepath.Join("testdata", fx.file)
		first, err := OpenWith(path, mustOptions(t, fx.say))
		if err != nil {
			t.Errorf("%v", err)
			continue
		}
		text := first.Guess.Options().String()
		again, err := OpenWith(path, mustOptions(t, text))
		if err != nil {
			t.Errorf("%s\nread as %s: %v", fx.file, text, err)
			continue
		}
		if !reflect.DeepEqual(first.Traces, again.Traces) || !reflect.DeepEqual(first.Columns, again.Columns) {
			t.Errorf("%s: read as %s it has other readings:\n%v %v\n%v %v", fx.file, text, first.Columns, first.Traces, again.Columns, again.Traces)
		}
		if more := again.Guess.Options().String(); more != text {
			t.Errorf("%s: the text form is not stable:\n%s\n%s", fx.file, text, more)
		}
	}
}

// TestSummaries compares what is said about every file in testdata, read right or refused, with summaries.txt.
func TestSummaries(t *testing.T) {
	say := map[string]string{}
	for _, fx := range fixtures {
		say[fx.file] = fx.say
	}
	entries, err := os.ReadDir("testdata")
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	read, refused := 0, 0
	for _, e := range entries {
		if e.IsDir() || e.Name() == "summaries.txt" {
			continue
		}
		opts := []string{say[e.Name()]}
		if opts[0] != "" {
			opts = append([]string{""}, opts...)
		}
		for _, o := range opts {
			fmt.Fprintf(&b, "== %s %s\n", e.Name(), o)
			log, err := OpenWith("testdata/"+e.Name(), mustOptions(t, o))
			if err != nil {
				refused++
				fmt.Fprintf(&b, "refused: %v\n", err)
				continue
			}
			read++
			fmt.Fprintf(&b, "%s\n", log.Guess)
			fmt.Fprintf(&b, "%d rows up to %.6g s; temperatures: %s\n", log.Summary.Rows, log.Summary.LastS, strings.Join(log.Columns[:min(6, len(log.Columns))], ", "))
			for _, m := range log.Summary.Missing {
				fmt.Fprintf(&b, "  %s\n", m)
			}
			for _, f := range log.Summary.Findings {
				fmt.Fprintf(&b, "  %s\n", f)
			}
			for _, e := range log.Events {
				fmt.Fprintf(&b, "  event at %.6g s, line %d: %s\n", e.TimeS, e.Line, e.Text)
			}
		}
	}
	if read < 60 || refused < 8 {
		t.Fatalf("only %d files read and %d refused: fixtures are missing", read, refused)
	}
	got := strings.ReplaceAll(b.String(), `testdata\`, "testdata/")
	if *update {
		if err := os.WriteFile("testdata/summaries.txt", []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile("testdata/summaries.txt")
	if err != nil {
		t.Fatal(err)
	}
	g, w := strings.Split(got, "\n"), strings.Split(string(want), "\n")
	for i := range max(len(g), len(w)) {
		a, b := "", ""
		if i < len(g) {
			a = g[i]
		}
		if i < len(w) {
			b = w[i]
		}
		if a != b {
			t.Fatalf("summaries.txt line %d:\n got %s\nwant %s", i+1, a, b)
		}
	}
}

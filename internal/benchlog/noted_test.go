package benchlog

import (
	"math"
	"strings"
	"testing"
)

// Notes as people write them; what each says is in its own words.
func TestNotes(t *testing.T) {
	for _, tc := range []struct {
		in, say string
		names   string
		timeS   []float64
		firstC  []float64 // of the first channel
		ask     bool
		note    string
	}{
		{"Start: 21.5C\n+5min: 30C\n+10min: 36C\n+20min: 41C / 108F\nstopped after 24 min at 42C\n", "", "reading", []float64{0, 300, 600, 1200, 1440}, []float64{21.5, 30, 36, 41, 42}, false, "41 °C beside 108 °F, which is 42.2 °C"},
		{"start 14:05 chip 73 F\n14:15 chip 95F case 82F\n14:25 chip 41 °C (106 °F)\n", "", "chip case", []float64{0, 600, 1200}, []float64{22.78, 35, 41}, false, ""},
		{"12 March, desk, room 22 C\n0 min   chip 23   case 22 \n5 min chip 38, case 25\n1 h 10 min chip 45 case 29\n", "", "chip case", []float64{0, 300, 4200}, []float64{23, 38, 45}, true, "a temperature without a time is left out: 12 March"},
		{"0 min: 73.4\n10 min: 95\n", `column 1 unit "°F" name "chip"`, "chip", []float64{0, 600}, []float64{23, 35}, false, ""},
		{"time: 14:05, temp: 73.4F\ntime: 14:15, temp: 95F\n", "", "reading", []float64{0, 600}, []float64{23, 35}, false, ""},
		{"14:05:00 -> T=23.4 C\n14:05:10 -> T=27,0 C\n", "", "T", []float64{0, 10}, []float64{23.4, 27}, false, ""},
	} {
		log, err := ReadWith("x.txt", strings.NewReader(tc.in), mustOptions(t, tc.say))
		if err != nil {
			t.Errorf("%q: %v", tc.in, err)
			continue
		}
		tr := log.Traces[log.Columns[0]]
		if strings.Join(log.Columns, " ") != tc.names || len(tr.TimeS) != len(tc.timeS) || len(log.Guess.Questions) > 0 != tc.ask {
			t.Errorf("%q: %v, %v, asked %q", tc.in, log.Columns, tr, log.Guess.Questions)
			continue
		}
		for i := range tc.timeS {
			if math.Abs(tr.TimeS[i]-tc.timeS[i]) > 1e-9 || math.Abs(tr.ValueK[i]-273.15-tc.firstC[i]) > 0.005 {
				t.Errorf("%q: %.2f °C at %g s, want %g at %g", tc.in, tr.ValueK[i]-273.15, tr.TimeS[i], tc.firstC[i], tc.timeS[i])
			}
		}
		found := ""
		for _, f := range log.Summary.Findings {
			found += f.String() + "\n"
		}
		if !strings.Contains(found, tc.note) {
			t.Errorf("%q: no %q in %q", tc.in, tc.note, found)
		}
	}
}

// Small things of files as they come.
func TestAsTheyCome(t *testing.T) {
	for _, tc := range []struct {
		in, column string
		timeS      []float64
		valueC     []float64
	}{
		{"Elapsed;Chip (°C)\n00:00,5;23,4\n00:05,5;27,0\n01:10,5;30,1\n", "Chip", []float64{0.5, 5.5, 70.5}, []float64{23.4, 27, 30.1}}, // minutes:seconds with a fraction
		{"Time,T1 C\n11:59:50 AM,23.4\n12:00:00 PM,27\n12:00:10 PM,30.1\n", "T1", []float64{0, 10, 20}, []float64{23.4, 27, 30.1}},
		{"Sample interval: 10 s\nT\n23.4\n27.0\n30.1\n", "T", []float64{0, 10, 20}, []float64{23.4, 27, 30.1}}, // a lone column is a reading
		{"14:05 - 23°C\n14:15 - 35°C\n14:25 - 41°C\n", "ch1", []float64{0, 600, 1200}, []float64{23, 35, 41}},
	} {
		log, err := Read("x.txt", strings.NewReader(tc.in))
		if err != nil {
			t.Errorf("%q: %v", tc.in, err)
			continue
		}
		tr := log.Traces[tc.column]
		if len(log.Columns) != 1 || len(tr.TimeS) != len(tc.timeS) {
			t.Errorf("%q: %v %v", tc.in, log.Columns, log.Traces)
			continue
		}
		for i := range tc.timeS {
			if math.Abs(tr.TimeS[i]-tc.timeS[i]) > 1e-9 || math.Abs(tr.ValueK[i]-273.15-tc.valueC[i]) > 1e-9 {
				t.Errorf("%q: %v", tc.in, tr)
			}
		}
	}
}

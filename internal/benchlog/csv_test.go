package benchlog

import (
	"math"
	"strings"
	"testing"
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

func TestReadSaysWhatIsWrongAndWhere(t *testing.T) {
	for _, tc := range []struct{ name, in, want string }{
		{"empty", "", "x.csv: the log is empty"},
		{"no unit", "time,T1 [°C]\n", `x.csv:1: column 1, "time", has no unit in brackets: write it as in "time [s]"`},
		{"wrong unit", "time [s],T1 [V]\n", `x.csv:1: column 2, "T1 [V]": "V" is not a unit of temperature`},
		{"short row", "time [s],T1 [°C]\n0,20\n5\n", "x.csv:3: 1 fields where the heading has 2"},
		{"not a number", "time [s],T1 [°C]\n0,OL\n", `x.csv:2: "OL" in column "T1" is not a temperature`},
		{"backwards", "time [s],T1 [°C]\n5,20\n5,21\n", `x.csv:3: the time "5" does not come after the one before`},
		{"twice", "time [s],T1 [°C],T1 [°C]\n", `x.csv:1: two columns are called "T1"`},
		{"infinite", "time [s],T1 [°C]\n0,inf\n", `x.csv:2: "inf" in column "T1" is not a temperature`},
	} {
		_, err := Read("x.csv", strings.NewReader(tc.in))
		if err == nil || err.Error() != tc.want {
			t.Errorf("%s: got %v, want %s", tc.name, err, tc.want)
		}
	}
}

func FuzzRead(f *testing.F) {
	f.Add("time [s],T1 [°C]\n0,20\n5,21\n")
	f.Add("time [s],T1 [°C]\n\"0,20\n")
	f.Add("\ufefftime [ms], T 1 [°F]\n1e300,-1e308\n")
	f.Fuzz(func(t *testing.T, in string) {
		log, err := Read("x.csv", strings.NewReader(in))
		if err != nil {
			return
		}
		for name, tr := range log.Traces {
			last := math.Inf(-1)
			for i, s := range tr.TimeS {
				if !(s > last) {
					t.Fatalf("%q: times do not rise: %v", name, tr.TimeS)
				}
				last = s
				if math.IsNaN(tr.ValueK[i]) {
					t.Fatalf("%q: a silent NaN", name)
				}
			}
		}
	})
}

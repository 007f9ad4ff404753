package device

import (
	"strings"
	"testing"
)

// The expected numbers are worked out by hand: 10 Wh at 3 W last 200 min, at 6 W 100 min.
func TestContradictions(t *testing.T) {
	const fed = "battery: {part: a, energy: 10 Wh}\n"
	const sensed = "sensors: {s: {at: b, stops at: 90 °C ± 2 K}}\n"
	for _, tc := range []struct {
		name, more string
		want       []string // pieces of the one finding; none when all is quiet
	}{
		{"runs longer than the battery", fed + "stock runs: [{still running after: 240 min}]\n",
			[]string{"stock run 1 is still running after 240 min", "at least 3 W", "at most 10 Wh", "empty after 200 min", "(line 6)"}},
		{"runs as long as the battery", fed + "stock runs: [{still running after: 195 min}]\n", nil},
		{"doubt stays quiet", "battery: {part: a, energy: 10 Wh ± 30 %}\nstock runs: [{still running after: 240 min}]\n", nil},
		{"stops when the battery is long empty", fed + sensed + "stock runs: [{stops after: 220 to 230 min}]\n",
			[]string{"stops by itself after 225 min", "empty after 200 min"}},
		{"other load counts", "battery: {part: a, energy: 10 Wh, other load: 3 W}\nstock runs: [{still running after: 110 min}]\n",
			[]string{"at least 6 W", "empty after 100 min"}},
		{"a step may halve the draw", fed + "sensors: {s: {at: b, steps: [{above: 50 °C, power: 50 %}]}}\nstock runs: [{still running after: 240 min}]\n", nil},
		{"fed from outside", "battery: {part: a, energy: 10 Wh, state: charging}\nstock runs: [{still running after: 240 min}]\n", nil},
		{"empty too soon", fed + "stock runs: [{battery empty after: 60 min}]\n",
			[]string{"ran the battery empty in 60 min", "at most 3 W", "only 3 Wh of at least 10 Wh", "a load is missing"}},
		{"stops later than empty elsewhere", "battery: {part: a, energy: 4 to 20 Wh}\n" + sensed + "stock runs:\n  - {battery empty after: 200 min, air: 5 m/s}\n  - {stops after: 240 to 250 min, ambient: 0 °C}\n",
			[]string{"stock run 2 stops by itself after 245 min", "stock run 1 has its battery empty after 200 min"}},
		{"alike, but another end", sensed + "stock runs:\n  - {ambient: 20 to 22 °C, stops after: 20 to 25 min}\n  - {ambient: 21 °C, air: still, still running after: 60 min}\n",
			[]string{"stock run 1 and stock run 2 were alike", "stops by itself after 22.5 min (20 to 25)", "still running after 60 min"}},
		{"alike, with two different stops", sensed + "stock runs:\n  - {name: A, stops after: 10 min}\n  - {name: B, stops after: 20 to 22 min}\n",
			[]string{`stock run "A" and stock run "B" were alike`}},
		{"other ambient, other end", sensed + "stock runs:\n  - {ambient: 30 °C, stops after: 20 min}\n  - {ambient: 10 °C, still running after: 60 min}\n", nil},
		{"other rest, other end", sensed + "stock runs:\n  - {rests on: {face: a.back, what: cloth}, stops after: 20 min}\n  - {still running after: 60 min}\n", nil},
		{"the same supports in another order", sensed + "stock runs:\n  - {rests on: [{face: a.left, what: hand}, {face: a.right, what: wood}], stops after: 20 min}\n  - {rests on: [{face: a.right, what: wood}, {face: a.left, what: hand}], still running after: 60 min}\n",
			[]string{"stock run 1 and stock run 2 were alike"}},
		{"another share of the face", sensed + "stock runs:\n  - {rests on: {face: a.left, what: hand, share: 20 %}, stops after: 20 min}\n  - {rests on: {face: a.left, what: hand, share: 90 %}, still running after: 60 min}\n", nil},
		{"nothing is as if left out", sensed + "stock runs:\n  - {rests on: {what: nothing}, stops after: 20 min}\n  - {still running after: 60 min}\n",
			[]string{"stock run 1 and stock run 2 were alike"}},
		{"nothing instead of the file's table", sensed + "conditions: {rests on: {face: a.back, what: metal}}\nstock runs:\n  - {rests on: [], stops after: 20 min}\n  - {still running after: 60 min}\n", nil},
		{"leaning, other end", sensed + "stock runs:\n  - {leaning: {by: 40 deg, about: x}, stops after: 20 min}\n  - {still running after: 60 min}\n", nil},
		{"leaning alike", sensed + "stock runs:\n  - {leaning: {by: 40 deg, about: x}, stops after: 20 min}\n  - {leaning: {by: 30 to 45 deg, about: x}, still running after: 60 min}\n",
			[]string{"stock run 1 and stock run 2 were alike"}},
		{"another sky", sensed + "stock runs:\n  - {sky: 10 °C, stops after: 20 min}\n  - {sky: -20 °C, still running after: 60 min}\n", nil},
		{"wind from another side", sensed + "stock runs:\n  - {air: 5 m/s, wind from: +x, stops after: 20 min}\n  - {air: 5 m/s, wind from: -z, still running after: 60 min}\n", nil},
		{"hand limit below the air", "limits: {hand: 18 °C}\nconditions: {ambient: 30 °C}\n", []string{"the hand limit of 18 °C is below the air of 30 °C"}},
		{"wind changes nothing", sensed + "stock runs:\n  - {air: still, stops after: 20 to 22 min}\n  - {air: 5 m/s, stops after: 20 to 22 min}\n",
			[]string{"in still air and after 21 min (20 to 22) in air of 5 m/s", "time account"}},
		{"wind helps", sensed + "stock runs:\n  - {air: still, stops after: 20 to 22 min}\n  - {air: 5 m/s, stops after: 40 to 45 min}\n", nil},
		{"a retrofit may end otherwise", sensed + "stock runs: [{ambient: 21 °C, stops after: 20 to 25 min}]\nretrofit runs: [{retrofit: slow, ambient: 21 °C, still running after: 60 min}]\nretrofits: {slow: {changes: [{refinish: {part: a, finish: oxidised copper}}]}}\n", nil},
		{"a retrofit's runs alike, but another end", sensed + "retrofit runs: [{retrofit: slow, ambient: 21 °C, stops after: 20 to 25 min}, {retrofit: slow, ambient: 21 °C, still running after: 60 min}]\nretrofits: {slow: {changes: [{refinish: {part: a, finish: oxidised copper}}]}}\n",
			[]string{"retrofit run 1 and retrofit run 2 were alike"}},
		{"spot colder than the air", "stock runs: [{ambient: 24 °C, spots: [{at: a.front, after: 9 min, reads: 18 °C ± 1 K}]}]\n",
			[]string{"a.front read 18 °C", "in air of 24 °C"}},
		{"cold start", "stock runs: [{ambient: 24 °C, start: 5 °C, spots: [{at: a.front, after: 1 min, reads: 18 °C}]}]\n", nil},
		{"spot hotter than the stop", sensed + "stock runs: [{stops after: 30 min, spots: [{at: b, after: 9 min, reads: 99 °C ± 2 K}]}]\n",
			[]string{"b read 99 °C", `sensor "s" there stops it at 90 °C`}},
		{"soaks hotter after the stop", sensed + "stock runs: [{stops after: 30 min, spots: [{at: b, after: 35 min, reads: 99 °C}]}]\n", nil},
		{"step after the end", "sensors: {s: {at: b, stops at: 90 °C, steps: [{above: 60 °C, power: 50 %}]}}\nstock runs: [{stops after: 30 min, first step after: 40 min}]\n",
			[]string{"first power step came after 40 min, but it stops by itself after 30 min"}},
		{"charging limit while discharging", "battery: {part: a, energy: 10 Wh, limit: 45 °C}\n", []string{"not charging, but its limit of 45 °C is one for charging"}},
		{"discharging limit while charging", "battery: {part: a, energy: 10 Wh, state: charging, limit: 60 °C}\n", []string{"is charging, but its limit of 60 °C"}},
		{"stop below the air", "sensors: {s: {at: b, stops at: 32 °C}}\nconditions: {ambient: 40 °C}\n", []string{"below the air of 40 °C", "°F"}},
		{"metres for millimetres", "  c: {material: ABS, box: 9 x 9 x 9 m, at: 0 0 0 mm}\n", []string{"9 m long", "was mm meant?"}},
	} {
		f, err := Parse("x.yaml", []byte(lampBase+tc.more))
		if err != nil {
			t.Errorf("%s: %v", tc.name, err)
			continue
		}
		got := f.Contradictions()
		if tc.want == nil {
			if len(got) != 0 {
				t.Errorf("%s: found %v", tc.name, got)
			}
			continue
		}
		if len(got) == 0 {
			t.Errorf("%s: nothing found", tc.name)
			continue
		}
		for _, piece := range tc.want {
			if !strings.Contains(got[0].Text, piece) {
				t.Errorf("%s: %q lacks %q", tc.name, got[0].Text, piece)
			}
		}
		if got[0].Pos.Line == 0 {
			t.Errorf("%s: no place", tc.name)
		}
	}
}

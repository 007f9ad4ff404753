package benchtest

import (
	"context"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"finwright/internal/curve"
	"finwright/internal/device"
	"finwright/internal/model"
	"finwright/internal/session"
)

// An invented sealed box: a chip on a board in a plastic case, and a retrofit that brings its heat out by a copper post to a plate on the
// back. Small, so that a test takes seconds.
const box = `
device: test beacon
invented: true
parts:
  shell: {material: PC-ABS, box: 50 x 70 x 24 mm, wall: 2 mm}
  board: {material: populated board, box: 46 x 60 x 1.6 mm, at: 2 5 16 mm}
  chip: {material: silicon, plate: 14 x 14 mm, thickness: 1.4 mm, on: board.back, heat: 2.4 to 3.2 W}
joints:
  chip balls: {between: [chip, board], conductance: 6000 to 12000 W/m2K}
sensors:
  chip sensor: {at: chip, stops at: 85 °C ± 2 K}
battery: {energy: 4 Wh ± 5 %, state: discharging}
conditions: {ambient: 23 °C, air: still}
retrofits:
  copper back:
    changes:
      - add:
          post: {material: copper C110, box: 14 x 14 x 14.6 mm, at: 18 28 0 mm}
          plate: {material: aluminium 6061, plate: 48 x 66 mm, thickness: 2 mm, on: shell.back, finish: black anodised}
      - rejoin:
          post bond: {between: [chip, post], filler: thermal epoxy, thickness: 0.1 mm ± 0.04 mm}
          post foot: {between: [post, plate], filler: thermal epoxy, thickness: 0.1 mm ± 0.04 mm}
          back bond: {between: [shell, plate], filler: thermal epoxy, thickness: 0.15 mm}
`

func parse(t testing.TB, yaml string) *device.File {
	t.Helper()
	f, err := device.Parse("test.yaml", []byte(yaml))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// small cells for the tests' own runs.
var small = model.Fineness{TargetCells: 900, Across: 1, Rays: 1 << 10}

// truth is a device as it really is, for logs: built from its own text, on other cells than those of the judge.
type truth struct {
	yaml, design string
	powerW       float64
	places       []string
	offsetK      []float64 // of the probes
	noiseK       float64
	driftKPerH   float64
	everyS       float64
	untilS       float64
	coolS        float64 // logged on after a stop
	seed         uint64
}

// log makes the truth's log with the model, its power and bonds being those of the text.
func (tr truth) log(t testing.TB) (Log, *session.Result) {
	t.Helper()
	f := parse(t, tr.yaml)
	v, _, err := f.Variant(tr.design)
	if err != nil {
		t.Fatal(err)
	}
	values := device.Values{"parts.chip.heat": tr.powerW}
	shape, err := model.NewShape(v, values, model.Fineness{TargetCells: 2500, Across: 1, Rays: 1 << 10})
	if err != nil {
		t.Fatal(err)
	}
	m, err := shape.At(values, nil, "")
	if err != nil {
		t.Fatal(err)
	}
	if got := m.FullPowerW()[0]; got != tr.powerW {
		t.Fatalf("the chip makes %g W, not %g: its path in the file is another", got, tr.powerW)
	}
	res, err := session.Run(context.Background(), m, session.Spec{Values: values, UntilS: tr.untilS, CoolS: tr.coolS, Watch: tr.places})
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(tr.seed, 9))
	var log Log
	for k, place := range tr.places {
		var s curve.Samples
		for i := range res.Series {
			if res.Series[i].Name != place || res.Series[i].Kind != "place" {
				continue
			}
			for sec := 0.0; sec <= res.TimeS[len(res.TimeS)-1]; sec += tr.everyS {
				s.TimeS = append(s.TimeS, sec)
				s.TK = append(s.TK, at(res.TimeS, res.Series[i].ValueK, sec)+tr.offsetK[k]+tr.noiseK*rng.NormFloat64()+tr.driftKPerH*sec/3600)
			}
		}
		log.Probes = append(log.Probes, Logged{Name: place, At: place, Samples: s})
	}
	last := log.Probes[0].TimeS[log.Probes[0].Len()-1]
	for sec := 0.0; sec <= last; sec += 60 {
		log.Room.TimeS = append(log.Room.TimeS, sec)
		log.Room.TK = append(log.Room.TK, 296.15+tr.driftKPerH*sec/3600)
	}
	return log, res
}

// backs are where the tests' probes sit.
var backs = []string{"plate.back centre", "shell.front centre"}

// A log of the retrofit whose post bond is a tenth of what was planned: that bond is named, and none else.
func TestJudgeNamesTheBondAtFault(t *testing.T) {
	for _, tc := range []struct {
		name, from, to string
		want           []string // one of these must be blamed, and no others
	}{
		{"all as planned", "", "", nil},
		{"post bond hardly wetted", "post bond: {between: [chip, post], filler: thermal epoxy, thickness: 0.1 mm ± 0.04 mm}", "post bond: {between: [chip, post], conductance: 500 W/m2K}", []string{"post bond", "post foot"}},
		{"post foot hardly wetted", "post foot: {between: [post, plate], filler: thermal epoxy, thickness: 0.1 mm ± 0.04 mm}", "post foot: {between: [post, plate], conductance: 400 W/m2K}", []string{"post bond", "post foot"}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			yaml := box
			if tc.from != "" {
				if !strings.Contains(box, tc.from) {
					t.Fatal("the text to change is not in the device")
				}
				yaml = strings.Replace(box, tc.from, tc.to, 1)
			}
			log, _ := truth{yaml: yaml, design: "copper back", powerW: 2.95, places: backs, offsetK: []float64{0.6, -0.5}, noiseK: 0.15, driftKPerH: 0.8, everyS: 10, untilS: 2400, seed: 4}.log(t)
			v, err := Judge(context.Background(), parse(t, box), log, Options{Retrofit: "copper back", Fineness: small, Anchor: small, Draws: 2, Seed: 7})
			if err != nil {
				t.Fatal(err)
			}
			var blamed []string
			for _, b := range v.Blamed {
				blamed = append(blamed, v.Bonds[b].Name)
			}
			t.Logf("as planned %.3f, blamed %v, fits %v (%.2f), ended %s %v, margin %+v", v.AsPlanned, blamed, v.Fits, v.Off, v.Ended, v.Chance, v.Margin)
			for _, b := range v.Bonds {
				t.Logf("  %s: %.3f, × %.1f, shows %.2f K, %.1f sd", b.Name, b.Chance, b.Factor, b.ShowsK, b.AtSd)
			}
			for _, p := range v.Points {
				t.Logf("  %s %.0f s: %.2f, planned %.2f ± %.2f, found %.2f", p.Probe, p.AtS, p.ReadK-zeroC, p.PlannedK-zeroC, p.SdK, p.FoundK-zeroC)
			}
			for _, n := range v.Next {
				t.Log("  next: " + n)
			}
			if !v.Fits {
				t.Errorf("the log does not fit: %.2f standard deviations", v.Off)
			}
			if tc.want == nil {
				if v.AsPlanned < 0.5 || len(blamed) > 0 {
					t.Errorf("a sound bond is blamed: %v, as planned %.2f", blamed, v.AsPlanned)
				}
				return
			}
			if len(blamed) == 0 || v.AsPlanned > 0.1 {
				t.Fatalf("no bond is blamed; as planned %.2f", v.AsPlanned)
			}
			for _, b := range blamed {
				if b == "back bond" {
					t.Errorf("a sound bond is blamed: %v", blamed)
				}
			}
			for _, b := range v.Blamed {
				x := v.Bonds[b]
				if x.Factor[0] > 30 || x.Factor[2] < 6 || math.IsNaN(x.Factor[1]) {
					t.Errorf("%s is said to be %.1f times worse; it is some twenty times", x.Name, x.Factor)
				}
			}
		})
	}
}

// A run that stops itself: the judge finds the moment in the log, takes heat for the cause, and knows the sensor's margin there is nought.
func TestJudgeFindsTheStop(t *testing.T) {
	log, res := truth{yaml: box, powerW: 2.9, places: []string{"shell.front centre", "shell.back centre"}, offsetK: []float64{0.3, -0.2}, noiseK: 0.1, everyS: 10, untilS: 7000, coolS: 1200, seed: 5}.log(t)
	if res.Own.Kind != session.Stopped {
		t.Fatalf("the truth does not stop: %+v", res.Own)
	}
	v, err := Judge(context.Background(), parse(t, box), log, Options{Fineness: small, Anchor: small, Draws: 2, Seed: 7})
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("truth stops at %.0f s; judged %s at %.0f s %v, margin %+v; curves %+v", res.Own.AtS, v.Ended, v.EndS, v.Chance, v.Margin, v.Curves)
	if math.Abs(v.EndS-res.Own.AtS) > 0.15*res.Own.AtS {
		t.Errorf("the stop is seen at %.0f s, was at %.0f s", v.EndS, res.Own.AtS)
	}
	if v.Ended != EndByHeat || !(v.Margin.Lo < 0.5 && v.Margin.Hi > -0.5) {
		t.Errorf("ended %s (%v) with margin %+v; it stopped itself", v.Ended, v.Chance, v.Margin)
	}
	if v.Forward[0].Lasts > 0 || v.Forward[1].S > v.Forward[0].S {
		t.Errorf("what stopped at 23 °C lasts no longer at 35 °C: %+v", v.Forward[:2])
	}
}

// A public log of a bare pocket camera at 1.9 W (outside power): rises over the room of 14.8, 13.7, 15.4, 15.6 and 14.5 K at 1, 2, 5, 6 and
// 7 h while the room fell from 26.2 to 23.7 °C; the readings fall, the rise stands. Sizes are usual ones of the kind, 60 × 41 × 30 mm.
const bareCamera = `
device: bare pocket camera
invented: true
parts:
  shell: {material: PC-ABS, box: 60 x 41 x 30 mm, wall: 1.8 mm}
  board: {material: populated board, box: 56.4 x 32 x 1.6 mm, at: 1.8 4.5 12 mm}
  chip: {material: silicon, plate: 10 x 10 mm, thickness: 1.2 mm, on: board.front, heat: 1.9 W ± 30 %}
  block: {material: aluminium 6061, plate: 44 x 30 mm, thickness: 12 mm, on: chip.front}
conditions: {ambient: 25 °C, air: still}
`

func TestPublicLogOfABareCamera(t *testing.T) {
	var log Log
	p := Logged{Name: "skin", At: "shell.front"}
	for i, h := range []float64{1, 2, 5, 6, 7} {
		roomK := 273.15 + 26.2 - 2.5*(h-1)/6 // straight between the two published ends
		p.TimeS, p.TK = append(p.TimeS, 3600*h), append(p.TK, roomK+[]float64{14.8, 13.7, 15.4, 15.6, 14.5}[i])
		log.Room.TimeS, log.Room.TK = append(log.Room.TimeS, 3600*h), append(log.Room.TK, roomK)
	}
	log.Probes = []Logged{p}
	v, err := Judge(context.Background(), parse(t, bareCamera), log, Options{Fineness: small, Anchor: small, Draws: 2, Seed: 7})
	if err != nil {
		t.Fatal(err)
	}
	c := v.Curves[0]
	t.Logf("%s; drift %.2f K, fits %v (%.2f), points %+v", c.Trend, v.RoomDriftK, v.Fits, v.Off, v.Points)
	if c.Verdict != curve.Steady || !strings.HasPrefix(c.Trend, "Steady: 14.") || !strings.Contains(c.Trend, "the room by -2") {
		t.Errorf("%s: %q; the rise stands at 14.8 K while the room falls", c.Verdict, c.Trend)
	}
	if v.Ended != EndRunning || !v.Fits {
		t.Errorf("ended %s, fits %v: it ran to the end, and 1.9 W in that size warm it so", v.Ended, v.Fits)
	}
	for _, n := range v.Next {
		if strings.Contains(n, "longer") {
			t.Errorf("next: %s; it was long enough", n)
		}
	}
}

// A solid aluminium case read 60 °C at the end of a first run and 63 °C at the end of a second, longer one (public report): the first had
// simply been too short. The judge must say so of a run cut at two time constants, and not of one of six.
func TestTooShortARun(t *testing.T) {
	for _, tc := range []struct {
		untilS float64
		longer bool
	}{{700, true}, {6000, false}} {
		log, _ := truth{yaml: strings.Replace(box, "stops at: 85", "stops at: 120", 1), powerW: 2.9, places: []string{"shell.front centre"}, offsetK: []float64{0}, noiseK: 0.08, everyS: 10, untilS: tc.untilS, seed: 6}.log(t)
		v, err := Judge(context.Background(), parse(t, strings.Replace(box, "stops at: 85", "stops at: 120", 1)), log, Options{Fineness: small, Anchor: small, Draws: 2, Seed: 7})
		if err != nil {
			t.Fatal(err)
		}
		got := strings.Contains(strings.Join(v.Next, " "), "longer")
		t.Logf("%.0f s: %+v %s", tc.untilS, v.Curves[0], v.Next)
		if got != tc.longer {
			t.Errorf("a run of %.0f s: told to run longer %v, want %v", tc.untilS, got, tc.longer)
		}
	}
}

// What a person gets wrong is said for a person.
func TestJudgeRefuses(t *testing.T) {
	f := parse(t, box)
	ramp := curve.Samples{TimeS: []float64{0, 600, 1200}, TK: []float64{296, 300, 303}}
	for _, tc := range []struct {
		name string
		log  Log
		opt  Options
		want string
	}{
		{"no probe", Log{}, Options{}, "no column"},
		{"a place that is not there", Log{Probes: []Logged{{Name: "P1", At: "lid.front", Samples: ramp}}}, Options{}, `"lid"`},
		{"too short", Log{Probes: []Logged{{Name: "P1", At: "shell.front", Samples: curve.Samples{TimeS: []float64{0, 10}, TK: []float64{296, 296}}}}}, Options{}, "shows nothing yet"},
		{"empty", Log{Probes: []Logged{{Name: "P1", At: "shell.front"}}}, Options{}, "no readings"},
		{"no such design", Log{Probes: []Logged{{Name: "P1", At: "shell.front", Samples: ramp}}}, Options{Retrofit: "gold back"}, "gold back"},
	} {
		tc.opt.Fineness, tc.opt.Anchor = small, small
		if _, err := Judge(context.Background(), f, tc.log, tc.opt); err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%s: %v", tc.name, err)
		}
	}
}

// A board in a solid aluminium case, 5 to 7 W: 60 °C were reported after a first, short run, 63 °C after a second, longer one (public report).
// From the first alone it must be told that it was too short, and that it goes on from there. Its time is not stated: 20 to 40 min are tried,
// and only for the longest do the reported 63 °C, themselves perhaps not the end, lie in the interval. Sizes are usual ones.
const solidCase = `
device: board in a solid aluminium case
parts:
  lower: {material: aluminium 6061, box: 92 x 66 x 14 mm, finish: anodised, cuts: [{box: 84 x 58 x 4 mm, at: 4 4 10 mm}]}
  board: {material: populated board, box: 84 x 56 x 1.4 mm, at: 4 5 10.6 mm}
  chip:  {material: chip package, box: 15 x 15 x 2 mm, at: 30 25 12 mm, heat: 5 to 7 W}
  upper: {material: aluminium 6061, box: 92 x 66 x 16 mm, at: 0 0 14 mm, finish: anodised}
joints:
  pad: {between: [chip, upper], filler: thermal pad, thickness: 0.5 to 1.5 mm}
up: +z
conditions: {ambient: 20 to 24 °C, air: still}
`

func TestPublicReportOfARunThatWasTooShort(t *testing.T) {
	for _, minutes := range []float64{20, 40, 240} {
		log := Log{Ended: EndByHand, EndS: minutes * 60, Probes: []Logged{{Name: "chip", At: "chip", Samples: curve.Samples{TimeS: []float64{0, minutes * 60}, TK: []float64{273.15 + 22, 273.15 + 60}}}}}
		v, err := Judge(context.Background(), parse(t, solidCase), log, Options{Fineness: small, Anchor: small, Draws: 2, Seed: 7})
		if err != nil {
			t.Fatal(err)
		}
		told := ""
		for _, n := range v.Next {
			if strings.Contains(n, "longer") {
				told = n
			}
		}
		if minutes == 240 { // the model is at its end there: nothing goes on
			if told != "" || len(v.Ahead) != 0 {
				t.Errorf("after %g min: %q, %+v", minutes, told, v.Ahead)
			}
			continue
		}
		if len(v.Ahead) != 1 || !strings.Contains(told, "settles at") {
			t.Fatalf("%+v, %q", v.Ahead, v.Next)
		}
		a := v.Ahead[0]
		t.Logf("%s", told)
		if c := a.LaterK - 273.15; c < 63 || a.Share > 0.95 || a.Share < 0.6 || a.LaterS < minutes*60 || !(a.LoK < a.LaterK && a.LaterK < a.HiK) {
			t.Errorf("after %g min: it goes on to %.1f °C, %+v", minutes, c, a)
		}
		if minutes == 40 && !(a.LoK-273.15 < 63 && 63 < a.HiK-273.15) {
			t.Errorf("63 °C was reported: %+v", a)
		}
	}
}

// A run that the file knows, in sun and wind, is judged under these; elsewhere the bench's air counts.
func TestUnderTheRunsOwnConditions(t *testing.T) {
	f := parse(t, bareCamera+"stock runs:\n  - {ambient: 30 °C, air: 1 m/s, sun: 700 W/m2, still running after: 60 min}\n")
	own, _ := bench(f, Setting{RoomK: 303.15, RoomErrorK: 2, Under: &f.Runs[0].Conditions, Mode: ""})
	if c := own.Conditions; c.Sun.Mid != 700 || c.Air.Speed.Mid != 1 || c.Ambient.Mid != 303.15 || c.Ambient.Path != roomPath || c.Ambient.Hi != 305.15 {
		t.Errorf("%+v", c)
	}
	room, _ := bench(f, Setting{RoomK: 303.15, RoomErrorK: 2})
	if c := room.Conditions; c.Sun.Mid != 0 || !c.Air.Still || c.Ambient.Mid != 303.15 {
		t.Errorf("%+v", c)
	}
	// a log made in the sun is met under its own conditions and missed on a bench
	values := device.Values{}
	g := *f
	g.Conditions = f.Under(&f.Runs[0].Conditions)
	shape, err := model.NewShape(&g, values, small)
	if err != nil {
		t.Fatal(err)
	}
	m, err := shape.At(values, nil, "")
	if err != nil {
		t.Fatal(err)
	}
	res, err := session.Run(context.Background(), m, session.Spec{UntilS: 3600, Watch: []string{"shell.front centre"}})
	if err != nil {
		t.Fatal(err)
	}
	var s curve.Samples
	for i := range res.Series {
		if res.Series[i].Kind == "place" {
			s.TimeS, s.TK = res.TimeS, res.Series[i].ValueK
		}
	}
	for _, under := range []*device.Conditions{&f.Runs[0].Conditions, nil} {
		v, err := Judge(context.Background(), f, Log{Ended: EndRunning, EndS: 3600, Probes: []Logged{{Name: "front", At: "shell.front centre", Samples: s}}},
			Options{Setting: Setting{RoomK: 303.15, Under: under}, Fineness: small, Anchor: small, Draws: 2, Seed: 7})
		if err != nil {
			t.Fatal(err)
		}
		last := v.Points[len(v.Points)-1]
		if off := math.Abs(last.ReadK - last.PlannedK); (off < 1.5) != (under != nil) {
			t.Errorf("under its own conditions: %v; reads %.1f K, planned %.1f K", under != nil, last.ReadK, last.PlannedK)
		}
	}
}

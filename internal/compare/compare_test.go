package compare

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"finwright/internal/device"
	"finwright/internal/learn"
	"finwright/internal/model"
	"finwright/internal/session"
	"finwright/internal/unit"
)

var few = Options{Fine: model.Fineness{TargetCells: 900, Across: 1}, Coarse: model.Fineness{TargetCells: 300, Across: 1}}

func parse(t testing.TB, yaml string) *device.File {
	t.Helper()
	f, err := device.Parse("test.yaml", []byte(yaml))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func within(t testing.TB, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.6g, want %.6g ± %.2g", what, got, want, tol)
	}
}

// lamp stops itself from heat; fins let it last, paint hardly matters, and one retrofit hangs in the air. Invented.
const lamp = `device: lamp
about: an invented one
invented: true
materials:
  metal: {conductivity: 150 W/mK, density: 2700 kg/m3, specific heat: 900 J/kgK}
finishes:
  dark: {emissivity: 0.9}
  darker: {emissivity: 0.92}
parts:
  plate: {material: metal, finish: dark, box: 40 x 50 x 3 mm}
  chip: {material: metal, finish: dark, plate: 12 x 12 mm, thickness: 1.5 mm, on: plate.front, heat: {on: 2.7 to 3.3 W, low: 1 W}}
joints:
  chip-plate: {between: [chip, plate], conductance: 3000 to 5000 W/m2K}
mode: on
sensors:
  s: {at: chip, stops at: 68 to 72 °C}
battery: {energy: 3 Wh, other load: {on: 0.3 W}}
limits: {skin: 150 °C}
conditions: {ambient: 25 °C, air: still}
retrofits:
  fins:
    about: a finned back
    changes:
      - add: {fins: {material: metal, finish: dark, fin block: {base: 40 x 50 mm, base thickness: 2 mm, fins: 5, fin height: 20 mm, fin thickness: 1.5 mm, fins along: y}, on: plate.back}}
      - rejoin: {fins-plate: {between: [fins, plate], conductance: 1000 to 9000 W/m2K}}
  paint:
    changes: [{refinish: {part: plate, finish: darker}}]
  floating:
    changes: [{add: {orphan: {material: metal, box: 5 x 5 x 5 mm, at: 100 0 0 mm}}}]
`

func TestRetrofitsSideBySide(t *testing.T) {
	f := parse(t, lamp)
	opt := few
	opt.Draws = 40
	last, total := 0, 0
	opt.Progress = func(done, expected int, what string) {
		if done < last || done > expected || what == "" {
			t.Errorf("%d of %d: %q after %d", done, expected, what, last)
		}
		last, total = done, expected
	}
	st, err := Compare(context.Background(), f, nil, opt)
	if err != nil {
		t.Fatal(err)
	}
	if last == 0 || last > total {
		t.Errorf("progress ends at %d of %d", last, total)
	}
	var names []string
	for i := range st.Rows {
		names = append(names, st.Rows[i].Name)
	}
	if diff := cmp.Diff([]string{"stock", "fins", "paint", "floating"}, names); diff != "" {
		t.Fatal(diff)
	}
	for i := range st.Rows[:3] {
		row := &st.Rows[i]
		if row.Result == nil || row.Failed != "" {
			t.Fatalf("%s: %q", row.Name, row.Failed)
		}
		for what, s := range map[string]Spread{"minutes": row.Minutes, "skin": row.SkinC, "margin": row.MarginK} {
			if !(s.Lo <= s.Mid && s.Mid <= s.Hi) || !(s.Lo < s.Hi) && !(what == "minutes" && row.Chance == 1) {
				t.Errorf("%s: %s %+v", row.Name, what, s)
			}
		}
		n := 0
		for _, k := range row.EndKinds {
			n += k
		}
		if n != 40 || !(row.Chance >= 0 && row.Chance <= 1) {
			t.Errorf("%s: %d draws, chance %g", row.Name, n, row.Chance)
		}
		within(t, row.Name+": minutes", row.Minutes.Mid, row.Result.End.AtS/60, 1e-9)
		within(t, row.Name+": skin", row.SkinC.Mid, row.Result.Hottest.HighestK-zeroC, 1e-9)
	}
	stock, fins, paint, floating := &st.Rows[0], &st.Rows[1], &st.Rows[2], &st.Rows[3]
	if stock.Result.End.Kind != session.Stopped || stock.Chance > 0.3 || fins.Result.End.Kind != session.BatteryEmpty || fins.Chance != 1 {
		t.Fatalf("stock %s, chance %g; fins %s, chance %g", stock.Result.End.Kind, stock.Chance, fins.Result.End.Kind, fins.Chance)
	}
	// the battery lasts 3 Wh / 3.3 W by definition
	within(t, "battery", st.BatteryMin.Mid, 3/3.3*60, 1e-6)
	within(t, "fins last", fins.Minutes.Mid, 3/3.3*60, 0.05)
	if !(st.BatteryMin.Lo < st.BatteryMin.Mid && st.BatteryMin.Mid < st.BatteryMin.Hi) {
		t.Errorf("battery %+v", st.BatteryMin)
	}
	// base and fins: 40 x 50 x 2 and 5 of 1.5 x 20 x 50 mm at 2700 kg/m³
	within(t, "mass of fins", fins.MassAddedKg, 2700*(40*50*2+5*1.5*20*50)*1e-9, 1e-5)
	within(t, "mass of paint", paint.MassAddedKg, 0, 1e-12)
	within(t, "mass of stock", stock.MassAddedKg, 0, 0)

	if floating.Result != nil || !strings.Contains(floating.Failed, `"orphan" touches no other part`) || strings.ContainsAny(floating.Failed, "\n^|") || strings.Contains(floating.Failed, "test.yaml") {
		t.Errorf("floating: %q", floating.Failed)
	}
	verdict := strings.Join(st.Verdict, "\n")
	for _, want := range []string{"As it is, the device stops itself (s)", "“fins” lasts until the battery is empty (40 of 40 draws of what is in doubt do)", "Why: in the stock device", "“paint” hardly matters",
		"“floating” could not be run: part \"orphan\" touches no other part.", "it adds " + unit.Format(fins.MassAddedKg, unit.Mass), "A saved watt beside metal"} {
		if !strings.Contains(verdict, want) {
			t.Errorf("the verdict lacks %q:\n%s", want, verdict)
		}
	}
	// a watt less helps where it stops, and gains nothing to tell where it lasts anyway
	if !(stock.WattLessMin > 0 && stock.WattLessK > 5) || stock.WattLessW != 1 || !math.IsNaN(fins.WattLessMin) || !(fins.WattLessK > 0) {
		t.Errorf("a watt less: stock %g min, %g K; fins %g min, %g K", stock.WattLessMin, stock.WattLessK, fins.WattLessMin, fins.WattLessK)
	}
	if st.Draws != 40 || st.Device != "lamp" || !st.Invented || st.Mode != "on" || !strings.Contains(st.Conditions, "still air") {
		t.Errorf("%+v", st)
	}
	seen := map[string]bool{}
	for _, a := range st.Assumptions {
		if seen[a.About] || a.About == "cell limit" || strings.Contains(a.About, "own heat") || a.Value == "" || a.Source == "" {
			t.Errorf("assumption %+v", a)
		}
		seen[a.About] = true
	}
	if !seen["natural convection from faces, one factor for all"] {
		t.Errorf("assumptions %+v", st.Assumptions)
	}

	// what makes up the doubt adds up to about all of it; 3-D agrees; fins buy warmer air than paint
	for _, row := range []*Row{stock, fins, paint} {
		sum := 0.0
		for _, c := range row.Causes {
			sum += c.Share
		}
		if len(row.Causes) < 2 || sum < 0.7 || sum > 1.4 {
			t.Errorf("%s: causes %+v", row.Name, row.Causes)
		}
		if row.Confirmed != 2 || !(math.Abs(row.OffK) < 0.3) || !(row.ChanceLo <= row.Chance && row.Chance <= row.ChanceHi) {
			t.Errorf("%s: %d confirmed, off by %g K, chance %g (%g to %g)", row.Name, row.Confirmed, row.OffK, row.Chance, row.ChanceLo, row.ChanceHi)
		}
		if len(row.Limits) == 0 || row.Limits[0].Name != "s stops it" || len(row.Headrooms) != 41 {
			t.Errorf("%s: %+v, %d draws", row.Name, row.Limits, len(row.Headrooms))
		}
	}
	if !(stock.SureUpToC < paint.SureUpToC && paint.SureUpToC+10 < fins.SureUpToC) {
		t.Errorf("sure up to %g, with paint %g, with fins %g °C", stock.SureUpToC, paint.SureUpToC, fins.SureUpToC)
	}

	opt.Progress, opt.Workers = nil, 1
	again, err := Compare(context.Background(), f, nil, opt)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(st, again, cmpopts.EquateNaNs()); diff != "" {
		t.Errorf("another number of workers gave another study:\n%s", diff)
	}
}

func TestOnlySomeAndOtherDraws(t *testing.T) {
	opt := few
	opt.Only, opt.Draws = []string{"fins"}, 5
	st, err := Compare(context.Background(), parse(t, lamp), nil, opt)
	if err != nil {
		t.Fatal(err)
	}
	if len(st.Rows) != 2 || st.Rows[1].Name != "fins" || st.Rows[1].About != "a finned back" {
		t.Fatalf("%d rows", len(st.Rows))
	}
	if v := strings.Join(st.Verdict, "\n"); !strings.Contains(v, "5 of 5 draws") {
		t.Errorf("verdict %s", v)
	}
}

// block is a cube of 20 mm that has one temperature: 16 J/K and R = 20.83 K/W to air at 20 °C, fed by a battery of 0.5 Wh.
const block = `device: block
materials:
  stuff: {conductivity: 2000 W/mK, density: 2000 kg/m3, specific heat: 1000 J/kgK}
finishes:
  dark: {emissivity: 0.9}
parts:
  block: {material: stuff, finish: dark, box: 20 x 20 x 20 mm, heat: 2.4 to 2.6 W}
boundaries:
  air: {face: block, film: 20 W/m2K, ambient: 20 °C}
conditions: {ambient: 20 °C}
sensors: {s: {at: block, stops at: 45 °C}}
limits: {skin: 150 °C}
battery: {energy: 0.5 Wh}
`

const (
	resKW = 1 / (20 * 24e-4)
	tauS  = 16 * resKW
)

// stopMin is when the block has risen by 25 K: t = RC ln(PR/(PR - 25)), the lumped-capacity closed form (Incropera et al.,
// Fundamentals of Heat and Mass Transfer, 6th ed., eq. 5.25).
func stopMin(powerW float64) float64 {
	return tauS * math.Log(powerW*resKW/(powerW*resKW-25)) / 60
}

func TestLumpedBlock(t *testing.T) {
	opt := few
	opt.Draws = 60
	st, err := Compare(context.Background(), parse(t, block), nil, opt)
	if err != nil {
		t.Fatal(err)
	}
	row := &st.Rows[0]
	within(t, "minutes", row.Minutes.Mid, stopMin(2.5), 0.02)
	within(t, "a watt less", row.WattLessMin, stopMin(1.5)-stopMin(2.5), 0.03)
	// when the 2.5 W block stops, the 1.5 W one has risen three fifths of 25 K
	within(t, "a watt less, degrees", row.WattLessK, 10, 0.15)
	within(t, "battery", st.BatteryMin.Mid, 0.5/2.5*60, 1e-9)
	// 90 % of the draws lie between 2.4 and 2.6 W; 60 draws tell the ends to about a third of the width
	within(t, "at 2.6 W", row.Minutes.Lo, stopMin(2.6), 0.35*(stopMin(2.5)-stopMin(2.6)))
	within(t, "at 2.4 W", row.Minutes.Hi, stopMin(2.4), 0.35*(stopMin(2.4)-stopMin(2.5)))
	if row.Chance != 0 || row.EndKinds[session.Stopped] != 60 {
		t.Errorf("chance %g, ends %v", row.Chance, row.EndKinds)
	}
	within(t, "margin", row.MarginK.Mid, 0, 0.05)

	// draws that were learned are the ones used
	learned := &learn.Result{Best: device.Values{"parts.block.heat": 2.45}}
	for _, p := range []float64{2.45, 2.40, 2.50} {
		learned.Draws = append(learned.Draws, device.Values{"parts.block.heat": p})
	}
	opt.Draws = 4
	if st, err = Compare(context.Background(), parse(t, block), learned, opt); err != nil {
		t.Fatal(err)
	}
	within(t, "minutes at the learned value", st.Rows[0].Minutes.Mid, stopMin(2.45), 0.02)
	within(t, "low", st.Rows[0].Minutes.Lo, stopMin(2.50), 0.02)
	within(t, "high", st.Rows[0].Minutes.Hi, stopMin(2.40), 0.02)

	// the time asked for instead of the battery
	opt.UntilS = 120
	if st, err = Compare(context.Background(), parse(t, block), nil, opt); err != nil {
		t.Fatal(err)
	}
	if row := &st.Rows[0]; row.Result.End.Kind != session.TimeOver || row.Chance != 1 || st.AskedMin != 2 || !math.IsNaN(row.WattLessMin) ||
		!strings.Contains(strings.Join(st.Verdict, "\n"), "It lasts as it is") {
		t.Errorf("%s, chance %g, %g min asked, verdict %q", row.Result.End.Kind, row.Chance, st.AskedMin, st.Verdict)
	}
}

func TestStockThatCannotBeRun(t *testing.T) {
	yaml := strings.Replace(lamp, "on: plate.front, heat", "at: 100 0 0 mm, normal: z, heat", 1)
	yaml = strings.Replace(yaml, "joints:\n  chip-plate: {between: [chip, plate], conductance: 3000 to 5000 W/m2K}\n", "", 1)
	st, err := Compare(context.Background(), parse(t, yaml), nil, few)
	var ps device.Problems
	if !errors.As(err, &ps) || !strings.Contains(ps[0].What, "touches no other part") {
		t.Errorf("error %v", err)
	}
	if st == nil || len(st.Rows) == 0 || st.Rows[0].Failed == "" || len(st.Verdict) != 0 {
		t.Errorf("%+v", st)
	}
}

// Ctrl-C at any moment: the rows there are, all of them sound, and the context's error.
func TestCancel(t *testing.T) {
	f := parse(t, strings.Replace(block, "limits:", "retrofits:\n  paint: {changes: [{refinish: {part: block, finish: dark}}]}\nlimits:", 1))
	rows := map[int]int{}
	for k := 1; ; k += 3 {
		if k > 120 {
			t.Fatal("it never ends by itself")
		}
		ctx, cancel := context.WithCancel(context.Background())
		opt, calls := few, 0
		opt.Draws, opt.Workers = 3, 1
		opt.Progress = func(int, int, string) {
			if calls++; calls == k {
				cancel()
			}
		}
		st, err := Compare(ctx, f, nil, opt)
		cancel()
		if err == nil {
			if calls >= k {
				t.Errorf("cancelled at call %d of %d, and no error", k, calls)
			}
			break
		}
		if !errors.Is(err, context.Canceled) || st == nil || len(st.Verdict) != 0 {
			t.Fatalf("cancelled at call %d: %v, %+v", k, err, st)
		}
		rows[len(st.Rows)]++
		for i := range st.Rows {
			r := &st.Rows[i]
			if r.Failed != "" || r.Result == nil || !(r.Minutes.Lo <= r.Minutes.Mid && r.Minutes.Mid <= r.Minutes.Hi) {
				t.Errorf("cancelled at call %d: %+v", k, r)
			}
		}
	}
	if rows[1] == 0 || rows[2] < 3 || rows[0] > 0 {
		t.Errorf("rows at the end, by count: %v", rows)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if st, err := Compare(ctx, f, nil, few); !errors.Is(err, context.Canceled) || len(st.Rows) != 0 {
		t.Errorf("cancelled before: %v", err)
	}
}

// Hazen's plotting position (i - 1/2)/n (Hyndman & Fan, The American Statistician 50, 1996, type 5).
func TestQuantile(t *testing.T) {
	d := []float64{1, 2, 4, 8, 16}
	for _, c := range []struct{ q, want float64 }{{0, 1}, {0.05, 1}, {0.1, 1}, {0.2, 1.5}, {0.3, 2}, {0.5, 4}, {0.6, 6}, {0.9, 16}, {0.95, 16}, {1, 16}} {
		within(t, fmt.Sprint(c.q), quantile(d, c.q), c.want, 1e-12)
	}
	var many []float64
	for i := range 100 {
		many = append(many, float64(i)+0.5) // evenly over 0 to 100
	}
	within(t, "5 %", quantile(many, 0.05), 5, 1e-12)
	within(t, "95 %", quantile(many, 0.95), 95, 1e-12)
	if s := spreadOf(many, 120); s != (Spread{5, 120, 120}) {
		t.Errorf("%+v", s)
	}
	if s := spreadOf([]float64{3}, 5); s != (Spread{5, 5, 5}) {
		t.Errorf("%+v", s)
	}
}

func TestVerdictCountsDraws(t *testing.T) {
	result := func(kind session.EndKind, atS float64) *session.Result {
		e := session.End{Kind: kind, AtS: atS, By: "s"}
		return &session.Result{End: e, Own: e, Nearest: -1}
	}
	row := func(name string, r *session.Result, kinds map[session.EndKind]int, chance float64) Row {
		return Row{Name: name, Result: r, EndKinds: kinds, Chance: chance, Minutes: Spread{r.End.AtS / 60, r.End.AtS / 60, r.End.AtS / 60}, WattLessMin: math.NaN(), MassAddedKg: 0.0123}
	}
	st := &Study{BatteryMin: Spread{60, 60, 60}, Rows: []Row{
		row("stock", result(session.Stopped, 1200), map[session.EndKind]int{session.Stopped: 8}, 0),
		row("half", result(session.BatteryEmpty, 3600), map[session.EndKind]int{session.Stopped: 3, session.BatteryEmpty: 5}, 5.0/8),
		row("sure", result(session.BatteryEmpty, 3600), map[session.EndKind]int{session.Stopped: 1, session.BatteryEmpty: 7}, 7.0/8),
		row("longer", result(session.Stopped, 2400), map[session.EndKind]int{session.Stopped: 8}, 0),
		row("lucky", result(session.BatteryEmpty, 3600), map[session.EndKind]int{session.Stopped: 6, session.BatteryEmpty: 2}, 2.0/8),
	}}
	v := verdict(st)
	var at []int
	for _, want := range []string{"stops itself (s) after 20 min", "“sure” lasts until the battery is empty (7 of 8 draws", "“half” probably lasts until the battery is empty (5 of 8 draws",
		"“lucky” would last at the most likely values only until the battery is empty (2 of 8 draws", "“longer” stops itself (s) after 40 min: 20 min longer"} {
		found := -1
		for i, s := range v {
			if strings.Contains(s, want) {
				found = i
			}
		}
		if found < 0 {
			t.Errorf("no %q in\n%s", want, strings.Join(v, "\n"))
		}
		at = append(at, found)
	}
	for i := 1; i < len(at); i++ {
		if at[i] <= at[i-1] {
			t.Errorf("order %v in\n%s", at, strings.Join(v, "\n"))
		}
	}
}

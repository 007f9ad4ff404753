package material

import (
	"math"
	"slices"
	"strings"
	"testing"

	"finwright/internal/cite"
	"finwright/internal/unit"
)

func sound(t *testing.T, what string, q unit.Quantity, below float64) {
	t.Helper()
	if !(q.Lo > 0 && q.Lo <= q.Mid && q.Mid <= q.Hi && q.Hi <= below) || !q.Doubtful() {
		t.Errorf("%s = %v (%v, %v, %v): not a positive figure with doubt", what, q, q.Lo, q.Mid, q.Hi)
	}
}

func sourced(t *testing.T, what, source string, status cite.Status) {
	t.Helper()
	if _, unknown := cite.In(source); source == "" || status == cite.Unsourced || len(unknown) > 0 {
		t.Errorf("%s: source %q names no known work (%v)", what, source, unknown)
	}
}

// TestEveryEntry: every figure is positive, in doubt and sourced; bounds are those of solids (diamond 2200 W/(m K), osmium
// 22 600 kg/m3, water 4200 J/(kg K): no material of ours passes them) and of fractions.
func TestEveryEntry(t *testing.T) {
	if len(materials) < 30 || len(finishes) < 25 || len(fillers) < 10 {
		t.Fatalf("library of %d materials, %d finishes, %d fillers", len(materials), len(finishes), len(fillers))
	}
	for _, m := range materials {
		sound(t, m.Name+" conductivity", m.KInPlane, 2200)
		sound(t, m.Name+" conductivity through", m.KThrough, 2200)
		sound(t, m.Name+" density", m.DensityKgM3, 22600)
		sound(t, m.Name+" specific heat", m.SpecificHeatJkgK, 4200)
		sourced(t, m.Name, m.Source, m.Status())
		if m.KThrough.Hi > m.KInPlane.Hi {
			t.Errorf("%s conducts better through its sheet than along it", m.Name)
		}
		if _, ok := LookupFinish(m.DefaultFinish); !ok {
			t.Errorf("%s: finish %q is not in the library", m.Name, m.DefaultFinish)
		}
		if m.MaxServiceK != 0 && (m.MaxServiceK < 300 || m.MaxServiceK > 600) {
			t.Errorf("%s: service limit %v K", m.Name, m.MaxServiceK)
		}
	}
	for _, f := range finishes {
		sound(t, f.Name+" emissivity", f.Emissivity, 1)
		sound(t, f.Name+" absorptance", f.SolarAbsorptance, 1)
		sourced(t, f.Name, f.Source, f.Status())
	}
	for _, f := range fillers {
		sound(t, f.Name+" conductivity", f.KWmK, 100)
		sound(t, f.Name+" thickness", f.ThicknessM, 0.005)
		sourced(t, f.Name, f.Source, f.Status())
		if f.Caution == "" {
			t.Errorf("%s: no caution", f.Name)
		}
	}
}

func TestLookup(t *testing.T) {
	for in, want := range map[string]string{
		"copper C110": "copper C110", "COPPER c110": "copper C110", "Cu-ETP": "copper C110", "aluminum 6061": "aluminium 6061",
		"6061-T6": "aluminium 6061", "pc-abs": "PC-ABS", "PC ABS": "PC-ABS", "18650": "lithium-ion cylindrical cell", "  FR4 ": "FR4 laminate",
	} {
		if m, ok := Lookup(in); !ok || m.Name != want {
			t.Errorf("Lookup(%q) = %q, %v; want %q", in, m.Name, ok, want)
		}
	}
	if f, ok := LookupFinish("Black Anodized Aluminum"); !ok || f.Name != "black anodised" {
		t.Errorf("black anodised: %q, %v", f.Name, ok)
	}
	if f, ok := LookupFinish("copper, oxidized"); !ok || f.Name != "oxidised copper" {
		t.Errorf("oxidised copper: %q, %v", f.Name, ok)
	}
	if f, ok := LookupFiller("Superglue"); !ok || f.Name != "cyanoacrylate" || !f.Adhesive {
		t.Errorf("superglue: %+v, %v", f, ok)
	}
	if _, ok := Lookup("unobtainium"); ok {
		t.Error("unobtainium was found")
	}
	for _, list := range [][]string{Names(), FinishNames(), FillerNames()} {
		if !slices.IsSorted(list) || len(list) == 0 {
			t.Errorf("not sorted: %v", list)
		}
	}
	if got := unit.Nearest("aluminium 6016", Names()); got != "aluminium 6061" {
		t.Errorf("nearest to aluminium 6016 is %q", got)
	}
}

func find(t *testing.T, name string) Material {
	t.Helper()
	m, ok := Lookup(name)
	if !ok {
		t.Fatalf("%s is not in the library", name)
	}
	return m
}

func holds(q unit.Quantity, v float64) bool { return q.Lo <= v && v <= q.Hi }

// TestPublishedRows: the 90 % intervals hold the published figures. 0 is "not published there".
func TestPublishedRows(t *testing.T) {
	for _, c := range []struct {
		name, source   string
		k, kt, rho, cp float64
	}{
		{"copper C110", "Copper Development Association, C11000, 20 °C", 394, 0, 8920, 386},
		{"copper C110", "IEC annealed copper standard, density", 0, 0, 8890, 0},
		{"copper C110", "Copper Development Association, C11000, 100 °C", 385, 0, 0, 393},
		{"aluminium 6061", "Aluminum Association, 6061-T6", 167, 0, 2700, 896},
		{"aluminium 5052", "public data sheets, 5052-H32", 138, 0, 2680, 880},
		{"aluminium 7075", "public data sheets, 7075-T6", 130, 0, 2810, 870},
		{"stainless 304", "Incropera 6th ed., Table A.1, AISI 304 at 300 K", 14.9, 0, 7900, 477},
		{"brass C360", "public data sheets, C36000", 115, 0, 8490, 377},
		{"FR4 laminate", "Sarvar et al., J. Electron. Mater. 19 (1990), measured", 1.059, 0.343, 1850, 0},
		{"pouch cell", "20 Ah LFP pouch cell, arXiv abstract; density and specific heat derived from 489 g, 224 ml, 541 J/K", 26.6, 0.52, 2183, 1106},
		{"pouch cell", "46 Ah pouch cell, Appl. Sci. 13 (2023) 2870", 0, 0.47, 0, 1250},
		{"nylon 66", "NIST polyamide fit at 293 K", 0.338, 0, 0, 0},
		{"mild steel", "Incropera 6th ed., Table A.1, plain carbon steel at 300 K (from memory)", 60.5, 0, 7854, 434},
		{"silicon", "Incropera 6th ed., Table A.1, silicon at 300 K (from memory)", 148, 0, 2330, 712},
		{"alumina", "Incropera 6th ed., Table A.2, aluminium oxide, polycrystalline, at 300 K (from memory)", 36, 0, 3970, 765},
		{"glass", "Incropera 6th ed., Table A.3, soda lime plate (from memory)", 1.4, 0, 2500, 750},
	} {
		m := find(t, c.name)
		for _, f := range []struct {
			what string
			q    unit.Quantity
			v    float64
		}{{"k", m.KInPlane, c.k}, {"k through", m.KThrough, c.kt}, {"density", m.DensityKgM3, c.rho}, {"specific heat", m.SpecificHeatJkgK, c.cp}} {
			if f.v != 0 && !holds(f.q, f.v) {
				t.Errorf("%s %s: %v..%v does not hold %v [%s]", c.name, f.what, f.q.Lo, f.q.Hi, f.v, c.source)
			}
		}
	}
}

// TestNIST6061 evaluates the NIST fits log10 y = Σ a_i (log10 T)^i of 6061-T6 (NIST cryogenic material properties, valid to
// 300 K) at 293 K; the library's interval, centred on the Aluminum Association's figures, must hold them.
func TestNIST6061(t *testing.T) {
	fit := func(a []float64) float64 {
		x, sum := math.Log10(293), 0.0
		for i := len(a) - 1; i >= 0; i-- {
			sum = sum*x + a[i]
		}
		return math.Pow(10, sum)
	}
	k := fit([]float64{.07918, 1.0957, -.07277, .08084, .02803, -.09464, .04179, -.00571})
	cp := fit([]float64{46.6467, -314.292, 866.662, -1298.3, 1162.27, -637.795, 210.351, -38.3094, 2.96344})
	m := find(t, "6061")
	if !holds(m.KInPlane, k) || !holds(m.SpecificHeatJkgK, cp) {
		t.Errorf("NIST: %v W/(m K), %v J/(kg K); library %v..%v, %v..%v", k, cp, m.KInPlane.Lo, m.KInPlane.Hi, m.SpecificHeatJkgK.Lo, m.SpecificHeatJkgK.Hi)
	}
}

// TestDiffusivity: k/(ρ c) of the middles against published diffusivities. Tolerance: the published figures' own spread.
func TestDiffusivity(t *testing.T) {
	for _, c := range []struct {
		name, source string
		aM2s, tol    float64
	}{
		{"6061", "Aluminum Association figures: 167/(2700·896)", 6.903e-5, 0.005},
		{"copper", "Incropera 6th ed., Table A.1, pure copper at 300 K: 117e-6 m2/s (pure, hence 4 %)", 117e-6, 0.04},
		{"copper", "handbook figures 390/(8940·385)", 1.133e-4, 0.005},
		{"stainless 304", "Incropera 6th ed., Table A.1, AISI 304: 3.95e-6 m2/s", 3.95e-6, 0.06},
	} {
		m := find(t, c.name)
		if a := m.KInPlane.Mid / (m.DensityKgM3.Mid * m.SpecificHeatJkgK.Mid); math.Abs(a/c.aM2s-1) > c.tol {
			t.Errorf("%s: %.4g m2/s, published %.4g [%s]", c.name, a, c.aM2s, c.source)
		}
	}
}

// TestEffusivity: √(k ρ c) decides how hot a touched surface feels. Published figures (W √s/(m2 K)) used for contact
// temperatures: aluminium 20 100, copper 36 638, 304 steel 7493, glass 1369, polycarbonate 537, ABS 514, wood 391,
// silicone 600. Within 15 %: glass and plastics differ by that much between makers.
func TestEffusivity(t *testing.T) {
	for name, want := range map[string]float64{"6061": 20100, "copper": 36638, "stainless 304": 7493, "glass": 1369, "polycarbonate": 537, "ABS": 514, "wood": 391, "silicone rubber": 600} {
		m := find(t, name)
		if b := math.Sqrt(m.KInPlane.Mid * m.DensityKgM3.Mid * m.SpecificHeatJkgK.Mid); math.Abs(b/want-1) > 0.15 {
			t.Errorf("%s: effusivity %.0f, published %.0f", name, b, want)
		}
	}
}

// TestFinishes against Fortescue et al. (4th ed., Table 11.3) and a public table of total normal emissivities.
func TestFinishes(t *testing.T) {
	for _, c := range []struct {
		name       string
		eps, alpha float64
	}{
		{"polished aluminium", 0.08, 0.24}, {"polished aluminium", 0.03, 0.09}, {"clear anodised", 0.84, 0.14}, {"hard anodised", 0.84, 0.92},
		{"white paint", 0.90, 0.12}, {"white paint", 0.83, 0.26}, {"white paint", 0.92, 0.25}, {"black paint", 0.85, 0.95}, {"black paint", 0.90, 0.95},
	} {
		f, ok := LookupFinish(c.name)
		if !ok || !holds(f.Emissivity, c.eps) || !holds(f.SolarAbsorptance, c.alpha) {
			t.Errorf("%s: %v, %v do not hold %v, %v", c.name, f.Emissivity, f.SolarAbsorptance, c.eps, c.alpha)
		}
	}
}

// TestFillers: area resistance of the middle bond line against published ranges, cm² K/W: grease 0.2 to 1.0 and pads 1.0 to 3.0
// (comparison of interface materials); 20 µm of epoxy between silicon and aluminium 0.2 to 0.9 (Incropera 6th ed., Table 3.2,
// from memory: that film is thinner than a bench bond line, so ours must not be below it); bare 6061 pressed at 0.1 MPa in air
// 1.92 (Cooper, Mikic & Yovanovich 1969 with the gap term), which the dry filler's range must hold.
func TestFillers(t *testing.T) {
	r := func(name string) (lo, mid, hi float64) {
		f, ok := LookupFiller(name)
		if !ok {
			t.Fatalf("%s is not in the library", name)
		}
		return 1e4 * f.ThicknessM.Lo / f.KWmK.Hi, 1e4 * f.ThicknessM.Mid / f.KWmK.Mid, 1e4 * f.ThicknessM.Hi / f.KWmK.Lo
	}
	if _, mid, _ := r("thermal paste"); mid < 0.2 || mid > 1.0 {
		t.Errorf("paste: %v cm2 K/W", mid)
	}
	if _, mid, _ := r("thermal pad"); mid < 1.0 || mid > 3.0 {
		t.Errorf("pad: %v cm2 K/W", mid)
	}
	if _, mid, hi := r("thermal epoxy"); mid < 0.2 || hi < 0.9 {
		t.Errorf("thermal epoxy: %v to %v cm2 K/W", mid, hi)
	}
	if lo, _, hi := r("dry"); lo > 1.91886 || hi < 1.91886 {
		t.Errorf("dry: %v to %v cm2 K/W does not hold 1.91886", lo, hi)
	}
	_, paste, _ := r("thermal paste")
	_, epoxy, _ := r("thermal epoxy")
	_, plain, _ := r("plain epoxy")
	if !(paste < epoxy && epoxy < plain) {
		t.Errorf("paste %v, thermal epoxy %v, plain epoxy %v: not in order", paste, epoxy, plain)
	}
}

// TestTouchLimits against cells that were confirmed for IEC 62368-1 TS1, and the burn thresholds of ISO 13732-1
// (from memory but for 48 °C at 10 min), which no limit may pass.
func TestTouchLimits(t *testing.T) {
	for _, c := range []struct {
		kind   Kind
		holdS  float64
		wantC  float64
		status cite.Status
	}{
		{Plastic, 5, 77, cite.Confirmed}, {Plastic, 0.5, 94, cite.Confirmed}, {Plastic, 600, 48, cite.Confirmed}, {Metal, 600, 48, cite.Confirmed},
		{Metal, 0.5, 70, cite.Confirmed}, {Metal, 9 * 3600, 43, cite.Confirmed},
		{Metal, 60, 51, cite.FromMemory}, {Glass, 30, 56, cite.FromMemory}, {Wood, 5, 107, cite.FromMemory},
		{Cell, 30, 51, cite.FromMemory}, {Kind(""), 5, 60, cite.FromMemory}, {Wood, math.NaN(), 43, cite.Confirmed}, {Wood, -1, 43, cite.Confirmed},
	} {
		l := TouchLimitFor(c.kind, c.holdS)
		if math.Abs(l.LimitK-zeroCelsiusK-c.wantC) > 1e-9 || l.Status() != c.status || !strings.Contains(l.Source, "IEC 62368-1") || l.Row == "" {
			t.Errorf("%s held %v s: %+v (%v), want %v °C, %v", c.kind, c.holdS, l, l.Status(), c.wantC, c.status)
		}
	}
	for _, c := range []struct {
		kind   Kind
		holdS  float64
		burnsC float64 // ISO 13732-1
	}{{Metal, 60, 51}, {Glass, 60, 56}, {Plastic, 60, 60}, {Wood, 60, 60}, {Metal, 600, 48}, {Plastic, 600, 48}, {Metal, 8*3600 + 1, 43}} {
		if l := TouchLimitFor(c.kind, c.holdS); l.LimitK-zeroCelsiusK > c.burnsC+1e-9 {
			t.Errorf("%s held %v s: %v °C passes the burn threshold %v °C", c.kind, c.holdS, l.LimitK-zeroCelsiusK, c.burnsC)
		}
	}
	for _, holdS := range []float64{0.5, 5, 30, 100, 1e5} {
		last := 0.0
		for _, k := range []Kind{Metal, Glass, Plastic, Wood} { // the order of falling effusivity
			l := TouchLimitFor(k, holdS)
			if l.LimitK < last {
				t.Errorf("held %v s: %s below the row before", holdS, k)
			}
			last = l.LimitK
		}
	}
}

// TestCellLimit: public cell data sheets: charging to 45 °C, discharging to 60 °C.
func TestCellLimit(t *testing.T) {
	if k, src := CellLimit(true); math.Abs(k-318.15) > 1e-9 || cite.StatusOf(src) != cite.Confirmed {
		t.Errorf("charging: %v K, %q", k, src)
	}
	if k, src := CellLimit(false); math.Abs(k-333.15) > 1e-9 || cite.StatusOf(src) != cite.Confirmed {
		t.Errorf("discharging: %v K, %q", k, src)
	}
}

// TestBoards: in-plane conductivity of copper layers in laminate side by side, 390 t_cu/t + 0.9 W/(m K): what a populated board's
// range must hold for boards with planes. FIDES (answers to users of the reliability guide) calls a board of more than two inner
// layers one of high conductivity, above 15 W/(m K): most of the boards meant here, so the middle must lie above. JESD51-7 and
// JESD51-9: two planes of 35 µm in 1.6 mm. Layer counts and shares of copper left are common practice, no source.
func TestBoards(t *testing.T) {
	m := find(t, "populated board")
	if m.KInPlane.Mid < 15 {
		t.Errorf("middle %v W/(m K): below a board of high conductivity", m.KInPlane.Mid)
	}
	for _, b := range []struct {
		name              string
		copperM, boardM   float64
		wantLow, wantHigh float64 // published or by hand, W/(m K)
	}{
		{"standard four-layer test board, two planes of 35 µm", 70e-6, 1.6e-3, 17, 18.5},
		{"six layers of 30 µm, two thirds left, 1.4 mm", 120e-6, 1.4e-3, 33, 36},
		{"eight layers of 18 µm, two thirds left, 0.9 mm", 96e-6, 0.9e-3, 40, 44},
	} {
		k := 390*b.copperM/b.boardM + 0.9
		if k < b.wantLow || k > b.wantHigh || !holds(m.KInPlane, k) {
			t.Errorf("%s: %.1f W/(m K), expected %v to %v, library %v to %v", b.name, k, b.wantLow, b.wantHigh, m.KInPlane.Lo, m.KInPlane.Hi)
		}
	}
	if fr4 := find(t, "FR4 laminate"); m.KThrough.Lo < fr4.KThrough.Hi {
		t.Errorf("through: %v, below laminate without a single plated hole", m.KThrough.Lo)
	}
}

// TestPackages: junction to top of processor packages in data sheets, K/W, against a block heated evenly that gives its heat off
// on one side: t/(2 k A) from its hottest plane to that side. Flip-chip: NXP i.MX 8M (rev. 0, 01/2018, table 6) 0.1 bare die,
// 17 mm; i.MX 8QuadXPlus (rev. 0, 11/2018, table 5) 0.9 at 17 mm and 0.7 at 21 mm; thickness 1.4 mm from memory. Wire-bonded and moulded: TI AM335x (SPRS717F, table 7-1) 10.2 at 15 mm, TI
// TMS320C6742 7.6 at 13 mm; there the small die concentrates the heat, so the block must not be above them.
func TestPackages(t *testing.T) {
	top := func(k, sideM float64) float64 { return 1.4e-3 / (2 * k * sideM * sideM) }
	flip := find(t, "flip-chip package").KThrough
	for _, p := range []struct{ sideM, kW float64 }{{17e-3, 0.9}, {21e-3, 0.7}, {17e-3, 0.1}} {
		if lo, hi := top(flip.Hi, p.sideM), top(flip.Lo, p.sideM); p.kW < lo || p.kW > hi {
			t.Errorf("flip chip of %v m: %.2f to %.2f K/W, published %v", p.sideM, lo, hi, p.kW)
		}
	}
	moulded := find(t, "chip package").KThrough
	if got := top(moulded.Lo, 15e-3); got > 10.2 {
		t.Errorf("moulded, 15 mm: %.1f K/W, published 10.2", got)
	}
	if got := top(moulded.Lo, 13e-3); got > 7.6 {
		t.Errorf("moulded, 13 mm: %.1f K/W, published 7.6", got)
	}
	if moulded.Mid >= flip.Mid {
		t.Error("a moulded package conducts better through than a bare die")
	}
}

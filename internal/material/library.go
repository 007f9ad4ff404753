package material

import "finwright/internal/unit"

// row is one material as it stands in the table below. k is "in plane | through" when they differ.
type row struct {
	names         string // name | aliases
	kind          Kind
	k, rho, cp    string // W/mK, kg/m3, J/kgK
	finish        string
	maxC          float64
	source, notes string
}

var rows = []row{
	// Metals.
	{"copper C110 | copper | C11000 | Cu-ETP | CW004A", Metal, "385 to 394 W/mK", "8920 kg/m3 ± 0.5 %", "386 J/kgK ± 2 %", "milled copper", 0,
		"[CDA C11000]: 394 W/(m K) and 386 J/(kg K) at 20 °C, 385 and 393 at 100 °C", ""},
	{"copper C145 | C14500 | tellurium copper", Metal, "355 W/mK ± 3 %", "8940 kg/m3 ± 0.5 %", "385 J/kgK ± 1.5 %", "milled copper", 0,
		"[public data sheets]: 205 Btu/(h ft °F)", "free-cutting copper"},
	{"aluminium 6061 | 6061 | 6061-T6 | Al 6061 | EN AW-6061", Metal, "167 W/mK ± 8 %", "2700 kg/m3 ± 1 %", "896 J/kgK ± 6 %", "milled aluminium", 0,
		"[AA 6061]; [NIST cryogenic] gives 154 W/(m K) and 943 J/(kg K) at 293 K, hence the width", ""},
	{"aluminium 6063 | 6063 | 6063-T5 | 6063-T6 | EN AW-6063 | aluminium extrusion", Metal, "200 W/mK ± 6 %", "2690 kg/m3 ± 1 %", "900 J/kgK ± 5 %", "milled aluminium", 0,
		"from memory, data sheets of extrusion alloys: 193 to 209 W/(m K) by temper", ""},
	{"aluminium 5052 | 5052 | 5052-H32 | EN AW-5052 | aluminium sheet", Metal, "138 W/mK ± 6 %", "2680 kg/m3 ± 1 %", "880 J/kgK ± 5 %", "sheet aluminium", 0,
		"[public data sheets]: 5052-H32", ""},
	{"aluminium 7075 | 7075 | 7075-T6 | EN AW-7075", Metal, "130 to 140 W/mK", "2810 kg/m3 ± 1 %", "870 to 960 J/kgK", "milled aluminium", 0,
		"[public data sheets]: 130 W/(m K), 870 J/(kg K); density and the upper figures from memory", ""},
	{"aluminium 1050 | 1050 | 1050A | EN AW-1050A | pure aluminium", Metal, "225 W/mK ± 3 %", "2705 kg/m3 ± 1 %", "900 J/kgK ± 3 %", "sheet aluminium", 0,
		"from memory, data sheets: 222 to 230 W/(m K)", "soft and gummy to mill"},
	{"die-cast aluminium | ADC12 | A383 | A384 | AlSi die casting | cast aluminium", Metal, "96 W/mK ± 10 %", "2740 to 2800 kg/m3", "880 J/kgK ± 8 %", "cast aluminium", 0,
		"[public data sheets] of 383, 384 and ADC12", ""},
	{"magnesium AZ91D | AZ91D | AZ91 | die-cast magnesium", Metal, "72 to 78 W/mK", "1700 to 1810 kg/m3", "990 J/kgK ± 6 %", "painted", 0,
		"[public data sheets] of AZ91D", "swarf and dust burn: keep dry sand at hand, no water"},
	{"die-cast zinc | ZAMAK 3 | zinc alloy", Metal, "105 to 113 W/mK", "6600 kg/m3 ± 1 %", "420 J/kgK ± 3 %", "nickel plated", 0,
		"from memory, data sheets of ZA4 alloys", ""},
	{"stainless 304 | stainless steel | stainless | 304 | AISI 304 | 1.4301", Metal, "14.9 to 16.2 W/mK", "7900 kg/m3 ± 1.5 %", "477 J/kgK ± 5 %", "stainless", 0,
		"[Incropera 2007] Table A.1; 16.2 W/(m K) in data sheets, from memory", ""},
	{"brass C360 | brass | C36000 | CW614N", Metal, "115.5 W/mK ± 5 %", "8490 kg/m3 ± 1 %", "377 J/kgK ± 3 %", "dull brass", 0,
		"[public data sheets]: 115 to 116 W/(m K)", ""},
	{"mild steel | steel | carbon steel | AISI 1010", Metal, "50 to 64 W/mK", "7850 kg/m3 ± 0.5 %", "434 to 490 J/kgK", "rolled steel", 0,
		"[Incropera 2007] Table A.1, from memory: plain carbon steel 60.5, AISI 1010 63.9 W/(m K)", ""},

	// Electronics.
	{"FR4 laminate | FR4 | bare board", Laminate, "0.81 to 1.06 W/mK | 0.29 to 0.343 W/mK", "1850 kg/m3 ± 4 %", "950 to 1200 J/kgK", "solder mask", 130,
		"[Sarvar 1990]: 1.059 and 0.343 W/(m K); lower figures and specific heat from public tables, from memory", "without copper; a real board is a 'populated board'"},
	{"populated board | circuit board | PCB", Board, "10 to 60 W/mK | 0.5 to 5 W/mK", "1900 to 3000 kg/m3", "800 to 1100 J/kgK", "solder mask", 130,
		"our estimate for boards of 4 to 10 layers: in the plane 0.9 + 390 × copper ÷ board thickness, 40 µm of continuous copper in 1.6 mm to 150 µm in 1 mm (Graebner & Azar 1997 measured that the continuous layers decide and the tracks hardly count; copper: [PMC7340094]); through it [Sarvar 1990] and 0.05 to 1.2 % of the area as copper of plated holes",
		"broad: count the planes at the edge and measure the thickness, 390 × copper ÷ thickness; two layers only: 3 to 10 W/(m K) in the plane"},
	{"shielded electronics module | electronics module | shielded module", Component, "5 to 40 W/mK | 0.5 to 5 W/mK", "1800 to 3500 kg/m3", "700 to 1000 J/kgK", "tinned steel", 0,
		"our estimate: board, cans, parts and air taken together", "broad: weigh it"},
	{"chip package | moulded chip", Component, "1 to 30 W/mK | 0.6 to 5 W/mK", "1800 to 2300 kg/m3", "750 to 1000 J/kgK", "black plastic", 0,
		"our estimate: between moulding compound (0.6 to 1 W/(m K)) and silicon on a copper frame", "a moulded part is not silicon: most of its drop lies inside"},
	{"flip-chip package | bare-die package | flip chip", Component, "25 to 60 W/mK | 2 to 25 W/mK", "2000 to 2600 kg/m3", "700 to 900 J/kgK", "black plastic", 0,
		"our estimate: 0.1 to 0.9 K/W from the junction to the top in public data sheets of 17 and 21 mm processor packages; in the plane 0.3 to 0.7 mm of silicon on a third of the area", "a processor whose die lies at the top, bare or under a thin film; with memory stacked on it, or wire-bonded and moulded over, take a 'chip package'"},
	{"display module | display", Lump, "0.5 to 5 W/mK | 0.2 to 0.8 W/mK", "1800 to 2500 kg/m3", "750 to 1100 J/kgK", "glass", 70,
		"our estimate: glass, films and light guide taken together", ""},
	{"silicon", Semi, "100 to 150 W/mK", "2330 kg/m3 ± 0.5 %", "712 J/kgK ± 4 %", "silicon", 0,
		"[Incropera 2007] Table A.1: 148 at 300 K, 98.9 W/(m K) at 400 K; from memory", "bare die"},
	{"alumina | aluminium oxide", Ceramic, "20 to 36 W/mK", "3700 to 3970 kg/m3", "765 to 880 J/kgK", "ceramic", 0,
		"[Incropera 2007] Table A.2: 36 W/(m K), 3970, 765 for 99.5 %; lower grades from data sheets; from memory", ""},
	{"aluminium nitride | AlN", Ceramic, "170 to 200 W/mK", "3260 to 3300 kg/m3", "740 J/kgK ± 5 %", "ceramic", 0,
		"data sheets, from memory", "machining dust must not be breathed"},
	{"graphite film | graphite sheet | graphite foil", Laminate, "700 to 1600 W/mK | 3 to 15 W/mK", "850 to 2100 kg/m3", "850 J/kgK ± 10 %", "graphite", 0,
		"measured about 1000 in and 5 W/(m K) through the plane; makers' 700 to 1950 and 10 to 26; from memory", "conducts electricity, and its edges shed flakes"},

	// Cells. Cylindrical cells are given one conductivity: along the axis it is higher, across much lower.
	{"lithium-ion pouch cell | pouch cell | li-ion pouch cell | lithium polymer cell", Cell, "15 to 30 W/mK | 0.4 to 1.2 W/mK", "2000 to 2600 kg/m3", "800 to 1250 J/kgK", "pouch foil", 60,
		"[LFP pouch cell]: 26.6 in and 0.52 W/(m K) through the plane, 1106 J/(kg K); [Pouch cell 2023]: 0.47, 1250", "never cut, drill, dent, clamp hard or heat a cell"},
	{"lithium-ion cylindrical cell | 18650 | 21700 | li-ion cylindrical cell | cylindrical cell", Cell, "0.8 to 4 W/mK", "2500 to 2900 kg/m3", "800 to 1100 J/kgK", "black plastic", 60,
		"our estimate between radial (about 1) and axial (15 to 30 W/(m K)) figures; density and specific heat from memory", "never cut, drill, dent, clamp hard or heat a cell"},

	// Plastics.
	{"polycarbonate | PC", Plastic, "0.19 to 0.22 W/mK", "1150 to 1220 kg/m3", "1200 to 1300 J/kgK", "plastic", 120,
		"[public data sheets]", ""},
	{"ABS", Plastic, "0.17 to 0.25 W/mK", "1040 kg/m3 ± 2 %", "1300 J/kgK ± 8 %", "plastic", 80,
		"[public data sheets]", "acetone dissolves it"},
	{"PC-ABS | PC/ABS | PC ABS blend", Plastic, "0.18 to 0.24 W/mK", "1080 to 1180 kg/m3", "1200 to 1400 J/kgK", "plastic", 95,
		"our estimate between PC and ABS, [public data sheets]", "acetone crazes it"},
	{"nylon 66 | nylon | PA66 | polyamide 66 | polyamide", Plastic, "0.24 to 0.34 W/mK", "1140 kg/m3 ± 2 %", "1670 J/kgK ± 6 %", "plastic", 100,
		"[public data sheets]: 0.24 to 0.25; [NIST cryogenic] polyamide: 0.338 W/(m K) at 293 K", ""},
	{"glass-filled nylon | PA66-GF30 | nylon GF30", Plastic, "0.28 to 0.45 W/mK", "1370 kg/m3 ± 3 %", "1300 to 1600 J/kgK", "plastic", 120,
		"data sheets, from memory", ""},
	{"POM | acetal | polyoxymethylene", Plastic, "0.25 to 0.37 W/mK", "1410 kg/m3 ± 1 %", "1460 J/kgK ± 6 %", "plastic", 90,
		"data sheets, from memory", ""},
	{"acrylic | PMMA", Plastic, "0.18 to 0.21 W/mK", "1185 kg/m3 ± 1 %", "1450 J/kgK ± 5 %", "plastic", 75,
		"data sheets, from memory", ""},
	{"PLA | printed PLA", Plastic, "0.13 to 0.20 W/mK", "1240 kg/m3 ± 2 %", "1800 J/kgK ± 10 %", "plastic", 50,
		"data sheets, from memory", "for solid prints; softens at 55 to 60 °C"},
	{"epoxy | plain epoxy | epoxy resin", Plastic, "0.15 to 0.25 W/mK", "1200 kg/m3 ± 5 %", "800 to 1200 J/kgK", "plastic", 80,
		"[public data sheets]: 0.15 to 0.25 W/(m K); [Crawford]: 800 J/(kg K); upper specific heat from memory", ""},

	// Soft ones.
	{"silicone rubber | silicone", Elastomer, "0.2 to 0.3 W/mK", "1100 to 1250 kg/m3", "1200 to 1300 J/kgK", "rubber", 180,
		"data sheets, from memory", ""},
	{"TPU | TPE | thermoplastic elastomer | rubber skin | rubber", Elastomer, "0.19 to 0.25 W/mK", "900 to 1250 kg/m3", "1500 to 1800 J/kgK", "rubber", 80,
		"data sheets, from memory", ""},
	{"EVA foam | foam", Foam, "0.035 to 0.06 W/mK", "60 to 250 kg/m3", "1500 to 2300 J/kgK", "rubber", 60,
		"data sheets of closed-cell foams, from memory", ""},
	{"cork", Wood, "0.04 to 0.06 W/mK", "120 to 250 kg/m3", "1800 to 2000 J/kgK", "wood", 100,
		"[Incropera 2007] Table A.3, from memory: 0.039 W/(m K), 120 kg/m3, 1800 J/(kg K)", ""},

	// Others.
	{"glass | soda-lime glass | window glass", Glass, "1.0 to 1.4 W/mK", "2500 kg/m3 ± 2 %", "750 to 840 J/kgK", "glass", 0,
		"[Incropera 2007] Table A.3: 1.4 W/(m K), 2500, 750; data sheets; from memory", ""},
	{"sapphire", Glass, "35 to 46 W/mK", "3970 kg/m3 ± 0.5 %", "765 J/kgK ± 3 %", "glass", 0,
		"[Incropera 2007] Table A.2, from memory: 46 W/(m K), 3970, 765; data sheets 35 to 42", ""},
	{"wood | fir | plywood", Wood, "0.12 to 0.18 W/mK", "500 to 700 kg/m3", "1600 to 2000 J/kgK", "wood", 90,
		"[Incropera 2007] Table A.3, from memory: softwood 0.12, hardwood 0.16 W/(m K) across the grain", ""},
	{"eicosane | paraffin | paraffin wax", Wax, "0.15 to 0.42 W/mK", "770 to 810 kg/m3", "1900 to 2300 J/kgK", "plastic", 0,
		"from memory: solid 0.39 to 0.42, liquid 0.15 to 0.16 W/(m K)",
		"only its sensible heat counts here: melting (241 to 247 kJ/kg at 36 to 37 °C, from memory) is not in this material; flammable"},
}

var materials = func() []Material {
	out := make([]Material, 0, len(rows))
	for _, r := range rows {
		m := Material{Kind: r.kind, Metal: r.kind == Metal, Soft: r.kind == Elastomer || r.kind == Foam,
			Board: r.kind == Board, Soldered: r.kind == Component || r.kind == Semi,
			DensityKgM3: must(r.rho, unit.Density), SpecificHeatJkgK: must(r.cp, unit.SpecificHeat),
			DefaultFinish: r.finish, MaxServiceK: celsius(r.maxC), Source: r.source, Note: r.notes}
		m.Name, m.Aliases = split(r.names)
		in, through := split(r.k)
		m.KInPlane = must(in, unit.Conductivity)
		m.KThrough = m.KInPlane
		if len(through) == 1 {
			m.KThrough = must(through[0], unit.Conductivity)
		}
		out = append(out, m)
	}
	return out
}()

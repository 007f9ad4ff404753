package material

import "finwright/internal/unit"

// fillers. The film a filler leaves is set by its largest grain and by how it was pressed; no published figure per product was
// found, so thickness is a range. Adhesives and solvents: read the maker's safety sheet, ventilate, wear gloves.
var fillers = func() []Filler {
	var out []Filler
	for _, r := range []struct {
		names, k, thickness  string
		adhesive, releasable bool
		maxC                 float64
		caution, source      string
	}{
		{"thermal paste | paste | thermal grease | grease", "1 to 4 W/mK", "0.03 to 0.12 mm", false, true, 0,
			"for gaps under about 0.05 mm; pumps out in time; parts must be held together",
			"conductivity of genuine non-conductive pastes: [public data sheets]; film: [Prasher 2002] law, from memory"},
		{"thermal pad | pad | silicone pad", "1 to 6 W/mK", "0.3 to 1 mm", false, true, 0,
			"do not squeeze beyond about 45 %: oil bleeds; near lenses use a silicone-free one",
			"data sheets of silicone pads, from memory"},
		{"gap filler | gap pad | soft gap filler pad | soft pad", "1 to 6 W/mK", "0.5 to 3 mm", false, true, 0,
			"do not squeeze beyond about 45 %: oil bleeds; near lenses use a silicone-free one; a pad that does not reach is worth nothing",
			"data sheets of silicone gap fillers, 0.5 to 3 mm, from memory"},
		{"thermal epoxy | filled epoxy | thermal adhesive | heat-conducting epoxy", "0.5 to 1.7 W/mK", "0.05 to 0.2 mm", true, false, 120,
			"does not come apart again; degrease, abrade, wear gloves; a full cure takes days at room temperature",
			"[Adhesives handbook]: 0.5 to 0.7 with 50 %, 1.4 to 1.7 W/(m K) with 75 % alumina; a bought one measured 1.49; film and service limit from memory"},
		{"boron nitride epoxy | BN epoxy", "1 to 4 W/mK", "0.05 to 0.2 mm", true, false, 120,
			"does not come apart again; degrease, abrade, wear gloves",
			"[Hutchinson 2018]: 4.0 W/(m K) at 40 % by volume; lower end for what a bench can mix, our estimate"},
		{"silver epoxy", "1.5 to 6 W/mK", "0.03 to 0.1 mm", true, false, 120,
			"conducts electricity: a smear is a short circuit; does not come apart again",
			"[Adhesives handbook]: 1.7 to 6.9 W/(m K); bulk of data sheets 1.5 to 6, from memory"},
		{"plain epoxy | epoxy | epoxy glue", "0.15 to 0.25 W/mK", "0.05 to 0.2 mm", true, false, 80,
			"does not come apart again; wear gloves; thick masses heat themselves while curing",
			"[public data sheets]: 0.15 to 0.25 W/(m K); film and service limit from memory"},
		{"cyanoacrylate | superglue | CA glue", "0.1 to 0.2 W/mK", "0.02 to 0.06 mm", true, false, 82,
			"brittle, half its strength at 80 °C: never for a heat path that cycles between unlike materials; vapour fogs lenses; bonds skin; hot on cotton and wool",
			"service -54 to 82 °C and film under 0.05 mm: [public data sheets]; conductivity from memory"},
		{"thermal tape | double-sided thermal tape | thermal transfer tape", "0.4 to 1.5 W/mK", "0.1 to 0.25 mm", true, true, 100,
			"wants clean, flat faces and pressure; creeps under steady load",
			"1.5 W/(m K) or less: user measurements and data sheets, from memory"},
		{"double-sided tape | tape", "0.15 to 0.25 W/mK", "0.05 to 0.25 mm", true, true, 60,
			"softens when warm",
			"data sheets of acrylic tapes, from memory"},
		{"silicone adhesive | silicone sealant | RTV", "0.2 to 0.3 W/mK", "0.1 to 0.5 mm", true, true, 150,
			"the acetic kind corrodes copper; its vapour fouls lenses and contacts; cures by air moisture, slowly in wide joints",
			"data sheets, from memory"},
		{"solder | soft solder", "35 to 60 W/mK", "0.05 to 0.2 mm", true, false, 0,
			"needs some 200 °C: not near cells, plastics or finished electronics; wash off flux; no lead near the mouth",
			"tin-lead and tin-silver-copper alloys, from memory"},
		{"dry | nothing | bare", "0.026 W/mK ± 5 %", "0.004 to 0.05 mm", false, true, 0,
			"a clean film of paste is worth more than any pressure a hand-sized device can hold",
			"air: [Lemmon 2004] 0.0262 W/(m K) at 25 °C; air film as good as the whole joint, from 0.004 mm (blasted faces pressed at 0.1 MPa: 1.9 cm² K/W after [Cooper 1969] with air between) to 0.05 mm out of flat, our estimate"},
	} {
		f := Filler{KWmK: must(r.k, unit.Conductivity), ThicknessM: must(r.thickness, unit.Length), Adhesive: r.adhesive, Releasable: r.releasable,
			MaxServiceK: celsius(r.maxC), Caution: r.caution, Source: r.source}
		f.Name, f.Aliases = split(r.names)
		out = append(out, f)
	}
	return out
}()

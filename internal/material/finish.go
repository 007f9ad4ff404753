package material

import "finwright/internal/unit"

// finishes: emissivities are total hemispherical, or total normal where only that is published, near room temperature.
// Bare metals are the worst known of all surfaces here: what is on them counts for more than what they are.
var finishes = func() []Finish {
	var out []Finish
	for _, r := range []struct{ names, emissivity, absorbs, source string }{
		{"polished copper", "0.02 to 0.05", "0.18 to 0.25", "[thermography manuals], [Thome]; sun from memory"},
		{"milled copper | bare copper | fresh copper", "0.04 to 0.15", "0.2 to 0.5", "[Thome]: 0.12 to 0.15 dull; [thermography manuals]: 0.07 burnished; sun our estimate"},
		{"oxidised copper | tarnished copper", "0.4 to 0.8", "0.6 to 0.9", "[thermography manuals]; sun from memory"},
		{"blackened copper | black copper", "0.78 to 0.88", "0.85 to 0.95", "[thermography manuals]; sun our estimate"},
		{"polished aluminium", "0.03 to 0.08", "0.09 to 0.24", "[Fortescue 2011]: 0.08 and 0.24; [emissivity table]: 0.03 and 0.09"},
		{"milled aluminium | bare aluminium | tumbled aluminium", "0.055 to 0.18", "0.15 to 0.4", "[thermography manuals]: 0.055 to 0.07 rough plate, 0.09 sheet, 0.18 rough polish; sun from memory"},
		{"sheet aluminium | aluminium foil", "0.04 to 0.09", "0.1 to 0.3", "[thermography manuals]: foil 0.04, as received 0.09; sun from memory"},
		{"blasted aluminium | bead-blasted aluminium", "0.2 to 0.46", "0.4 to 0.6", "[thermography manuals]: cast and blast-cleaned 0.46; lower end and sun from memory"},
		{"cast aluminium", "0.1 to 0.35", "0.3 to 0.6", "our estimate between milled and blasted"},
		{"oxidised aluminium", "0.2 to 0.4", "0.3 to 0.6", "[thermography manuals]: 0.20 to 0.31 heavily oxidised, up to 0.4; sun from memory"},
		{"clear anodised | anodised | clear anodised aluminium", "0.77 to 0.84", "0.14 to 0.5", "[emissivity table]: 0.84 and 0.14; spread by coat thickness from memory"},
		{"grey anodised | light grey anodised", "0.82 to 0.97", "0.4 to 0.7", "[thermography manuals]: dull light grey 0.97; profile 0.83 to 0.86; sun our estimate"},
		{"black anodised | hard anodised | black anodised aluminium", "0.84 to 0.95", "0.8 to 0.92", "[emissivity table]: 0.84 to 0.88 and 0.92 hard anodised; [thermography manuals]: dull black 0.95; lower sun from memory"},
		{"polished brass", "0.03 to 0.04", "0.3 to 0.5", "[thermography manuals]; sun our estimate"},
		{"dull brass | bare brass", "0.22 ± 0.05", "0.4 to 0.6", "[thermography manuals]: 0.22; width and sun our estimate"},
		{"oxidised brass", "0.5 ± 0.1", "0.6 to 0.8", "[thermography manuals]: 0.5; width and sun our estimate"},
		{"stainless | bare stainless", "0.14 to 0.3", "0.35 to 0.5", "[Incropera 2007] Table A.11, from memory: polished 0.17, cleaned 0.22"},
		{"oxidised stainless", "0.5 to 0.7", "0.6 to 0.9", "[thermography manuals]: after heating; sun from memory"},
		{"rolled steel | oxidised steel", "0.5 to 0.8", "0.6 to 0.9", "from memory"},
		{"tinned steel | tinned", "0.05 to 0.15", "0.3 to 0.5", "from memory"},
		{"nickel plated | nickel", "0.05 to 0.15", "0.3 to 0.45", "from memory"},
		{"white paint", "0.83 to 0.92", "0.12 to 0.3", "[Fortescue 2011]: 0.90, 0.83, 0.92 and 0.12, 0.26, 0.25; ageing our estimate"},
		{"black paint | matt black paint", "0.85 to 0.97", "0.93 to 0.97", "[Fortescue 2011]: 0.85 to 0.90 and 0.95; [thermography manuals]: matt 0.96 to 0.98"},
		{"painted | paint | lacquer | powder coated", "0.80 to 0.96", "0.3 to 0.95", "[Thome]: lacquer 0.80 to 0.95, oils 0.92 to 0.96; sun by colour, our estimate"},
		{"plastic", "0.85 to 0.95", "0.3 to 0.95", "from memory; sun by colour"},
		{"black plastic | dark plastic", "0.85 to 0.95", "0.85 to 0.95", "from memory"},
		{"white plastic | light plastic", "0.85 to 0.95", "0.2 to 0.4", "from memory"},
		{"rubber", "0.85 to 0.95", "0.6 to 0.95", "from memory"},
		{"black tape | electrical tape", "0.96 ± 0.02", "0.95 ± 0.03", "[thermography manuals]: 0.96; sun our estimate"},
		{"solder mask | board", "0.80 to 0.95", "0.6 to 0.9", "from memory"},
		{"pouch foil", "0.4 to 0.9", "0.3 to 0.5", "our estimate: aluminium under a clear nylon film"},
		{"glass", "0.85 to 0.95", "0.1 to 0.9", "[Incropera 2007] Table A.11, from memory: 0.90 to 0.95; sun by what lies behind it, our estimate"},
		{"ceramic", "0.6 to 0.9", "0.2 to 0.5", "from memory"},
		{"silicon", "0.3 to 0.7", "0.5 to 0.8", "our estimate: partly clear in the infrared"},
		{"graphite", "0.8 to 0.98", "0.8 to 0.95", "[thermography manuals]; sun from memory"},
		{"wood | paper", "0.82 to 0.95", "0.3 to 0.8", "[Incropera 2007] Table A.11, from memory: wood 0.82 to 0.92, paper 0.92 to 0.97"},
	} {
		f := Finish{Emissivity: must(r.emissivity, unit.Ratio), SolarAbsorptance: must(r.absorbs, unit.Ratio), Source: r.source}
		f.Name, f.Aliases = split(r.names)
		out = append(out, f)
	}
	return out
}()

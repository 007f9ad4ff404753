package report

// Work says what a person is going to do or touch, for choosing cautions.
type Work struct {
	Cell    bool    // a lithium cell is in the device
	Glue    bool    // something is bonded, or a bond is taken off
	Cutting bool    // metal or plastic is milled, sawn, drilled or filed
	Opened  bool    // the device's housing is opened
	Outside bool    // metal is put where a hand or the sun can reach it
	SkinC   float64 // hottest place a hand can reach over all designs, °C; NaN when not known
}

// touchC is where the caution about hot surfaces becomes pressing: contact of a minute or longer with bare metal.
// It is a threshold for showing a sentence, not a limit: ISO 13732-1 gives burn thresholds by material and contact time
// and itself sets no limits. Value common practice, no source.
const touchC = 48

// Cautions chooses the usual cautions for a piece of work, most dangerous first.
func Cautions(w Work) []string {
	var out []string
	say := func(when bool, text string) {
		if when {
			out = append(out, text)
		}
	}
	say(w.Cell, "Lithium cell: disconnect and take out the cell before any other work, and store it away from chips and heat. "+
		"Never mill, drill, heat, bend, short or puncture it; a swollen, dented or hot cell is finished and belongs in a fire-safe place outdoors, "+
		"then at a collection point. Its temperature limits while charging and discharging are the cell maker's, not ours.")
	say(w.SkinC >= touchC, "Hot surface: at least one design gets hotter than a hand should hold. How hot is too hot depends on material and time of contact; "+
		"ISO 13732-1 gives burn thresholds, product safety standards and local codes give limits. Metal at a given temperature burns sooner than plastic. "+
		"Guard it, mark it, or change the design; do not rely on pain as a warning.")
	say(!(w.SkinC >= touchC), "Warm surface: the figures are for the conditions stated. In the sun, in a pocket or under cloth the outside gets hotter; "+
		"burn thresholds are in ISO 13732-1, limits in product safety standards and local codes.")
	say(w.Cutting, "Cutting: clamp the work, never hold it by hand; wear eye protection; no gloves or loose sleeves near a turning tool. "+
		"Fine metal chips are sharp and conduct: mask the electronics, clean with a brush and suction, not with compressed air, and look twice before power comes back. "+
		"Do not mill or sand coatings, ceramics or filled plastics you cannot name: some dusts are poisonous.")
	say(w.Glue, "Adhesives and solvents: read the safety data sheet of the very product; ventilate, wear gloves that resist it, keep flames away. "+
		"Uncured epoxy sensitises skin for life. Solvents also attack plastics, seals and lens coatings: try a hidden spot. "+
		"A bond is only as good as its weakest warm hour: check the maker's service temperature.")
	say(w.Opened, "Sealed housing: once opened it no longer has the maker's protection against water and dust, and pressure may build in a tight case as it warms. "+
		"Warranty ends, and for a device that transmits, its radio approval may too: metal near an antenna changes what it sends. "+
		"Capacitors can stay charged after the cell is out.")
	say(w.Outside, "Metal outside can conduct a fault to the hand: keep it clear of mains, of charger contacts and of anything not insulated.")
	out = append(out, "These figures help to decide what to try; they replace neither a test nor the rules. Local codes and licensed practice come first: "+
		"leave mains, medical, flight, vehicle and explosive-atmosphere equipment to people licensed for it. Watch the first runs, with a way to cut the power.")
	return out
}

package material

import "finwright/internal/cite"

// TouchLimit is the highest temperature a surface may have that is touched for up to a time. Room at 25 °C; absolute, not
// raised for a hotter room. Guidance for design, not a proof of safety: local codes and the standards themselves decide.
type TouchLimit struct {
	LimitK float64
	HoldS  float64 // the contact lasts longer than this, s
	Row    string  // the row of the table: metal; glass, ceramic; plastic, rubber; wood
	Source string
}

// Status says how far the figure can be trusted.
func (l TouchLimit) Status() cite.Status { return cite.StatusOf(l.Source) }

// touchRows name the columns of the table.
var touchRows = [4]string{"metal", "glass, ceramic", "plastic, rubber", "wood"}

// touchTable: IEC 62368-1 Table 38, class TS1. Only the cells that seen are confirmed; the rest are from memory, and
// agree with the burn thresholds of ISO 13732-1 (48 °C at 10 min, 43 °C at 8 h).
var touchTable = []struct {
	overS  float64
	limitC [4]float64
	seen   [4]bool
}{
	{8 * 3600, [4]float64{43, 43, 43, 43}, [4]bool{true, true, true, true}},
	{60, [4]float64{48, 48, 48, 48}, [4]bool{true, false, true, false}},
	{10, [4]float64{51, 56, 60, 60}, [4]bool{}},
	{1, [4]float64{60, 71, 77, 107}, [4]bool{false, false, true, false}},
	{0, [4]float64{70, 85, 94, 140}, [4]bool{true, false, true, false}},
}

// TouchLimitFor is the limit for a surface of this kind touched for holdS seconds. Cells, semiconductors and kinds that are
// not known count as metal, the strictest; so does a negative or undefined time as the longest.
func TouchLimitFor(kind Kind, holdS float64) TouchLimit {
	row := 0
	switch kind {
	case Glass, Ceramic:
		row = 1
	case Plastic, Elastomer, Foam, Laminate, Wax:
		row = 2
	case Wood:
		row = 3
	}
	for _, t := range touchTable {
		if holdS > t.overS || t.overS == 0 && holdS >= 0 || !(holdS >= 0) {
			source := "[IEC 62368-1]"
			if !t.seen[row] {
				source += ", from memory"
			}
			return TouchLimit{LimitK: celsius(t.limitC[row]), HoldS: t.overS, Row: touchRows[row], Source: source}
		}
	}
	panic("material: the touch table has no last row")
}

// CellLimit is the highest temperature of a lithium-ion cell in use, K, with its source. The cell's own data sheet goes
// before it.
func CellLimit(charging bool) (limitK float64, source string) {
	if charging {
		return celsius(45), "usual for charging: [cell data sheets]"
	}
	return celsius(60), "usual for discharging: [cell data sheets]"
}

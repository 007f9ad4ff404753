package benchlog

import (
	"bytes"
	"fmt"
	"strings"
)

// headed is what the lines above the body say of its columns.
type headed struct {
	names     []string // by field; "" where nothing is said
	units     []Unit
	hasUnit   []bool
	nameLine  int // index of the line with the names, -1: none
	unitLine  int
	scaling   []string    // rows of scaling, ratio or offset that are not 1 or 0: reported, never applied
	intervalS float64     // stated by a line such as "Sampling interval, 500 ms"
	remarks   [][2]string // other statements above the body that matter: what, value
}

const headingReach = 20 // lines above the body that may belong to its heading (15 with blank lines between, and nine labels)

var (
	timeWords        = []string{"time", "zeit", "date", "datum", "uhrzeit", "elapsed", "timestamp", "clock", "sec", "seconds", "t", "heure", "hora", "utc", "uptime"}
	temperatureWords = []string{"temp", "temperature", "temperatur", "tc", "probe", "thermo", "chip", "case", "shell", "ambient", "air", "room", "body", "sensor"}
	channelLabels    = []string{"channel", "ch", "ch.", "kanal", "unit"}
	nameLabels       = []string{"comment", "comments", "name", "tag", "label", "description", "kommentar", "bezeichnung", "names", "channel name"}
)

// looksLike tells whether a heading has one of the words, alone or at the beginning of one of its own words.
func looksLike(h string, lists ...[]string) bool {
	for _, w := range strings.FieldsFunc(strings.ToLower(h), func(r rune) bool { return strings.ContainsRune(" _-./,:;()[]#", r) }) {
		for _, list := range lists {
			for _, want := range list {
				if w == want || len(want) >= 4 && strings.HasPrefix(w, want) || strings.TrimRight(w, "0123456789") == want && want != "t" {
					return true
				}
			}
		}
	}
	return false
}

// readHeading looks upwards from the body for names and units. at forces the names' line (index; -1: look, -2: there is none).
func readHeading(t *table, lines [][]byte, at int) headed {
	h := headed{names: make([]string, t.n), units: make([]Unit, t.n), hasUnit: make([]bool, t.n), nameLine: -1, unitLine: -1}
	h.statements(t, lines)
	width := t.n // columns that have anything in them
	for width > 1 && t.column[width-1] == fieldEmpty {
		width--
	}
	type row struct {
		line  int
		cells []string // by field of the body
		label string   // first cell
		shown int
		full  bool // a cell for every column
	}
	var rows []row
	for i := t.first - 1; i >= 0 && i >= t.first-headingReach && at != -2; i-- {
		if at >= 0 && i < at { // rows between the names and the body may still hold units
			break
		}
		cells := headingCells(t, lines[i], width)
		if cells == nil {
			continue
		}
		dated := false
		for _, c := range cells {
			_, stamp := parseStamp([]byte(c))
			dated = dated || stamp
		}
		if dated {
			continue // a record of its own, no heading
		}
		r := row{line: i, cells: cells, label: strings.ToLower(strings.TrimRight(cells[0], ": ")), full: headingWidth(t, lines[i]) >= width}
		for _, c := range cells {
			if c != "" {
				r.shown++
			}
		}
		if r.shown > 0 {
			rows = append(rows, r)
		}
	}
	// Where a row with a cell for every column has names and units, rows of other widths are labels whose columns are not sure.
	fullOnly := false
	for _, r := range rows {
		united := 0
		for _, c := range r.cells {
			if _, _, ok := splitUnit(c); ok {
				united++
			}
		}
		fullOnly = fullOnly || r.full && r.shown >= width && 2*united >= width
	}
	best, bestScore := -1, 0.0
	for k, r := range rows {
		if fullOnly && !r.full && r.line != at {
			continue
		}
		units, texts, distinct := 0, 0, map[string]bool{}
		for j, c := range r.cells {
			if c == "" || j == 0 && t.n > 1 {
				continue
			}
			if _, ok := parseUnit(c); ok {
				units++
			}
			if _, _, num := parseNumber([]byte(c), t.decimal); !num {
				texts++
			}
			distinct[c] = true
		}
		cells := max(1, r.shown-1)
		if units*10 >= cells*6 && units > 0 {
			if h.unitLine < 0 {
				h.unitLine = r.line
				for j, c := range r.cells {
					if u, ok := parseUnit(c); ok {
						h.units[j], h.hasUnit[j] = u, true
					} else if name, u, ok := splitUnit(c); ok { // "Time [s]" before bare units
						h.units[j], h.hasUnit[j] = u, true
						if j == 0 {
							h.names[j] = name
						}
					}
				}
			}
			continue
		}
		if looksLike(r.label, []string{"scaling", "scale", "ratio", "offset", "range", "mode", "type"}) && r.line != at {
			if looksLike(r.label, []string{"scaling", "scale", "ratio", "offset"}) {
				for _, c := range r.cells[1:] {
					if v, _, ok := parseNumber([]byte(c), t.decimal); ok && v != 0 && v != 1 || strings.EqualFold(c, "on") {
						h.scaling = append(h.scaling, fmt.Sprintf("%s: %s", r.cells[0], strings.Join(r.cells[1:], ", ")))
						break
					}
				}
			}
			if !looksLike(r.label, []string{"type"}) {
				continue
			}
		}
		labelled := looksLike(r.label, nameLabels, channelLabels)
		if texts > 0 && r.shown-1 > 2*texts && !labelled && r.line != at {
			continue // mostly numbers: a record of another shape
		}
		score := float64(len(distinct)) + 0.5*float64(texts) - 0.01*float64(k)
		if texts == 0 {
			score *= 0.1
		}
		for _, c := range r.cells {
			if _, _, ok := splitUnit(c); ok {
				score++
			}
		}
		for _, l := range nameLabels {
			if r.label == l && 2*len(distinct) >= cells {
				score += 100
			}
		}
		if at >= 0 {
			score = map[bool]float64{true: 1000, false: 0}[r.line == at]
		}
		if score > bestScore {
			best, bestScore = k, score
		}
	}
	if best < 0 {
		if h.unitLine >= 0 {
			h.nameLine = -1
		}
		return h
	}
	name := rows[best]
	h.nameLine = name.line
	if looksLike(name.label, nameLabels, channelLabels) { // the label of the row, not the name of the first column
		name.cells[0] = ""
	}
	for j, c := range name.cells {
		n, u, ok := splitUnit(c)
		if ok {
			h.units[j], h.hasUnit[j] = u, true
		}
		if n != "" || h.names[j] == "" {
			h.names[j] = n
		}
	}
	// Equal names: another row may tell them apart (min and max of each), else they are numbered.
	for j := 1; j < t.n; j++ {
		if h.names[j] == "" || !repeated(h.names, j) {
			continue
		}
		for _, r := range rows {
			if r.line == name.line {
				continue
			}
			if _, isUnit := parseUnit(r.cells[j]); isUnit || r.cells[j] == "" {
				continue
			}
			differ := true
			for i := range h.names {
				if i != j && strings.TrimSuffix(h.names[i], " "+r.cells[i]) == h.names[j] && r.cells[i] == r.cells[j] {
					differ = false
				}
			}
			if differ {
				old := h.names[j]
				for i := t.n - 1; i >= 0; i-- {
					if h.names[i] == old && r.cells[i] != "" {
						h.names[i] = old + " " + r.cells[i]
					}
				}
				break
			}
		}
	}
	return h
}

func repeated(names []string, j int) bool {
	for i, n := range names {
		if i != j && n == names[j] {
			return true
		}
	}
	return false
}

// headingCells puts a line's cells beside the body's fields, or returns nil if it does not fit them.
func headingCells(t *table, line []byte, width int) []string {
	var cells []string
	d := t.dialect
	d.cut = cutNone
	for _, f := range d.split(bytes.TrimPrefix(line, []byte("#")), nil) {
		cells = append(cells, strings.ReplaceAll(string(f), `""`, `"`))
	}
	if t.delim == ' ' && len(cells) != t.n && !(t.meridiem() > 0 && len(cells) == t.n-1) {
		cells = joinSpaced(string(line), t.n)
	}
	if k := t.meridiem(); k > 0 && len(cells) == t.n-1 {
		cells = append(cells[:k:k], append([]string{""}, cells[k:]...)...)
	}
	full := len(cells) == t.n
	for len(cells) > 0 && cells[len(cells)-1] == "" {
		cells = cells[:len(cells)-1]
	}
	out := make([]string, t.n)
	n := len(cells)
	timeFirst := n > 0 && looksLike(cells[0], timeWords)
	labelled := n > 0 && t.twoStamps() && looksLike(cells[0], nameLabels, channelLabels, []string{"type"}) // its label stands above the date
	switch {
	case n == 0 || n > t.n:
		return nil
	case n >= width || full && n > 1:
		copy(out, cells)
	case n == width-1 && timeFirst && t.twoStamps(): // "Date/Time" above two columns
		out[0] = cells[0]
		copy(out[2:], cells[1:])
	case n == width-1 && !timeFirst && !labelled && t.timeFirst() && n > 1 || n == 1 && width == 2 && t.timeFirst() && !timeFirst: // names without the time's
		copy(out[1:], cells)
	case n >= 2 && 2*n >= width: // the last names are missing
		copy(out, cells)
	default:
		return nil
	}
	return out
}

// meridiem is the column that has AM or PM apart from its time, parted by a space as the fields are; 0 if there is none.
func (t *table) meridiem() int {
	for j := 1; j < t.n && t.delim == ' '; j++ {
		if t.column[j] != fieldText || t.column[j-1] != fieldStamp {
			continue
		}
		switch strings.ToUpper(string(t.firstField(j))) {
		case "AM", "PM", "A.M.", "P.M.":
			return j
		}
	}
	return 0
}

func (t *table) timeFirst() bool { return t.column[0] == fieldStamp || t.column[0] == fieldNumber }

func (t *table) twoStamps() bool {
	return t.n > 2 && t.column[0] == fieldStamp && t.column[1] == fieldStamp
}

// joinSpaced makes n cells of a heading whose names hold single spaces: first by wide gaps, then by putting brackets to what
// stands before them. It returns nil if neither gives n.
func joinSpaced(line string, n int) []string {
	var wide []string
	for _, part := range strings.FieldsFunc(strings.ReplaceAll(line, "  ", "\t"), func(r rune) bool { return r == '\t' }) {
		if part = strings.TrimSpace(part); part != "" {
			wide = append(wide, part)
		}
	}
	if len(wide) == n {
		return wide
	}
	var joined []string
	for _, w := range strings.Fields(line) {
		if len(joined) > 0 && (strings.ContainsRune("([", rune(w[0]))) {
			joined[len(joined)-1] += " " + w
		} else {
			joined = append(joined, w)
		}
	}
	if len(joined) == n {
		return joined
	}
	return nil
}

// statements picks up what lines above the body say in words: the interval, and the settings of a thermal camera.
func (h *headed) statements(t *table, lines [][]byte) {
	for i := 0; i < t.first && i < len(lines); i++ {
		low := strings.ToLower(string(lines[i]))
		if h.intervalS == 0 && (strings.Contains(low, "interval") || strings.Contains(low, "intervall") || strings.Contains(low, "sample period")) {
			h.intervalS = statedInterval(low)
		}
		for _, key := range []string{"emissivity", "emissionsgrad", "reflected", "distance"} {
			if strings.HasPrefix(strings.TrimLeft(low, "\"# "), key) {
				h.remarks = append(h.remarks, [2]string{key, strings.TrimSpace(string(lines[i]))})
			}
		}
	}
}

// statedInterval finds a number with a unit of time in a line, s; 0 if there is none.
func statedInterval(low string) float64 {
	f := strings.FieldsFunc(low, func(r rune) bool { return strings.ContainsRune(" ,;\t|=:\"[]()", r) })
	for i, w := range f {
		if v, u, ok := numberWithUnit([]byte(w), '.'); ok && u.Kind == Duration && v > 0 {
			return u.SI(v)
		}
		v, _, ok := parseNumber([]byte(w), '.')
		if !ok || v <= 0 {
			continue
		}
		for _, near := range []int{i + 1, i - 1} {
			if near >= 0 && near < len(f) {
				if u, ok := parseUnit(f[near]); ok && u.Kind == Duration {
					return u.SI(v)
				}
			}
		}
	}
	return 0
}

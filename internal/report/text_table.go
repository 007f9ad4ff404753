package report

import "strings"

// column describes one column of a text table.
type column struct {
	head  string
	right bool // figures align right
	least int  // it may be wrapped down to this width; 0: never
}

// table lays rows out under their heads. When the natural widths do not fit, columns that may be wrapped give way step by
// step, always the one that makes the table least taller. A line break in a cell stays. The last cell of a short row runs
// on to the right edge.
func (p *Printer) table(cols []column, rows [][]cell) {
	const indent, gap = 2, 2
	heads := make([]cell, len(cols))
	for i, col := range cols {
		heads[i] = cell{col.head, faint}
	}
	all := append([][]cell{heads}, rows...)
	width := make([]int, len(cols))
	for _, row := range all {
		for i, cl := range row {
			if i < len(row)-1 || len(row) == len(cols) {
				for _, l := range strings.Split(cl.text, "\n") {
					width[i] = max(width[i], runes(p.say(l)))
				}
			}
		}
	}
	lay := func(row []cell) [][]string {
		lines := make([][]string, len(row))
		for i, cl := range row {
			w := width[i]
			if i == len(row)-1 && len(row) < len(cols) {
				w = p.style.Width - indent
				for _, before := range width[:i] {
					w -= before + gap
				}
			}
			for _, l := range strings.Split(cl.text, "\n") {
				lines[i] = append(lines[i], wrap(p.say(l), w)...)
			}
		}
		return lines
	}
	for {
		total := indent - gap
		for _, w := range width {
			total += w + gap
		}
		if total <= p.style.Width {
			break
		}
		best, bestTall := -1, 0
		for i := range cols {
			if cols[i].least == 0 || width[i] <= cols[i].least {
				continue
			}
			width[i]--
			tall := 0
			for _, row := range all {
				tall += tallest(lay(row))
				if i < len(row) && (i < len(row)-1 || len(row) == len(cols)) && longestWord(p.say(row[i].text)) > width[i] {
					tall += 100 // cutting a word is the last resort
				}
			}
			width[i]++
			if best < 0 || tall < bestTall || tall == bestTall && width[i] > width[best] {
				best, bestTall = i, tall
			}
		}
		if best < 0 {
			break
		}
		width[best]--
	}
	for _, row := range all {
		if lines := lay(row); tallest(lines) > 1 || strings.TrimSpace(strings.Join(firsts(lines), "")) != "" {
			p.tableRow(cols, width, lines, row)
		}
	}
}

// longestWord is the length of what wrap does not break unless it must.
func longestWord(s string) int {
	n := 0
	for _, w := range glued(s) {
		n = max(n, runes(w))
	}
	return n
}

// tallest is the number of lines a laid-out row takes.
func tallest(cells [][]string) int {
	high := 0
	for _, l := range cells {
		high = max(high, len(l))
	}
	return high
}

// firsts is the first line of every cell.
func firsts(cells [][]string) []string {
	out := make([]string, len(cells))
	for i, l := range cells {
		out[i] = l[0]
	}
	return out
}

// tableRow writes one row of wrapped cells line by line.
func (p *Printer) tableRow(cols []column, width []int, lines [][]string, row []cell) {
	for n := 0; n < tallest(lines); n++ {
		var b strings.Builder
		for i, l := range lines {
			text := ""
			if n < len(l) {
				text = l[n]
			}
			b.WriteString("  " + p.paint(pad(text, width[i], cols[i].right), row[i].look))
		}
		p.line(b.String())
	}
}

// block draws the stretch from..to (shares 0..1) of a track of so many columns, to half a column.
func block(from, to float64, width int) string {
	half := func(x float64) int { return int(x*float64(2*width) + 0.5) }
	a, b := max(half(from), 0), min(half(to), 2*width)
	if b <= a && to > from && a < 2*width { // something is there: show it
		b = a + 1
	}
	var s strings.Builder
	for i := 0; i < width; i++ {
		l, r := a <= 2*i && 2*i < b, a <= 2*i+1 && 2*i+1 < b
		switch {
		case l && r:
			s.WriteRune('█')
		case l:
			s.WriteRune('▌')
		case r:
			s.WriteRune('▐')
		default:
			s.WriteRune(' ')
		}
	}
	return s.String()
}

// ticks gives round figures from lo to hi, about n of them.
func ticks(lo, hi float64, n int, steps []float64) []float64 {
	st := tickStep(hi-lo, n, steps)
	if st == 0 || !finite(lo) {
		return nil
	}
	var out []float64
	for i := ceilTo(lo, st); i <= hi/st+1e-9; i++ {
		out = append(out, i*st)
	}
	return out
}

// track is a row of columns on a common scale, on which marks are set.
type track struct {
	cells []rune
	most  float64 // value at the right edge
}

func newTrack(width int, most float64) *track {
	t := &track{make([]rune, width), most}
	for i := range t.cells {
		t.cells[i] = ' '
	}
	return t
}

func (t *track) at(x float64) int {
	return min(max(int(x/t.most*float64(len(t.cells)-1)+0.5), 0), len(t.cells)-1)
}

func (t *track) mark(x float64, r rune) {
	if finite(x) {
		t.cells[t.at(x)] = r
	}
}

func (t *track) stretch(from, to float64, r rune) {
	if !finite(from) || !finite(to) {
		return
	}
	for i := t.at(from); i <= t.at(to); i++ {
		t.cells[i] = r
	}
}

// label writes text around x, as far as it fits and hits no other label.
func (t *track) label(x float64, text string) {
	w := []rune(text)
	from := min(max(t.at(x)-len(w)/2, 0), len(t.cells)-len(w))
	if from < 0 {
		return
	}
	for i := max(from-1, 0); i < min(from+len(w)+1, len(t.cells)); i++ {
		if t.cells[i] != ' ' {
			return
		}
	}
	copy(t.cells[from:], w)
}

func (t *track) String() string { return string(t.cells) }

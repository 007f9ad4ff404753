package report

import "strings"

// canvas draws curves in text: braille cells of 2 × 4 dots (Unicode block U+2800), or one mark per cell in ASCII.
type canvas struct {
	w, h  int
	ascii bool
	dots  []uint8  // braille bits per cell
	owner []int    // the curve that drew last in the cell; -1 none
	limit []string // per row: the words on its dotted limit line; empty when there is none
}

func newCanvas(w, h int, ascii bool) *canvas {
	cv := &canvas{w: w, h: h, ascii: ascii, dots: make([]uint8, w*h), owner: make([]int, w*h), limit: make([]string, h)}
	for i := range cv.owner {
		cv.owner[i] = -1
	}
	return cv
}

// level draws a dotted line along a row behind the curves, with its name at the left where no curve is in the way.
func (cv *canvas) level(row int, name string) { cv.limit[row] = name }

// named says whether the name of a row's limit line has room.
func (cv *canvas) named(row int) bool {
	n := runes(cv.limit[row]) + 4
	if n > cv.w {
		return false
	}
	for x := 0; x < n; x++ {
		if cv.owner[row*cv.w+x] >= 0 {
			return false
		}
	}
	return true
}

// brailleBit is the bit of the dot in column x (0, 1) and row y (0 top … 3) of a cell.
var brailleBit = [2][4]uint8{{0x01, 0x02, 0x04, 0x40}, {0x08, 0x10, 0x20, 0x80}}

// curve draws value over time; share maps a value to 0 (bottom) .. 1 (top). Gaps (NaN) stay gaps. What comes after
// endedS is dotted.
func (cv *canvas) curve(timeS, value []float64, endS, endedS float64, share func(float64) float64, owner int) {
	cols, rows := 2*cv.w, 4*cv.h
	lastY, at := -1, 0
	for x := 0; x < cols; x++ {
		t := endS * float64(x) / float64(cols-1)
		for at < len(timeS)-2 && timeS[at+1] < t {
			at++
		}
		t0, t1, v0, v1 := timeS[at], timeS[at+1], value[at], value[at+1]
		v := v0
		if t1 > t0 {
			v = v0 + (v1-v0)*(t-t0)/(t1-t0)
		}
		if dotted := t > endedS && x%3 > 0; dotted || !finite(v) {
			lastY = -1
			continue
		}
		y := min(int((1-share(v))*float64(rows)), rows-1)
		from, to := y, y
		if lastY >= 0 { // join steep pieces
			from, to = min(y, lastY+1), max(y, lastY-1)
			if y > lastY {
				from, to = lastY+1, y
			} else if y < lastY {
				from, to = y, lastY-1
			}
		}
		for d := from; d <= to; d++ {
			i := d/4*cv.w + x/2
			cv.dots[i] |= brailleBit[x%2][d%4]
			cv.owner[i] = owner
		}
		lastY = y
	}
}

// asciiMarks are the marks of the curves where braille cannot be shown.
const asciiMarks = "*o+x"

// paintCanvas writes one row of the canvas, each curve in its colour.
func (p *Printer) paintCanvas(cv *canvas, row int) string {
	var b strings.Builder
	name := []rune(nil)
	if cv.limit[row] != "" && cv.named(row) {
		name = []rune(" " + cv.limit[row] + " ")
	}
	run, look := "", plain
	flush := func() {
		b.WriteString(p.paint(run, look))
		run = ""
	}
	for x := 0; x < cv.w; x++ {
		i := row*cv.w + x
		r, l := ' ', plain
		switch {
		case cv.owner[i] >= 0 && cv.ascii:
			r, l = rune(asciiMarks[cv.owner[i]%len(asciiMarks)]), firstLine+tint(cv.owner[i])
		case cv.owner[i] >= 0:
			r, l = 0x2800+rune(cv.dots[i]), firstLine+tint(cv.owner[i])
		case x >= 2 && x-2 < len(name):
			r, l = name[x-2], faint
		case cv.limit[row] != "" && cv.ascii:
			r, l = '.', faint
		case cv.limit[row] != "":
			r, l = '┄', faint
		}
		if l != look {
			flush()
			look = l
		}
		run += string(r)
	}
	flush()
	return b.String()
}

package report

import (
	"io"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Style says what the terminal can show. The zero Style is 80 columns without colour.
type Style struct {
	Colour bool // use ANSI colours; the command asks only on a terminal and when NO_COLOR is unset
	Width  int  // columns; 0 means 80, and anything below 72 is treated as 72
	ASCII  bool // letters, signs and bars of plain ASCII only
}

// Printer writes results as text. The first write error stops it and is returned by every later call.
type Printer struct {
	w     io.Writer
	style Style
	err   error
}

// Terminal makes a printer.
func Terminal(w io.Writer, style Style) *Printer {
	if style.Width == 0 {
		style.Width = 80
	}
	style.Width = max(style.Width, 72)
	return &Printer{w: w, style: style}
}

// tint is what a piece of text should look like; the names say its meaning, not its colour.
type tint int

const (
	plain tint = iota
	strong
	faint
	good
	bad
	uneasy
	firstLine // colours of curves follow from here
)

// ansi holds the SGR codes (ECMA-48) of the tints.
var ansi = map[tint]string{strong: "1", faint: "2", good: "32", bad: "31", uneasy: "33",
	firstLine: "36", firstLine + 1: "35", firstLine + 2: "34", firstLine + 3: "33", firstLine + 4: "32"}

// paint colours text when colour is asked for. Layout counts runes before painting.
func (p *Printer) paint(s string, t tint) string {
	if !p.style.Colour || t == plain || strings.TrimSpace(s) == "" {
		return s
	}
	return "\x1b[" + ansi[t] + "m" + s + "\x1b[0m"
}

// cell is a piece of text and its look.
type cell struct {
	text string
	look tint
}

func c(text string) cell { return cell{text, plain} }

// clean takes control characters (and with them terminal escape sequences) out of text that came from a file.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == utf8.RuneError {
			return ' '
		}
		return r
	}, s)
}

// asciiSigns writes the signs used here in plain ASCII.
var asciiSigns = strings.NewReplacer("°C", "C", "°", " deg", "±", "+/-", "²", "2", "³", "3", "×", "x", "·", "*", "–", "-", "—", "-",
	"−", "-", "…", "...", "▸", ">", "●", "o", "→", ">", "▲", "^", "━", "=", "─", "-", "┄", ".", "┆", ":", "│", "|", "█", "#", "▐", "#", "▌", "#", "└", "+", "┬", "+", "┤", "|",
	"ä", "ae", "ö", "oe", "ü", "ue", "ß", "ss", "é", "e", "è", "e", "µ", "u", "Ω", "ohm", "“", `"`, "”", `"`, "’", "'")

// say makes text fit for this terminal: no control characters, ASCII when asked.
func (p *Printer) say(s string) string {
	s = clean(s)
	if !p.style.ASCII {
		return s
	}
	return strings.Map(func(r rune) rune {
		if r >= utf8.RuneSelf {
			return '?'
		}
		return r
	}, asciiSigns.Replace(s))
}

// line writes one line without trailing blanks.
func (p *Printer) line(parts ...string) {
	if p.err == nil {
		_, p.err = io.WriteString(p.w, strings.TrimRight(strings.Join(parts, ""), " ")+"\n")
	}
}

func (p *Printer) heading(s string) {
	p.line()
	p.line(p.paint(p.say(s), strong))
}

// paragraph writes wrapped text behind a mark, continued lines under the text.
func (p *Printer) paragraph(mark string, look tint, text string) {
	mark, text = p.say(mark), p.say(text)
	lead := mark
	for _, l := range wrap(text, p.style.Width-runes(mark)) {
		p.line(p.paint(lead, look), p.paint(l, look))
		lead = strings.Repeat(" ", runes(mark))
	}
}

// list writes one marked paragraph per entry, or a sentence when there are none.
func (p *Printer) list(mark string, look tint, entries []string, none string) {
	if len(entries) == 0 {
		p.paragraph("  ", faint, none)
	}
	for _, e := range entries {
		p.paragraph(mark, look, e)
	}
}

// Findings prints what contradicts itself in the user's own figures.
func (p *Printer) Findings(findings []string) error {
	p.heading("What does not fit together")
	p.list("  ! ", uneasy, findings, "No contradictions found in the figures of the file.")
	return p.err
}

// Cautions prints cautions.
func (p *Printer) Cautions(cautions []string) error {
	if len(cautions) > 0 {
		p.heading("Cautions")
		p.list("  ! ", plain, cautions, "")
	}
	return p.err
}

func runes(s string) int { return utf8.RuneCountInString(s) }

// wrap breaks text at blanks into lines of at most width runes; a word longer than that is cut.
func wrap(s string, width int) []string {
	width = max(width, 1)
	var out []string
	line := ""
	for _, word := range glued(s) {
		for runes(word) > width {
			if line != "" {
				out, line = append(out, line), ""
			}
			cut := []rune(word)
			out, word = append(out, string(cut[:width])), string(cut[width:])
		}
		switch {
		case line == "":
			line = word
		case runes(line)+1+runes(word) <= width:
			line += " " + word
		default:
			out, line = append(out, line), word
		}
	}
	if line != "" || len(out) == 0 {
		out = append(out, line)
	}
	return out
}

// units stay with the figure before them.
var units = map[string]bool{"°C": true, "C": true, "K": true, "W": true, "min": true, "g": true, "mm": true, "%": true, "s": true, "J/K": true}

// glued splits text at blanks, but keeps a figure and its unit, and the two ends of a bracketed interval, in one word.
func glued(s string) []string {
	var out []string
	for _, w := range strings.Fields(s) {
		n := len(out)
		unit := n > 0 && units[strings.TrimRight(w, ".,;:)")] && endsInDigit(out[n-1])
		ends := n > 0 && strings.HasPrefix(out[n-1], "(") &&
			(w == "to" && endsInDigit(out[n-1]) || strings.HasSuffix(out[n-1], " to") && endsInDigit(strings.TrimRight(w, ".,;:)")))
		if unit || ends {
			out[n-1] += " " + w
			continue
		}
		out = append(out, w)
	}
	return out
}

func endsInDigit(s string) bool { return s != "" && s[len(s)-1] >= '0' && s[len(s)-1] <= '9' }

// pad fills text with blanks to width runes.
func pad(s string, width int, right bool) string {
	fill := strings.Repeat(" ", max(0, width-runes(s)))
	if right {
		return fill + s
	}
	return s + fill
}

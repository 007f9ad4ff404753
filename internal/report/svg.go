package report

import (
	"fmt"
	"html/template"
	"strconv"
	"strings"
)

// drawing builds one inline SVG picture. User text goes through text, title and desc only, which escape it.
type drawing struct {
	b strings.Builder
}

// pictures hands out the ids of one page, so that titles and patterns of several pictures do not meet.
type pictures struct{ n int }

// start opens a picture of w × h units with a title and a description for those who cannot see it.
func (ps *pictures) start(class string, w, h float64, title, desc string) *drawing {
	ps.n++
	d := &drawing{}
	fmt.Fprintf(&d.b, `<svg class="%s" viewBox="0 0 %s %s" role="img" aria-labelledby="t%d d%d">`, class, num(w), num(h), ps.n, ps.n)
	fmt.Fprintf(&d.b, `<title id="t%d">%s</title><desc id="d%d">%s</desc>`, ps.n, esc(title), ps.n, esc(desc))
	return d
}

// strip opens a bar that stretches with its table cell: 100 units wide whatever its width on paper.
func (ps *pictures) strip(title string) *drawing {
	d := &drawing{}
	fmt.Fprintf(&d.b, `<svg class="strip" viewBox="0 0 100 10" preserveAspectRatio="none" role="img"><title>%s</title>`, esc(title))
	return d
}

func (d *drawing) end() template.HTML {
	d.b.WriteString("</svg>")
	return template.HTML(d.b.String())
}

// add writes an element whose attributes come as name, value pairs.
func (d *drawing) add(element string, attrs ...string) {
	d.b.WriteString("<" + element)
	for i := 0; i+1 < len(attrs); i += 2 {
		if attrs[i+1] != "" {
			d.b.WriteString(" " + attrs[i] + `="` + esc(attrs[i+1]) + `"`)
		}
	}
	d.b.WriteString("/>")
}

func (d *drawing) rect(x, y, w, h float64, class string, more ...string) {
	d.add("rect", append([]string{"class", class, "x", num(x), "y", num(y), "width", num(w), "height", num(h)}, more...)...)
}

func (d *drawing) line(x1, y1, x2, y2 float64, class string, more ...string) {
	d.add("line", append([]string{"class", class, "x1", num(x1), "y1", num(y1), "x2", num(x2), "y2", num(y2)}, more...)...)
}

func (d *drawing) path(data, class string, more ...string) {
	d.add("path", append([]string{"class", class, "d", data}, more...)...)
}

// text writes words at a point; anchor is start, middle or end.
func (d *drawing) text(x, y float64, anchor, class, words string, more ...string) {
	d.b.WriteString("<text")
	for i, attrs := 0, append([]string{"class", class, "x", num(x), "y", num(y), "text-anchor", anchor}, more...); i+1 < len(attrs); i += 2 {
		d.b.WriteString(" " + attrs[i] + `="` + esc(attrs[i+1]) + `"`)
	}
	d.b.WriteString(">" + esc(words) + "</text>")
}

// esc escapes text for HTML and XML alike; control characters, which XML forbids, become blanks.
func esc(s string) string { return template.HTMLEscapeString(clean(s)) }

// num prints a coordinate to a hundredth without trailing zeros.
func num(x float64) string {
	if !finite(x) {
		panic("report: coordinate is not a number")
	}
	s := strconv.FormatFloat(x, 'f', 2, 64)
	s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	if s == "-0" {
		return "0"
	}
	return s
}

// cut shortens words to n runes.
func cut(s string, n int) string {
	r := []rune(clean(s))
	if len(r) <= n {
		return string(r)
	}
	return strings.TrimSpace(string(r[:max(n-1, 0)])) + "…"
}

package report

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"finwright/internal/compare"
)

func pageOf(t *testing.T, s *compare.Study) string {
	t.Helper()
	var b bytes.Buffer
	if err := HTML(&b, s); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// elements reads the page as strict XML and calls see with each start tag, its parents, and the text directly in it.
func elements(t *testing.T, page string, see func(path []string, e xml.StartElement, text string)) {
	t.Helper()
	dec := xml.NewDecoder(strings.NewReader(page))
	dec.Strict = true
	type open struct {
		e    xml.StartElement
		text strings.Builder
	}
	var stack []*open
	var path []string
	for {
		tok, err := dec.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("not well-formed: %v", err)
		}
		switch k := tok.(type) {
		case xml.StartElement:
			stack, path = append(stack, &open{e: k.Copy()}), append(path, k.Name.Local)
		case xml.EndElement:
			top := stack[len(stack)-1]
			see(path[:len(path)-1], top.e, top.text.String())
			stack, path = stack[:len(stack)-1], path[:len(path)-1]
		case xml.CharData:
			if len(stack) > 0 {
				stack[len(stack)-1].text.Write(k)
			}
		}
	}
	if len(stack) != 0 {
		t.Fatalf("%d elements left open", len(stack))
	}
}

func attr(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

func TestHTMLGolden(t *testing.T) {
	page := pageOf(t, inventedStudy())
	golden(t, "html", []byte(page))
	if page != pageOf(t, inventedStudy()) {
		t.Error("two pages of the same study differ")
	}
}

// Strict XML, unique ids, links that lead somewhere, pictures with a title, tables with heads, and figures that are figures.
func TestHTMLIsSound(t *testing.T) {
	page := pageOf(t, inventedStudy())
	ids, links := map[string]bool{}, []string{}
	pictures, titled, tables, heads := 0, 0, 0, 0
	number := regexp.MustCompile(`^-?[0-9.]+$`)
	elements(t, page, func(path []string, e xml.StartElement, text string) {
		if id := attr(e, "id"); id != "" {
			if ids[id] {
				t.Errorf("id %s twice", id)
			}
			ids[id] = true
		}
		links = append(links, strings.Fields(attr(e, "aria-labelledby"))...)
		if h := attr(e, "href"); h != "" {
			if !strings.HasPrefix(h, "#") {
				t.Errorf("link to outside: %s", h)
			}
			links = append(links, h[1:])
		}
		if f := attr(e, "fill"); strings.HasPrefix(f, "url(#") {
			links = append(links, strings.TrimSuffix(f[5:], ")"))
		}
		switch e.Name.Local {
		case "script", "link", "img", "iframe", "object", "image", "use":
			t.Errorf("element %s on the page", e.Name.Local)
		case "svg":
			pictures++
			if attr(e, "role") != "img" {
				t.Error("picture without role")
			}
		case "title":
			if path[len(path)-1] == "svg" && strings.TrimSpace(text) != "" {
				titled++
			}
		case "table":
			tables++
		case "thead":
			heads++
		}
		for _, a := range e.Attr {
			switch a.Name.Local {
			case "x", "y", "x1", "x2", "y1", "y2", "cx", "cy", "r", "width", "height":
				if !number.MatchString(a.Value) && e.Name.Local != "svg" {
					t.Errorf("%s has %s=%q", e.Name.Local, a.Name.Local, a.Value)
				}
				if v, _ := strconv.ParseFloat(a.Value, 64); v < 0 && (a.Name.Local == "width" || a.Name.Local == "height") {
					t.Errorf("%s has %s=%q", e.Name.Local, a.Name.Local, a.Value)
				}
			}
		}
	})
	for _, l := range links {
		if !ids[l] {
			t.Errorf("nothing has id %s", l)
		}
	}
	if pictures < 20 || titled != pictures {
		t.Errorf("%d pictures, %d titles", pictures, titled)
	}
	if tables < 5 || heads != tables {
		t.Errorf("%d tables, %d heads", tables, heads)
	}
	// The namespace's name is the only address, and it is never fetched.
	bare := strings.Replace(page, `xmlns="http://www.w3.org/1999/xhtml"`, "", 1)
	for _, word := range []string{"http:", "https:", "//", "@import", "url(h", "<b>slab", "<paint>", "javascript", "ZgotmplZ"} {
		if strings.Contains(bare, word) {
			t.Errorf("%q is on the page", word)
		}
	}
	if m := notAFigure.FindString(bare); m != "" {
		t.Errorf("%q is on the page", m)
	}
}

// What is on paper, in the order asked for: the verdict before everything else, then tables, curves, and so on.
func TestHTMLTellsEverythingInOrder(t *testing.T) {
	s := inventedStudy()
	page := pageOf(t, s)
	at := 0
	for _, mark := range []string{s.Verdict[0], s.Verdict[2], "Side by side", "Temperature over the session", "Design by design", "Where the degrees go", "Where the watts leave",
		"What the runs taught", "Limits and margins", "What was assumed", "What does not fit together", "Cautions", "Energy account", "Invented data"} {
		i := strings.Index(page[at:], escaped(mark))
		if i < 0 {
			t.Fatalf("%q is missing or out of order", mark)
		}
		at += i
	}
	for _, r := range s.Rows {
		if !strings.Contains(page, escaped(r.Name)) || !strings.Contains(page, escaped(r.Failed)) {
			t.Errorf("row %q is not told", r.Name)
		}
		if r.Result != nil {
			for _, e := range r.Result.Events {
				if !strings.Contains(page, escaped(e.What)) {
					t.Errorf("event %q is not told", e.What)
				}
			}
		}
		for _, n := range r.Notes {
			if !strings.Contains(page, escaped(n)) {
				t.Errorf("note %q is not told", n)
			}
		}
	}
	for _, a := range s.Assumptions {
		for _, w := range []string{a.About, a.Value, a.Source} {
			if !strings.Contains(page, escaped(w)) {
				t.Errorf("assumption %q is not told", w)
			}
		}
	}
	for _, w := range append(append([]string{}, s.Findings...), s.Cautions...) {
		if !strings.Contains(page, escaped(w)) {
			t.Errorf("%q is not told", w)
		}
	}
	s.Invented = false
	if strings.Contains(pageOf(t, s), "Invented data") {
		t.Error("real data are marked as invented")
	}
}

// escaped writes words as the page does.
func escaped(s string) string { return esc(s) }

func TestHTMLOfLittle(t *testing.T) {
	for name, s := range map[string]*compare.Study{
		"nothing":       {},
		"no curves":     {Device: "a", Rows: []compare.Row{{Name: "stock"}}, BatteryMin: compare.Spread{Lo: nan, Mid: nan, Hi: nan}, AskedMin: nan},
		"odd letters":   {Device: "a\x00\x0b\x1b\xff]]>&<\"'", Verdict: []string{"\x01</p><script>x</script>"}},
		"only a failed": {Rows: []compare.Row{{Name: "f", Failed: "why"}}},
	} {
		page := pageOf(t, s)
		elements(t, page, func(_ []string, e xml.StartElement, _ string) {
			if e.Name.Local == "script" {
				t.Errorf("%s: script on the page", name)
			}
		})
		if m := notAFigure.FindString(page); m != "" {
			t.Errorf("%s: %q on the page", name, m)
		}
	}
}

func TestHTMLReportsWriteErrors(t *testing.T) {
	if err := HTML(&fullDisk{100}, inventedStudy()); err == nil {
		t.Error("no error from a full disk")
	}
}

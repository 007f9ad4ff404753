package relation

import (
	"bytes"
	"errors"
	"io/fs"
	"math"
	"path"
	"strings"
	"testing"

	"finwright/internal/device"
	"finwright/proofs"
)

// all are the cases that come with the program.
func all(t *testing.T) []Case {
	t.Helper()
	cases, err := All(proofs.Files, "proofs")
	if err != nil {
		t.Fatal(err)
	}
	if len(cases) < 200 {
		t.Fatalf("only %d cases", len(cases))
	}
	return cases
}

// Every published figure is met; the sources stand in the files.
func TestPublished(t *testing.T) {
	ids := map[string]string{}
	for _, c := range all(t) {
		if !c.Pass || math.Abs(c.Value-c.Target) > c.Tolerance*(1+1e-9) {
			t.Errorf("%s %s, %s: ours %.7g, theirs %.7g ± %.2g %s", c.File, c.ID, c.What, c.Value, c.Target, c.Tolerance, c.Unit)
		}
		if ids[c.ID] != "" {
			t.Errorf("id %s is used in %s and %s", c.ID, ids[c.ID], c.File)
		}
		ids[c.ID] = c.File
		if c.Title == "" || c.Relation == "" || c.Formula == "" || c.Source == "" || c.Status == "" || c.What == "" {
			t.Errorf("a case without words: %+v", c)
		}
		if strings.Contains(registry[c.Relation].source, "from memory") && c.Status == "published" {
			t.Errorf("%s: called %s, but the formula's coefficients are from memory", c.ID, c.Status)
		}
	}
}

// Every figure in the files can fail: moved by three tolerances, it must.
func TestWrongTargetsFail(t *testing.T) {
	for _, name := range files(t) {
		_, tables, err := read(name, content(t, name))
		if err != nil {
			t.Fatal(err)
		}
		for _, tb := range tables {
			for _, p := range tb.points {
				value, _ := tb.relation.at(p.in, p.result.name)
				for _, wrong := range []float64{p.target + 3*p.within, p.target - 3*p.within} {
					if math.Abs(value-wrong) <= p.within {
						t.Errorf("%s: %g would also do", p.id, wrong)
					}
				}
			}
		}
	}
	text := "title: a\nsource: b\nstatus: recomputed\ntables:\n- {relation: standard atmosphere, within: 1 %, points: [{id: x, altitude: 1 km, p/p0: 0.9}, {id: y, altitude: 1 km, pressure: 89.9 kPa}]}\n"
	cases, err := Cases("w.yaml", []byte(text))
	if err != nil || len(cases) != 2 || cases[0].Pass || !cases[1].Pass {
		t.Errorf("%+v, %v", cases, err)
	}
	if c := cases[1]; c.Unit != "kPa" || math.Abs(c.Target-89.9) > 1e-9 || math.Abs(c.Tolerance-0.899) > 1e-9 || c.What != "pressure for altitude 1 km" {
		t.Errorf("%+v", c)
	}
}

// Every relation is checked against something, and every input of it counts in one of its tables: a name mistyped in the
// registry would read as zero and change nothing.
func TestRegistry(t *testing.T) {
	counts := map[string]map[string]bool{}
	for _, name := range files(t) {
		_, tables, err := read(name, content(t, name))
		if err != nil {
			t.Fatal(err)
		}
		for _, tb := range tables {
			r := tb.relation
			if counts[r.name] == nil {
				counts[r.name] = map[string]bool{}
			}
			for _, p := range tb.points {
				before, _ := r.at(p.in, p.result.name)
				for _, in := range r.in {
					if counts[r.name][in.name] {
						continue
					}
					x, stated := p.in[in.name]
					if !stated {
						x = in.absent
					}
					for _, factor := range []float64{0.1, 10} {
						moved := values{in.name: x*factor + 1e-3}
						for k, v := range p.in {
							if k != in.name {
								moved[k] = v
							}
						}
						if after, _ := r.at(moved, p.result.name); after != before && !math.IsNaN(x) {
							counts[r.name][in.name] = true
						}
					}
				}
			}
		}
	}
	for _, name := range Names() {
		r := registry[name]
		for _, in := range r.in {
			if !counts[name][in.name] {
				t.Errorf("%s: %s is checked nowhere, or does not count", name, in.name)
			}
		}
		if r.formula == "" || r.source == "" || len(r.out) == 0 {
			t.Errorf("%s is incomplete", name)
		}
		for _, q := range append(r.in, r.out...) {
			if k := q.name; k == "id" || k == "within" || k == "" {
				t.Errorf("%s: %q cannot be the name of a quantity", name, k)
			}
			if _, _, err := q.kind.read(q.kind.eg); err != nil {
				t.Errorf("%s: the example %q: %v", name, q.kind.eg, err)
			}
		}
		for _, out := range r.out {
			if find(r.in, out.name) != nil {
				t.Errorf("%s: %s is both given and sought", name, out.name)
			}
		}
	}
}

// Maxima known in closed form: x e^-x at 1, and a parabola.
func TestHighest(t *testing.T) {
	if x := highest(func(x float64) float64 { return x * math.Exp(-x) }, 0, 10); math.Abs(x-1) > 1e-6 {
		t.Errorf("x e^-x is largest at %g", x)
	}
	if x := highest(func(x float64) float64 { return -(x - 0.3) * (x - 0.3) }, -1, 2); math.Abs(x-0.3) > 1e-6 {
		t.Errorf("the parabola is largest at %g", x)
	}
}

// A figure used outside the range its formula was published for says so.
func TestNote(t *testing.T) {
	text := strings.Replace(good, "Ra: 1e5", "Ra: 1e13", 1)
	cases, err := Cases("n.yaml", []byte(text))
	if err != nil || !strings.Contains(cases[0].Note, "outside 0.1 to 1e12") {
		t.Errorf("%+v, %v", cases, err)
	}
	if cases, err = Cases("n.yaml", []byte(good)); err != nil || cases[0].Note != "" || !cases[0].Pass {
		t.Errorf("%+v, %v", cases, err)
	}
}

const good = `title: Plates
source: Churchill & Chu 1975
status: recomputed
tables:
  - relation: upright plate, all Rayleigh numbers
    given: {Pr: 0.71}
    within: 0.1 %
    points:
      - {id: a, Ra: 1e5, Nu: 9.2127}
`

// badFiles are refused in words that say what is wrong, where, and what to do.
var badFiles = []struct{ name, from, to, want string }{
	{"nothing", good, "", "the file is empty"},
	{"a list", good, "- a\n", "should have keys with values"},
	{"unknown key", "title:", "titel:", `did you mean "title"`},
	{"unknown relation", "upright plate, all Rayleigh numbers", "upright plate, all Rayleigh number", `did you mean "upright plate, all Rayleigh numbers"`},
	{"unknown status", "recomputed", "sure", `"sure" is no status`},
	{"no status", "status: recomputed\n", "", "this table has no status"},
	{"no source", "source: Churchill & Chu 1975\n", "", "this table has no source"},
	{"no points", "    points:\n      - {id: a, Ra: 1e5, Nu: 9.2127}\n", "", "this table has no points"},
	{"no list", "      - {id: a, Ra: 1e5, Nu: 9.2127}\n", "", "points should be a list"},
	{"unknown input", "Ra: 1e5", "Rayleigh: 1e5", `there is no key "Rayleigh" here`},
	{"missing input", "Ra: 1e5, ", "", "Ra is not stated"},
	{"input twice", "Ra: 1e5", "Ra: 1e5, Ra: 1e6", `"Ra" is given twice`},
	{"no figure", ", Nu: 9.2127", "", "no figure to check"},
	{"no tolerance", "    within: 0.1 %\n", "", "nothing says how far ours may be off"},
	{"tolerance of nothing", "0.1 %", "0 %", "this allows nothing"},
	{"tolerance of all", "0.1 %", "90 %", "checks nothing"},
	{"no id", "id: a, ", "", "this point has no id"},
	{"two ids", "9.2127}\n", "9.2127}\n      - {id: a, Ra: 1e6, Nu: 16.5584}\n", `the id "a" is taken`},
	{"a word", "Ra: 1e5", "Ra: lots", `"lots" is not a number`},
	{"a unit", "Ra: 1e5", "Ra: 1e5 m", "unit of length"},
	{"doubt", "Ra: 1e5", "Ra: 1e5 ± 3", "no doubt of its own"},
	{"infinite", "Ra: 1e5", "Ra: Inf", "not a number to reckon with"},
	{"too large", "Ra: 1e5", "Ra: 1e999", "not a number to reckon with"},
	{"negative", "Ra: 1e5", "Ra: -1", "must be above zero"},
	{"a list as value", "Ra: 1e5", "Ra: [1]", "a single value should stand here"},
	{"empty value", "Ra: 1e5", "Ra:", "nothing is written here"},
	{"bad YAML", "{Pr: 0.71}", "{Pr: 0.71", "cannot be read as YAML"},
	{"brackets", "{Pr: 0.71}", strings.Repeat("[", 20), "more than 8 brackets"},
	{"control", "Plates", "Pla\x01tes", "control characters"},
	{"not text", "Plates", "Pla\xfftes", "not UTF-8"},
	{"two documents", "9.2127}\n", "9.2127}\n---\na: b\n", "second document"},
	{"own unit", good, "title: a\nsource: b\nstatus: recomputed\ntables:\n- {relation: dry air, within: 1 %, points: [{id: x, temperature: 300 K, viscosity: 15.7 cSt}]}\n", `"cSt" is not a unit`},
	{"percent of a temperature's zero", good, "title: a\nsource: b\nstatus: recomputed\ntables:\n- {relation: dry air, within: 1 %, points: [{id: x, temperature: 3 %, Pr: 0.7}]}\n", "unit of ratio"},
	{"what has no figure", good, "title: a\nsource: b\nstatus: recomputed\ntables:\n- {relation: \"upright plate in air, all Rayleigh numbers\", within: 1 %, points: [{id: x, surface: 40 °C, air: 20 °C, length: 1 m, k: 0.03 W/mK, viscosity: 17 mm2/s, diffusivity: 24 mm2/s, Pr: 0.7, beta: 0.003 1/K, heat: 7 W}]}\n", "has no figure for these inputs"},
	{"emissivity above one", good, "title: a\nsource: b\nstatus: recomputed\ntables:\n- {relation: grey channel between fins, within: 1 %, points: [{id: x, gap: 7 mm, depth: 7 mm, length: 7 mm, emissivity: 2, per base: 1}]}\n", "has no figure for these inputs"},
}

func TestBadFiles(t *testing.T) {
	for _, tc := range badFiles {
		t.Run(tc.name, func(t *testing.T) {
			if !strings.Contains(good, tc.from) {
				t.Fatalf("the good file has no %q", tc.from)
			}
			cases, err := Cases("bad.yaml", []byte(strings.Replace(good, tc.from, tc.to, 1)))
			var ps device.Problems
			if !errors.As(err, &ps) || cases != nil || !strings.Contains(err.Error(), tc.want) || !strings.HasPrefix(err.Error(), "bad.yaml") {
				t.Errorf("want %q, got %v", tc.want, err)
			}
		})
	}
}

// A problem shows its line.
func TestExcerpt(t *testing.T) {
	_, err := Cases("bad.yaml", []byte(strings.Replace(good, "Ra: 1e5", "Ra: 1e5 m", 1)))
	if err == nil || !strings.HasPrefix(err.Error(), "bad.yaml:9:21: ") || !strings.Contains(err.Error(), "   9 |       - {id: a, Ra: 1e5 m, Nu: 9.2127}") {
		t.Error(err)
	}
}

// FuzzCases: no bytes make the reader panic, or give a case without a finite figure.
func FuzzCases(f *testing.F) {
	f.Add([]byte(good))
	for _, tc := range badFiles {
		f.Add([]byte(strings.Replace(good, tc.from, tc.to, 1)))
	}
	for _, name := range files(f) {
		f.Add(content(f, name))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 8<<10 || bytes.Contains(data, []byte("traced")) { // tracing takes its time, and reads no bytes
			return
		}
		cases, err := Cases("fuzz.yaml", data)
		if err != nil {
			var ps device.Problems
			if !errors.As(err, &ps) || len(ps) == 0 || cases != nil {
				t.Fatalf("%v with %d cases", err, len(cases))
			}
			return
		}
		for _, c := range cases {
			if x := c.Value + c.Target + c.Tolerance; math.IsNaN(x) || math.IsInf(x, 0) || !(c.Tolerance > 0) {
				t.Fatalf("%+v", c)
			}
		}
	})
}

func files(t testing.TB) []string {
	t.Helper()
	names, err := fs.Glob(proofs.Files, path.Join(Folder, "*.yaml"))
	if err != nil || len(names) == 0 {
		t.Fatalf("no tables: %v", err)
	}
	return names
}

func content(t testing.TB, name string) []byte {
	t.Helper()
	data, err := proofs.Files.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

package cli

import (
	"bytes"
	"context"
	_ "embed"
	"encoding/json"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/spf13/cobra"
)

//go:embed testdata/tiny.yaml
var tiny string

// outcome is what a command line left behind.
type outcome struct {
	code     int
	out, err string
}

func call(args ...string) outcome { return callIn(context.Background(), args...) }

func callIn(ctx context.Context, args ...string) outcome {
	var out, err bytes.Buffer
	code := Main(ctx, args, Terminal{In: strings.NewReader(""), Out: &out, Err: &err})
	return outcome{code, out.String(), err.String()}
}

// edit replaces a piece of the tiny device that must be there.
func edit(t *testing.T, pairs ...string) string {
	t.Helper()
	s := tiny
	for i := 0; i < len(pairs); i += 2 {
		if !strings.Contains(s, pairs[i]) {
			t.Fatalf("the tiny device has no %q", pairs[i])
		}
		s = strings.Replace(s, pairs[i], pairs[i+1], 1)
	}
	return s
}

// inFolder makes a folder with files, and goes there.
func inFolder(t *testing.T, files map[string]string) {
	t.Helper()
	t.Chdir(t.TempDir())
	for name, text := range files {
		if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// everything is every file below here, by name.
func everything(t *testing.T) map[string]string {
	t.Helper()
	all := map[string]string{}
	err := filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		all[path] = string(data)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func isJSON(s string) bool {
	d := json.NewDecoder(strings.NewReader(s))
	var v any
	return d.Decode(&v) == nil && v != nil && !d.More()
}

// A retrofit whose part floats: the file reads well, but this cannot be built.
const floating = `  far off:
    changes:
      - add: {lost: {material: metal, finish: paint, box: 5 x 5 x 5 mm, at: 200 0 0 mm}}
`

// change gives the tiny device's retrofit another list of changes.
func change(changes string) string {
	return tiny[:strings.Index(tiny, "    changes:")] + "    changes:\n" + changes
}

func logged(t *testing.T) string {
	return edit(t, "stops after: 15 to 25 min}", "stops after: 15 to 25 min, log: bench.csv, channels: {T1: chip}}")
}

// Whatever is wrong: a message that says where, what and what was expected; the exit code; nothing on the output but, when
// asked for, JSON; and every file as it was.
func TestBadInput(t *testing.T) {
	for name, tc := range map[string]struct {
		files map[string]string
		args  []string
		want  []string // in the message
		code  int
	}{
		"missing file":        {args: []string{"check", "lamp.yaml"}, want: []string{"lamp.yaml: ", "no such file", "check the name"}},
		"folder":              {files: map[string]string{"lamp/x.yaml": tiny}, args: []string{"check", "lamp"}, want: []string{"lamp: ", "is a directory"}},
		"binary":              {files: map[string]string{"lamp.yaml": "\x00\x7fELF\x02\x01\xff\xfe\x1b[31m"}, args: []string{"check", "lamp.yaml"}, want: []string{"lamp.yaml:1:8: ", "UTF-8"}},
		"binary that is text": {files: map[string]string{"lamp.yaml": "device: a\x1b[31m\n"}, args: []string{"check", "lamp.yaml"}, want: []string{"lamp.yaml:1:10: ", "control character", "is this a text file?"}},
		"empty":               {files: map[string]string{"lamp.yaml": ""}, args: []string{"run", "lamp.yaml"}, want: []string{"lamp.yaml: the file is empty", "expected at least device and parts"}},
		"missing unit":        {files: map[string]string{"lamp.yaml": edit(t, "thickness: 4 mm, on: shell.inside front", "thickness: 4, on: shell.inside front")}, args: []string{"compare", "lamp.yaml"}, want: []string{"lamp.yaml:11:72: ", "unit", "expected a length such as"}},
		"negative size":       {files: map[string]string{"lamp.yaml": edit(t, "60 x 60 x 30 mm", "60 x -60 x 30 mm")}, args: []string{"learn", "lamp.yaml"}, want: []string{"lamp.yaml:10:", "-60", "above"}},
		"buried part":         {files: map[string]string{"lamp.yaml": edit(t, "joints:\n", "  block: {material: metal, box: 60 x 60 x 30 mm, at: 0 0 0 mm}\njoints:\n")}, args: []string{"check", "lamp.yaml"}, want: []string{"lamp.yaml:11:3: ", `part "chip"`, "nothing is left of it", "later parts cut into earlier ones"}},
		"part touches none":   {files: map[string]string{"lamp.yaml": edit(t, "joints:\n", "  lone: {material: metal, box: 5 x 5 x 5 mm, at: 200 0 0 mm}\njoints:\n")}, args: []string{"check", "lamp.yaml"}, want: []string{"lamp.yaml:12:3: ", `part "lone" touches no other part`, "140.00 mm"}},
		"joint touches not": {files: map[string]string{"lamp.yaml": edit(t, "joints:\n", "  tail: {material: metal, box: 5 x 5 x 5 mm, at: 60 0 0 mm}\njoints:\n  far: {between: [chip, tail], conductance: 100 W/m2K}\n")},
			args: []string{"check", "lamp.yaml"}, want: []string{"lamp.yaml:14:3: ", `joint "far": chip and tail do not touch`, "a joint joins two parts whose faces touch"}},
		"heat taken off":     {files: map[string]string{"lamp.yaml": change("      - remove: chip\n")}, args: []string{"check", "lamp.yaml"}, want: []string{"lamp.yaml:25:9: ", `retrofit "outside plate"`, `"chip" is taken off, but it makes heat`, "heat does not vanish"}},
		"sensor taken off":   {files: map[string]string{"lamp.yaml": change("      - remove: chip\n")}, args: []string{"compare", "lamp.yaml"}, want: []string{"lamp.yaml:25:9: ", `sensor "soc" is in it`, "replace the part instead"}},
		"log not there":      {files: map[string]string{"lamp.yaml": logged(t)}, args: []string{"check", "lamp.yaml"}, want: []string{"lamp.yaml:21:", `the log "bench.csv" is not there`, "check its name"}},
		"log without column": {files: map[string]string{"lamp.yaml": logged(t), "bench.csv": "time [s],T2 [°C]\n0,22\n60,30\n"}, args: []string{"check", "lamp.yaml"}, want: []string{"lamp.yaml:21:", "bench.csv", `no column "T1"`, "T2"}},
		"log broken":         {files: map[string]string{"lamp.yaml": logged(t), "bench.csv": "time [s],T1 [°C]\n0,22\n60,warm\n"}, args: []string{"learn", "lamp.yaml"}, want: []string{"bench.csv:3: ", `"warm" in column "T1" is not a temperature`}},
		"log read as said":   {files: map[string]string{"lamp.yaml": edit(t, "stops after: 15 to 25 min}", "stops after: 15 to 25 min, log: bench.csv, log reading: decimal dot, channels: {T1: chip}}"), "bench.csv": "time [s],T1 [°C]\n0,22\n60,30\n"}, args: []string{"check", "lamp.yaml"}, want: []string{"lamp.yaml:21:", "decimal dot", "point or comma"}},
		"no log to read":     {args: []string{"bench", "read"}, want: []string{"wants a logger's file", "finwright bench read runs/first.csv"}},
		"no such log":        {args: []string{"bench", "read", "none.csv"}, want: []string{"none.csv: there is no such log"}},
		"log of words":       {files: map[string]string{"a.csv": "Dear reader\n"}, args: []string{"bench", "read", "a.csv"}, want: []string{"a.csv:1: no rows of numbers were found"}},
		"no file to plan":    {args: []string{"bench", "plan"}, want: []string{"wants one device file", "finwright bench plan lamp.yaml"}},
		"plan what is not":   {files: map[string]string{"lamp.yaml": tiny}, args: []string{"bench", "plan", "lamp.yaml", "--design", "outsid plate"}, want: []string{`no retrofit "outsid plate"`, "outside plate"}},
		"room in doubt":      {files: map[string]string{"lamp.yaml": tiny}, args: []string{"bench", "plan", "lamp.yaml", "--room", "20 to 25 °C"}, want: []string{"--room", "in doubt"}},
		"no log to judge":    {args: []string{"bench", "judge", "lamp.yaml"}, want: []string{"wants a device file and a log"}},
		"probe nowhere":      {files: map[string]string{"lamp.yaml": tiny, "a.csv": "time [s],T1 [°C]\n0,22\n60,30\n"}, args: []string{"bench", "judge", "lamp.yaml", "a.csv"}, want: []string{"a.csv: ", "--channel", "T1"}},
		"probe on the moon":  {files: map[string]string{"lamp.yaml": tiny, "a.csv": "time [s],T1 [°C]\n0,22\n60,30\n"}, args: []string{"bench", "judge", "lamp.yaml", "a.csv", "--channel", "T1=moon.front"}, want: []string{"--channel", `no part "moon"`}},
		"no such column":     {files: map[string]string{"lamp.yaml": tiny, "a.csv": "time [s],T1 [°C]\n0,22\n60,30\n"}, args: []string{"bench", "judge", "lamp.yaml", "a.csv", "--channel", "T2=shell.front"}, want: []string{"a.csv: ", `no column "T2"`, "T1"}},
		"ended how":          {args: []string{"bench", "judge", "lamp.yaml", "a.csv", "--ended", "badly"}, want: []string{"--ended", `"by hand"`}},
		"no such setting":    {files: map[string]string{"a.csv": "time [s],T1 [°C]\n0,22\n60,30\n"}, args: []string{"bench", "read", "a.csv", "--decimal", "dot"}, want: []string{"--decimal", "point or comma"}},
		"no such reading":    {files: map[string]string{"a.csv": "0,22\n"}, args: []string{"bench", "raed", "a.csv"}, want: []string{`unknown command "raed" for "finwright bench"`}},
		"remembered nowhere": {files: map[string]string{"lamp.yaml": tiny, "a.csv": "time [s],T1 [°C]\n0,22\n60,30\n"}, args: []string{"bench", "read", "a.csv", "--remember", "lamp.yaml"}, want: []string{"no run with this log", "nothing was written"}},
		"together with none": {files: map[string]string{"a.csv": "time [s],T1 [°C]\n0,22\n60,30\n"}, args: []string{"bench", "read", "a.csv", "--together"}, want: []string{"name two or more"}},
		"no command":         {args: []string{"chekc", "lamp.yaml"}, want: []string{`unknown command "chekc"`, "check", "finwright --help"}},
		"help on nothing":    {args: []string{"help", "chekc"}, want: []string{`unknown command "chekc"`, "finwright --help"}},
		"no flag":            {args: []string{"compare", "lamp.yaml", "--drwas", "3"}, want: []string{"unknown flag: --drwas", "did you mean --draws?", "finwright compare --help"}},
		"no file named":      {args: []string{"check"}, want: []string{"wants one device file", "finwright check lamp.yaml"}},
		"two files named":    {args: []string{"check", "a", "b"}, want: []string{"wants one device file"}},
		"time without unit":  {files: map[string]string{"lamp.yaml": tiny}, args: []string{"run", "lamp.yaml", "--for", "90"}, want: []string{`--for`, "unit", "a time such as"}},
		"no time":            {files: map[string]string{"lamp.yaml": tiny}, args: []string{"run", "lamp.yaml", "--for", "banana"}, want: []string{`--for`, "banana", "a time such as"}},
		"negative time":      {files: map[string]string{"lamp.yaml": tiny}, args: []string{"compare", "lamp.yaml", "--for", "-5 min"}, want: []string{`--for`, "-5 min", "cannot be negative", "a time such as"}},
		"no time at all":     {files: map[string]string{"lamp.yaml": tiny}, args: []string{"run", "lamp.yaml", "--for", "0 min"}, want: []string{`--for`, "0 min", "90 min"}},
		"time in doubt":      {files: map[string]string{"lamp.yaml": tiny}, args: []string{"run", "lamp.yaml", "--for", "20 to 30 min"}, want: []string{`--for`, "in doubt", "90 min"}},
		"unknown time":       {files: map[string]string{"lamp.yaml": tiny}, args: []string{"run", "lamp.yaml", "--cool", "unknown"}, want: []string{`--cool`, "unknown"}},
		"endless time":       {files: map[string]string{"lamp.yaml": tiny}, args: []string{"run", "lamp.yaml", "--for", "1e12 min"}, want: []string{`--for`, "longest"}},
		"no such retrofit":   {files: map[string]string{"lamp.yaml": tiny}, args: []string{"run", "lamp.yaml", "--retrofit", "outside plat"}, want: []string{"lamp.yaml: ", `no retrofit "outside plat"`, `did you mean "outside plate"?`}},
		"none such to learn": {files: map[string]string{"lamp.yaml": tiny}, args: []string{"run", "lamp.yaml", "--learned", "--retrofit", "outsde plate"}, want: []string{`no retrofit "outsde plate"`, `did you mean "outside plate"?`}},
		"only an unknown":    {files: map[string]string{"lamp.yaml": tiny}, args: []string{"compare", "lamp.yaml", "--only", "outside plat"}, want: []string{"lamp.yaml: ", `no retrofit "outside plat"`, `did you mean "outside plate"?`}},
		"only a nameless":    {files: map[string]string{"lamp.yaml": tiny}, args: []string{"compare", "lamp.yaml", "--only", ""}, want: []string{"lamp.yaml: ", "has no name"}},
		"no such place":      {files: map[string]string{"lamp.yaml": tiny}, args: []string{"run", "lamp.yaml", "--watch", "chp.front"}, want: []string{"lamp.yaml: ", "place to watch", `no part "chp"`, "chip"}},
		"no draws":           {files: map[string]string{"lamp.yaml": tiny}, args: []string{"compare", "lamp.yaml", "--draws", "0"}, want: []string{"--draws", "from 1 up"}},
		"too few to rank":    {files: map[string]string{"lamp.yaml": tiny}, args: []string{"next", "lamp.yaml", "--draws", "99"}, want: []string{"--draws", "from 100 up"}},
		"no such design":     {files: map[string]string{"lamp.yaml": tiny}, args: []string{"next", "lamp.yaml", "--design", "outside plat"}, want: []string{"outside plat", "outside plate"}},
		"draws not a number": {files: map[string]string{"lamp.yaml": tiny}, args: []string{"compare", "lamp.yaml", "--draws", "many"}, want: []string{"--draws", "many"}},
		"page over device":   {files: map[string]string{"lamp.yaml": tiny}, args: []string{"compare", "lamp.yaml", "--page", "lamp.yaml"}, want: []string{"lamp.yaml is there already and is not a page"}},
		"page nowhere":       {files: map[string]string{"lamp.yaml": tiny}, args: []string{"compare", "lamp.yaml", "--page", "no/such/page.html"}, want: []string{"no/such/page.html", "there is no folder no/such"}},
		"page on a folder":   {files: map[string]string{"lamp.yaml": tiny, "pages/x": ""}, args: []string{"compare", "lamp.yaml", "--page", "pages"}, want: []string{"pages", "is not a page"}},
		"nothing to learn":   {files: map[string]string{"lamp.yaml": edit(t, "stock runs:\n  - {name: bench, ambient: 22 °C, air: still, stops after: 15 to 25 min}\n", "")}, args: []string{"learn", "lamp.yaml"}, want: []string{"lamp.yaml: ", "no stock runs"}},
		"proving no cases":   {files: map[string]string{"lamp.yaml": tiny}, args: []string{"prove", "."}, want: []string{"no expect block"}},
		"proving no files":   {files: map[string]string{"notes.txt": "x"}, args: []string{"prove", "."}, want: []string{"no device files"}},
		"proving nothing":    {args: []string{"prove", "proofs"}, want: []string{"proofs: there is no such folder or file"}},
		"proving twice":      {args: []string{"prove", "a", "b"}, want: []string{"takes one folder"}},
		"new over old":       {files: map[string]string{"lamp.yaml": tiny}, args: []string{"new", "lamp.yaml"}, want: []string{"lamp.yaml: ", "there is a file or folder of that name already", "left as it is", "choose another name"}},
		"new nowhere":        {args: []string{"new", "no/lamp.yaml"}, want: []string{"no/lamp.yaml", "there is no folder no"}},
		"no such demo":       {args: []string{"demo", "--device", "9"}, want: []string{"--device is a number from 1 to"}},
	} {
		t.Run(name, func(t *testing.T) {
			inFolder(t, tc.files)
			before := everything(t)
			for _, asJSON := range []bool{false, true} {
				args := tc.args
				if asJSON {
					args = append(append([]string{}, args...), "--json")
				}
				got := call(args...)
				if got.code != exitUsage {
					t.Errorf("%v: exit code %d, want %d", args, got.code, exitUsage)
				}
				for _, w := range tc.want {
					if !strings.Contains(got.err, w) {
						t.Errorf("%v: the message lacks %q:\n%s", args, w, got.err)
					}
				}
				if strings.ContainsAny(got.err, "\x1b\x00") {
					t.Errorf("%v: control characters in %q", args, got.err)
				}
				switch {
				case !asJSON && got.out != "":
					t.Errorf("%v: on the output: %s", args, got.out)
				case asJSON && !isJSON(got.out):
					t.Errorf("%v: not JSON: %q", args, got.out)
				case asJSON && !strings.Contains(got.out, `"error": "`):
					t.Errorf("%v: no error in %s", args, got.out)
				}
			}
			if diff := cmp.Diff(before, everything(t)); diff != "" {
				t.Errorf("files changed: %s", diff)
			}
		})
	}
}

// Problems of a file come as data too.
func TestProblemsAsJSON(t *testing.T) {
	inFolder(t, map[string]string{"lamp.yaml": edit(t, "60 x 60 x 30 mm", "60 x -60 x 30 mm")})
	var got struct {
		Error    string
		Problems []struct {
			File string
			Pos  struct{ Line, Column int }
			What string
		}
	}
	if err := json.Unmarshal([]byte(call("check", "lamp.yaml", "--json").out), &got); err != nil {
		t.Fatal(err)
	}
	if len(got.Problems) != 1 || got.Problems[0].File != "lamp.yaml" || got.Problems[0].Pos.Line != 10 || got.Problems[0].What == "" {
		t.Errorf("got %+v", got)
	}
}

// A retrofit that cannot be built does not keep the rest from being told, but from passing.
func TestRetrofitThatCannotBeBuilt(t *testing.T) {
	inFolder(t, map[string]string{"lamp.yaml": edit(t, "  outside plate:\n", floating+"  outside plate:\n")})
	got := call("check", "lamp.yaml")
	if got.code != exitFailed {
		t.Errorf("check: exit code %d, want %d: %s", got.code, exitFailed, got.err)
	}
	for _, w := range []string{"far off cannot be built", `lamp.yaml:25:15: part "lost" touches no other part`, "outside plate: adds 108 g"} {
		if !strings.Contains(got.out, w) {
			t.Errorf("check lacks %q:\n%s", w, got.out)
		}
	}
	if got := call("check", "lamp.yaml", "--json"); got.code != exitFailed || !isJSON(got.out) || !strings.Contains(got.out, `"problem": "lamp.yaml:25:15`) {
		t.Errorf("check --json: exit code %d, %s", got.code, got.out)
	}
	got = call("compare", "lamp.yaml", "--draws", "1")
	if got.code != exitFailed || !strings.Contains(got.out, "outside plate") || !strings.Contains(got.out, "touches no other part") {
		t.Errorf("compare: exit code %d: %s\n%s", got.code, got.err, got.out)
	}
	if got := call("run", "lamp.yaml", "--retrofit", "far off"); got.code != exitUsage || got.out != "" || !strings.Contains(got.err, `lamp.yaml:25:15: part "lost" touches no other part`) {
		t.Errorf("run: exit code %d: %s", got.code, got.err)
	}
}

// What is odd about a file is said, and does not keep it from passing.
func TestOddFilePasses(t *testing.T) {
	inFolder(t, map[string]string{"lamp.yaml": edit(t, "finishes:", "  tin: {like: aluminium 6061}\nfinishes:")})
	got := call("check", "lamp.yaml")
	if got.code != exitOK || !strings.Contains(got.out, `lamp.yaml:7:3: warning: no part is made of material "tin"`) {
		t.Errorf("exit code %d:\n%s%s", got.code, got.out, got.err)
	}
}

// notAFigure finds NaN and Inf as words.
var notAFigure = regexp.MustCompile(`(?i)\b(nan|[+-]?inf)\b`)

// A good file: every command ends well, twice with the same bytes, its JSON is whole, and no file is touched.
func TestGoodInput(t *testing.T) {
	inFolder(t, map[string]string{"lamp.yaml": tiny, "wall.yaml": wall, "bench.csv": "time [s],T1\n0,22\n60,30\n120,35\n180,38\n"})
	before := everything(t)
	for _, tc := range []struct {
		args []string
		want []string // in the text
		keys []string // at the top of the JSON, in order
	}{
		{[]string{"check", "lamp.yaml"}, []string{"tiny lamp  (invented data)", "shell | chip", "outside plate: adds 108 g"},
			[]string{"file", "device", "invented", "parts", "joints", "surfaces", "sealedAirM3", "cells", "assumptions", "findings", "warnings", "retrofits", "logs"}},
		{[]string{"run", "lamp.yaml", "--watch", "shell.front centre"}, []string{"Stops itself", "shell.front centre"}, nil},
		{[]string{"run", "lamp.yaml", "--retrofit", "outside plate", "--for", "10 min", "--cool", "0 min"}, []string{"outside plate", "10 min"}, nil},
		{[]string{"run", "lamp.yaml", "--learned"}, []string{"Stops itself"}, nil},
		{[]string{"learn", "lamp.yaml"}, []string{"heat of chip", "15 to 25 min"}, nil},
		{[]string{"compare", "lamp.yaml", "--draws", "2"}, []string{"stops itself", "outside plate", "battery empty"}, nil},
		{[]string{"compare", "lamp.yaml", "--draws", "1", "--only", "outside plate", "--for", "20 min"}, []string{"outside plate"}, nil},
		{[]string{"next", "lamp.yaml", "--draws", "100", "--design", "outside plate"}, []string{"To decide whether “outside plate” lasts", "easure first: ", "will read", "write it into the file"},
			[]string{"design", "mode", "chance", "headroomK", "halfWidthK", "clearNow", "draws", "ranked", "then", "all", "left", "words"}},
		{[]string{"bench", "read", "bench.csv"}, []string{"utf-8, fields parted by commas, decimal point.", "names in line 1", "> 60 s | T1 30 °C", "no unit is given for \"T1\": taken as °C", "--column '2 unit \"°F\"'"}, []string{"logs", "aligned", "remembered"}},
		{[]string{"bench", "read", "bench.csv", "--column", "2 name chip unit '°F'", "--start", "1 min"}, []string{"Times are counted from 60 s of the log.", "> -60 s | chip -5.6 °C"}, nil},
		{[]string{"prove", "wall.yaml"}, []string{"wall.yaml", "agrees", "2 passed, 0 failed"}, []string{"cases", "passed", "failed"}},
	} {
		t.Run(strings.Join(tc.args, " "), func(t *testing.T) {
			for _, asJSON := range []bool{false, true} {
				args := tc.args
				if asJSON {
					args = append(append([]string{}, args...), "--json")
				}
				first, second := call(args...), call(args...)
				if first.code != exitOK || first.err != "" {
					t.Fatalf("%v: exit code %d: %s", args, first.code, first.err)
				}
				if diff := cmp.Diff(first, second, cmp.AllowUnexported(outcome{})); diff != "" {
					t.Errorf("%v: the second time: %s", args, diff)
				}
				if m := notAFigure.FindString(first.out); m != "" {
					t.Errorf("%v: %q in the output", args, m)
				}
				if !asJSON {
					for _, w := range tc.want {
						if !strings.Contains(first.out, w) {
							t.Errorf("%v lacks %q:\n%s", args, w, first.out)
						}
					}
					continue
				}
				if !isJSON(first.out) {
					t.Errorf("%v: not JSON: %.300s", args, first.out)
				}
				if tc.keys != nil {
					if diff := cmp.Diff(tc.keys, keysOf(t, first.out)); diff != "" {
						t.Errorf("%v: keys: %s", args, diff)
					}
				}
			}
		})
	}
	if diff := cmp.Diff(before, everything(t)); diff != "" {
		t.Errorf("files changed: %s", diff)
	}
}

// keysOf lists the keys of a JSON object in their order.
func keysOf(t *testing.T, text string) []string {
	t.Helper()
	d := json.NewDecoder(strings.NewReader(text))
	if tok, err := d.Token(); err != nil || tok != json.Delim('{') {
		t.Fatalf("no object: %.100s", text)
	}
	var keys []string
	for d.More() {
		k, err := d.Token()
		if err != nil {
			t.Fatal(err)
		}
		keys = append(keys, k.(string))
		var skip json.RawMessage
		if err := d.Decode(&skip); err != nil {
			t.Fatal(err)
		}
	}
	return keys
}

// What is said on the command line is written into the device file, and check and learn then read the log so and tell of it.
func TestRememberedReadingIsUsed(t *testing.T) {
	device := strings.Replace(logged(t), "T1: chip", "chip: chip", 1) + "# the end\n"
	log := "time [s];T1\n0;71,6\n600;105,1\n900;109,4\n1200;111,7\n"
	inFolder(t, map[string]string{"lamp.yaml": device, "bench.csv": log})
	got := call("bench", "read", "bench.csv", "--column", "2 name chip unit °F", "--remember", "lamp.yaml")
	if got.code != exitOK || !strings.Contains(got.out, "lamp.yaml now says for bench:") {
		t.Fatalf("exit code %d: %s%s", got.code, got.out, got.err)
	}
	all := everything(t)
	const reading = `encoding utf-8; delimiter semicolon; decimal comma; heading 1; first 2; clock "s"; time 1; column 2 name "chip" unit "°F" role "temperature"`
	if want := strings.Replace(device, "log: bench.csv", "log: bench.csv, log reading: '"+reading+"'", 1); len(all) != 2 || all["bench.csv"] != log || all["lamp.yaml"] != want {
		t.Errorf("%d files; the device file is now\n%s", len(all), all["lamp.yaml"])
	}
	for _, args := range [][]string{{"check", "lamp.yaml"}, {"learn", "lamp.yaml"}} {
		got := call(args...)
		if got.code != exitOK || !strings.Contains(got.out, "bench: bench.csv") || !strings.Contains(got.out, "chip at chip: 4 readings, 22 °C to 44 °C, ± 2 K (our default)") || strings.Contains(got.out, "Where it is otherwise") {
			t.Errorf("%v: exit code %d:\n%s%s", args, got.code, got.out, got.err)
		}
		if got := call(append(args, "--json")...); !strings.Contains(got.out, `"reading": "encoding utf-8;`) || !isJSON(got.out) {
			t.Errorf("%v --json: %s", args, got.out)
		}
	}
	if keys := keysOf(t, call("learn", "lamp.yaml", "--json").out); keys[0] != "unknowns" || keys[len(keys)-1] != "logs" {
		t.Errorf("keys of learn: %v", keys)
	}
	// Without it the same log is asked about.
	if err := os.WriteFile("lamp.yaml", []byte(strings.Replace(device, "chip: chip", "T1: chip", 1)), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"check", "lamp.yaml"}, {"learn", "lamp.yaml"}} {
		if got := call(args...); !strings.Contains(got.out, "Assumed. Where it is otherwise") || !strings.Contains(got.out, `no unit is given for "T1"`) {
			t.Errorf("%v: not asked:\n%s%s", args, got.out, got.err)
		}
	}
	if got := call("compare", "lamp.yaml", "--draws", "1", "--json"); !strings.Contains(got.out, `"about": "reading of the log bench.csv"`) {
		t.Errorf("compare: not told:\n%s%s", got.out, got.err)
	}
}

// The session in JSON says what its text says.
func TestRunJSONFigures(t *testing.T) {
	inFolder(t, map[string]string{"lamp.yaml": tiny})
	var got struct {
		Device, Design string
		AmbientK       float64
		End            struct {
			Kind, By string
			AtS      float64
		}
		TimeS  []float64
		Series []struct {
			Name   string
			ValueK []float64
		}
	}
	if err := json.Unmarshal([]byte(call("run", "lamp.yaml", "--json").out), &got); err != nil {
		t.Fatal(err)
	}
	if got.Device != "tiny lamp" || got.Design != "stock" || got.AmbientK != 298.15 || got.End.Kind != "stopped itself" || got.End.By != "soc" {
		t.Errorf("got %+v", got)
	}
	if len(got.Series) == 0 || len(got.Series[0].ValueK) != len(got.TimeS) {
		t.Errorf("the series do not fit the times")
	}
	if text := call("run", "lamp.yaml").out; !strings.Contains(text, fmt.Sprintf("Stops itself at %.0f min (soc).", got.End.AtS/60)) {
		t.Errorf("the text has another end than %g s:\n%.300s", got.End.AtS, text)
	}
}

func TestComparePage(t *testing.T) {
	inFolder(t, map[string]string{"lamp.yaml": tiny})
	for range 2 { // the second replaces the first
		got := call("compare", "lamp.yaml", "--draws", "1", "--page", "report.html")
		if got.code != exitOK || !strings.Contains(got.out, "The whole study as a page: report.html") {
			t.Fatalf("exit code %d: %s%s", got.code, got.out, got.err)
		}
		page, err := os.ReadFile("report.html")
		if err != nil {
			t.Fatal(err)
		}
		if text := strings.ToLower(strings.TrimSpace(string(page))); !strings.HasPrefix(text, "<!doctype html>") || !strings.HasSuffix(text, "</html>") || !strings.Contains(text, "outside plate") {
			t.Errorf("not a whole page: %.200s", page)
		}
	}
	if all := everything(t); len(all) != 2 || all["lamp.yaml"] != tiny {
		t.Errorf("files left behind or changed: %d", len(all))
	}
	if got := call("compare", "lamp.yaml", "--draws", "1", "--page", "report.html", "--json"); got.code != exitOK || !isJSON(got.out) {
		t.Errorf("with --json: exit code %d: %.200s", got.code, got.out)
	}
}

// wall is a plane wall of 10 mm and 2 W/(m K) between 100 °C and 20 °C: by Fourier's law the flow is
// k A ΔT/L = 2 · 1e-4 · 80/0.01 = 1.6 W through 10 × 10 mm, and the middle is at 60 °C.
const wall = `device: wall
materials:
  brick: {conductivity: 2 W/mK, density: 2000 kg/m3, specific heat: 900 J/kgK}
parts:
  wall: {material: brick, box: 10 x 10 x 10 mm}
grid: {largest cell: 10 mm, cells across: 1}
start: 20 °C
boundaries:
  hot: {face: wall.left, temperature: 100 °C}
  cold: {face: wall.right, temperature: 20 °C}
expect:
  - {id: flow, heat through: cold, target: 1.6 W, within: 0.1 %, source: "Fourier's law"}
  - {id: middle, temperature at: 5 5 5 mm, target: 60 °C, within: 0.01 K, source: "Fourier's law"}
`

func TestProveJSON(t *testing.T) {
	inFolder(t, map[string]string{"cases/wall.yaml": wall, "cases/wrong.yml": strings.Replace(wall, "target: 60 °C", "target: 61 °C", 1), "cases/notes.txt": "no device"})
	got := call("prove", "cases", "--json")
	if got.code != exitFailed || got.err != "" {
		t.Errorf("exit code %d: %s", got.code, got.err)
	}
	if diff := cmp.Diff([]string{"cases", "passed", "failed"}, keysOf(t, got.out)); diff != "" {
		t.Error(diff)
	}
	var raw struct{ Cases []json.RawMessage }
	var all struct {
		Cases []struct {
			ID, Source, Unit         string
			Value, Target, Tolerance float64
			Pass                     bool
		}
		Passed, Failed int
	}
	for _, into := range []any{&raw, &all} {
		if err := json.Unmarshal([]byte(got.out), into); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range raw.Cases {
		if diff := cmp.Diff([]string{"id", "source", "value", "target", "tolerance", "unit", "pass"}, keysOf(t, string(c))); diff != "" {
			t.Error(diff)
		}
	}
	if all.Passed != 3 || all.Failed != 1 || len(all.Cases) != 4 {
		t.Fatalf("got %+v", all)
	}
	for i, pass := range []bool{true, true, true, false} {
		if all.Cases[i].Pass != pass {
			t.Errorf("case %d: %+v", i, all.Cases[i])
		}
	}
	if c := all.Cases[0]; c.ID != "flow" || c.Source != "Fourier's law" || c.Unit != "W" || c.Target != 1.6 || c.Tolerance < 0.00159 || c.Tolerance > 0.00161 {
		t.Errorf("got %+v", c)
	}
	if c := all.Cases[3]; c.Unit != "°C" || c.Target != 61 || c.Value < 59.99 || c.Value > 60.01 {
		t.Errorf("got %+v", c)
	}
	if got := call("prove", "cases"); got.code != exitFailed || !strings.Contains(got.out, "DIFFERS") || !strings.Contains(got.out, "3 passed, 1 failed") {
		t.Errorf("as text: exit code %d:\n%s", got.code, got.out)
	}
}

func TestSchema(t *testing.T) {
	got := call("schema")
	if got.code != exitOK || !isJSON(got.out) || !strings.Contains(got.out, `"stock runs"`) {
		t.Errorf("exit code %d: %.200s", got.code, got.out)
	}
}

func TestStarterPasses(t *testing.T) {
	inFolder(t, nil)
	if got := call("new", "my \"lamp\".yaml"); got.code != exitOK || !strings.Contains(got.out, "finwright check") {
		t.Fatalf("exit code %d: %s", got.code, got.err)
	}
	if got := call("check", "my \"lamp\".yaml"); got.code != exitOK || !strings.Contains(got.out, `my "lamp"`) {
		t.Errorf("exit code %d: %s", got.code, got.err)
	}
	if got := call("new", "second.yaml", "--json"); got.code != exitOK || got.out != "{\n \"file\": \"second.yaml\"\n}\n" {
		t.Errorf("exit code %d: %q", got.code, got.out)
	}
}

func TestCtrlC(t *testing.T) {
	inFolder(t, map[string]string{"lamp.yaml": tiny, "wall.yaml": wall})
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	for _, args := range [][]string{{"run", "lamp.yaml"}, {"learn", "lamp.yaml"}, {"compare", "lamp.yaml", "--page", "report.html"}, {"prove", "wall.yaml"}, {"run", "lamp.yaml", "--learned"}} {
		if got := callIn(ctx, args...); got.code != exitStop || !strings.Contains(got.err, "stopped before the end") {
			t.Errorf("%v: exit code %d: %s", args, got.code, got.err)
		}
	}
	if all := everything(t); len(all) != 2 {
		t.Errorf("files left behind: %d", len(all))
	}
}

// A group of commands without one of them tells what it has.
func TestGroupAlone(t *testing.T) {
	if got := call("bench"); got.code != exitOK || !strings.Contains(got.out, "read        how a logger's file") {
		t.Errorf("exit code %d: %s%s", got.code, got.out, got.err)
	}
}

func TestNoArguments(t *testing.T) {
	got, help := call(), call("--help")
	if got.code != exitOK || got.err != "" || got.out != help.out {
		t.Errorf("exit code %d: %s%s", got.code, got.out, got.err)
	}
	for _, w := range []string{"bench", "check", "compare", "demo", "learn", "new", "prove", "run", "schema", "--json", "--version"} {
		if !strings.Contains(got.out, w) {
			t.Errorf("the help lacks %q", w)
		}
	}
}

func TestVersion(t *testing.T) {
	if got := call("--version"); got.code != exitOK || !regexp.MustCompile(`^finwright version (devel|v\d\S*)\n$`).MatchString(got.out) {
		t.Errorf("exit code %d: %q", got.code, got.out)
	}
}

// split takes a line apart as a shell does, as far as quotes and > go.
func split(line string) []string {
	line, _, _ = strings.Cut(line, " > ")
	var out []string
	for _, m := range regexp.MustCompile(`"([^"]*)"|(\S+)`).FindAllStringSubmatch(line, -1) {
		out = append(out, m[1]+m[2])
	}
	return out
}

// Every example in the help finds its command, its flags and its arguments.
func TestExamplesAreCommands(t *testing.T) {
	e := &env{t: Terminal{Out: &bytes.Buffer{}, Err: &bytes.Buffer{}}}
	seen := 0
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		if c.Runnable() && c.Example == "" {
			t.Errorf("%s has no example", c.CommandPath())
		}
		for _, line := range strings.Split(c.Example, "\n") {
			words := split(strings.TrimSpace(regexp.MustCompile(`^( *finwright.*?)  +.*$`).ReplaceAllString(line, "$1")))
			if len(words) == 0 {
				continue
			}
			seen++
			if words[0] != "finwright" {
				t.Errorf("%s: example %q", c.CommandPath(), line)
				continue
			}
			root := e.root()
			cmd, args, err := root.Find(words[1:])
			if err != nil || cmd == root {
				t.Errorf("%q: %v", line, err)
				continue
			}
			if c.HasParent() && cmd.Name() != c.Name() {
				t.Errorf("%q stands with %s", line, c.Name())
			}
			if err := cmd.ParseFlags(args); err != nil {
				t.Errorf("%q: %v", line, err)
			}
			if err := cmd.ValidateArgs(cmd.Flags().Args()); err != nil {
				t.Errorf("%q: %v", line, err)
			}
		}
		for _, sub := range c.Commands() {
			walk(sub)
		}
	}
	walk(e.root())
	if seen < 12 {
		t.Errorf("only %d examples", seen)
	}
}

// A write that fails is not a success.
func TestFullDisk(t *testing.T) {
	inFolder(t, map[string]string{"lamp.yaml": tiny, "wall.yaml": wall, "bench.csv": "time [s],T1\n0,22\n60,30\n"})
	for _, args := range [][]string{{"check", "lamp.yaml"}, {"check", "lamp.yaml", "--json"}, {"bench", "read", "bench.csv"}, {"run", "lamp.yaml"}, {"learn", "lamp.yaml"}, {"prove", "wall.yaml"}, {"schema"}, {"new", "other.yaml"}} {
		var errs bytes.Buffer
		if code := Main(context.Background(), args, Terminal{Out: fullDisk{}, Err: &errs}); code != exitUsage || !strings.Contains(errs.String(), "disk full") {
			t.Errorf("%v: exit code %d: %s", args, code, errs.String())
		}
	}
}

type fullDisk struct{}

func (fullDisk) Write([]byte) (int, error) { return 0, fmt.Errorf("disk full") }

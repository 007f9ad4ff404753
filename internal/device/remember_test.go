package device

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// The log reading is written beside its log and nothing else is touched, however the entry is laid out.
func TestRememberLogReading(t *testing.T) {
	const how = `delimiter semicolon; decimal comma; column 2 name "Fred's °F" unit "°F"`
	const quoted = `'delimiter semicolon; decimal comma; column 2 name "Fred''s °F" unit "°F"'`
	for _, tc := range []struct {
		name, in, want string // of the stock runs; \n is the line end
	}{
		{"block", "  - name: a\n    # from the bench\n    log: runs/run.csv   # first\n\n    channels: {T1: a}\n",
			"  - name: a\n    # from the bench\n    log: runs/run.csv   # first\n    log reading: " + quoted + "\n\n    channels: {T1: a}\n"},
		{"dash", "  - log: 'runs/run.csv'\n    channels: {T1: a}\n", "  - log: 'runs/run.csv'\n    log reading: " + quoted + "\n    channels: {T1: a}\n"},
		{"last line", "  - channels: {T1: a}\n    log: \"runs/run.csv\"", "  - channels: {T1: a}\n    log: \"runs/run.csv\"\n    log reading: " + quoted},
		{"flow", "  - {name: ä ° b, log: runs/run.csv, channels: {T1: a}} # x\n", "  - {name: ä ° b, log: runs/run.csv, log reading: " + quoted + ", channels: {T1: a}} # x\n"},
		{"flow over lines", "  - {name: b,\n     log: runs/run.csv,\n     channels: {T1: a}}\n", "  - {name: b,\n     log: runs/run.csv, log reading: " + quoted + ",\n     channels: {T1: a}}\n"},
		{"flow, last", "  - {channels: {T1: a}, log: runs/run.csv}\n", "  - {channels: {T1: a}, log: runs/run.csv, log reading: " + quoted + "}\n"},
		{"old", "  - log: runs/run.csv\n    log reading: decimal comma # sure?\n    channels: {T1: a}\n", "  - log: runs/run.csv\n    log reading: " + quoted + " # sure?\n    channels: {T1: a}\n"},
		{"old, quoted", "  - {log: runs/run.csv, log reading: 'code \"it''s\"', channels: {T1: a}}\n", "  - {log: runs/run.csv, log reading: " + quoted + ", channels: {T1: a}}\n"},
		{"old, double", "  - {log: runs/run.csv, log reading: \"code \\\"}\\\"\", channels: {T1: a}}\n", "  - {log: runs/run.csv, log reading: " + quoted + ", channels: {T1: a}}\n"},
		{"second", "  - {log: runs/run.csv, channels: {T1: a}}\n  - log: runs/run.csv\n    channels: {T1: a}\n", ""},
	} {
		for _, end := range []string{"\n", "\r\n"} {
			for _, bom := range []string{"", "\ufeff"} {
				head := "stock runs:\n"
				put := func(runs string) string { return bom + strings.ReplaceAll(lampBase+head+runs, "\n", end) }
				run, want := 0, tc.want
				if want == "" { // only the second
					run, want = 1, tc.in[:strings.Index(tc.in, "\n")+1]+"  - log: runs/run.csv\n    log reading: "+quoted+"\n    channels: {T1: a}\n"
				}
				got, err := RememberLogReading("testdata/lamp.yaml", []byte(put(tc.in)), run, how)
				if err != nil || string(got) != put(want) {
					t.Errorf("%s %q %q: %v\n got %q\nwant %q", tc.name, end, bom, err, got, put(want))
				}
			}
		}
	}
	for _, tc := range []struct {
		runs string
		run  int
		want string
	}{
		{"  - {still running after: 9 min}\n", 0, "stock run 1 has no log"}, {"  - {still running after: 9 min}\n", 7, "there is no run 8"},
		{"  - log: runs/run.csv\n    log reading: >-\n      decimal\n      comma\n    channels: {T1: a}\n", 0, "write it by hand"},
		{"  - log:\n      runs/run.csv\n    channels: {T1: a}\n", 0, ""},
		{"  - log: runs/none.csv\n    channels: {T1: a}\n", 0, "is not there"},
	} {
		got, err := RememberLogReading("testdata/lamp.yaml", []byte(lampBase+"stock runs:\n"+tc.runs), tc.run, how)
		if tc.want == "" {
			if f, perr := Parse("testdata/lamp.yaml", got); err != nil || perr != nil || f.Runs[0].LogReading != how {
				t.Errorf("%q: %v %v %q", tc.runs, err, perr, got)
			}
		} else if err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%q: %v, want %s", tc.runs, err, tc.want)
		}
	}
}

// Whatever text is remembered comes back as it was.
func TestRememberedLogReadingComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.StringMatching(`[ -!#-\[\]-~°äµ]{1,30}`).Draw(t, "name")
		how := `decimal comma; column 2 name "` + name + `"`
		text := lampBase + rapid.SampledFrom([]string{"stock runs:\n  - log: runs/run.csv\n    channels: {T1: a}\n", "stock runs: [{log: runs/run.csv, channels: {T1: a}}]\n"}).Draw(t, "text")
		out, err := RememberLogReading("testdata/lamp.yaml", []byte(text), 0, how)
		if err != nil {
			t.Fatal(err)
		}
		f, err := Parse("testdata/lamp.yaml", out)
		if err != nil || f.Runs[0].LogReading != how {
			t.Fatalf("%v: %q", err, out)
		}
		again, err := RememberLogReading("testdata/lamp.yaml", out, 0, how)
		if err != nil || string(again) != string(out) {
			t.Fatalf("a second time: %v\n%q\n%q", err, out, again)
		}
	})
}

// Of any file that can be read, at most one line is changed or added.
func FuzzRememberLogReading(f *testing.F) {
	for _, runs := range []string{"  - log: runs/run.csv\n    channels: {T1: a}\n", "  - {name: \"x,}\", log: 'runs/run.csv', channels: {T1: a}}\n", "  - channels: {T1: a}\n    log: runs/run.csv # x: y\r\n", "  -\n    log: \"runs/run.csv\"\n    log reading: decimal comma\n    channels:\n      T1: a"} {
		f.Add("\ufeff"+lampBase+"stock runs:\n"+runs, "decimal comma")
		f.Add(lampBase+"stock runs:\n"+runs, `column 2 name "it's"`)
	}
	f.Fuzz(func(t *testing.T, text, reading string) {
		out, err := RememberLogReading("testdata/lamp.yaml", []byte(text), 0, reading)
		if err != nil {
			if err.Error() == "" {
				t.Fatal("an error that says nothing")
			}
			return
		}
		g, err := Parse("testdata/lamp.yaml", out)
		if err != nil || g.Runs[0].LogReading != reading {
			t.Fatalf("%v: %q became %q", err, text, out)
		}
		a, b := rawLines([]byte(text)), rawLines(out)
		same := 0
		for same < len(a) && same < len(b) && a[same] == b[same] {
			same++
		}
		tail := 0
		for tail < len(a)-same && tail < len(b)-same && a[len(a)-1-tail] == b[len(b)-1-tail] {
			tail++
		}
		if len(a)-same-tail > 1 || len(b)-same-tail > 2 || len(b)-len(a) > 1 {
			t.Fatalf("more than a line was changed: %q became %q", text, out)
		}
	})
}

package cli

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// A sheet is planned and a log judged from the command line; nothing is written. Each once, for they take seconds: the same twice is for
// the tests of the others.
func TestBenchPlanAndJudge(t *testing.T) {
	inFolder(t, map[string]string{"lamp.yaml": tiny, "after.csv": "time [s],T1 [°C],room [°C]\n0,22,22\n120,23.4,22\n300,25.2,22.1\n600,27.8,22.1\n900,29.8,22.2\n1200,31.4,22.2\n"})
	before := everything(t)
	for _, tc := range []struct {
		args, want []string
	}{
		{[]string{"bench", "plan", "lamp.yaml", "--design", "outside plate"}, []string{"RUN SHEET tiny lamp: outside plate", "glue", "Switch off at once", "bench judge lamp.yaml LOG --design 'outside plate'"}},
		{[]string{"bench", "judge", "lamp.yaml", "after.csv", "--design", "outside plate", "--channel", "T1=spreader.front centre", "--json"},
			[]string{`"design": "outside plate"`, `"ended": "still running"`, "is taken for the room's probe", `"name": "glue"`, `"forward"`, `"next"`}},
	} {
		got := call(tc.args...)
		if got.code != exitOK || got.err != "" {
			t.Fatalf("%v: exit code %d: %s", tc.args, got.code, got.err)
		}
		for _, w := range tc.want {
			if !strings.Contains(got.out, w) {
				t.Errorf("%v lacks %q:\n%s", tc.args, w, got.out)
			}
		}
		if m := notAFigure.FindString(got.out); m != "" {
			t.Errorf("%v: %q in the output", tc.args, m)
		}
		if strings.Contains(strings.Join(tc.args, " "), "--json") && !isJSON(got.out) {
			t.Errorf("%v: not JSON: %.300s", tc.args, got.out)
		}
	}
	if diff := cmp.Diff(before, everything(t)); diff != "" {
		t.Errorf("files changed: %s", diff)
	}
}

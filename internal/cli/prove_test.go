package cli

import (
	"encoding/json"
	"strings"
	"testing"
)

// Churchill & Chu 1975, evaluated independently; the second figure is wrong on purpose.
const plates = `title: Plates
source: Churchill & Chu 1975
status: recomputed
tables:
  - relation: upright plate, all Rayleigh numbers
    given: {Pr: 0.71}
    within: 0.1 %
    points:
      - {id: right, Ra: 1e5, Nu: 9.2127}
      - {id: wrong, Ra: 1e6, Nu: 17}
`

// Tables of formulas are proved with the device files beside them, or alone, and a miss is an exit code.
func TestProveFormulas(t *testing.T) {
	inFolder(t, map[string]string{"cases/wall.yaml": wall, "cases/relations/plates.yaml": plates, "bad/relations/plates.yaml": strings.Replace(plates, "Ra: 1e5", "Ra: 1e5 m", 1)})
	both := call("prove", "cases")
	for _, want := range []string{"Plates", "cases/relations/plates.yaml", "theirs, recomputed: Churchill & Chu 1975", "Nu for Ra 1e6", "DIFFERS", "1 agree, 1 differ", "wall.yaml", "2 passed, 0 failed"} {
		if !strings.Contains(both.out, want) {
			t.Errorf("%q is not in\n%s", want, both.out)
		}
	}
	if both.code != exitFailed {
		t.Errorf("exit code %d", both.code)
	}
	alone := call("prove", "cases/relations", "--json")
	var got struct {
		Cases []struct {
			ID, Source string
			Value      float64
			Pass       bool
		}
		Passed, Failed int
	}
	if err := json.Unmarshal([]byte(alone.out), &got); err != nil {
		t.Fatal(err)
	}
	if got.Passed != 1 || got.Failed != 1 || len(got.Cases) != 2 || !got.Cases[0].Pass || got.Cases[1].Pass || got.Cases[0].Source != "Churchill & Chu 1975 (recomputed)" {
		t.Errorf("got %+v", got)
	}
	bad := call("prove", "bad/relations")
	if bad.code == exitOK || bad.code == exitFailed || !strings.Contains(bad.err, "plates.yaml:9:25") || !strings.Contains(bad.err, "unit of length") {
		t.Errorf("exit code %d: %s", bad.code, bad.err)
	}
}

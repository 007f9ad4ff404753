package cite

import (
	"slices"
	"strings"
	"testing"
)

func TestSources(t *testing.T) {
	keys := Keys()
	if !slices.IsSorted(keys) || len(slices.Compact(slices.Clone(keys))) != len(sources) {
		t.Errorf("keys are not sorted or not unique: %v", keys)
	}
	for _, k := range keys {
		s, ok := Lookup(k)
		if !ok || s.Key != k || len(s.Text) < 20 || s.Status > FromMemory || strings.ContainsAny(k, "[]") {
			t.Errorf("%q: %+v", k, s)
		}
	}
	if _, ok := Lookup("Nobody 1900"); ok {
		t.Error("a work that is not in the list was found")
	}
}

func TestStatusOf(t *testing.T) {
	for _, c := range []struct {
		text string
		want Status
		in   string
	}{
		{"[Incropera 2007] Table A.1", Confirmed, "Incropera 2007"},
		{"[Incropera 2007] Table A.1; [Thome]; [Incropera 2007] Table A.2", Confirmed, "Incropera 2007|Thome"},
		{"[Incropera 2007] Table A.1; specific heat from memory", FromMemory, "Incropera 2007"},
		{"[ISO 13732-1]; from memory", FromMemory, "ISO 13732-1"},
		{"common practice, no source", CommonPractice, ""},
		{"our estimate from [Sarvar 1990]", Estimate, "Sarvar 1990"},
		{"[Nobody 1900]", Unsourced, ""},
		{"", Unsourced, ""},
	} {
		if got := StatusOf(c.text); got != c.want || got.String() == "" {
			t.Errorf("StatusOf(%q) = %v, want %v", c.text, got, c.want)
		}
		named, _ := In(c.text)
		var keys []string
		for _, s := range named {
			keys = append(keys, s.Key)
		}
		if got := strings.Join(keys, "|"); got != c.in {
			t.Errorf("In(%q) names %q, want %q", c.text, got, c.in)
		}
	}
	if _, unknown := In("[Nobody 1900]"); len(unknown) != 1 {
		t.Error("an unknown key was not told")
	}
}

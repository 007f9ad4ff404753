package unit

import "testing"

func TestNearest(t *testing.T) {
	metals := []string{"copper C110", "aluminium 6061", "aluminium 6063", "stainless 304", "thermal paste"}
	for _, c := range []struct{ name, want string }{
		{"aluminum 6061", "aluminium 6061"},
		{"Aluminium-6063", "aluminium 6063"},
		{"stainles 304", "stainless 304"},
		{"6061", "aluminium 6061"},
		{"copper", "copper C110"},
		{"c110", "copper C110"},
		{"theraml paste", "thermal paste"},
		{"stainl", "stainless 304"},
		{"unobtainium", ""},
		{"", ""},
		{"zz", ""},
	} {
		if got := Nearest(c.name, metals); got != c.want {
			t.Errorf("Nearest(%q) = %q, want %q", c.name, got, c.want)
		}
	}
}

// TestSlips: "kitten" to "sitting" is the usual worked example of the edit distance (3); a swap of neighbours counts one
// (Damerau, Comm. ACM 7 (1964) 171-176, where the four single errors are: wrong, missing, extra letter, transposition).
func TestSlips(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{{"kitten", "sitting", 3}, {"ab", "ba", 1}, {"chip", "chp", 1}, {"chip", "chipp", 1}, {"chip", "chap", 1}, {"", "abc", 3}, {"abc", "", 3}} {
		if got := slips([]rune(c.a), []rune(c.b)); got != c.want {
			t.Errorf("slips(%q, %q) = %d, want %d", c.a, c.b, got, c.want)
		}
	}
}

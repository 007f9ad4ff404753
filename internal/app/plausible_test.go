package app

import (
	"strings"
	"testing"

	"finwright/internal/device"
	"finwright/internal/model"
)

// A block of 60 x 90 x 22 mm has 174 cm2 of outside. 2 W over it through 3 W/(m2 K) is a mean rise of 38 K; through
// 25 W/(m2 K), 4.6 K. Both bounds by hand: P = h A rise.
func TestRiseAgainstPower(t *testing.T) {
	const file = `device: block
parts:
  block: {material: aluminium 6061, box: 60 x 90 x 22 mm, heat: 2 W}
stock runs:
  - {ambient: 20 °C, air: still, spots: [{at: block.front, after: 90 min, reads: READS}]}
`
	for _, tc := range []struct{ reads, want string }{
		{"40 °C", ""},
		{"480 °C", "cannot lift even a hot spot by more than about 38"},
		{"20.5 °C", "should warm it by 1.1"},
	} {
		f, err := device.Parse("block.yaml", []byte(strings.ReplaceAll(file, "READS", tc.reads)))
		if err != nil {
			t.Fatal(err)
		}
		s, err := model.NewShape(f, nil, model.Coarse)
		if err != nil {
			t.Fatal(err)
		}
		m, err := s.At(nil, nil, "")
		if err != nil {
			t.Fatal(err)
		}
		got := strings.Join(riseAgainstPower(f, m), " | ")
		if tc.want == "" && got != "" || tc.want != "" && !strings.Contains(got, tc.want) {
			t.Errorf("%s: %q, want %q", tc.reads, got, tc.want)
		}
	}
}

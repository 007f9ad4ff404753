package cli

import (
	"bytes"
	"encoding/json"
	"math"
	"testing"
)

func TestWriteJSON(t *testing.T) {
	type inner struct {
		HWm2K float64
		ID    string
	}
	type Among struct{ RiseK float64 }
	v := struct {
		TimeS  []float64
		Empty  []int
		Map    map[string]float64
		Inner  *inner
		Nil    *inner
		Any    any
		Named  string `json:"renamed"`
		Gone   string `json:"-"`
		Absent []int  `json:"absent,omitempty"`
		*Among `json:",inline"`
		hidden int
	}{[]float64{1, math.NaN(), math.Inf(1), math.Inf(-1)}, nil, map[string]float64{"b": 2, "a": math.NaN()}, &inner{2.5, "x"}, nil, true, "<&>\x1b\xff", "no", nil, &Among{3}, 1}
	const want = `{"timeS":[1,null,"infinite","-infinite"],"empty":[],"map":{"a":null,"b":2},"inner":{"hWm2K":2.5,"id":"x"},"nil":null,"any":true,"renamed":"\u003c\u0026\u003e\u001b\ufffd","riseK":3}`
	var b, flat bytes.Buffer
	if err := writeJSON(&b, v); err != nil {
		t.Fatal(err)
	}
	if err := json.Compact(&flat, b.Bytes()); err != nil {
		t.Fatal(err)
	}
	if flat.String() != want {
		t.Errorf("got  %s\nwant %s", flat.String(), want)
	}
}

func TestLowerCamel(t *testing.T) {
	for in, want := range map[string]string{"TimeS": "timeS", "ID": "id", "A": "a", "HWm2K": "hWm2K", "MassAddedKg": "massAddedKg", "OwnCO2": "ownCO2", "URLName": "urlName"} {
		if got := lowerCamel(in); got != want {
			t.Errorf("%s: got %s, want %s", in, got, want)
		}
	}
}

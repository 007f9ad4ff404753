package session_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"finwright/internal/device"
	"finwright/internal/model"
	"finwright/internal/session"
)

// randomDevice writes a device of a few parts of every shape, stacked on each other's faces.
func randomDevice(r *rand.Rand) string {
	mm := func(lo, hi float64) string { return fmt.Sprintf("%.2f", lo+(hi-lo)*r.Float64()) }
	pick := func(s ...string) string { return s[r.IntN(len(s))] }
	metals := []string{"aluminium 6061", "copper C110", "stainless 304", "brass C360"}
	soft := []string{"PC-ABS", "polycarbonate", "silicone rubber", "nylon 66", "glass"}
	mat := func() string {
		if r.IntN(2) == 0 {
			return pick(metals...)
		}
		return pick(soft...)
	}
	var b strings.Builder
	b.WriteString("device: random\nup: " + pick("+x", "-x", "+y", "-y", "+z", "-z") + "\nparts:\n")
	w, h, d := 40+30*r.Float64(), 50+40*r.Float64(), 15+20*r.Float64()
	switch r.IntN(3) {
	case 0:
		fmt.Fprintf(&b, "  body: {material: %s, box: %.2f x %.2f x %.2f mm, wall: %s mm}\n", mat(), w, h, d, mm(1, 3))
	case 1:
		fmt.Fprintf(&b, "  body: {material: %s, box: %.2f x %.2f x %.2f mm}\n", mat(), w, h, d)
	case 2:
		fmt.Fprintf(&b, "  body: {material: %s, cylinder: {diameter: %.2f mm, length: %.2f mm, along: z}, wall: %s mm}\n", mat(), w, d, mm(1, 3))
	}
	heated := "body"
	for i, n := 0, 1+r.IntN(4); i < n; i++ {
		face := pick("front", "back")
		name := fmt.Sprintf("p%d", i)
		extra := ""
		if r.IntN(2) == 0 {
			extra = fmt.Sprintf(", offset: %s %s mm", mm(-8, 8), mm(-8, 8))
		}
		switch r.IntN(5) {
		case 0:
			fmt.Fprintf(&b, "  %s: {material: %s, box: %s x %s x %s mm, on: body.%s%s}\n", name, mat(), mm(8, 20), mm(8, 20), mm(0.5, 6), face, extra)
		case 1:
			fmt.Fprintf(&b, "  %s: {material: %s, plate: %s x %s mm, thickness: %s mm, on: body.%s%s}\n", name, mat(), mm(10, 40), mm(10, 40), mm(0.3, 3), face, extra)
		case 2:
			fmt.Fprintf(&b, "  %s: {material: %s, cylinder: {diameter: %s mm, length: %s mm, along: %s}, on: body.%s%s}\n", name, mat(), mm(6, 20), mm(2, 20), pick("x", "y", "z"), face, extra)
		case 3:
			fmt.Fprintf(&b, "  %s: {material: %s, fin block: {base: %s x %s mm, base thickness: %s mm, fins: %d, fin height: %s mm, fin thickness: %s mm, fins along: %s}, on: body.%s%s}\n",
				name, pick(metals...), mm(20, 40), mm(20, 40), mm(1, 3), 2+r.IntN(5), mm(3, 15), mm(0.5, 1.5), pick("x", "y"), face, extra)
		case 4:
			fmt.Fprintf(&b, "  %s: {material: %s, box: %s x %s x %s mm, on: body.%s%s, turn: {by: %s deg, about: z}, cuts: [{hole: %s mm, through: z, at: 4 4 0 mm}]}\n",
				name, mat(), mm(8, 20), mm(8, 20), mm(0.5, 6), face, extra, mm(0, 90), mm(1, 4))
		}
		if r.IntN(2) == 0 {
			heated = name
		}
	}
	s := b.String()
	return strings.Replace(s, "  "+heated+": {", fmt.Sprintf("  %s: {heat: %s W, ", heated, mm(0.5, 6)), 1) +
		fmt.Sprintf("conditions: {ambient: %s °C, air: %s}\n", mm(-10, 45), pick("still", "1 m/s", "8 m/s"))
}

// Whatever a person stacks together, the tool either says in words what is wrong or gives finite figures whose energy
// balances to 1e-6.
func TestRandomDevices(t *testing.T) {
	const seed = 20_261
	r := rand.New(rand.NewPCG(seed, 3))
	ran := 0
	for i := 0; i < 60; i++ {
		text := randomDevice(r)
		fail := func(format string, a ...any) {
			t.Fatalf("device %d of seed %d: %s\n%s", i, seed, fmt.Sprintf(format, a...), text)
		}
		f, err := device.Parse("random.yaml", []byte(text))
		var problems device.Problems
		if errors.As(err, &problems) {
			fail("the reader refuses it: %v", err)
		}
		shape, err := model.NewShape(f, nil, model.Fineness{TargetCells: 2500, Across: 1})
		if errors.As(err, &problems) {
			continue // said in words: parts that miss each other after an offset, say
		}
		if err != nil {
			fail("shape: %v", err)
		}
		m, err := shape.At(nil, nil, "")
		if err != nil {
			fail("model: %v", err)
		}
		res, err := session.Run(context.Background(), m, session.Spec{UntilS: 600, Workers: 1, TolK: 0.2})
		if err != nil {
			fail("run: %v", err)
		}
		ran++
		for _, s := range res.Series {
			for _, v := range s.ValueK {
				if math.IsNaN(v) || v < m.Under.AirK-0.5 || v > 2000 {
					fail("%s at %v K", s.Name, v)
				}
			}
		}
		if !(res.Balance.ClosureRel < 1e-6) {
			fail("balance open by %g", res.Balance.ClosureRel)
		}
		sum := 0.0
		for _, l := range res.Ledger.Path {
			sum += l.DropK
		}
		if len(res.Ledger.Path) > 0 && res.Ledger.Path[len(res.Ledger.Path)-1].Kind == "film" && math.Abs(sum-(res.Ledger.SourceK-res.Ledger.AmbientK)) > 1e-6 {
			fail("the path's drops add up to %v K, source less air is %v K", sum, res.Ledger.SourceK-res.Ledger.AmbientK)
		}
	}
	if ran < 40 {
		t.Fatalf("only %d of 60 random devices were run", ran)
	}
}

package report

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The colour path of CSS Color Module Level 4 (W3C, section "Sample code for color conversions"): linear sRGB → XYZ (D65)
// → LMS → OKLab, with its own matrices, which are not the ones in colour.go.
func cssOKLab(c rgb) oklab {
	r, g, b := linear(c.R), linear(c.G), linear(c.B)
	// IEC 61966-2-1 primaries and D65, rounded as printed there.
	x := 0.4124*r + 0.3576*g + 0.1805*b
	y := 0.2126*r + 0.7152*g + 0.0722*b
	z := 0.0193*r + 0.1192*g + 0.9505*b
	l := math.Cbrt(0.8190224379967030*x + 0.3619062600528904*y - 0.1288737815209879*z)
	m := math.Cbrt(0.0329836539323885*x + 0.9292868615863434*y + 0.0361446663506424*z)
	s := math.Cbrt(0.0481771893596242*x + 0.2642395317527308*y + 0.6335478284694309*z)
	return oklab{
		0.2104542683093140*l + 0.7936177747023054*m - 0.0040720430116193*s,
		1.9779985324311684*l - 2.4285922420485799*m + 0.4505937096174110*s,
		0.0259040424655478*l + 0.7827717124575296*m - 0.8086757549230774*s,
	}
}

func anyRGB(t *rapid.T) rgb {
	f := func(n string) float64 { return rapid.Float64Range(0, 1).Draw(t, n) }
	return rgb{f("r"), f("g"), f("b")}
}

// Tolerance 1e-3: the sRGB matrix above is printed to four digits, and the cube root near black enlarges that.
func TestOKLabAgreesWithCSSColor4(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyRGB(t)
		got, want := toOKLab(c), cssOKLab(c)
		if math.Abs(got.L-want.L) > 1e-3 || math.Abs(got.A-want.A) > 1e-3 || math.Abs(got.B-want.B) > 1e-3 {
			t.Fatalf("%v: got %v, CSS path %v", c, got, want)
		}
	})
}

// CSS Color Module Level 4 writes the keyword green, #008000, as oklch(51.975% 0.17686 142.495) (value from memory).
func TestOKLabOfGreen(t *testing.T) {
	got, want := toOKLab(rgb{0, 128.0 / 255, 0}), polar(0.51975, 0.17686, 142.495)
	if math.Abs(got.L-want.L) > 1e-4 || math.Abs(got.A-want.A) > 1e-4 || math.Abs(got.B-want.B) > 1e-4 {
		t.Errorf("got %v, want %v", got, want)
	}
}

// Tolerance 1e-6: the inverse matrices are printed to ten digits.
func TestOKLabRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyRGB(t)
		d := fromOKLab(toOKLab(c))
		for _, e := range []float64{c.R - d.R, c.G - d.G, c.B - d.B} {
			if math.Abs(e) > 1e-6*12.92 {
				t.Fatalf("%v came back as %v", c, d)
			}
		}
	})
}

// The scale is judged after rounding to the bytes that are printed, through the CSS path.
func TestWarmthIsEvenAndPrintable(t *testing.T) {
	const n = 20
	even := (hotL - coolL) / n
	last := math.NaN()
	for i := 0; i <= n; i++ {
		c := fromOKLab(warmth(float64(i) / n))
		if !c.inGamut() {
			t.Errorf("step %d: %v is outside sRGB", i, c)
		}
		L := cssOKLab(c).L
		if i > 0 && math.Abs(L-last-even) > 0.02*math.Abs(even) {
			t.Errorf("step %d: lightness changes by %.5f, not %.5f within 2 %%", i, L-last, even)
		}
		last = L
	}
	// Fine enough that no colour between two steps leaves the gamut or turns back, also in plain grey (luma, ITU-R BT.709).
	lastY := math.Inf(1)
	for i := 0; i <= 500; i++ {
		c := fromOKLab(warmth(float64(i) / 500))
		if !c.inGamut() {
			t.Fatalf("at %d/500: %v is outside sRGB", i, c)
		}
		y := 0.2126*linear(c.R) + 0.7152*linear(c.G) + 0.0722*linear(c.B)
		if y >= lastY {
			t.Fatalf("at %d/500 a grey print would turn back: %g after %g", i, y, lastY)
		}
		lastY = y
	}
}

// WCAG 2.1, success criterion 1.4.11: graphical objects need a contrast of at least 3:1, here against white paper.
func TestLinesStandOutFromPaper(t *testing.T) {
	seen := map[string]int{}
	for i := 0; i < 14; i++ {
		var r, g, b int
		h := lineColour(i)
		if _, err := sscanHex(h, &r, &g, &b); err != nil {
			t.Fatal(err)
		}
		y := 0.2126*linear(float64(r)/255) + 0.7152*linear(float64(g)/255) + 0.0722*linear(float64(b)/255)
		if ratio := 1.05 / (y + 0.05); ratio < 3 {
			t.Errorf("line %d (%s): contrast %.2f:1", i, h, ratio)
		}
		key := h + lineDash(i)
		if j, ok := seen[key]; ok {
			t.Errorf("lines %d and %d look the same", j, i)
		}
		seen[key] = i
	}
}

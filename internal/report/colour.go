package report

import (
	"fmt"
	"math"
)

// oklab is a colour in OKLab: lightness L (0 black, 1 white) and two opponent axes.
// Source: Björn Ottosson, "A perceptual color space for image processing", 2020 (public domain); matrices from memory,
// checked in colour_test.go against the ones of CSS Color Module Level 4.
type oklab struct{ L, A, B float64 }

// rgb is a colour in sRGB (IEC 61966-2-1), gamma-encoded, 0..1 within the gamut.
type rgb struct{ R, G, B float64 }

// linear undoes the sRGB transfer curve (IEC 61966-2-1).
func linear(c float64) float64 {
	if c <= 0.04045 {
		return c / 12.92
	}
	return math.Pow((c+0.055)/1.055, 2.4)
}

// encoded applies the sRGB transfer curve (IEC 61966-2-1).
func encoded(c float64) float64 {
	if c <= 0.0031308 {
		return 12.92 * c
	}
	return 1.055*math.Pow(c, 1/2.4) - 0.055
}

func toOKLab(c rgb) oklab {
	r, g, b := linear(c.R), linear(c.G), linear(c.B)
	l := math.Cbrt(0.4122214708*r + 0.5363325363*g + 0.0514459929*b)
	m := math.Cbrt(0.2119034982*r + 0.6806995451*g + 0.1073969566*b)
	s := math.Cbrt(0.0883024619*r + 0.2817188376*g + 0.6299787005*b)
	return oklab{
		0.2104542553*l + 0.7936177850*m - 0.0040720468*s,
		1.9779984951*l - 2.4285922050*m + 0.4505937099*s,
		0.0259040371*l + 0.7827717662*m - 0.8086757660*s,
	}
}

// fromOKLab is the inverse of toOKLab; out of gamut it gives components outside 0..1.
func fromOKLab(c oklab) rgb {
	l := c.L + 0.3963377774*c.A + 0.2158037573*c.B
	m := c.L - 0.1055613458*c.A - 0.0638541728*c.B
	s := c.L - 0.0894841775*c.A - 1.2914855480*c.B
	l, m, s = l*l*l, m*m*m, s*s*s
	return rgb{
		encoded(4.0767416621*l - 3.3077115913*m + 0.2309699292*s),
		encoded(-1.2684380046*l + 2.6097574011*m - 0.3413193965*s),
		encoded(-0.0041960863*l - 0.7034186147*m + 1.7076147010*s),
	}
}

func (c rgb) inGamut() bool {
	in := func(x float64) bool { return x >= 0 && x <= 1 }
	return in(c.R) && in(c.G) && in(c.B)
}

// hex prints the colour as #rrggbb.
func (c rgb) hex() string {
	b := func(x float64) int { return int(math.Round(255 * math.Min(1, math.Max(0, x)))) }
	return fmt.Sprintf("#%02x%02x%02x", b(c.R), b(c.G), b(c.B))
}

// polar makes an OKLab colour from lightness, chroma and hue in degrees.
func polar(lightness, chroma, hueDeg float64) oklab {
	sin, cos := math.Sincos(hueDeg * math.Pi / 180)
	return oklab{lightness, chroma * cos, chroma * sin}
}

// Ends of the temperature scale: the more heat, the more ink, so that a grey print still reads.
const (
	coolL, hotL     = 0.955, 0.29 // lightness, falling evenly
	coolHue, hotHue = 118.0, -18.0
)

// warmth is the colour of a place on the temperature scale, 0 coolest to 1 hottest: pale straw, ochre, brick, dark wine.
// Lightness falls in proportion, so equal steps of temperature look like equal steps; hue turns and chroma swells on the
// way, inside the sRGB gamut.
func warmth(t float64) oklab {
	t = math.Min(1, math.Max(0, t))
	chroma := 0.028 + 0.05*t + 0.092*math.Pow(math.Sin(math.Pi*math.Pow(t, 0.9)), 1.25)
	return polar(coolL+(hotL-coolL)*t, chroma, coolHue+(hotHue-coolHue)*math.Pow(t, 0.75))
}

// lineColour is the colour of the i-th design in a chart; the first (stock) is ink. Chroma is even and lightness
// alternates, so that neighbours differ in a grey print as well; each line is labelled at its end anyway.
func lineColour(i int) string {
	if i == 0 {
		return ink
	}
	hues := [...]float64{250, 40, 155, 330, 95, 205}
	light := [...]float64{0.47, 0.58}
	return fromOKLab(polar(light[(i-1)%2], 0.095, hues[(i-1)%len(hues)])).hex()
}

// lineDash is the dash pattern of the i-th design: once the hues are used up they come again dashed.
func lineDash(i int) string {
	if i == 0 {
		return ""
	}
	return [...]string{"", "7 3", "2 3", "9 3 2 3"}[(i-1)/6%4]
}

// ink is the colour of text and of the stock design's lines.
const ink = "#1d2227"

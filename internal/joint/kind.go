package joint

// Kind is a sort of joint of which nothing is known but which parts touch.
type Kind string

const (
	DryMetal     Kind = "dry metal"     // metal on metal, light pressure, nothing between
	ScrewedMetal Kind = "screwed metal" // metal on metal, dry, held by screws near by
	MetalPlastic Kind = "metal on plastic"
	PlasticFit   Kind = "plastic press fit" // plastic on plastic: snapped or pressed together
	MouldedSkin  Kind = "moulded-on skin"   // rubber moulded or shrunk onto a hard part
	SoftPressed  Kind = "soft pressed"      // rubber, foam-free, pressed against a hard part
	Resting      Kind = "resting"           // one part lies on the other by its weight
	Soldered     Kind = "soldered"          // a package on its board by balls or pads
)

// Range is the conductance of a kind: about nine joints of ten lie between LoWm2K and HiWm2K.
type Range struct {
	Kind                    Kind
	LoWm2K, MidWm2K, HiWm2K float64
	Source                  string
}

// airFilm words a range that is the air left between two parts; the gap itself has no published figure.
const airFilm = "h = k/gap with air at 0.026 W/(m K); the gap is common practice, no source: "

var ranges = [...]Range{
	{DryMetal, 500, 2000, 8000, "lower end: " + airFilm + "50 µm out of flat; upper end: Cooper, Mikic & Yovanovich 1969 for blasted aluminium at 0.1 MPa (5200) to smooth steel at 0.5 MPa (7600), both with air"},
	{ScrewedMetal, 2000, 6000, 20000, "Cooper, Mikic & Yovanovich 1969, aluminium, σ/m 7 µm: spots alone 4300 at 0.1 MPa and 38000 at 1 MPa, with waviness taking most of the latter back (common practice, no source)"},
	{MetalPlastic, 100, 350, 1200, airFilm + "0.02 to 0.25 mm"},
	{PlasticFit, 80, 250, 900, airFilm + "0.03 to 0.3 mm"},
	{MouldedSkin, 500, 3000, 20000, "bonded on most of its area; lower end: " + airFilm + "0.05 mm where it has let go; upper end: wetted, a boundary of 0.5 cm² K/W"},
	{SoftPressed, 300, 1300, 6000, airFilm + "4 µm (follows the surface) to 0.09 mm"},
	{Resting, 50, 200, 800, airFilm + "0.03 to 0.5 mm"},
	{Soldered, 5000, 15000, 40000, "h = share·k/height with solder at 50 W/(m K), balls of 0.3 to 0.45 mm every 0.65 to 0.8 mm, 0.25 mm high: 20000 to 60000; half to a quarter of that for the constriction into each pad (sizes and shares common practice, no source)"},
}

// Ranges lists all kinds in a fixed order.
func Ranges() []Range { return append([]Range(nil), ranges[:]...) }

// RangeOf returns the range of a kind; ok is false for a word that is no kind.
func RangeOf(kind Kind) (r Range, ok bool) {
	for _, d := range ranges {
		if d.Kind == kind {
			return d, true
		}
	}
	return Range{}, false
}

// Sort is what is known of a part when only its sort of material is: a plain metal, something soft (rubber, silicone), a populated
// board, or a component of the kind that is soldered onto one. None of them is a plastic or the like.
type Sort struct{ Metal, Soft, Board, Soldered bool }

// Default returns the kind for two touching parts of which only the sorts are known. A soft part counts before metal.
func Default(a, b Sort) Kind {
	switch {
	case a.Board && b.Soldered || b.Board && a.Soldered:
		return Soldered
	case a.Soft || b.Soft:
		return SoftPressed
	case a.Metal && b.Metal:
		return DryMetal
	case a.Metal || b.Metal:
		return MetalPlastic
	default:
		return PlasticFit
	}
}

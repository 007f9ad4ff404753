package compare

import (
	"finwright/internal/learn"
	"finwright/internal/model"
	"finwright/internal/session"
)

// Spread is a low, middle and high figure: the 5 %, 50 % and 95 % points of the answer's doubt.
type Spread struct{ Lo, Mid, Hi float64 }

// Row is one design in the comparison.
type Row struct {
	Name, About string
	Result      *session.Result         // the 3-D run at the most likely values
	Minutes     Spread                  // to the end of the session
	EndKinds    map[session.EndKind]int // how the draws ended, by count
	// Chance is the share of the draws that lasted until the battery was empty (or the time asked for), ChanceLo and ChanceHi its 90 %
	// interval: of the count, and of what the draws are off by.
	Chance, ChanceLo, ChanceHi float64
	// HeadroomK is what is left, at full power up to the goal, of the limit that comes nearest: negative, how far it is missed by, also
	// where the device would have stopped long before.
	HeadroomK Spread
	// SureUpToC is the air temperature, °C, above which the chance falls below nine in ten: ±Inf where that is beyond the air that was
	// looked at, AirFromC to AirToC; NaN when not known.
	SureUpToC, AirFromC, AirToC float64
	Limits                      []LimitMet // that come nearest, over the draws
	Causes                      []Cause    // of the doubt in the headroom, the largest first
	// Confirmed is how many draws were made in 3-D on fine cells too, OffK what the headroom there was above that of the stand-in, the
	// largest in size; NaN without.
	Confirmed   int
	OffK        float64
	SkinC       Spread // hottest place a hand can reach, °C
	MarginK     Spread // of the nearest limit
	MassAddedKg float64
	WattLessMin float64 // minutes gained when the main source makes 1 W less (or the share stated in WattLessW); NaN when it lasts anyway
	WattLessW   float64
	WattLessK   float64         // degrees gained at the main sensor
	Notes       []string        // what the program did on its own: dropped joints, facing, …
	Headrooms   []float64       `json:"-"` // of the draws by their number, 0 at the best values, K; NaN where a draw could not be made
	Unknowns    []model.Unknown `json:"-"` // what those draws were of
	Failed      string          // why this design could not be run, in words; empty otherwise
}

// LimitMet is a limit, and the share of the draws in which it comes nearest.
type LimitMet struct {
	Name  string
	Share float64
}

// Cause is one thing in doubt, and the share of the variance of the headroom that would go, on average, if it alone became known.
type Cause struct {
	About, Path    string
	Share, ShareSE float64
}

// Study is stock and all retrofits under the same conditions.
type Study struct {
	Device, About string
	Invented      bool
	Conditions    string // in words
	Mode          string
	BatteryMin    Spread // when the battery would be empty, min; NaN when fed from outside
	AskedMin      float64
	Learned       *learn.Result // nil when there was nothing to learn from
	Rows          []Row         // stock first, retrofits in the file's order
	Verdict       []string      // in words, most important first
	Assumptions   []Assumption
	Findings      []string // contradictions in the user's own figures
	Cautions      []string
	Draws         int
}

// Assumption is a thing the program decided for the user.
type Assumption struct{ About, Value, Source string }

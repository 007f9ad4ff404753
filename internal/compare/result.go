package compare

import (
	"finwright/internal/learn"
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
	Chance      float64                 // share of the draws that lasted until the battery was empty (or the time asked for)
	SkinC       Spread                  // hottest place a hand can reach, °C
	MarginK     Spread                  // of the nearest limit
	MassAddedKg float64
	WattLessMin float64 // minutes gained when the main source makes 1 W less (or the share stated in WattLessW); NaN when it lasts anyway
	WattLessW   float64
	WattLessK   float64  // degrees gained at the main sensor
	Notes       []string // what the program did on its own: dropped joints, facing, …
	Failed      string   // why this design could not be run, in words; empty otherwise
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

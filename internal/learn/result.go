package learn

import "finwright/internal/device"

// Learned is one unknown before and after.
type Learned struct {
	Path, About                string
	Dim                        string  // unit.Dim name, for printing
	PriorLo, PriorMid, PriorHi float64 // SI, 90 %
	Lo, Mid, Hi                float64 // SI, 90 %
	Narrowed                   float64 // 1 - (posterior sd / prior sd) in score space: 0 nothing learned, 1 all
	Source                     string  // where the prior comes from
}

// Fit is how one observation compares with the model after learning.
type Fit struct {
	Run      string  // which stock run
	What     string  // "stops after 20 to 30 min"
	Observed string  // in words with unit
	Modelled string  // in words with unit
	Score    float64 // residual in standard deviations
}

// Result is what was learned from the stock runs.
type Result struct {
	Unknowns   []Learned
	Fits       []Fit
	Warnings   []string // unknowns that cannot be told apart; heat may not be the cause; surprises
	Best       device.Values
	Draws      []device.Values // posterior draws for answers with doubt, first is Best
	Status     string          // "converged", "iteration limit", …
	Iterations int
	Runs       int // simulations made
	Condition  float64
	Covariance [][]float64 // in score space, order of Unknowns
	Cells      int
	Silent     int // further doubtful figures about which the runs say nothing
}

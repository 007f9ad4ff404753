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
	Score    float64 // residual in standard deviations of this observation alone
	ApartK   float64 // of a temperature: the model's less the observed, K
}

// Result is what was learned from the stock runs.
type Result struct {
	Unknowns   []Learned
	Fits       []Fit
	Warnings   []string // unknowns that cannot be told apart; heat may not be the cause; surprises
	Cause      *Cause   // evidence for and against the stop being a temperature; nil where the runs hold none
	Best       device.Values
	Draws      []device.Values // the first is Best, the others are draws of the posterior, in random order: any first few are a fair sample
	Sample     *Sample         // how far the draws can be trusted; nil where they are of the Gaussian about Best (sizes in doubt, stopped early)
	Status     string          // "converged", "iteration limit", …
	Iterations int
	Runs       int // simulations made
	Condition  float64
	Covariance [][]float64 // of the posterior, in score space, order of Unknowns
	Cells      int
	Silent     int // further doubtful figures about which the runs say nothing
}

// Sample tells how the posterior was sampled and how far its draws can be trusted.
type Sample struct {
	Converged bool
	Calls     int     // of the reduced models
	LeastESS  float64 // independent draws that the least known unknown's sample is worth
	WorstRHat float64 // of all unknowns: near 1 where parts of the sample agree
	Words     string  // the same in a sentence
	Loose     float64 // by what share of its width the loosest interval's end may move when learned again, 1 standard deviation
	LooseOf   string  // of which unknown
	Confirmed int     // draws that were also run in 3-D
	// ApartSD is how far 3-D and reduced models came apart at those draws, beyond what they differ by at Best: root of the mean square,
	// for the observation where it is largest, in standard deviations of that observation. Added tells that it was taken into account
	// as a further error of the observations.
	ApartSD float64
	ApartOf string // which observation
	Added   bool
}

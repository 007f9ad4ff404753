// Package curve reads the physics out of a measured temperature-time curve: a device that warms after it is switched on, is seen for
// a while, and stops.
//
//	T(t) = room as the device feels it + c - Σ aᵢ exp(-(t - t₀)/τᵢ) + error       one or two terms
//
// Clean takes out what the logger spoilt, each point with a reason; Switches finds switch-on and stop; Warming finds time constants
// and the steady temperature with 90 % intervals; SteadyRise judges a long run in a room that drifts; PowerFromWarming and Compare
// draw conclusions. The errors of neighbouring readings are alike (AR(1)), and readings are rounded: both widen the intervals.
//
// Intervals come from the posterior distribution itself, not from its curvature: how little of the curve was seen shows in them.
// When even that cannot be said the estimate is refused in words.
//
// Not here: films that grow with temperature, radiation, fans that start and stop: a curve bent by them is seen as one or two
// exponentials all the same, and what they would do beyond the last reading is not in the interval. Files, clocks and units other
// than s and K are not here either. Read series.go, then warming.go.
package curve

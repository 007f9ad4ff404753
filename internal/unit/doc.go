// Package unit reads and prints physical quantities that may carry doubt.
//
// A quantity is written as a person at a bench writes it, always with its unit:
//
//	3.4 W                 exact
//	3.4 W ± 15 %          spread, relative         (also +/- and +-)
//	3.4 W ± 0.2 W         spread, absolute         (the second unit may be left out)
//	93 °C ± 3 K           a temperature, and the spread as a difference
//	3 to 5 W, 3..5 W      range
//	unknown               anything a device of hand size may have, see Dim.Wide
//
// Inside, everything is SI in float64: metre, kilogram, second, watt, joule, kelvin (temperatures are absolute),
// radian, pascal, and fractions of one. Lo..Hi is the 90 % interval: ± is read as its half width, a range as its ends.
// The 90 % is our convention: a person who writes "20 to 30" is seldom surer than that.
//
// Read Parse first, then Quantity.Prior, which turns doubt into a distribution.
// Not here: sums and products of quantities. Kernels work on float64 with the unit in the name.
package unit

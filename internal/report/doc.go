// Package report turns results into words: text for a terminal and one self-contained HTML page.
//
// Everything is written to an io.Writer, and the same results give the same bytes: no clock, no map order, fixed digits.
// Figures carry no more digits than their doubt deserves (words.go), and a figure that does not exist (NaN) is a dash,
// never a number. Temperatures come in as kelvin and times as seconds; here they become °C and minutes.
//
// The verdict's sentences are made where designs are compared; this package only prints them.
//
// Read words.go first, then text_study.go and html.go.
package report

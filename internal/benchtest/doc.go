// Package benchtest plans a test of a device on the bench and judges its log.
//
// Both rest on one picture of what is not known (rig.go): the device's model under the values expected, how every reading would move with
// each doubtful figure, and how it would move if a bond that was planned turned out worse. Everything but the bonds is taken as linear
// over its doubt, a bond's fault by runs of its own; the readings' errors are those of a cheap logger (errors.go). From this follow
// where a probe tells most (places.go), when a run has told enough and what it must show (plan.go), and from a log which bond
// is to blame, with what probability, and how the device would last elsewhere (judge.go, fault.go).
//
// Not here: reading and cleaning of logs, files, screens. Temperatures are in K, times in s since switch-on.
//
// Start reading at Plan, then Judge.
package benchtest

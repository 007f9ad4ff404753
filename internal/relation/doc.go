// Package relation puts the formulas that the program works with beside published figures of them: film coefficients, the
// properties of air, the pressure at a height above sea, view factors, the best gap between plates.
//
// A table is a plain file (folder proofs/relations): the name of a relation, what is given, and for each point the figure
// that was published, with the work it stands in and how surely we know it. Cases reads one such file and evaluates it;
// All does so for a folder. Read run.go first, then registry.go for what a relation is. Every other file holds the relations
// of one field, each calling the very function that the model calls.
//
// Here are no formulas of film coefficients: those stay in surface and radiate, with their sources. What stands here is what
// a worked example adds around them (a temperature difference times an area) and the search for a best gap.
package relation

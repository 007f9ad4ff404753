// Package device reads the user's file: one readable YAML file that describes a device, what was seen of it, and the
// changes to try.
//
// Read spec.go first: it is the file as Go types, and its struct tags are the only list of keys. Load and Parse read a
// file and return every problem in it together, each with its place, the line, what was expected and what to do. Variant
// applies a retrofit. Doubtful lists what is not known for certain, Assumptions what was put in on the user's behalf, and
// Contradictions where the user's own figures cannot all be true. Schema describes the file for editors.
//
// Not here: geometry beyond single sizes (whether parts touch or collide is found when they are placed), and numbers of
// materials, which package material owns.
package device

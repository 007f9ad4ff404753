// Package benchlog reads temperature loggers' files, and readings noted by hand, in whatever layout they come: encodings,
// separators, decimal marks, headings, units, clocks and sensor codes are guessed from the first part of the file
// (NewGuess), the guess is said in words with the first five rows as they were understood (Guess.Lines), anything in it can
// be said otherwise (Options, which have a text form to remember), and then the whole file is read in one pass
// (Guess.Stream). Open and Read do both and keep what learning needs.
//
// How a file is looked at: bytes to text (encoding.go); every way to part the fields together with every decimal mark is
// tried, and the one that makes most sense of the body wins (table.go); the body is found before its heading, which is then
// looked for above it (heading.go); what each column is (column.go); what tells the time (clockguess.go, stamp.go), and what
// its clock did on the way (clock.go); numbers that are none (codes.go).
//
// Readings that are not there are missing with a Reason, never a number. Nothing is filled in or smoothed: spikes, flat lines
// and probes that came off are for the cleaning that follows. The file is never written to.
//
// The traps that this package knows were gathered from loggers' files as users show them; no other source.
//
// Start reading at ReadWith, then NewGuess.
package benchlog

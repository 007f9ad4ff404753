package benchlog

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"unicode/utf8"
)

// Trace is one logged temperature: times in s since the start, rising; temperatures in K. Missing readings are left out.
type Trace struct{ TimeS, ValueK []float64 }

// Log is a whole file: what learning needs of it.
type Log struct {
	Columns  []string         // names of the temperatures that are used by default, in the file's order
	Traces   map[string]Trace // every column of temperatures by name, also set points and cold junctions
	Channels []Channel        // every column of numbers
	Events   []Event
	Guess    *Guess   // how the file was understood
	Summary  *Summary // what was found on the way
}

// Channel is one column with its readings, thinned if there are many.
type Channel struct {
	Column
	Points []Point
}

// Event is a line of text between the numbers: a stop, an error, a power failure.
type Event struct {
	TimeS float64 // of the row before, or its own
	Line  int
	Text  string
}

// Error is a trouble with a log, for the person who has to mend it.
type Error struct {
	Path    string
	Line    int // from 1; 0 for the whole file
	What    string
	Excerpt string // of the line, may be empty
	Do      string // what to do, may be empty
}

func (e *Error) Error() string {
	s := e.Path
	if e.Line > 0 {
		s = fmt.Sprintf("%s:%d", s, e.Line)
	}
	s += ": " + e.What
	if e.Excerpt != "" {
		s += fmt.Sprintf("; it reads %q", e.Excerpt)
	}
	if e.Do != "" {
		s += ": " + e.Do
	}
	return s
}

// excerpt shortens a line to what a message can hold.
func excerpt(line []byte) string {
	s := strings.ToValidUTF8(string(line), "?")
	for n := range s {
		if n > 60 {
			return s[:n] + "…"
		}
	}
	return s
}

// Open reads the file at path, guessing how. The file is opened for reading only.
func Open(path string) (*Log, error) { return OpenWith(path, Options{}) }

// OpenWith is Open with some things said.
func OpenWith(path string, opt Options) (*Log, error) {
	f, err := os.Open(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil, &Error{Path: path, What: "there is no such log"}
	}
	if err != nil {
		return nil, &Error{Path: path, What: err.Error()}
	}
	defer f.Close()
	if s, err := f.Stat(); err == nil && s.IsDir() {
		return nil, &Error{Path: path, What: "it is a folder, not a log"}
	}
	return ReadWith(path, f, opt)
}

// Read reads a log in one pass, guessing how; path is for messages only.
func Read(path string, r io.Reader) (*Log, error) { return ReadWith(path, r, Options{}) }

// ReadWith is Read with some things said.
func ReadWith(path string, r io.Reader, opt Options) (*Log, error) {
	br := bufio.NewReaderSize(r, HeadBytes)
	head, err := br.Peek(HeadBytes)
	if err != nil && err != io.EOF {
		return nil, &Error{Path: path, What: err.Error()}
	}
	g, err := NewGuess(path, head, opt)
	if err != nil {
		return nil, err
	}
	n := len(g.Channels())
	bins := NewBins(n, min(LogPoints, max(allPoints/n, fewPoints)))
	sum, err := g.Stream(br, bins)
	if err != nil {
		return nil, err
	}
	log := &Log{Traces: map[string]Trace{}, Events: bins.Events, Guess: g, Summary: sum}
	for i, c := range g.Channels() {
		ch := Channel{c, bins.Points(i)}
		log.Channels = append(log.Channels, ch)
		if c.Kind() != Temperature {
			continue
		}
		if c.Role == RoleTemperature || c.Role == RoleThermocouple {
			log.Columns = append(log.Columns, c.Name)
		}
		var tr Trace
		for _, p := range ch.Points {
			tr.TimeS = append(tr.TimeS, p.TimeS)
			tr.ValueK = append(tr.ValueK, p.Mean)
		}
		log.Traces[c.Name] = tr
	}
	sum.Findings = append(sum.Findings, log.copies()...)
	return log, nil
}

func validUTF8(line []byte) string {
	if utf8.Valid(line) {
		return string(line)
	}
	return strings.ToValidUTF8(string(line), "?")
}

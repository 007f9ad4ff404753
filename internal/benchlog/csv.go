// Package benchlog reads temperature loggers' files. It understands one plain layout so far: a heading row whose first column
// is the time since the start and whose other columns are temperatures, each with its unit in brackets, and rows of numbers:
//
//	time [s],T1 [°C],T2 [°C]
//	0,23.4,23.5
//
// Lines that start with # are remarks. An empty field, or the word nan, is a missing reading.
//
// Start reading at Read.
package benchlog

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strconv"
	"strings"

	"finwright/internal/unit"
)

// Trace is one logged temperature: times in s since the start, rising; temperatures in K. Missing readings are left out.
type Trace struct{ TimeS, ValueK []float64 }

// Log is a whole file: its columns by name, without their units.
type Log struct {
	Columns []string
	Traces  map[string]Trace
}

// Error is a trouble at a line of a log.
type Error struct {
	Path string
	Line int
	What string
}

func (e *Error) Error() string {
	if e.Line == 0 {
		return fmt.Sprintf("%s: %s", e.Path, e.What)
	}
	return fmt.Sprintf("%s:%d: %s", e.Path, e.Line, e.What)
}

// Open reads the file at path.
func Open(path string) (*Log, error) {
	f, err := os.Open(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil, &Error{Path: path, What: "there is no such log"}
	}
	if err != nil {
		return nil, &Error{Path: path, What: err.Error()}
	}
	defer f.Close()
	return Read(path, f)
}

// maxColumns bounds what a broken heading can ask for.
const maxColumns = 1000

// Read reads a log; path is for messages only.
func Read(path string, r io.Reader) (*Log, error) {
	c := csv.NewReader(bufio.NewReader(r))
	c.Comment = '#'
	c.TrimLeadingSpace = true
	c.FieldsPerRecord = -1
	c.ReuseRecord = true
	fail := func(format string, a ...any) (*Log, error) {
		line, _ := 0, 0
		if l, _ := c.FieldPos(0); l > 0 {
			line = l
		}
		return nil, &Error{path, line, fmt.Sprintf(format, a...)}
	}
	head, err := c.Read()
	if err == io.EOF {
		return nil, &Error{Path: path, What: "the log is empty"}
	}
	if err != nil {
		return nil, &Error{Path: path, What: err.Error()}
	}
	if len(head) < 2 || len(head) > maxColumns {
		return fail("the heading needs a time column and at least one temperature, such as: time [s],T1 [°C]")
	}
	toSI := make([]func(float64) float64, len(head))
	log := &Log{Traces: map[string]Trace{}}
	for i, h := range head {
		name, u, ok := splitUnit(strings.TrimPrefix(h, "\ufeff"))
		if !ok {
			return fail("column %d, %q, has no unit in brackets: write it as in %q", i+1, h, []string{"time [s]", "T1 [°C]"}[min(i, 1)])
		}
		dim := unit.Temperature
		if i == 0 {
			dim = unit.Time
		}
		zero, err0 := unit.Parse("0 "+u, dim)
		one, err1 := unit.Parse("1 "+u, dim)
		if err0 != nil || err1 != nil {
			return fail("column %d, %q: %q is not a unit of %s", i+1, h, u, dim.Name())
		}
		toSI[i] = func(x float64) float64 { return zero.Mid + x*(one.Mid-zero.Mid) }
		if i > 0 {
			if _, twice := log.Traces[name]; twice {
				return fail("two columns are called %q", name)
			}
			log.Columns = append(log.Columns, name)
			log.Traces[name] = Trace{}
		}
	}
	lastS := math.Inf(-1)
	for {
		row, err := c.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			var pe *csv.ParseError
			if errors.As(err, &pe) {
				return nil, &Error{path, pe.Line, pe.Err.Error()}
			}
			return nil, &Error{Path: path, What: err.Error()}
		}
		if len(row) != len(head) {
			return fail("%d fields where the heading has %d", len(row), len(head))
		}
		x, err := strconv.ParseFloat(strings.TrimSpace(row[0]), 64)
		if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
			return fail("%q is not a time", row[0])
		}
		atS := toSI[0](x)
		if atS <= lastS {
			return fail("the time %q does not come after the one before", row[0])
		}
		lastS = atS
		for i := 1; i < len(row); i++ {
			field := strings.TrimSpace(row[i])
			if field == "" || strings.EqualFold(field, "nan") {
				continue
			}
			x, err := strconv.ParseFloat(field, 64)
			if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
				return fail("%q in column %q is not a temperature", row[i], log.Columns[i-1])
			}
			tr := log.Traces[log.Columns[i-1]]
			tr.TimeS = append(tr.TimeS, atS)
			tr.ValueK = append(tr.ValueK, toSI[i](x))
			log.Traces[log.Columns[i-1]] = tr
		}
	}
	return log, nil
}

// splitUnit takes "T1 [°C]" apart.
func splitUnit(h string) (name, u string, ok bool) {
	h = strings.TrimSpace(h)
	open := strings.LastIndexByte(h, '[')
	if open <= 0 || !strings.HasSuffix(h, "]") {
		return "", "", false
	}
	return strings.TrimSpace(h[:open]), strings.TrimSpace(h[open+1 : len(h)-1]), true
}

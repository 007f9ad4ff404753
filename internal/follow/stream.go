package follow

import (
	"bytes"
	"fmt"
	"io"
	"strconv"
	"sync"
)

// Stream follows what comes in by a reader: standard input or a serial line. It notes when each line came, for devices that tell no
// time.
type Stream struct {
	name  string
	r     io.ReadCloser
	clock func() float64 // s since anything

	mu      sync.Mutex
	text    []byte
	arrived []float64 // of each line's first byte, s since the first one
	fromS   float64
	given   int
	ended   bool
	err     error
	closing bool
}

// NewStream starts to read from r, which Close closes. clock tells the time in seconds.
func NewStream(name string, r io.ReadCloser, clock func() float64) *Stream {
	s := &Stream{name: name, r: r, clock: clock}
	go s.read()
	return s
}

func (s *Stream) read() {
	buf := make([]byte, 4096)
	fresh := true // the next byte begins a line
	for {
		n, err := s.r.Read(buf)
		s.mu.Lock()
		now := s.clock()
		for _, c := range buf[:n] {
			if fresh {
				if len(s.arrived) == 0 {
					s.fromS = now
				}
				s.arrived = append(s.arrived, now-s.fromS)
			}
			fresh = c == '\n'
		}
		s.text = append(s.text, buf[:n]...)
		if len(s.text) > MostBytes {
			err = fmt.Errorf("%s: more than %d MB came in; stop and start again for the next test", s.name, MostBytes>>20)
		}
		if err != nil {
			s.ended = true
			if err != io.EOF && !s.closing {
				s.err = err
			}
			s.mu.Unlock()
			return
		}
		s.mu.Unlock()
	}
}

// Name is what it was called.
func (s *Stream) Name() string { return s.name }

// Notes are none: what happens to a stream is an error.
func (s *Stream) Notes() []string { return nil }

// Look hands out the whole lines so far.
func (s *Stream) Look() (text []byte, grew, ended bool, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	text = whole(s.text)
	if s.ended {
		text = s.text
	}
	grew = len(text) != s.given
	s.given = len(text)
	return text[:len(text):len(text)], grew, s.ended, s.err
}

// Stamped is text with the time at which each line came in front of it, in seconds since the first, parted by delimiter and with the
// decimal mark given. Lines before the first row of numbers, counted from 1, get the word time instead.
func (s *Stream) Stamped(text []byte, firstRow int, delimiter string, comma bool) []byte {
	s.mu.Lock()
	arrived := s.arrived
	s.mu.Unlock()
	var b bytes.Buffer
	for i := 0; len(text) > 0 && i < len(arrived); i++ {
		line, rest, _ := bytes.Cut(text, []byte("\n"))
		text = rest
		if len(bytes.TrimSpace(line)) > 0 {
			if i+1 < firstRow {
				b.WriteString("time [s]")
			} else {
				at := strconv.AppendFloat(nil, arrived[i], 'f', 2, 64)
				if comma {
					at = bytes.Replace(at, []byte("."), []byte(","), 1)
				}
				b.Write(at)
			}
			b.WriteString(delimiter)
		}
		b.Write(line)
		b.WriteByte('\n')
	}
	return b.Bytes()
}

// Close ends the reading. A reader that does not let go of its last Read, as a terminal may, is left to itself.
func (s *Stream) Close() error {
	s.mu.Lock()
	s.closing = true
	s.mu.Unlock()
	return s.r.Close()
}

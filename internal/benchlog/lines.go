package benchlog

import (
	"bufio"
	"bytes"
	"errors"
	"io"
)

// maxLine is the longest line that can be a row, bytes.
const maxLine = 1 << 20

// lineReader hands out lines without their ends: LF, CR LF, or CR alone where a file has nothing else.
type lineReader struct {
	r   *bufio.Reader
	end byte
	n   int  // lines handed out
	cut bool // the last line has no end
}

func newLineReader(r io.Reader, end byte) *lineReader {
	size := maxLine
	if known, ok := r.(interface{ Len() int }); ok {
		size = min(size, known.Len()+16)
	}
	return &lineReader{r: bufio.NewReaderSize(r, size), end: end}
}

var errLongLine = errors.New("the line is longer than a million bytes")

// next returns the next line, valid until the one after is asked for; io.EOF when there is none.
func (l *lineReader) next() ([]byte, error) {
	line, err := l.r.ReadSlice(l.end)
	if err == bufio.ErrBufferFull {
		l.n++
		return line[:80], errLongLine
	}
	if err != nil && (err != io.EOF || len(line) == 0) {
		return nil, err
	}
	l.n++
	l.cut = err == io.EOF
	if !l.cut {
		line = line[:len(line)-1]
	}
	if k := len(line); k > 0 && line[k-1] == '\r' {
		line = line[:k-1]
	}
	return line, nil
}

// lineEnd is the byte that ends the lines of a text.
func lineEnd(text []byte) byte {
	if bytes.IndexByte(text, '\n') < 0 && bytes.IndexByte(text, '\r') >= 0 {
		return '\r'
	}
	return '\n'
}

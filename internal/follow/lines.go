package follow

import "bytes"

// Source is a log that may still grow.
type Source interface {
	// Name is what to call it in messages.
	Name() string
	// Look takes up what is new. The text is all whole lines so far and must not be changed; grew says whether it is longer or other than
	// at the last look; ended says that nothing more will come, and the text then has the last line even without its end.
	Look() (text []byte, grew, ended bool, err error)
	// Notes are what happened to the source on the way, in words.
	Notes() []string
	Close() error
}

// MostBytes is how much text of one test is kept: some days of a quick logger.
const MostBytes = 256 << 20

// whole is the text up to the end of its last whole line. Some loggers write blocks that are filled up with zero bytes, which are no
// text; in UTF-16 every second byte is zero, which is why a few of them do not count.
func whole(text []byte) []byte {
	if n := len(bytes.TrimRight(text, "\x00")); len(text)-n >= filler {
		text = text[:n]
	}
	k := bytes.LastIndexByte(text, '\n')
	if cr := bytes.LastIndexByte(text, '\r'); k < 0 && cr > 0 && cr < len(text)-1 { // lines that end with CR alone
		k = cr
	}
	end := k + 1
	if end > 0 && end < len(text) && text[end] == 0 && k%2 == 0 { // little-endian UTF-16: the other half of the line's end
		end++
	}
	return text[:end]
}

const filler = 8

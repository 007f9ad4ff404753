package benchlog

import (
	"bytes"
	"io"
	"unicode/utf8"
)

// Encoding is how a file's bytes stand for characters.
type Encoding string

// The encodings that are understood. Latin-1 is read as Windows-1252, which contains it.
const (
	UTF8        Encoding = "utf-8"
	UTF16LE     Encoding = "utf-16le"
	UTF16BE     Encoding = "utf-16be"
	Windows1252 Encoding = "windows-1252"
)

// sniffEncoding looks at a file's first bytes: a byte order mark, else the zero bytes that UTF-16 has in every other place,
// else UTF-8 if the bytes are that, else Windows-1252, in which every byte is some character.
func sniffEncoding(head []byte) Encoding {
	switch {
	case bytes.HasPrefix(head, []byte("\xff\xfe")):
		return UTF16LE
	case bytes.HasPrefix(head, []byte("\xfe\xff")):
		return UTF16BE
	case bytes.HasPrefix(head, []byte("\xef\xbb\xbf")):
		return UTF8
	}
	var zero [2]int
	for i, b := range head {
		if b == 0 {
			zero[i%2]++
		}
	}
	half := len(head) / 2
	switch {
	case half > 0 && zero[1]*10 > half*8 && zero[0]*10 < half*2:
		return UTF16LE
	case half > 0 && zero[0]*10 > half*8 && zero[1]*10 < half*2:
		return UTF16BE
	}
	for cut := 0; cut < utf8.UTFMax && cut <= len(head); cut++ { // the head may end within a character
		if utf8.Valid(head[:len(head)-cut]) {
			return UTF8
		}
	}
	return Windows1252
}

// japanese tells whether bytes that were taken for Windows-1252 are rather a Japanese code page: pairs that begin with one of
// the bytes 0x81 to 0x9f, which Windows-1252 has for rare signs. The degree signs of that code page are known to parseUnit.
func japanese(head []byte) bool {
	pairs, others := 0, 0
	for i := 0; i+1 < len(head); i++ {
		a, b := head[i], head[i+1]
		switch {
		case a < 0x80:
			continue
		case a >= 0x81 && a <= 0x9f && (b >= 0x40 && b <= 0x7e || b >= 0x80 && b <= 0xfc):
			if i++; a != 0x81 || b != 0x8e && b != 0x8b {
				pairs++
			}
		default:
			others++
		}
	}
	return pairs >= 3 && pairs > 2*others
}

// notText tells what a file is that is no text, or "".
func notText(head []byte) string {
	for _, m := range []struct{ magic, what string }{
		{"PK\x03\x04", "a spreadsheet workbook or an archive"},
		{"\xd0\xcf\x11\xe0", "an old spreadsheet workbook"},
		{"%PDF", "a PDF document"},
		{"\x1f\x8b", "a compressed file"},
		{"\x89PNG", "a picture"},
		{"\xff\xd8\xff", "a picture"},
		{"GIF8", "a picture"},
	} {
		if bytes.HasPrefix(head, []byte(m.magic)) {
			return m.what
		}
	}
	if e := sniffEncoding(head); e == UTF16LE || e == UTF16BE {
		return ""
	}
	control := 0
	for _, b := range head {
		if b != 0 && b < ' ' && b != '\t' && b != '\n' && b != '\r' && b != '\f' && b != 0x1a && b != 0x1b {
			control++
		}
	}
	if control*20 > len(head) {
		return "binary data"
	}
	return ""
}

// windows1252 has the characters of the bytes 0x80 to 0x9f; those that Windows-1252 leaves out stay control characters.
// Source: WHATWG Encoding Standard, index windows-1252.
var windows1252 = [32]rune{
	'€', 0x81, '‚', 'ƒ', '„', '…', '†', '‡', 'ˆ', '‰', 'Š', '‹', 'Œ', 0x8d, 'Ž', 0x8f,
	0x90, '‘', '’', '“', '”', '•', '–', '—', '˜', '™', 'š', '›', 'œ', 0x9d, 'ž', 'Ÿ',
}

// decoder turns a file's bytes into UTF-8 without byte order mark and without NUL characters (blocks of them are what a
// power failure leaves behind). It never waits for more than its source gives at once.
type decoder struct {
	r     io.Reader
	enc   Encoding
	raw   []byte // as read
	out   []byte // decoded, not yet handed over
	carry int    // bytes at the front of raw that belong to a character not yet complete
	high  uint16 // first half of a surrogate pair
	begun bool
	err   error
}

func newDecoder(r io.Reader, enc Encoding) io.Reader {
	return &decoder{r: r, enc: enc, raw: make([]byte, 64<<10)}
}

func (d *decoder) Read(p []byte) (int, error) {
	for len(d.out) == 0 {
		if d.err != nil {
			return 0, d.err
		}
		n, err := d.r.Read(d.raw[d.carry:])
		d.err = err
		in := d.raw[:d.carry+n]
		d.carry = 0
		d.decode(in)
	}
	n := copy(p, d.out)
	d.out = d.out[n:]
	return n, nil
}

func (d *decoder) decode(in []byte) {
	if !d.begun && len(in) > 0 {
		if len(in) < 3 && d.err == nil {
			d.carry = copy(d.raw, in)
			return
		}
		d.begun = true
		mark := map[Encoding]string{UTF8: "\xef\xbb\xbf", UTF16LE: "\xff\xfe", UTF16BE: "\xfe\xff"}[d.enc]
		in = bytes.TrimPrefix(in, []byte(mark))
	}
	switch d.enc {
	case UTF16LE, UTF16BE:
		d.out = d.out[:0:0]
		whole := len(in) &^ 1
		for i := 0; i < whole; i += 2 {
			u := uint16(in[i]) | uint16(in[i+1])<<8
			if d.enc == UTF16BE {
				u = uint16(in[i])<<8 | uint16(in[i+1])
			}
			switch {
			case u >= 0xd800 && u < 0xdc00:
				d.high = u
			case u >= 0xdc00 && u < 0xe000:
				if d.high != 0 {
					d.out = utf8.AppendRune(d.out, 0x10000+rune(d.high-0xd800)<<10+rune(u-0xdc00))
				}
				d.high = 0
			case u != 0:
				d.out = utf8.AppendRune(d.out, rune(u))
			}
		}
		if whole < len(in) && d.err == nil {
			d.carry = copy(d.raw, in[whole:])
		}
	case Windows1252:
		d.out = d.out[:0:0]
		for _, b := range in {
			switch {
			case b == 0:
			case b < 0x80:
				d.out = append(d.out, b)
			case b < 0xa0:
				d.out = utf8.AppendRune(d.out, windows1252[b-0x80])
			default:
				d.out = utf8.AppendRune(d.out, rune(b))
			}
		}
	default:
		if bytes.IndexByte(in, 0) >= 0 {
			in = bytes.ReplaceAll(in, []byte{0}, nil)
		}
		d.out = in
	}
}

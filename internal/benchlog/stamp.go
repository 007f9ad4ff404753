package benchlog

import "strings"

// stamp is a date, a time of day or both, as written; which of the date's numbers is the day is settled later (order).
type stamp struct {
	hasDate, hasTime bool
	d                [3]int
	width            [3]uint8 // digits written
	named            bool     // the month was a word: d is day, month, year
	quoted           bool     // an apostrophe stood before the year
	sep              byte
	todS             float64 // s of the day, or elapsed if above a day
	parts            int     // numbers in the time: 2 for 14:05, 3 for 14:05:10
	meridiem         bool    // AM or PM was written
	zoned            bool    // Z or +01:00 was written
	zoneS            int     // s east of Greenwich
}

// order is which number of a date is what.
type order string

const (
	orderYMD order = "y-m-d"
	orderDMY order = "d-m-y"
	orderMDY order = "m-d-y"
)

func (o order) words() string { return strings.TrimPrefix(clockWords[ClockKind(o)], "date as ") }

var months = map[string]int{"jan": 1, "feb": 2, "mar": 3, "apr": 4, "may": 5, "jun": 6, "jul": 7, "aug": 8, "sep": 9, "oct": 10, "nov": 11, "dec": 12,
	"mär": 3, "mrz": 3, "mai": 5, "okt": 10, "dez": 12}

// parseStamp reads such as 2024-03-12 14:05:10.250, 12.03.2024, 3/12/24 2:05 PM, 12-Mar-2024 14:05, 14:05:10, 2024-03-12
// 14:05:10:250, 2024-03-12T14:05:10Z, and the same with a zone's name in words behind. It does not allocate for numbers.
func parseStamp(f []byte) (st stamp, ok bool) {
	i := 0
	digits := func() (v, n int) {
		for i < len(f) && f[i] >= '0' && f[i] <= '9' && n < 9 {
			v = v*10 + int(f[i]-'0')
			i++
			n++
		}
		return v, n
	}
	letters := func() int {
		j := i
		for j < len(f) && (f[j] >= 'a' && f[j] <= 'z' || f[j] >= 'A' && f[j] <= 'Z' || f[j] >= 0x80) {
			j++
		}
		return j
	}
	blanks := func() {
		for i < len(f) && f[i] == ' ' {
			i++
		}
	}
	month := func() bool {
		j := letters()
		if j-i < 3 {
			return false
		}
		word := strings.ToLower(string(f[i:j]))
		if len(word) < 3 { // a letter may become shorter
			return false
		}
		m, known := months[word[:3]]
		if !known && len(word) > 3 {
			m, known = months[word[:4]] // ä has two bytes
		}
		if known {
			st.d[1], st.named = m, true
			i = j
		}
		return known
	}
	if len(f) < 4 || len(f) > 80 {
		return st, false
	}
	for i < len(f) && (f[i] == '\'' || f[i] == ' ' || f[i] == '"') {
		st.quoted = st.quoted || f[i] == '\''
		i++
	}
	if j := letters(); j > i && i < len(f) { // a weekday, or a month in front: Mar 12, 2024
		if month() {
			blanks()
			if st.d[0], _ = digits(); st.d[0] == 0 {
				return st, false
			}
			for i < len(f) && (f[i] == ',' || f[i] == ' ') {
				i++
			}
			var n int
			if st.d[2], n = digits(); n != 4 {
				return st, false
			}
			st.width = [3]uint8{2, 2, 4}
			st.hasDate = true
		} else {
			i = j
			for i < len(f) && (f[i] == ',' || f[i] == '.' || f[i] == ' ') {
				i++
			}
		}
	}
	v, n := 0, 0
	if !st.hasDate {
		v, n = digits()
		if n == 0 || i >= len(f) {
			return st, false
		}
		switch c := f[i]; {
		case c == '-' || c == '/' || c == '.' || c == ' ' && letters2(f, i+1):
			st.sep = c
			st.d[0], st.width[0] = v, uint8(n)
			i++
			if c == '.' {
				blanks()
			}
			if !month() {
				if v, n = digits(); n == 0 || n > 2 {
					return st, false
				}
				st.d[1], st.width[1] = v, uint8(n)
			}
			if i >= len(f) || f[i] != c && !(st.named && (f[i] == ' ' || f[i] == '.' || f[i] == '-')) {
				return st, false
			}
			i++
			if i < len(f) && f[i] == '\'' {
				i++
			}
			if v, n = digits(); n == 0 || n == 3 || n > 4 {
				return st, false
			}
			st.d[2], st.width[2] = v, uint8(n)
			if st.width[0] == 3 || st.width[0] > 4 {
				return st, false
			}
			st.hasDate = true
			n = 0
		case c == ':':
		default:
			return st, false
		}
	}
	if st.hasDate {
		for i < len(f) && (f[i] == ' ' || f[i] == ',' || f[i] == 'T' || f[i] == '_' || f[i] == ';') {
			i++
		}
		if i == len(f) {
			return st, true
		}
		v, n = digits()
	}
	if n == 0 || n > 6 || i >= len(f) || f[i] != ':' {
		return st, false
	}
	t := [3]int{v}
	st.parts = 1
	for st.parts < 3 && i < len(f) && f[i] == ':' {
		i++
		if v, n = digits(); n == 0 || n > 2 || v > 59+st.parts-1 { // 60 s: a leap second
			return st, false
		}
		t[st.parts] = v
		st.parts++
	}
	st.todS = float64(t[0]*3600 + t[1]*60 + t[2])
	if i < len(f) && st.parts >= 2 && (f[i] == '.' || f[i] == ',' || f[i] == ':') {
		i++
		at := i
		if v, n = digits(); n == 0 {
			return st, false
		}
		if f[at-1] == ':' { // milliseconds, however many digits were written
			st.todS += float64(v) / 1000
		} else {
			st.todS += float64(v) / pow10[n]
		}
	}
	st.hasTime = true
	blanks()
	if i+1 < len(f) && (f[i+1]|32 == 'm' || f[i+1] == '.') && (f[i]|32 == 'a' || f[i]|32 == 'p') && t[0] <= 12 {
		st.meridiem = true
		if t[0] == 12 {
			st.todS -= 12 * 3600
		}
		if f[i]|32 == 'p' {
			st.todS += 12 * 3600
		}
		for i < len(f) && f[i] != ' ' {
			i++
		}
		blanks()
	}
	switch {
	case i < len(f) && f[i] == 'Z':
		st.zoned = true
		i++
	case i+2 < len(f) && (f[i] == '+' || f[i] == '-') && f[i+1] >= '0' && f[i+1] <= '9':
		sign := 1
		if f[i] == '-' {
			sign = -1
		}
		i++
		h, n := digits()
		m := 0
		if n == 4 {
			h, m = h/100, h%100
		} else if i < len(f) && f[i] == ':' {
			i++
			m, _ = digits()
		}
		st.zoned, st.zoneS = true, sign*(h*3600+m*60)
	}
	for ; i < len(f); i++ { // a zone's name in words
		if c := f[i]; !(c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c == ' ' || c == '(' || c == ')' || c == '.' || c >= 0x80 || c == '\'' || c == '"') {
			return st, false
		}
	}
	return st, true
}

func letters2(f []byte, i int) bool {
	return i+1 < len(f) && f[i]|32 >= 'a' && f[i]|32 <= 'z' && f[i+1]|32 >= 'a' && f[i+1]|32 <= 'z'
}

// date settles a stamp's date in the given order. Years of two digits are of this century.
func (st *stamp) date(o order) (y, m, d int, ok bool) {
	switch {
	case st.named && st.width[0] < 3:
		d, m, y = st.d[0], st.d[1], st.d[2]
	case st.named:
		y, m, d = st.d[0], st.d[1], st.d[2]
	case o == orderYMD:
		y, m, d = st.d[0], st.d[1], st.d[2]
	case o == orderDMY:
		d, m, y = st.d[0], st.d[1], st.d[2]
	default:
		m, d, y = st.d[0], st.d[1], st.d[2]
	}
	if y < 100 {
		y += 2000
	}
	return y, m, d, y >= 1900 && y < 2200 && m >= 1 && m <= 12 && d >= 1 && d <= 31
}

// fits tells whether a date can be read in an order.
func (st *stamp) fits(o order) bool {
	long0, long2 := st.width[0] > 2, st.width[2] > 2
	if !st.named && (o == orderYMD && long2 || o != orderYMD && long0) {
		return false
	}
	_, _, _, ok := st.date(o)
	return ok
}

// seconds of a stamp since 1 January 1970; a time of day alone counts from midnight.
func (st *stamp) seconds(o order) (float64, bool) {
	if !st.hasDate {
		return st.todS - float64(st.zoneS), st.hasTime
	}
	y, m, d, ok := st.date(o)
	return float64(daysSince1970(y, m, d))*86400 + st.todS - float64(st.zoneS), ok
}

// daysSince1970 of a day of the Gregorian calendar: whole 400-year eras of 146 097 days, years that begin in March so that
// the leap day is the last of them, and 153 days for each five months from March on.
func daysSince1970(y, m, d int) int {
	if m <= 2 {
		y--
		m += 12
	}
	era := y / 400
	yearOfEra := y - era*400
	dayOfYear := (153*(m-3)+2)/5 + d - 1
	return era*146097 + yearOfEra*365 + yearOfEra/4 - yearOfEra/100 + dayOfYear - 719468
}

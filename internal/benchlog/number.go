package benchlog

import (
	"bytes"
	"math"
	"strconv"
)

var pow10 = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// parseNumber reads a whole field as a number with the given decimal mark: plain, signed, with an exponent, with thousands
// separators in groups of three (not when the separator also parts the fields, which is the caller's to know), and within the
// apostrophes, quotes and brackets that programs print lists with. grouped tells that thousands separators were taken out.
// The result is finite.
func parseNumber(f []byte, decimal byte) (v float64, grouped, ok bool) {
	if v, ok = plainNumber(f, decimal); ok {
		return v, false, true
	}
	f = bytes.Trim(f, " '\"[]\u00a0\u2009\u202f")
	f = bytes.Replace(f, []byte("−"), []byte("-"), 1)
	if v, ok = plainNumber(f, decimal); ok {
		return v, false, true
	}
	// Thousands: 1,234.5 with a decimal point, 1.234,5 or 1 234,5 with a decimal comma.
	var separators string
	switch decimal {
	case '.':
		separators = ",'"
	case ',':
		separators = ".' "
	}
	whole := f
	if i := bytes.IndexByte(f, decimal); i >= 0 {
		whole = f[:i]
	}
	for i := range separators {
		groups := bytes.Split(whole, []byte{separators[i]})
		if len(groups) < 2 {
			continue
		}
		first := bytes.TrimLeft(groups[0], "+-")
		good := len(first) >= 1 && len(first) <= 3
		for _, g := range groups[1:] {
			good = good && len(g) == 3
		}
		if !good {
			return 0, false, false
		}
		v, ok = plainNumber(bytes.ReplaceAll(f, []byte{separators[i]}, nil), decimal)
		return v, ok, ok
	}
	return 0, false, false
}

// plainNumber reads sign, digits, decimal mark, digits and exponent, and nothing else.
func plainNumber(f []byte, decimal byte) (float64, bool) {
	i, neg := 0, false
	if i < len(f) && (f[i] == '+' || f[i] == '-') {
		neg = f[i] == '-'
		i++
	}
	var mantissa uint64
	digits, scale := 0, 0
	seenMark := false
	for ; i < len(f); i++ {
		c := f[i]
		if c >= '0' && c <= '9' {
			if digits < 19 {
				mantissa = mantissa*10 + uint64(c-'0')
			}
			digits++
			if seenMark {
				scale--
			}
		} else if c == decimal && !seenMark {
			seenMark = true
		} else {
			break
		}
	}
	if digits == 0 {
		return 0, false
	}
	if i < len(f) && (f[i] == 'e' || f[i] == 'E') {
		j, eNeg, e := i+1, false, 0
		if j < len(f) && (f[j] == '+' || f[j] == '-') {
			eNeg = f[j] == '-'
			j++
		}
		if j >= len(f) {
			return 0, false
		}
		for ; j < len(f) && f[j] >= '0' && f[j] <= '9' && e < 10000; j++ {
			e = e*10 + int(f[j]-'0')
		}
		if eNeg {
			e = -e
		}
		scale += e
		i = j
	}
	if i != len(f) {
		return 0, false
	}
	// Up to 2^53 and 10^22 both factors are exact, and one operation on them rounds right.
	if digits <= 15 && scale >= -22 && scale <= 22 {
		v := float64(mantissa)
		if scale < 0 {
			v /= pow10[-scale]
		} else {
			v *= pow10[scale]
		}
		if neg {
			v = -v
		}
		return v, true
	}
	text := string(f)
	if decimal != '.' {
		text = string(bytes.Replace(f, []byte{decimal}, []byte{'.'}, 1))
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		return 0, false
	}
	return v, true
}

// numberWithUnit reads "23.4 °C" or "108F".
func numberWithUnit(f []byte, decimal byte) (v float64, u Unit, ok bool) {
	end := 0
	for end < len(f) && (f[end] >= '0' && f[end] <= '9' || f[end] == decimal || end == 0 && (f[0] == '+' || f[0] == '-')) {
		end++
	}
	if end == 0 || end == len(f) {
		return 0, u, false
	}
	if v, ok = plainNumber(f[:end], decimal); !ok {
		return 0, u, false
	}
	u, ok = parseUnit(string(f[end:]))
	return v, u, ok
}

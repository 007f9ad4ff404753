package unit

import "strings"

// Nearest is the entry of among that name was probably meant to be, or "" when none is near. It forgives case, spaces and
// dashes, a few wrong letters, and a name that is one word of an entry ("6061" for "aluminium 6061").
// Among equals the earlier wins.
func Nearest(name string, among []string) string {
	flat := flatten(name)
	if flat == "" {
		return ""
	}
	best, bestSlips := "", len([]rune(flat))/3+1 // at most one slip in three letters
	for _, a := range among {
		f := flatten(a)
		if f == flat {
			return a
		}
		if n := slips([]rune(flat), []rune(f)); n < bestSlips {
			best, bestSlips = a, n
		}
	}
	if best != "" {
		return best
	}
	for _, a := range among {
		for _, w := range strings.Fields(a) {
			if flatten(w) == flat {
				return a
			}
		}
	}
	for _, a := range among {
		if len(flat) >= 3 && strings.Contains(flatten(a), flat) {
			return a
		}
	}
	return ""
}

func flatten(s string) string {
	return strings.NewReplacer(" ", "", "-", "", "_", "").Replace(strings.ToLower(s))
}

// slips counts the letters to insert, drop, change or swap with their neighbour to make b of a (restricted edit distance:
// the slips of Damerau, Comm. ACM 7 (1964) 171-176, counted as Wagner & Fischer, J. ACM 21 (1974) 168-173).
func slips(a, b []rune) int {
	before := make([]int, len(b)+1)
	last := make([]int, len(b)+1)
	row := make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			change := last[j-1]
			if a[i-1] != b[j-1] {
				change++
			}
			row[j] = min(change, last[j]+1, row[j-1]+1)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(b)]
}

package benchlog

import (
	"fmt"
	"strconv"
	"strings"
)

// copyRows is how many readings two probes must have in common to be compared, and copyMovesK how far they must move: two probes
// in one still room may well read the same. Common practice, no source.
const (
	copyRows   = 8
	copyMovesK = 0.5
)

// copies finds probes that have no reading of their own: two that read the same throughout, and one that shows in each row the
// lowest of the others, as an input without a probe does in some loggers. Nothing is taken out.
func (l *Log) copies() []Finding {
	var found findings
	var probes []Channel
	for _, c := range l.Channels {
		if c.Role == RoleTemperature && c.Kind() == Temperature {
			probes = append(probes, c)
		}
	}
	if len(probes) > 32 { // a picture: many of its places may be alike
		return nil
	}
	copied := make([]bool, len(probes))
	for i := range probes {
		names := []string{strconv.Quote(probes[i].Name)}
		for k := i + 1; k < len(probes) && !copied[i]; k++ {
			if sameReadings(probes[i].Points, probes[k].Points) && (moves(probes[i].Points) || outdoors(probes[i].Points)) {
				copied[k] = true
				names = append(names, strconv.Quote(probes[k].Name))
			}
		}
		if len(names) > 1 {
			found.add(names[0], 0, strings.Join(names, ", ")+" read the same in every row: one probe on several inputs, or inputs without probes; use one of them at most")
		}
	}
	for i := range probes {
		if !copied[i] && lowestOfOthers(probes, i) {
			found.add(probes[i].Name, 0, fmt.Sprintf("%q reads in every row what the lowest of the other probes reads: an input without a probe does that", probes[i].Name))
		}
	}
	return found.list
}

func sameReadings(a, b []Point) bool {
	if len(a) < copyRows || len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}

// moves tells whether a probe's readings differ by more than a still room's.
func moves(p []Point) bool {
	lo, hi := p[0].Min, p[0].Max
	for _, x := range p {
		lo, hi = min(lo, x.Min), max(hi, x.Max)
	}
	return hi-lo >= copyMovesK
}

// outdoors tells whether a reading that stands still is none of a room: below 5 or above 45 °C.
func outdoors(p []Point) bool { return p[0].Mean < 278.15 || p[0].Mean > 318.15 }

// lowestOfOthers tells whether probe i reads the lowest of the others throughout, while that is not the same probe all the time.
func lowestOfOthers(probes []Channel, i int) bool {
	p := probes[i].Points
	if len(probes) < 3 || len(p) < copyRows {
		return false
	}
	holders := map[int]bool{}
	for row := range p {
		lowest := -1
		for k := range probes {
			if k == i {
				continue
			}
			if q := probes[k].Points; len(q) != len(p) || q[row].TimeS != p[row].TimeS {
				return false
			} else if lowest < 0 || q[row].Mean < probes[lowest].Points[row].Mean {
				lowest = k
			}
		}
		if probes[lowest].Points[row].Mean != p[row].Mean {
			return false
		}
		holders[lowest] = true
	}
	return len(holders) > 1
}

package main

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
)

// A log is one run of one device as an invented thermocouple logger wrote it.
type log struct {
	path     string // below demo/
	what     string // a remark for the file's head
	truth    network
	around   air
	startC   float64
	rowS     float64 // the logger's interval
	untilS   float64
	coolS    float64 // how long it goes on after a stop
	channels []channel
	seed     uint64
}

// channel is one thermocouple: a name in the heading, the lump it is taped to, and its own constant error.
type channel struct {
	name    string
	lump    int
	offsetK float64
}

const (
	noiseK      = 0.12 // standard deviation of one reading
	resolutionK = 0.1  // the logger's last digit
)

// write returns the file's bytes, and in words what the device did.
func (l *log) write() (text []byte, story string) {
	h := l.truth.run(l.around, l.startC, l.rowS, l.untilS, l.coolS)
	rng := rand.New(rand.NewPCG(l.seed, 0x9e3779b97f4a7c15))
	var b bytes.Buffer
	fmt.Fprintf(&b, "# Invented data, not a measurement: %s.\n", l.what)
	fmt.Fprintf(&b, "# Written by demo/generate: %d lumps with invented values, noise %.2g K, resolution %.2g K, each probe with an error of its own.\n",
		len(l.truth.lumps), noiseK, resolutionK)
	b.WriteString("time [s]")
	for _, c := range l.channels {
		fmt.Fprintf(&b, ",%s [°C]", c.name)
	}
	b.WriteByte('\n')
	for row, t := range h.tC {
		fmt.Fprintf(&b, "%.0f", float64(row)*h.rowS)
		for _, c := range l.channels {
			read := t[c.lump] + c.offsetK + noiseK*rng.NormFloat64()
			fmt.Fprintf(&b, ",%.1f", math.Round(read/resolutionK)*resolutionK)
		}
		b.WriteByte('\n')
	}
	return b.Bytes(), l.story(h)
}

// story says what the device did and how warm everything was then.
func (l *log) story(h history) string {
	var s strings.Builder
	at := len(h.tC) - 1
	switch {
	case !math.IsNaN(h.stopS):
		fmt.Fprintf(&s, "stops after %.1f min at", h.stopS/60)
		at = int(h.stopS / h.rowS)
	default:
		for i, t := range h.stepsS {
			fmt.Fprintf(&s, "step %d after %.1f min, ", i+1, t/60)
		}
		fmt.Fprintf(&s, "after %.0f min", float64(at)*h.rowS/60)
	}
	for i := range l.truth.lumps {
		fmt.Fprintf(&s, " %s %.1f", l.truth.lumps[i].name, h.tC[at][i])
	}
	return s.String() + " °C"
}

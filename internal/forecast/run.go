package forecast

import (
	"context"

	"finwright/internal/session"
)

// Device makes the runs of the device under test.
type Device interface {
	// Unknowns is how many standard-normal scores choose a device.
	Unknowns() int
	// Run makes the whole run of the device at scores z, from switch-on to its own end. It must be safe for concurrent calls.
	Run(ctx context.Context, z []float64) (*Run, error)
}

// Run is one run: what faultless probes at the watched places would read, and how it ends.
type Run struct {
	TimeS []float64   // rising, from 0
	ReadK [][]float64 // per probe, one per time
	// Own is how the device itself ends: stopped, battery empty, or still running at the time asked for.
	Own session.End
	// FullS is how long it keeps its full power: the first power step it takes, or else the end.
	FullS float64
}

// read is what a probe reads at a time, straight between samples and flat after the last; at remembers where the search was.
func (r *Run) read(probe int, tS float64, at *int) float64 {
	n := len(r.TimeS)
	v := r.ReadK[probe]
	for *at < n-2 && r.TimeS[*at+1] < tS {
		*at++
	}
	k := *at
	if n == 1 || tS >= r.TimeS[n-1] {
		return v[n-1]
	}
	w := (tS - r.TimeS[k]) / (r.TimeS[k+1] - r.TimeS[k])
	return v[k] + w*(v[k+1]-v[k])
}

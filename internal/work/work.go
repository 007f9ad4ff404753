// Package work runs independent jobs on a few goroutines.
package work

import (
	"context"
	"sync"
)

// InParallel runs jobs on a few workers, one at the least; it stops handing out jobs when ctx ends, waits for those that
// run, and returns the context's error.
func InParallel(ctx context.Context, workers int, jobs []func()) error {
	next := make(chan func())
	var wg sync.WaitGroup
	for w := 0; w < max(1, workers); w++ {
		wg.Go(func() {
			for job := range next {
				job()
			}
		})
	}
hand:
	for _, job := range jobs {
		if ctx.Err() != nil { // when both are ready, select takes either
			break
		}
		select {
		case next <- job:
		case <-ctx.Done():
			break hand
		}
	}
	close(next)
	wg.Wait()
	return ctx.Err()
}

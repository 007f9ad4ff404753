// Package work runs independent jobs on a few goroutines.
package work

import (
	"context"
	"sync"
)

// InParallel runs jobs on a few workers; it stops handing out jobs when ctx ends, waits for those that
// run, and returns the context's error.
func InParallel(ctx context.Context, workers int, jobs []func()) error {
	next := make(chan func())
	var wg sync.WaitGroup
	for w := 0; w < workers; w++ {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for job := range next {
				job()
			}
		}()
	}
	for _, job := range jobs {
		if ctx.Err() != nil {
			break
		}
		next <- job
	}
	close(next)
	wg.Wait()
	return ctx.Err()
}

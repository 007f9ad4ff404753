package work

import (
	"sync"
	"sync/atomic"
)

// Each runs task 0 … tasks-1 on up to so many goroutines, whichever is free, and
// returns when all are done. It is for tasks of different length that allocate or
// take long; see Crew for short ones without end.
func Each(workers, tasks int, run func(task int)) {
	var done atomic.Int64
	take := func() {
		for t := int(done.Add(1)) - 1; t < tasks; t = int(done.Add(1)) - 1 {
			run(t)
		}
	}
	var wg sync.WaitGroup
	for range min(workers, tasks) - 1 {
		wg.Go(take)
	}
	take()
	wg.Wait()
}

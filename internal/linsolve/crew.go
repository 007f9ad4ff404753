package linsolve

import (
	"sync"
	"sync/atomic"
)

// crew runs a kernel over numbered chunks on a fixed number of goroutines.
// How the work is cut into chunks depends on the problem alone and sums are
// added up chunk by chunk, so results do not depend on the number of workers.
// Starting a stored func value allocates nothing.
type crew struct {
	workers int
	chunks  int
	run     kernel
	lv      *level
	s       *Solver
	starts  []func()
	wg      sync.WaitGroup
}

// kernel works on one chunk. lv is nil on the finest level.
type kernel func(s *Solver, lv *level, chunk int)

func newCrew(s *Solver, workers int) *crew {
	c := &crew{workers: workers, s: s}
	for w := 1; w < workers; w++ {
		c.starts = append(c.starts, func() {
			c.share(w)
			c.wg.Done()
		})
	}
	return c
}

// share does worker w's contiguous part of the chunks.
func (c *crew) share(w int) {
	for i := w * c.chunks / c.workers; i < (w+1)*c.chunks/c.workers; i++ {
		c.run(c.s, c.lv, i)
	}
}

// do runs the kernel on chunks 0 … chunks-1 and returns when all are done.
func (c *crew) do(chunks int, run kernel, lv *level) {
	if c.workers == 1 || chunks == 1 {
		for i := range chunks {
			run(c.s, lv, i)
		}
		return
	}
	c.chunks, c.run, c.lv = chunks, run, lv
	c.wg.Add(len(c.starts))
	for _, start := range c.starts {
		go start()
	}
	c.share(0)
	c.wg.Wait()
}

// each runs task 0 … tasks-1 on up to so many goroutines, whichever is free. It is
// for set-up, where tasks are of different length and allocation does no harm.
func each(workers, tasks int, run func(task int)) {
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

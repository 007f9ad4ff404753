package linsolve

import "finwright/internal/work"

// crew runs kernels over numbered chunks. How the work is cut into chunks depends
// on the problem alone and sums are added up chunk by chunk, so results do not
// depend on the number of workers.
type crew struct {
	s *Solver
	*work.Crew[call]
}

// kernel works on one chunk. lv is nil on the finest level.
type kernel func(s *Solver, lv *level, chunk int)

// call is a kernel with what it works on.
type call struct {
	run kernel
	s   *Solver
	lv  *level
}

func newCrew(s *Solver, workers int) *crew { return &crew{s, work.NewCrew[call](workers)} }

// do runs the kernel on chunks 0 … chunks-1 and returns when all are done.
func (c *crew) do(chunks int, run kernel, lv *level) {
	if lv != nil && lv.alone {
		for i := range chunks {
			run(c.s, lv, i)
		}
		return
	}
	c.Do(chunks, call{run, c.s, lv}, func(on call, chunk int) { on.run(on.s, on.lv, chunk) })
}

package work

import (
	"runtime"
	"sync/atomic"
	"time"
)

// Crew shares the chunks of short kernels, one kernel after the other, between the
// calling goroutine and helpers. It is for kernels of 10 µs and more that follow each
// other closely: helpers wait awake for the next one, and go home when none
// comes for lingerS.
//
// Each worker has a contiguous range of the chunks, the same for the same number
// of chunks, so that it meets its data again; who has done his takes from the
// others. The caller waits for nobody but those who hold a chunk: a helper that
// the machine keeps busy elsewhere delays nothing. Which worker did a chunk is not
// to matter to the result. Do allocates nothing when run is not a closure.
//
// Not safe for concurrent use. A Crew must not be copied once used.
type Crew[T any] struct {
	hands []hand
	start []func() // of helper w-1
	run   func(on T, chunk int)
	on    T
	left  atomic.Int64 // chunks not yet done
}

// hand is one worker's range of chunks: the next to do in the upper half of next,
// the end in the lower. Taking one by an atomic addition also makes run and on, which
// were written before the range was, visible to the taker.
type hand struct {
	next atomic.Int64
	here atomic.Bool // a goroutine waits for kernels
	_    [112]byte   // no two hands in one cache line, nor in a pair of them
}

// linger is how long a helper waits awake.
const linger = 100 * time.Microsecond

// NewCrew makes a crew of so many workers, the caller included; one at the least.
func NewCrew[T any](workers int) *Crew[T] {
	c := &Crew[T]{hands: make([]hand, max(1, workers))}
	for w := 1; w < len(c.hands); w++ {
		c.start = append(c.start, func() { c.help(w) })
	}
	return c
}

// Workers is how many share the work.
func (c *Crew[T]) Workers() int { return len(c.hands) }

// Do runs the kernel on chunks 0 … chunks-1 and returns when all are done.
func (c *Crew[T]) Do(chunks int, on T, run func(on T, chunk int)) {
	n := len(c.hands)
	if n == 1 || chunks <= 1 {
		for i := range chunks {
			run(on, i)
		}
		return
	}
	c.run, c.on = run, on
	c.left.Store(int64(chunks))
	for w := range c.hands {
		c.hands[w].next.Store(int64(w*chunks/n)<<32 | int64((w+1)*chunks/n))
	}
	for w, start := range c.start {
		if h := &c.hands[w+1]; !h.here.Load() {
			h.here.Store(true) // only this goroutine sets it
			go start()
		}
	}
	c.take(0)
	for spins := 0; c.left.Load() > 0; spins++ {
		if spins > 1000 {
			runtime.Gosched()
		}
	}
}

// take does chunks of worker w, then of the others, until none is left to take.
func (c *Crew[T]) take(w int) (some bool) {
	for k := range c.hands {
		h := &c.hands[(w+k)%len(c.hands)]
		for {
			at := h.next.Load()
			if at>>32 >= at&0xffffffff {
				break
			}
			at = h.next.Add(1<<32) - 1<<32
			chunk := at >> 32
			if chunk >= at&0xffffffff {
				break // another was quicker
			}
			c.run(c.on, int(chunk))
			c.left.Add(-1)
			some = true
		}
	}
	return some
}

// help is a helper's life: from the first kernel until none has come for a while.
func (c *Crew[T]) help(w int) {
	for since, idle := time.Now(), 0; ; idle++ {
		switch {
		case c.take(w):
			since, idle = time.Now(), 0
		case idle&0xff == 0xff && time.Since(since) > linger:
			c.hands[w].here.Store(false)
			return
		}
	}
}

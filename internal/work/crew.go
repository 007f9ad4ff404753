package work

import (
	"sync/atomic"
	"time"
)

// Crew shares the chunks of short kernels, one kernel after the other, between the
// calling goroutine and helpers. It is for kernels of 10 µs and more that follow each
// other closely: helpers wait awake for the next one, and go home when none
// comes for lingerS.
//
// Each worker has a contiguous range of the chunks, the same for the same number
// of chunks, so that it meets its data again: lines that another core has written last
// cost ten times as much as its own. So nobody takes a chunk from another who is
// at work. The caller does what a helper has not begun in time, or makes no headway with;
// where that happens again and again, because the machine has other things to do, it
// works alone for a while. Which worker did a chunk is not to matter to the result. Do
// allocates nothing when run is not a closure.
//
// Not safe for concurrent use. A Crew must not be copied once used.
type Crew[T any] struct {
	hands []hand
	start []func() // of helper w-1
	run   func(on T, chunk int)
	on    T
	left  atomic.Int64 // chunks not yet done
	late  int          // times that helpers were of no help, lately
	alone int          // kernels to do without them
}

// hand is one worker's range of chunks: the next to do in the upper half of next,
// the end in the lower. Taking one by an atomic addition also makes run and on, which
// were written before the range was, visible to the taker.
type hand struct {
	next atomic.Int64
	here atomic.Bool // a goroutine waits for kernels
	_    [112]byte   // no two hands in one cache line, nor in a pair of them
}

const (
	// linger is how long a helper waits awake for the next kernel.
	linger = 100 * time.Microsecond
	// patience is how long a helper may be without a new chunk before the caller takes his.
	patience = 200 * time.Microsecond
	// prompt is how soon a helper that is awake begins.
	prompt = 30 * time.Microsecond
	// latest is how long a helper with the last chunk is waited for awake.
	latest = 400 * time.Microsecond
	// forgiven times in a row helpers may be late; after n times more they are left
	// out of 2ⁿ⁺⁴ kernels, n at most longestOut.
	forgiven, longestOut = 3, 8
)

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
	if n == 1 || chunks <= 1 || c.alone > 0 {
		c.alone = max(0, c.alone-1)
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
	woken := false
	for w, start := range c.start {
		if h := &c.hands[w+1]; !h.here.Load() {
			h.here.Store(true) // only this goroutine sets it
			woken = true
			go start()
		}
	}
	begun := time.Now()
	for c.one(&c.hands[0]) {
	}
	switch late := c.left.Load() > 0 && c.wait(chunks, begun); {
	case late && !woken: // who has just been woken may be late
		if c.late++; c.late > forgiven {
			c.alone = 1 << min(c.late-forgiven+4, longestOut+4)
		}
	case !late && c.late > 0:
		c.late--
	}
}

// one does the next chunk of a hand, if there is one.
func (c *Crew[T]) one(h *hand) bool {
	if at := h.next.Load(); at>>32 >= at&0xffffffff {
		return false
	}
	at := h.next.Add(1<<32) - 1<<32
	chunk := at >> 32
	if chunk >= at&0xffffffff {
		return false // another was quicker
	}
	c.run(c.on, int(chunk))
	c.left.Add(-1)
	return true
}

// wait waits for the helpers after the caller has done its own, does what they have
// not begun, or make no headway with, and tells whether they were late.
func (c *Crew[T]) wait(chunks int, begun time.Time) (late bool) {
	n := len(c.hands)
	enough := time.Since(begun) > prompt
	for w := 1; w < n; w++ {
		h := &c.hands[w]
		if h.next.Load()>>32 > int64(w*chunks/n) {
			continue
		}
		for c.one(h) { // not begun
			late = enough
		}
	}
	var since time.Time
	seen := int64(-1)
	for looks := 1; c.left.Load() > 0; looks++ {
		if looks&0x3f != 0 {
			continue // time costs more than a look
		}
		left, now := c.left.Load(), time.Now()
		if left != seen {
			seen, since = left, now
			continue
		}
		waited := now.Sub(since)
		if waited > patience {
			for w := 1; w < n; w++ {
				if c.one(&c.hands[w]) {
					break
				}
			}
		}
		if waited > latest {
			late = true
			time.Sleep(prompt) // who holds a chunk may be waiting for this processor
		}
	}
	return late
}

// help is a helper's life: from the first kernel until none has come for a while.
func (c *Crew[T]) help(w int) {
	for since, idle := time.Now(), 0; ; idle++ {
		if c.one(&c.hands[w]) {
			since, idle = time.Now(), 0
		} else if idle&0xff == 0xff && time.Since(since) > linger {
			c.hands[w].here.Store(false)
			return
		}
	}
}

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
// of chunks, so that it meets its data again: lines that another core has written last
// cost ten times as much as its own. So nobody takes a chunk from another who is
// at work; only when one makes no headway for a while (the machine keeps it busy
// elsewhere) do others take what it has not begun. Which worker did a chunk is not to
// matter to the result. Do allocates nothing when run is not a closure.
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

const (
	// linger is how long a helper waits awake for the next kernel.
	linger = 100 * time.Microsecond
	// patience is how long a worker may be without a new chunk before others take his.
	patience = 40 * time.Microsecond
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
	c.own(0)
	var see watch
	for c.left.Load() > 0 {
		c.relieve(0, &see)
	}
}

// own does the chunks of worker w and tells whether there were any left.
func (c *Crew[T]) own(w int) (some bool) {
	for c.one(&c.hands[w]) {
		some = true
	}
	return some
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

// watch is what one who waits has seen of the others.
type watch struct {
	w, looks int
	at       int64
	since    time.Time
}

// relieve watches the workers other than w, one after the other, and takes a chunk from
// one who has made no headway for as long as patience.
func (c *Crew[T]) relieve(w int, see *watch) {
	if see.looks++; see.looks&0x3f != 0 {
		return // time costs more than a look at left
	}
	now := time.Now()
	for range c.hands {
		h := &c.hands[see.w]
		at := h.next.Load()
		if see.w == w || at>>32 >= at&0xffffffff {
			see.w, see.at = (see.w+1)%len(c.hands), -1
			continue
		}
		if at != see.at {
			see.at, see.since = at, now
		} else if now.Sub(see.since) > patience {
			c.one(h)
		}
		return
	}
	runtime.Gosched() // all chunks are taken: who holds one may be waiting for this processor
}

// help is a helper's life: from the first kernel until none has come for a while.
func (c *Crew[T]) help(w int) {
	var see watch
	for since, idle := time.Now(), 0; ; idle++ {
		switch {
		case c.own(w):
			since, idle = time.Now(), 0
		case c.left.Load() > 0:
			c.relieve(w, &see)
			since, idle = time.Now(), 0
		case idle&0xff == 0xff && time.Since(since) > linger:
			c.hands[w].here.Store(false)
			return
		}
	}
}

package work

import (
	"sync/atomic"
	"testing"
	"time"
)

type tally struct {
	ran  []atomic.Int32
	mark int32
	seen []int32 // what mark was when the chunk ran
}

func mark(t *tally, chunk int) {
	t.ran[chunk].Add(1)
	t.seen[chunk] = t.mark
}

// Every chunk runs once in every kernel, with the argument of that kernel, however
// many workers there are and however far apart the kernels follow each other.
func TestCrewDoesEachChunkOnce(t *testing.T) {
	for _, workers := range []int{-1, 1, 2, 3, 8} {
		c := NewCrew[*tally](workers)
		if got := c.Workers(); got != max(1, workers) {
			t.Fatalf("%d workers of %d", got, workers)
		}
		for kernel := int32(1); kernel <= 3000; kernel++ {
			n := int(kernel) % 17
			arg := &tally{ran: make([]atomic.Int32, n), mark: kernel, seen: make([]int32, n)}
			c.Do(n, arg, mark)
			for i := range arg.ran {
				if got := arg.ran[i].Load(); got != 1 || arg.seen[i] != kernel {
					t.Fatalf("%d workers, kernel %d: chunk %d ran %d times, with the argument of kernel %d", workers, kernel, i, got, arg.seen[i])
				}
			}
			if kernel%1000 == 0 {
				time.Sleep(3 * linger) // helpers go home
			}
		}
	}
}

func TestCrewAllocatesNothing(t *testing.T) {
	c := NewCrew[*tally](2)
	arg := &tally{ran: make([]atomic.Int32, 8), seen: make([]int32, 8)}
	c.Do(8, arg, mark)
	if got := testing.AllocsPerRun(100, func() { c.Do(8, arg, mark) }); got >= 1 {
		t.Errorf("a kernel takes %g allocations", got)
	}
}

// Helpers that nothing comes for go home.
func TestCrewHelpersLeave(t *testing.T) {
	c := NewCrew[*tally](3)
	arg := &tally{ran: make([]atomic.Int32, 8), seen: make([]int32, 8)}
	c.Do(8, arg, mark)
	for until := time.Now().Add(10 * time.Second); c.hands[1].here.Load() || c.hands[2].here.Load(); {
		if time.Now().After(until) {
			t.Fatal("helpers still wait after ten seconds")
		}
		time.Sleep(linger)
	}
	c.Do(8, arg, mark)
	for i := range arg.ran {
		if got := arg.ran[i].Load(); got != 2 {
			t.Errorf("chunk %d ran %d times", i, got)
		}
	}
}

func BenchmarkCrew(b *testing.B) {
	c := NewCrew[*tally](2)
	arg := &tally{ran: make([]atomic.Int32, 16), seen: make([]int32, 16)}
	for b.Loop() {
		c.Do(16, arg, mark)
	}
}

package work

import (
	"context"
	"errors"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"
)

func TestAllJobsRunOnce(t *testing.T) {
	for _, workers := range []int{-1, 0, 1, 2, 7, 100} {
		for _, n := range []int{0, 1, 2, 50} {
			ran := make([]atomic.Int32, n)
			jobs := make([]func(), n)
			for i := range jobs {
				jobs[i] = func() { ran[i].Add(1) }
			}
			if err := InParallel(context.Background(), workers, jobs); err != nil {
				t.Errorf("%d jobs on %d workers: %v", n, workers, err)
			}
			for i := range ran {
				if got := ran[i].Load(); got != 1 {
					t.Errorf("%d jobs on %d workers: job %d ran %d times", n, workers, i, got)
				}
			}
		}
	}
}

func TestNoMoreAtATimeThanWorkers(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var now, most atomic.Int32
		jobs := make([]func(), 12)
		for i := range jobs {
			jobs[i] = func() {
				n := now.Add(1)
				for m := most.Load(); n > m && !most.CompareAndSwap(m, n); m = most.Load() {
				}
				time.Sleep(time.Second) // of the bubble's clock
				now.Add(-1)
			}
		}
		start := time.Now()
		if err := InParallel(context.Background(), 3, jobs); err != nil {
			t.Fatal(err)
		}
		if most.Load() != 3 {
			t.Errorf("%d jobs at a time on 3 workers", most.Load())
		}
		if took := time.Since(start); took != 4*time.Second {
			t.Errorf("12 jobs of 1 s on 3 workers took %v", took)
		}
	})
}

// After the end of the context those that run are waited for, and no other one is started.
func TestCancel(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithCancel(context.Background())
		defer cancel()
		var started, ended atomic.Int32
		jobs := make([]func(), 40)
		for i := range jobs {
			jobs[i] = func() {
				started.Add(1)
				time.Sleep(10 * time.Second)
				ended.Add(1)
			}
		}
		go func() {
			time.Sleep(15 * time.Second)
			cancel()
		}()
		if err := InParallel(ctx, 2, jobs); !errors.Is(err, context.Canceled) {
			t.Errorf("error %v", err)
		}
		if started.Load() != 4 || ended.Load() != 4 {
			t.Errorf("%d started, %d ended; 4 were under way when the context ended", started.Load(), ended.Load())
		}
	})
}

func TestAlreadyCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	ran := false
	if err := InParallel(ctx, 2, []func(){func() { ran = true }}); !errors.Is(err, context.Canceled) || ran {
		t.Errorf("error %v, ran %v", err, ran)
	}
}

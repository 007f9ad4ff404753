package benchtest

import "sync"

// counter adds up weights from several goroutines and tells them.
func counter(tell func(done, expected int), expected int) func(weight int) {
	var mu sync.Mutex
	done := 0
	return func(weight int) {
		mu.Lock()
		defer mu.Unlock()
		done += weight
		tell(done, max(done, expected))
	}
}

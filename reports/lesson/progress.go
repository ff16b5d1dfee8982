package lesson

import "sync"

// teller returns a function to call for each finished part of the work.
func teller(progress func(share float64), parts int) func() {
	var mutex sync.Mutex
	done := 0
	return func() {
		mutex.Lock()
		defer mutex.Unlock()
		done++
		if progress != nil {
			progress(float64(done) / float64(parts))
		}
	}
}

package change

import (
	"runtime"
	"sync"
)

// fewAtOnce is how many tasks one worker takes: with fewer it would cost more to share them than to do them.
const fewAtOnce = 64

// each does n tasks that do not depend on each other, shared among the processors. Each writes only what is its own, so that
// what comes out is the same on any number of them.
func each(n int, do func(i int)) {
	workers := min(runtime.GOMAXPROCS(0), n/fewAtOnce)
	if workers < 2 {
		for i := range n {
			do(i)
		}
		return
	}
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() {
			for i := n * w / workers; i < n*(w+1)/workers; i++ {
				do(i)
			}
		})
	}
	wg.Wait()
}

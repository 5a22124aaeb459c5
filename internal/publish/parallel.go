package publish

import (
	"context"
	"sync"

	"phototrack/internal/collection"
)

// inParallel does n tasks, as many at once as there are processors, and returns when all are done. Tasks that had not
// begun when the context ended are left out.
func inParallel(ctx context.Context, n int, do func(i int)) {
	var wg sync.WaitGroup
	slots := make(chan struct{}, collection.DefaultWorkers())
	for i := range n {
		wg.Add(1)
		slots <- struct{}{}
		go func() {
			defer func() { <-slots; wg.Done() }()
			if ctx.Err() == nil {
				do(i)
			}
		}()
	}
	wg.Wait()
}

package learn

import (
	"context"
	"errors"
	"sync"
)

// each runs do(0..n-1) on some workers; done is told the count, in any order.
func each(ctx context.Context, n, workers int, do func(int) error, done func(int)) error {
	errs := make([]error, n)
	var mu sync.Mutex
	next, ended := 0, 0
	var wg sync.WaitGroup
	for range max(1, min(workers, n)) {
		wg.Go(func() {
			for {
				mu.Lock()
				i := next
				next++
				mu.Unlock()
				if i >= n || ctx.Err() != nil {
					return
				}
				errs[i] = do(i)
				mu.Lock()
				ended++
				done(ended)
				mu.Unlock()
			}
		})
	}
	wg.Wait()
	if err := ctx.Err(); err != nil {
		return err
	}
	return errors.Join(errs...)
}

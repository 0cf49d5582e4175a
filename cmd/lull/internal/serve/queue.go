package serve

import (
	"context"
	"sync"
)

// queue lets one through at a time, first come, first served: a measurement uses every
// processor, so two at once would only slow each other.
type queue struct {
	mu      sync.Mutex
	waiting []*ticket // the first of them has its turn
}

// ticket is a place in the queue.
type ticket struct {
	moved chan struct{} // has a value when the place changed
	place int           // 0: its turn
}

// enter waits for its turn. Meanwhile it calls place with the number of those before it
// whenever that changes. leave ends the turn.
func (q *queue) enter(ctx context.Context, place func(before int)) (leave func(), err error) {
	t := &ticket{moved: make(chan struct{}, 1)}
	q.mu.Lock()
	t.place = len(q.waiting)
	q.waiting = append(q.waiting, t)
	now := t.place
	q.mu.Unlock()
	for told := 0; now > 0; {
		if now != told { // several changes may be seen as one
			place(now)
			told = now
		}
		select {
		case <-ctx.Done():
			q.leave(t)
			return nil, ctx.Err()
		case <-t.moved:
		}
		q.mu.Lock()
		now = t.place
		q.mu.Unlock()
	}
	return func() { q.leave(t) }, nil
}

func (q *queue) leave(t *ticket) {
	q.mu.Lock()
	defer q.mu.Unlock()
	for i, other := range q.waiting {
		if other != t {
			continue
		}
		q.waiting = append(q.waiting[:i], q.waiting[i+1:]...)
		for k, behind := range q.waiting[i:] {
			behind.place = i + k
			select {
			case behind.moved <- struct{}{}:
			default:
			}
		}
		return
	}
}

package live

import (
	"context"
	"errors"
	"io"
	"slices"
	"sync"
	"time"

	"lull/decode"
)

// What an Event tells.
const (
	Waiting   EventKind = iota // nothing to read from yet; Err says why
	Connected                  // frames can come
	Lost                       // the source went away; it is waited for
	Ended                      // the played log is over
	Failed                     // the source cannot be read at all
	Dropped                    // the system dropped frames before they could be read
)

// EventKind is what an Event tells.
type EventKind uint8

// Event is what happened to a source.
type Event struct {
	Kind   EventKind
	Source string
	Err    error // Waiting, Lost, Failed: why
	// Dropped: how many frames were lost, and in all since the source was opened.
	Count, Total int64
}

// Lot is what came since the last one. It holds until the next Next.
type Lot struct {
	Events []Event
	Frames []decode.Frame
}

// conn is one open source.
type conn interface {
	// read waits for frames, fills in at least one unless it fails or waited for a
	// while, and tells how many the system dropped. An error comes behind the
	// frames.
	read(frames []decode.Frame) (n int, dropped uint32, err error)
	close() error
}

// dial opens a source.
type dial func(context.Context) (conn, error)

// Receiver gathers the frames of several sources. Frames of one source keep their
// order; frames of several that come together are put in the order of their times.
// It is for one goroutine.
type Receiver struct {
	stop    context.CancelFunc
	readers sync.WaitGroup
	several bool
	again   time.Duration // between two tries to open a source

	mutex   sync.Mutex
	room    *sync.Cond // pending became shorter
	filled  chan struct{}
	pending Lot
	spare   Lot
	active  int
	closed  bool
}

const (
	// mostPending is how many frames are held for a consumer that is late: a second of
	// two full buses. More wait with the sender, or in the kernel, which counts what it
	// then drops. As many again may be with the consumer, and Ctrl-C waits for both.
	mostPending = 1 << 14
	// readAtOnce is how many frames are taken from a source at a time.
	readAtOnce = 256
)

// Listen reads from all sources until the context ends, each waited for where it
// is not there, until Close. Names that no waiting helps come as Failed.
func Listen(ctx context.Context, sources []Address) *Receiver {
	dials := make(map[string]dial, len(sources))
	for _, a := range sources {
		dials[a.String()] = dialOf(a)
	}
	return listen(ctx, dials, 500*time.Millisecond)
}

func listen(ctx context.Context, dials map[string]dial, again time.Duration) *Receiver {
	ctx, stop := context.WithCancel(ctx)
	r := &Receiver{stop: stop, several: len(dials) > 1, again: again, filled: make(chan struct{}, 1), active: len(dials)}
	r.room = sync.NewCond(&r.mutex)
	context.AfterFunc(ctx, func() {
		r.mutex.Lock()
		defer r.mutex.Unlock()
		r.closed = true
		r.room.Broadcast()
	})
	for name, open := range dials {
		r.readers.Go(func() { r.follow(ctx, name, open) })
	}
	return r
}

// Close ends reading and waits until every source is closed. What Next has not
// given yet it still gives.
func (r *Receiver) Close() {
	r.stop()
	r.readers.Wait()
}

// Next returns what has come, or waits for it at most that long. It is false where
// all sources have ended or failed, or the Receiver is closed, and nothing is left.
func (r *Receiver) Next(wait time.Duration) (Lot, bool) {
	timer := time.NewTimer(wait)
	defer timer.Stop()
	for waited := false; ; {
		r.mutex.Lock()
		ready := len(r.pending.Frames)+len(r.pending.Events) > 0
		over := !ready && (r.active == 0 || r.closed)
		if ready || waited || over {
			lot := r.pending
			r.pending = Lot{r.spare.Events[:0], r.spare.Frames[:0]}
			r.spare = lot
			r.room.Broadcast()
			r.mutex.Unlock()
			if r.several {
				slices.SortStableFunc(lot.Frames, func(a, b decode.Frame) int {
					return int(min(1, max(-1, a.Time-b.Time)))
				})
			}
			return lot, !over
		}
		r.mutex.Unlock()
		select {
		case <-r.filled:
		case <-timer.C:
			waited = true
		}
	}
}

// follow opens a source and reads it, again and again.
func (r *Receiver) follow(ctx context.Context, name string, open dial) {
	told := false  // that it is waited for
	known := false // it was there once, so its name is right
	for {
		c, err := open(ctx)
		var e *Error
		switch {
		case ctx.Err() != nil:
			if c != nil {
				c.close()
			}
			r.finish(nil)
			return
		case errors.As(err, &e) && e.Lasting && !known:
			r.finish(&Event{Kind: Failed, Source: name, Err: err})
			return
		case err != nil:
			if !told {
				r.put(nil, Event{Kind: Waiting, Source: name, Err: err})
			}
			told = true
		default:
			known = true
			r.put(nil, Event{Kind: Connected, Source: name})
			err = r.drain(ctx, name, c)
			c.close()
			switch {
			case errors.Is(err, errEnded):
				r.finish(&Event{Kind: Ended, Source: name})
				return
			case errors.Is(err, errNoStream):
				r.finish(&Event{Kind: Failed, Source: name, Err: &Error{Source: name, Why: err.Error(), Hint: "lull replay plays a log", Err: err, Lasting: true}})
				return
			case ctx.Err() != nil:
				r.finish(nil)
				return
			}
			if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
				err = errors.New("the connection broke off")
			}
			r.put(nil, Event{Kind: Lost, Source: name, Err: err})
			told = true
		}
		select {
		case <-ctx.Done():
		case <-time.After(r.again):
		}
	}
}

// drain reads an open source until it fails or the context ends.
func (r *Receiver) drain(ctx context.Context, name string, c conn) error {
	// A read that waits ends when its source is closed.
	defer context.AfterFunc(ctx, func() { c.close() })()
	frames := make([]decode.Frame, readAtOnce)
	total := int64(0)
	for ctx.Err() == nil {
		n, dropped, err := c.read(frames)
		var events []Event
		if dropped > 0 {
			total += int64(dropped)
			events = append(events, Event{Kind: Dropped, Source: name, Count: int64(dropped), Total: total})
		}
		r.put(frames[:n], events...)
		if err != nil {
			return err
		}
	}
	return ctx.Err()
}

// put hands over what came; it waits where too much is pending already.
func (r *Receiver) put(frames []decode.Frame, events ...Event) {
	if len(frames)+len(events) == 0 {
		return
	}
	r.mutex.Lock()
	for len(r.pending.Frames) > mostPending && !r.closed {
		r.room.Wait()
	}
	r.pending.Frames = append(r.pending.Frames, frames...)
	r.pending.Events = append(r.pending.Events, events...)
	r.mutex.Unlock()
	r.wake()
}

// finish ends a source, with its last event.
func (r *Receiver) finish(last *Event) {
	r.mutex.Lock()
	r.active--
	if last != nil {
		r.pending.Events = append(r.pending.Events, *last)
	}
	r.mutex.Unlock()
	r.wake()
}

func (r *Receiver) wake() {
	select {
	case r.filled <- struct{}{}:
	default:
	}
}

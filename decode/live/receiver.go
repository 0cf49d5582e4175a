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

// Kinds of events.
const (
	Waiting   EventKind = iota // there is nothing to read from yet; Err says why
	Connected                  // the source is open
	Lost                       // the source has disappeared and is waited for; Err says why
	Ended                      // the played log has ended
	Failed                     // the source cannot be read at all; Err says why
	Dropped                    // the system dropped frames before they could be read
)

// EventKind is the kind of an Event.
type EventKind uint8

// Event is something that happened to a source.
type Event struct {
	Kind   EventKind
	Source string
	Err    error // for Waiting, Lost and Failed
	// Count is how many frames were dropped, and Total how many since the source was
	// opened. They are set for Dropped.
	Count, Total int64
}

// Lot is what has arrived since the previous Lot. It is valid until the next call of Next.
type Lot struct {
	Events []Event
	Frames []decode.Frame
}

// conn is one open source.
type conn interface {
	// read waits for frames and reads at least one, unless it fails or has waited for a
	// while. It also returns how many frames the system dropped. An error follows the n
	// frames.
	read(frames []decode.Frame) (n int, dropped uint32, err error)
	close() error
}

// dial opens a source.
type dial func(context.Context) (conn, error)

// Receiver receives frames from several sources. Frames of one source keep their order;
// frames of several sources that arrive together are sorted by time. A Receiver is for use
// by one goroutine.
type Receiver struct {
	stop    context.CancelFunc
	readers sync.WaitGroup
	several bool
	again   time.Duration // between two attempts to open a source

	mutex   sync.Mutex
	room    *sync.Cond // signals that pending has been taken or the Receiver closed
	filled  chan struct{}
	pending Lot
	spare   Lot
	active  int
	closed  bool
}

const (
	// mostPending is how many frames are kept for a slow consumer: a second of two full
	// buses. Further ones wait at the sender, or in the kernel, which counts those that
	// it drops. The consumer may have as many again, and Ctrl-C waits for both.
	mostPending = 1 << 14
	// readAtOnce is how many frames are read from a source at a time.
	readAtOnce = 256
)

// Listen starts reading from all sources, until the context ends or Close is called. It
// waits for sources that do not exist yet. Sources for which waiting does not help are
// reported as Failed.
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

// Close ends reading and waits until every source is closed. Next still returns what has
// arrived before.
func (r *Receiver) Close() {
	r.stop()
	r.readers.Wait()
}

// Next returns what has arrived since the last call. If that is nothing, it waits at most
// the given time. It returns false if nothing is left and all sources have ended or failed,
// or the Receiver is closed.
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
	told := false  // an event has reported that the source is waited for
	known := false // the source has been there once, so its name is right
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
	// Closing the source ends a read that waits.
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

// put hands over frames and events. It waits if too many frames are already pending.
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

// finish ends a source with its last event, if any.
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

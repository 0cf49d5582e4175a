package transport

import "slices"

// MaxLosses is how many lost messages are kept with their places.
const MaxLosses = 10

// Loss is a message that was lost because some of its frames were.
type Loss struct {
	Stamp        // of its first frame, or of the first one that was seen
	Why   string // in words that call the message "it"
}

// losses counts lost messages and keeps the first ones, sorted by line.
type losses struct {
	count int64
	kept  []Loss
}

func (l *losses) add(at Stamp, why string) {
	l.count++
	if len(l.kept) == MaxLosses && at.Line >= l.kept[MaxLosses-1].Line {
		return
	}
	if l.kept == nil {
		l.kept = make([]Loss, 0, MaxLosses)
	}
	if len(l.kept) == MaxLosses {
		l.kept = l.kept[:MaxLosses-1]
	}
	// The loss of a message that began earlier may be noticed later.
	i := len(l.kept)
	for i > 0 && l.kept[i-1].Line > at.Line {
		i--
	}
	l.kept = slices.Insert(l.kept, i, Loss{at, why})
}

// Losses returns how many messages were lost so far, including those still unfinished, and
// the first MaxLosses of them, sorted by line.
func (r *Reassembler) Losses() (count int64, first []Loss) {
	all := losses{count: r.losses.count, kept: append(make([]Loss, 0, MaxLosses), r.losses.kept...)}
	for _, s := range r.senders {
		if s.phase == open {
			all.add(s.begun, "the log ends before it is complete")
		}
	}
	return all.count, all.kept
}

package transport

import "slices"

// MaxLosses is how many lost messages are kept with their place.
const MaxLosses = 10

// Loss is a message of which not all frames were there.
type Loss struct {
	Stamp        // of its first frame, or of the first one that was there
	Why   string // in words, of "it"
}

// losses counts lost messages and keeps the first ones by line.
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
	// A message that began earlier may be found lost later.
	i := len(l.kept)
	for i > 0 && l.kept[i-1].Line > at.Line {
		i--
	}
	l.kept = slices.Insert(l.kept, i, Loss{at, why})
}

// Losses returns how many messages were lost up to now, those that are still
// unfinished included, and the first ten by line.
func (r *Reassembler) Losses() (count int64, first []Loss) {
	all := losses{count: r.losses.count, kept: append(make([]Loss, 0, MaxLosses), r.losses.kept...)}
	for _, s := range r.senders {
		if s.phase == open {
			all.add(s.begun, "the log ends before it is whole")
		}
	}
	return all.count, all.kept
}

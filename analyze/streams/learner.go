package streams

import "slices"

// learner takes the median of the first gaps.
type learner struct {
	last int64
	seen bool
	done bool
	gaps []int64
}

// step takes a frame's time and reports whether the gaps just became enough. A
// time that runs back is as if the frame had come with the one before.
func (l *learner) step(now int64) bool {
	if !l.seen {
		l.seen, l.last = true, now
		return false
	}
	away := max(now-l.last, 0)
	l.last += away
	if l.done {
		return false
	}
	if l.gaps == nil {
		l.gaps = make([]int64, 0, learnGaps)
	}
	l.gaps = append(l.gaps, away)
	l.done = len(l.gaps) == learnGaps
	return l.done
}

// median of the gaps, which it sorts and lets go.
func (l *learner) median() int64 {
	slices.Sort(l.gaps)
	a, b := l.gaps[learnGaps/2-1], l.gaps[learnGaps/2]
	l.gaps = nil
	return a + (b-a)/2
}

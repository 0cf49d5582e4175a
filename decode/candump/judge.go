package candump

import "lull/decode"

// judge decides what the stamp of the frame in r.frame means. It reports whether the frame
// is to be returned now; otherwise the frame was held back or rejected.
func (r *Reader) judge(s stamp) bool {
	kind := r.meaning(s.kind)
	if r.settled == decode.StampsUnknown {
		switch {
		case s.kind == stampNone && r.small != 0:
			r.reject(r.frame.Line, 1, stampMissing)
			return false
		case s.kind == stampNone:
			return r.hold(s)
		case r.small != 0:
			return r.hold(s)
		case kind == decode.StampsUnknown:
			r.rejectHeld()
			r.small, r.digits = r.frame.Line, s.digits
			return r.hold(s)
		}
		r.rejectHeld()
		r.settled, r.digits = kind, s.digits
	}
	if why := r.fits(s, kind); why != accepted {
		r.reject(r.frame.Line, 1, why)
		return false
	}
	if r.settled == decode.StampsDelta {
		if !r.tick(s.ns) {
			r.reject(r.frame.Line, 1, timeTooLarge)
			return false
		}
		r.frame.Time = r.clock
	}
	if s.kind == stampSmall && r.small == 0 {
		r.small = r.frame.Line
	}
	r.accept(&r.frame, s)
	return true
}

// meaning returns what a stamp of this kind means, or StampsUnknown if it takes more stamps
// to tell.
func (r *Reader) meaning(k stampKind) decode.Stamps {
	switch {
	case k == stampNone:
		return decode.StampsNone
	case k == stampDate:
		return decode.StampsDate
	case r.forced != decode.StampsUnknown:
		return r.forced
	case k == stampAbsolute:
		return decode.StampsAbsolute
	}
	return decode.StampsUnknown
}

// fits returns accepted if a stamp is of the log's settled kind, else the reason why not.
func (r *Reader) fits(s stamp, kind decode.Stamps) reason {
	switch {
	case r.settled == decode.StampsNone && s.kind != stampNone:
		return stampUnexpected
	case r.settled == decode.StampsNone:
		return accepted
	case s.kind == stampNone:
		return stampMissing
	case kind == decode.StampsDelta && s.kind == stampAbsolute:
		return stampNoDelta
	case kind == r.settled:
		return accepted
	case kind == decode.StampsUnknown && (r.settled == decode.StampsZero || r.settled == decode.StampsDelta):
		return accepted
	}
	return stampOtherKind
}

// tick advances the clock of a delta log. It returns false if that would overflow.
func (r *Reader) tick(ns int64) bool {
	if r.clock+ns < 0 {
		return false
	}
	r.clock += ns
	return true
}

// passTime advances the time of a delta log by the stamp of a rejected line.
func (r *Reader) passTime(s stamp) {
	if s.kind != stampSmall {
		return
	}
	switch {
	case r.settled == decode.StampsDelta:
		r.tick(s.ns)
	case r.settled == decode.StampsUnknown && r.pending+s.ns >= 0:
		r.pending += s.ns
	}
}

// hold holds the frame back until there are enough to judge. If the first stamp is small
// and later ones are not, the first one was damaged; the log is settled as soon as the
// others outnumber the small ones.
func (r *Reader) hold(s stamp) bool {
	if s.kind == stampSmall {
		if s.ns < r.last {
			r.fewer++
		}
		r.last = s.ns
	}
	r.held = append(r.held, heldFrame{frame: r.frame, stamp: s, before: r.pending})
	r.kinds[s.kind]++
	r.pending = 0
	switch small := r.kinds[stampSmall]; {
	case r.small == 0:
	case r.kinds[stampAbsolute] > small:
		r.settleAs(stampAbsolute, decode.StampsAbsolute)
		return false
	case r.kinds[stampDate] > small:
		r.settleAs(stampDate, decode.StampsDate)
		return false
	}
	if len(r.held) == lookahead {
		r.settle()
	}
	return false
}

// rejectHeld rejects the frames without a stamp that came before the first stamp.
func (r *Reader) rejectHeld() {
	for i := range r.held {
		r.reject(r.held[i].frame.Line, 1, stampMissing)
	}
	r.held, r.kinds[stampNone] = r.held[:0], 0
}

// settle decides what the log's stamps mean by the frames held back.
func (r *Reader) settle() {
	switch {
	case len(r.held) == 0:
	case r.small == 0:
		r.settleAs(stampNone, decode.StampsNone)
	case r.fewer*10 > r.kinds[stampSmall]:
		r.settleAs(stampSmall, decode.StampsDelta)
	default:
		r.settleAs(stampSmall, decode.StampsZero)
	}
}

// settleAs accepts the frames held back whose stamps are of the given kind and rejects the
// others.
func (r *Reader) settleAs(kind stampKind, settled decode.Stamps) {
	r.settled = settled
	if kind != stampSmall {
		r.small = 0
	}
	kept := r.held[:0]
	for i := range r.held {
		h := &r.held[i]
		if settled == decode.StampsDelta {
			r.tick(h.before)
		}
		if h.stamp.kind != kind {
			r.reject(h.frame.Line, 1, stampOtherKind)
			continue
		}
		if settled == decode.StampsDelta {
			if !r.tick(h.stamp.ns) {
				r.reject(h.frame.Line, 1, timeTooLarge)
				continue
			}
			h.frame.Time = r.clock
		}
		r.accept(&h.frame, h.stamp)
		kept = append(kept, *h)
	}
	r.held = kept
	if settled == decode.StampsDelta {
		r.tick(r.pending)
	}
}

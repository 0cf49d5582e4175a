package census

import "lull/decode"

// pair is a byte and the next one as one number, in one order.
type pair struct {
	// carries are how often the upper byte went by one as the lower came round, against
	// how often the lower did not.
	carries, contradicts int64
	seen                 bool
	least, most          uint16
}

// The two orders of a pair.
const (
	little = iota // the first byte is the lower one
	big
)

func pairOf(order int, first, second uint8) (value uint16, upper, lower uint8) {
	if order == big {
		return uint16(first)<<8 | uint16(second), first, second
	}
	return uint16(second)<<8 | uint16(first), second, first
}

// see takes a value.
func (p *pair) see(v uint16) {
	if !p.seen {
		p.seen, p.least, p.most = true, v, v
	}
	p.least, p.most = min(p.least, v), max(p.most, v)
}

// step takes how two bytes changed, from one frame to the next.
func (p *pair) step(upper, lower, lastUpper, lastLower uint8) {
	up, down := upper-lastUpper == 1, lastUpper-upper == 1
	if !up && !down {
		return // a number that goes fast tells nothing
	}
	round := int(lastLower) - int(lower)
	if down {
		round = -round
	}
	if round > 128 {
		p.carries++
	} else {
		p.contradicts++
	}
}

// join adds what another log has.
func (p *pair) join(o *pair) {
	p.carries += o.carries
	p.contradicts += o.contradicts
	if o.seen {
		p.see(o.least)
		p.see(o.most)
	}
}

// leastCarries is how many carries show that two bytes are one number, and as many times
// the contradictions. Of bytes that have nothing to do with each other one step in eight
// looks like a carry.
const leastCarries = 4

// number reports whether two bytes are plainly one number, by what both sides show.
func number(x, y *pair) bool {
	return x.carries+y.carries >= leastCarries && x.carries >= leastCarries*x.contradicts && y.carries >= leastCarries*y.contradicts
}

// numbers tells the numbers of two bytes that differ, and returns which bytes they are in.
func (d *Differences) numbers(one Difference, x, y *side) (taken [decode.MaxPayload]bool) {
	for at := range min(len(x.bytes), len(y.bytes)) - 1 {
		if taken[at] || !mayBeNumber(&x.bytes[at], &y.bytes[at]) || !mayBeNumber(&x.bytes[at+1], &y.bytes[at+1]) {
			continue
		}
		for order := range 2 {
			p, q := &x.bytes[at].next[order], &y.bytes[at].next[order]
			if !number(p, q) || !p.seen || !q.seen {
				continue
			}
			taken[at], taken[at+1] = true, true
			f := one
			f.Byte, f.Low, f.Bits, f.Big = at, 0, 16, order == big
			f.Of, f.Against = Range{p.least, p.most}, Range{q.least, q.most}
			if f.Of == f.Against {
				break
			}
			for i := range 2 {
				f.Changes[0], f.Changes[1] = max(f.Changes[0], x.bytes[at+i].Changes), max(f.Changes[1], y.bytes[at+i].Changes)
			}
			f.Kind = Ranged
			if p.least == p.most || q.least == q.most {
				f.Kind, f.rank, f.order = Toggled, rankTop, f.Changes[0]+f.Changes[1]
			} else {
				f.ranged()
			}
			d.List = append(d.List, f)
			break
		}
	}
	return taken
}

// mayBeNumber reports whether a byte can be part of a number on both sides. A restless one
// can: the lower byte of a fast number is.
func mayBeNumber(x, y *Byte) bool {
	plain := func(b *Byte) bool { return b.Count > 0 && len(b.Counters) == 0 && b.Check == NoCheck && !b.Pages }
	return plain(x) && plain(y)
}

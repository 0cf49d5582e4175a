package draft

import (
	"cmp"
	"slices"

	"lull/decode"
)

// mostPages is how many pages one frame may have.
const mostPages = 32

// pages returns the stream, or, where some bits of it select what the others mean, one
// stream for each of their values.
func (s *stream) pages() []*stream {
	if s.diagnostic() || len(s.w) < 40 {
		return []*stream{s}
	}
	start, n, ok := s.pageSelector()
	if !ok {
		return []*stream{s}
	}
	parts := map[int]*stream{}
	var list []*stream
	for i, w := range s.w {
		page := int(w >> start & (1<<n - 1))
		p := parts[page]
		if p == nil {
			p = &stream{bus: s.bus, id: s.id, extended: s.extended, from: s.from, size: s.size, page: page, pageStart: start + 8*s.from, pageBits: n}
			parts[page] = p
			list = append(list, p)
		}
		p.t, p.w = append(p.t, s.t[i]), append(p.w, w)
	}
	for _, p := range list {
		p.prepare()
	}
	return list
}

// pageField is a byte, or the lower or upper half of one, that may select the page.
type pageField struct {
	at, width int
	values    int     // how many it goes through
	left      float64 // what the rest changes by, see byPage
	counts    bool    // it goes up by one from frame to frame
}

func (x pageField) of(w uint64) uint64 { return w & x.mask() >> x.at }

func (x pageField) mask() uint64 { return (uint64(1)<<x.width - 1) << x.at }

// pageSelector looks for a byte, or the lower or upper half of one, that goes through few
// values in turn, and by which the other bits change far less than from frame to frame. What a
// page holds unchanged tells it too, and so does a counter in step with the pages: of those by
// which the rest changes about as little it is one that counts through them, with few values, at
// an end of the payload, a whole byte.
func (s *stream) pageSelector() (start, n int, ok bool) {
	var list []pageField
	all := uint64(0)
	for _, width := range []int{4, 8} {
		for at := 0; at+width <= 8*s.size; at += width {
			own := 0.0
			for b := at; b < at+width; b++ {
				own += s.flip[b]
			}
			if own < 0.5 {
				continue // it seldom changes
			}
			x := pageField{at: at, width: width}
			if left, values, found := s.byPage(x, x.mask()); found && left < 0.5 {
				x.values = values
				list = append(list, x)
				all |= x.mask()
			}
		}
	}
	if len(list) == 0 {
		return 0, 0, false
	}
	least := 1.0
	for i := range list {
		x := &list[i]
		x.left, _, _ = s.byPage(*x, all)
		x.counts = s.counts(*x)
		least = min(least, x.left)
	}
	list = slices.DeleteFunc(list, func(x pageField) bool { return x.left > 1.2*least+0.05 })
	inner := func(x pageField) int { return min(x.at/8, s.size-1-x.at/8) }
	best := slices.MinFunc(list, func(x, y pageField) int {
		return cmp.Or(compareBools(!x.counts, !y.counts), cmp.Compare(x.values, y.values), cmp.Compare(inner(x), inner(y)), cmp.Compare(y.width, x.width))
	})
	return best.at, best.width, true
}

// counts reports whether a field goes up by one from frame to frame, and from its greatest
// value to its least.
func (s *stream) counts(x pageField) bool {
	least, most := x.of(s.w[0]), x.of(s.w[0])
	for _, w := range s.w {
		least, most = min(least, x.of(w)), max(most, x.of(w))
	}
	if most-least != uint64(x.values)-1 {
		return false
	}
	up := 0
	for i := 1; i < len(s.w); i++ {
		if a, b := x.of(s.w[i-1]), x.of(s.w[i]); b == a+1 || a == most && b == least {
			up++
		}
	}
	return share(up, len(s.w)-1) > 0.9
}

// byPage returns how much the other bits, but for some that do not count, change from page
// to the same page, of what they change from frame to frame, and how many pages there are.
// It is false if the selector does not go through few values in turn, or if no more than one
// byte changes less: that is a checksum, which depends on a counter.
func (s *stream) byPage(x pageField, without uint64) (left float64, pages int, ok bool) {
	mask := x.mask()
	seen, follows := map[uint64]uint64{}, map[uint64]uint64{}
	steps, regular := 0, 0
	var flips, always [8]int // by byte: from page to the same page, from frame to frame
	for i, w := range s.w {
		page := w & mask
		if i > 0 {
			last := s.w[i-1]
			if follows[last&mask] == page {
				regular++
			}
			follows[last&mask] = page
			count(&always, (last^w)&^without)
		}
		if before, known := seen[page]; known {
			steps++
			count(&flips, (before^w)&^without)
		}
		seen[page] = w
		if len(seen) > mostPages {
			return 0, 0, false
		}
	}
	if len(seen) < 2 || steps < len(s.w)/2 || regular < 8*len(s.w)/10 {
		return 0, 0, false // noise, not the turn of one page after the other
	}
	calmer, all, same := 0, 0.0, 0.0
	for i := range flips {
		a, f := float64(always[i])/float64(len(s.w)-1), float64(flips[i])/float64(steps)
		all += a
		same += f
		if i != x.at/8 && a > 0.3 && f < 0.5*a { // its own byte may be the rest of a checksum
			calmer++
		}
	}
	return same / max(all, 1e-9), len(seen), calmer >= 2
}

// count adds the bits that are set to those of their bytes.
func count(n *[8]int, x uint64) {
	for i := range n {
		n[i] += ones(x >> (8 * i) & 0xFF)
	}
}

// selector is the field that selects the stream's page, and its value; nil if it has none.
func (s *stream) selector() (*decode.Signal, int64) {
	if s.page < 0 {
		return nil, 0
	}
	return &decode.Signal{Start: s.pageStart, Length: s.pageBits}, int64(s.page)
}

// selects reports whether a bit of the stream's words is one of those that select the page.
func (s *stream) selects(b int) bool {
	b += 8 * s.from
	return s.page >= 0 && b >= s.pageStart && b < s.pageStart+s.pageBits
}

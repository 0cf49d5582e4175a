package draft

import "lull/decode"

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

// pageSelector looks for a byte, or the lower or upper half of one, that goes through few
// values in turn, and by which the other bits change far less than from frame to frame.
func (s *stream) pageSelector() (start, n int, ok bool) {
	best := 0.5 // of the flips that must go
	for _, width := range []int{8, 4} {
		for at := 0; at+width <= 8*s.size; at += width {
			own := 0.0
			for b := at; b < at+width; b++ {
				own += s.flip[b]
			}
			if own < 0.5 {
				continue // it seldom changes
			}
			if left, found := s.byPage(at, width); found && left < best {
				best, start, n, ok = left, at, width, true
			}
		}
	}
	return start, n, ok
}

// byPage returns how much the other bits change from page to the same page, of what they
// change from frame to frame. It is false if the bits do not go through few values in turn,
// or if no more than one byte changes less: that is a checksum, which depends on a counter.
func (s *stream) byPage(at, width int) (left float64, ok bool) {
	mask := (uint64(1)<<width - 1) << at
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
			count(&always, (last^w)&^mask)
		}
		if before, known := seen[page]; known {
			steps++
			count(&flips, (before^w)&^mask)
		}
		seen[page] = w
		if len(seen) > mostPages {
			return 0, false
		}
	}
	if len(seen) < 2 || steps < len(s.w)/2 || regular < 8*len(s.w)/10 {
		return 0, false // noise, not the turn of one page after the other
	}
	calmer, all, same := 0, 0.0, 0.0
	for i := range flips {
		a, f := float64(always[i])/float64(len(s.w)-1), float64(flips[i])/float64(steps)
		all += a
		same += f
		if i != at/8 && a > 0.3 && f < 0.5*a { // its own byte may be the rest of a checksum
			calmer++
		}
	}
	return same / max(all, 1e-9), calmer >= 2
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

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
// values, and by which the other bits change far less than from frame to frame.
func (s *stream) pageSelector() (start, n int, ok bool) {
	total := 0.0
	for _, f := range s.flip {
		total += f
	}
	best := 0.5 // of the flips that must go
	for _, width := range []int{8, 4} {
		for at := 0; at+width <= 8*s.size; at += width {
			mask := (uint64(1)<<width - 1) << at
			own := 0.0
			for b := at; b < at+width; b++ {
				own += s.flip[b]
			}
			if own < 0.5 || total-own < 2 {
				continue // it seldom changes, or nothing else does
			}
			seen, follows := map[uint64]uint64{}, map[uint64]uint64{}
			flips, steps, regular := 0, 0, 0
			for i, w := range s.w {
				page := w & mask
				if i > 0 {
					last := s.w[i-1] & mask
					if follows[last] == page {
						regular++
					}
					follows[last] = page
				}
				if before, known := seen[page]; known {
					steps++
					flips += ones((before ^ w) &^ mask)
				}
				seen[page] = w
				if len(seen) > mostPages {
					break
				}
			}
			if len(seen) < 2 || len(seen) > mostPages || steps < len(s.w)/2 || regular < 8*len(s.w)/10 {
				continue // noise, not the turn of one page after the other
			}
			if left := float64(flips) / float64(steps) / (total - own); left < best {
				best, start, n, ok = left, at, width, true
			}
		}
	}
	return start, n, ok
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

package sigmap

import (
	"fmt"
	"strings"

	"lull/decode"
)

// references reads the selectors of a signal. It is called when all signals are known.
func (k *compiler) references(index int) {
	s, state := &k.m.Signals[index], &k.signals[index]
	if state.fields == nil {
		return
	}
	state.whenOK = true
	n := state.fields.get("when")
	if n == nil {
		return
	}
	if n.shape == broken {
		state.whenOK = false
		return
	}
	if n.shape != mapping || len(n.pairs) == 0 {
		k.at(n, ErrType, "when must be a mapping of a signal to its raw values", "such as {page: 2} or {page: [2, 3]}")
		state.whenOK = false
		return
	}
	for _, p := range n.pairs {
		selector, ok := k.selector(index, p.key)
		if !ok {
			state.whenOK = false
			continue
		}
		raws, ok := k.rawsOf(p.value, "when "+p.key.text, selector)
		if !ok {
			state.whenOK = false
			continue
		}
		s.When = append(s.When, decode.Selector{Signal: selector, Raws: raws})
	}
}

// selector returns the index of the signal that a key of `when` names.
func (k *compiler) selector(index int, key *node) (int, bool) {
	selector, ok := k.signalNamed(key, "when")
	if !ok {
		return 0, false
	}
	other := &k.m.Signals[selector]
	switch {
	case selector == index:
		k.at(key, ErrCycle, fmt.Sprintf("the signal %s selects itself", other.Name), "name the signal that tells which page the frame carries")
		return 0, false
	case other.Entry != k.m.Signals[index].Entry:
		k.at(key, ErrUnknownSignal, fmt.Sprintf("the signal %s is in another frame (line %d)", other.Name, other.Line), "a selector is a signal of the same frame")
		return 0, false
	case other.Float:
		k.at(key, ErrType, fmt.Sprintf("the signal %s is a float, which cannot be a selector", other.Name), "")
		return 0, false
	}
	return selector, true
}

// maxSelectors is the greatest length of a chain of selectors.
const maxSelectors = 16

// circles reports selectors that depend on themselves, each circle once. It also fills
// signalState.limits.
func (k *compiler) circles() {
	const (
		fresh = iota
		open
		done
	)
	stage := make([]uint8, len(k.m.Signals))
	var visit func(i int)
	visit = func(i int) {
		stage[i] = open
		state := &k.signals[i]
		state.limits = map[int][]int64{}
		for _, sel := range k.m.Signals[i].When {
			if stage[sel.Signal] == open {
				k.at(state.fields.keys["when"], ErrCycle, fmt.Sprintf("the signals %s and %s select each other in a circle", k.m.Signals[i].Name, k.m.Signals[sel.Signal].Name), "a selector must be readable without the signals that it selects")
				state.whenOK = false
				continue
			}
			if stage[sel.Signal] == fresh {
				visit(sel.Signal)
			}
			above := &k.signals[sel.Signal]
			if state.depth = max(state.depth, above.depth+1); state.depth == maxSelectors+1 {
				k.at(state.fields.keys["when"], ErrRange, fmt.Sprintf("the signal %s depends on a chain of more than %d selectors", k.m.Signals[i].Name, maxSelectors), "")
				state.whenOK = false
			}
			state.whenOK = state.whenOK && above.whenOK
			limit(state.limits, sel.Signal, sel.Raws)
			for j, raws := range above.limits {
				limit(state.limits, j, raws)
			}
		}
		stage[i] = done
	}
	for i := range k.m.Signals {
		if stage[i] == fresh {
			visit(i)
		}
	}
}

// limit narrows down the raw values that a selector may have.
func limit(limits map[int][]int64, selector int, raws []int64) {
	have, set := limits[selector]
	if !set {
		limits[selector] = raws
		return
	}
	var both []int64
	for _, r := range have {
		if containsInt(raws, r) {
			both = append(both, r)
		}
	}
	limits[selector] = both
}

// exclude reports whether two signals of one entry are never in the same frame.
func exclude(a, b map[int][]int64) bool {
	for selector, raws := range a {
		others, shared := b[selector]
		if !shared {
			continue
		}
		common := false
		for _, r := range raws {
			common = common || containsInt(others, r)
		}
		if !common {
			return true
		}
	}
	return false
}

// overlaps reports signals that share bits. Entries that read the same frames (with the same
// finder and bus) count as one here: a frame may be described in two places, but none of its
// bits twice.
func (k *compiler) overlaps() {
	owners := map[string]map[int][]int{} // signals by frame and bit
	for i := range k.m.Signals {
		s, state := &k.m.Signals[i], &k.signals[i]
		if !state.bitsOK || !state.whenOK || len(k.list) >= maxErrors {
			continue
		}
		key := k.entries[s.Entry].same
		if key == "" {
			key = fmt.Sprintf("entry %d", s.Entry)
		}
		bits := owners[key]
		if bits == nil {
			bits = map[int][]int{}
			owners[key] = bits
		}
		clash := map[int]bool{}
		var shared []int
		for _, bit := range s.Bits() {
			for _, j := range bits[bit] {
				other := &k.m.Signals[j]
				if other.Entry == s.Entry && exclude(state.limits, k.signals[j].limits) {
					continue
				}
				shared = append(shared, bit)
				clash[j] = true
			}
			bits[bit] = append(bits[bit], i)
		}
		if len(clash) > 0 {
			k.overlap(i, clash, shared)
		}
	}
}

func (k *compiler) overlap(index int, clash map[int]bool, shared []int) {
	s := &k.m.Signals[index]
	var names []string
	sameEntry := true
	for j := 0; j < index; j++ {
		if clash[j] {
			sameEntry = sameEntry && k.m.Signals[j].Entry == s.Entry
			names = append(names, fmt.Sprintf("%s (line %d)", k.m.Signals[j].Name, k.m.Signals[j].Line))
		}
	}
	if len(names) > 4 {
		names = append(names[:3], fmt.Sprintf("%d others", len(names)-3))
	}
	hint := "signals of one frame may share bits only if their `when` keys exclude each other"
	if !sameEntry {
		hint = "the map describes this frame twice: put the signals under one entry, or give one entry another bus"
	}
	if s.BigEndian {
		hint += "; with order: big, start is the most significant bit"
	}
	k.at(k.signals[index].start, ErrOverlap, fmt.Sprintf("%s to %s", bitWords(shared, s.Name), strings.Join(names, ", ")), hint)
}

// bitWords returns the beginning of a sentence that says to what else bits of a signal
// belong. It names the bits by their lowest and highest number.
func bitWords(bits []int, name string) string {
	low, high := bits[0], bits[0]
	seen := map[int]bool{}
	for _, b := range bits {
		low, high, seen[b] = min(low, b), max(high, b), true
	}
	switch {
	case low == high:
		return fmt.Sprintf("bit %d of %s also belongs", low, name)
	case len(seen) == high-low+1:
		return fmt.Sprintf("bits %d to %d of %s also belong", low, high, name)
	}
	return fmt.Sprintf("%d bits between %d and %d of %s also belong", len(seen), low, high, name)
}

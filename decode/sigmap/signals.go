package sigmap

import (
	"fmt"
	"math"
	"math/big"
	"slices"
	"sort"
	"strings"

	"lull/decode"
)

// signalState is what the compiler knows of a signal beyond the Signal itself.
type signalState struct {
	// twice reports that the name was taken. Mistakes within the definition are reported,
	// but not its role and bits, which are most likely those of a copy.
	twice  bool
	start  *node
	fields *fields // nil if the definition is not a mapping
	// Each of these reports whether a part could be read. Whatever depends on a part
	// that could not is silently skipped.
	bitsOK, formOK, labelsOK, whenOK bool
	// limits holds the raw values that the selectors of this signal must have,
	// including the selectors of its selectors.
	limits map[int][]int64
	depth  int // length of the longest chain of selectors
}

func (k *compiler) signalList(entry int, n *node) {
	if n.shape != mapping {
		k.roleLost, k.signalsLost = true, true
		if n.shape != broken {
			k.at(n, ErrType, "signals must be a mapping of names to fields", "such as `engine_speed: {start: 16, length: 16, factor: 0.25, unit: rpm}`")
		}
		return
	}
	for _, p := range n.pairs {
		name, ok := k.name(p.key, "a signal's name")
		if !ok {
			k.roleLost, k.signalsLost = true, true
			continue
		}
		index := len(k.m.Signals)
		first, twice := k.byName[name]
		if twice {
			k.at(p.key, ErrDuplicate, fmt.Sprintf("the signal %q is already defined on line %d", name, k.m.Signals[first].Line),
				"signal names must be unique in the whole map: give this one another name")
			k.roleLost = true
		} else {
			k.byName[name] = index
		}
		k.m.Signals = append(k.m.Signals, decode.Signal{Name: name, Entry: entry, Line: p.key.line, Scale: decode.Identity})
		k.signals = append(k.signals, signalState{twice: twice})
		k.m.Entries[entry].Signals = append(k.m.Entries[entry].Signals, index)
		k.signal(index, p.value)
	}
}

// signal reads everything of a signal that does not refer to another one.
func (k *compiler) signal(index int, n *node) {
	s, state := &k.m.Signals[index], &k.signals[index]
	what := "the signal " + s.Name
	f := k.fields(n, what, "start", "length", "order", "signed", "float", "factor", "offset", "unit", "min", "max", "invalid", "values", "when", "role", "active", "clear")
	if f == nil {
		k.roleLost = true
		return
	}
	state.fields = f
	k.bits(s, state, what)
	k.scale(s, f)
	if v := f.get("unit"); v != nil {
		s.Unit, _ = k.name(v, "unit")
	}
	if state.formOK {
		if v := f.get("invalid"); v != nil && v.shape != broken {
			for _, item := range some(v) {
				if raw, ok := k.raw(item, "invalid", s, true); ok {
					s.Invalid = append(s.Invalid, raw)
				}
			}
		}
		k.labels(s, state, f.get("values"))
	}
	k.role(index)
}

// bits reads where the field's bits are and how they form a number.
func (k *compiler) bits(s *decode.Signal, state *signalState, what string) {
	f := state.fields
	startOK, lengthOK, orderOK, formOK := false, false, true, true
	state.start = f.require("start", what, "give the number of the field's first bit, 8 x byte + bit")
	if state.start != nil {
		var v int64
		v, startOK = k.wholeNumber(state.start, "start", 0, maxBits-1, "%d")
		s.Start = int(v)
	}
	length := f.require("length", what, "give the number of bits, 1 to 64")
	if length != nil {
		var v int64
		v, lengthOK = k.wholeNumber(length, "length", 1, 64, "%d")
		s.Length = int(v)
	}
	if v := f.get("order"); v != nil {
		order := k.choice(v, "order", "little", "big")
		s.BigEndian, orderOK = order == "big", order != ""
	}
	if v := f.get("signed"); v != nil {
		s.Signed, formOK = k.boolean(v, "signed")
	}
	if v := f.get("float"); v != nil {
		var ok bool
		s.Float, ok = k.boolean(v, "float")
		formOK = formOK && ok
		if s.Float && lengthOK && s.Length != 32 && s.Length != 64 {
			k.at(length, ErrRange, fmt.Sprintf("a float has 32 or 64 bits, not %d", s.Length), "write length: 32 or length: 64")
			lengthOK = false
		}
		if s.Float && s.Signed {
			k.at(f.keys["signed"], ErrConflict, "a float is always signed", "leave signed out")
			s.Signed = false
		}
	}
	state.formOK = lengthOK && formOK
	if !startOK || !lengthOK || !orderOK {
		return
	}
	limit := k.entries[s.Entry].maxBits
	last := slices.Max(s.Bits())
	if last >= limit {
		hint := fmt.Sprintf("the payload has bits 0 to %d", limit-1)
		if s.BigEndian && littleFits(s, limit) {
			hint += "; with order: big, start is the most significant bit"
		}
		k.at(state.start, ErrOutside, fmt.Sprintf("%s reaches bit %d, outside the payload", what, last), hint)
		return
	}
	state.bitsOK = !state.twice
}

func littleFits(s *decode.Signal, limit int) bool { return s.Start+s.Length <= limit }

// largestScale bounds factors and offsets, so that the physical values of 64-bit raw values
// fit into a float64.
const largestScale = 1e100

// scale reads factor, offset, min and max.
func (k *compiler) scale(s *decode.Signal, f *fields) {
	text := map[string]string{}
	ok := true
	for _, key := range []string{"factor", "offset"} {
		n := f.get(key)
		if n == nil {
			continue
		}
		v, read := k.num(n, key)
		if read && key == "factor" && v.float == 0 {
			k.at(n, ErrRange, "factor 0 would make every value the same", "leave factor out if raw values need no scaling")
			read = false
		}
		if read && math.Abs(v.float) > largestScale {
			k.at(n, ErrRange, fmt.Sprintf("%s %s is too large", key, n.text), "physical values must stay finite")
			read = false
		}
		text[key] = v.decimal
		ok = ok && read
	}
	if ok {
		scale, err := decode.ParseScale(text["factor"], text["offset"])
		if err != nil { // should it find a mistake beyond the above
			k.at(f.node, ErrRange, err.Error(), "")
		}
		s.Scale = scale
	}
	if n := f.get("min"); n != nil {
		v, ok := k.num(n, "min")
		s.Min, s.HasMin = v.float, ok
	}
	if n := f.get("max"); n != nil {
		v, ok := k.num(n, "max")
		s.Max, s.HasMax = v.float, ok
	}
	if s.HasMin && s.HasMax && s.Min > s.Max {
		k.at(f.get("max"), ErrRange, fmt.Sprintf("max %s is below min %s", plain(s.Max), plain(s.Min)), "swap the two")
	}
}

// raw reads a raw value of a field. If pattern is true, a signed field may also be given as a
// bit pattern, above its largest number. Raw values of a float are always bit patterns.
func (k *compiler) raw(n *node, what string, s *decode.Signal, pattern bool) (int64, bool) {
	v, ok := k.num(n, what)
	if !ok {
		return 0, false
	}
	if v.whole == nil {
		k.at(n, ErrType, fmt.Sprintf("%s takes raw whole numbers, not %s", what, n.text), "raw values are those before factor and offset are applied")
		return 0, false
	}
	span := new(big.Int).Lsh(big.NewInt(1), uint(s.Length))
	low, high := new(big.Int), new(big.Int).Sub(span, big.NewInt(1))
	top := high
	if s.Signed {
		half := new(big.Int).Rsh(span, 1)
		low, high = new(big.Int).Neg(half), new(big.Int).Sub(half, big.NewInt(1))
	}
	switch value := v.whole; {
	case value.Cmp(low) >= 0 && value.Cmp(high) <= 0:
		if value.IsInt64() {
			return value.Int64(), true
		}
		return int64(value.Uint64()), true // unsigned fields of 64 bits wrap
	case s.Signed && value.Cmp(high) > 0 && value.Cmp(top) <= 0:
		number := new(big.Int).Sub(value, span)
		if pattern {
			return number.Int64(), true
		}
		k.at(n, ErrRange, fmt.Sprintf("%s: a signed field of %d bits cannot have the value %s", what, s.Length, n.text), fmt.Sprintf("as a signed number these bits are %s", number))
	default:
		k.at(n, ErrRange, fmt.Sprintf("%s: %s does not fit in %s", what, n.text, fieldWords(s)), fmt.Sprintf("its raw values are %s to %s", low, high))
	}
	return 0, false
}

func fieldWords(s *decode.Signal) string {
	bits := fmt.Sprintf("%d bits", s.Length)
	if s.Length == 1 {
		bits = "1 bit"
	}
	if s.Signed {
		return "a signed field of " + bits
	}
	return "a field of " + bits
}

// labels reads `values`. A label is the text as written, so a label such as 1st needs no
// quotes, and off is not taken for false.
func (k *compiler) labels(s *decode.Signal, state *signalState, n *node) {
	state.labelsOK = true
	if n == nil {
		return
	}
	state.labelsOK = false
	switch {
	case n.shape == broken:
		return
	case n.shape != mapping:
		k.at(n, ErrType, "values must be a mapping of raw values to labels", "such as {0: off, 1: on}")
		return
	case s.Float:
		k.at(n, ErrConflict, "a float cannot have labels", "leave values out")
		return
	}
	state.labelsOK = true
	first := map[int64]int{}
	for _, p := range n.pairs {
		if _, isNumber := p.key.asNumber(); !isNumber {
			hint := "the raw value comes first, then its label: {0: off, 1: on}"
			k.at(p.key, ErrType, fmt.Sprintf("a key of values must be a number, not %s", p.key.shown()), hint)
			state.labelsOK = false
			continue
		}
		raw, ok := k.raw(p.key, "values", s, false)
		text, named := k.name(p.value, "the label of "+p.key.text)
		if !ok || !named {
			state.labelsOK = false
			continue
		}
		if line, twice := first[raw]; twice {
			k.at(p.key, ErrDuplicate, fmt.Sprintf("the raw value %d already has a label (line %d)", raw, line), "keep one of the two")
			continue
		}
		first[raw] = p.key.line
		s.Labels = append(s.Labels, decode.Label{Raw: raw, Text: text})
	}
	sort.Slice(s.Labels, func(i, j int) bool { return s.Labels[i].Raw < s.Labels[j].Raw })
}

// rawsOf reads one or several raw values of a signal, which may be given by their labels.
func (k *compiler) rawsOf(n *node, what string, index int) (raws []int64, ok bool) {
	s, state := &k.m.Signals[index], &k.signals[index]
	if !state.formOK || !state.labelsOK || n.shape == broken {
		return nil, false
	}
	ok = true
	for _, item := range some(n) {
		var found []int64
		if _, isNumber := item.asNumber(); isNumber {
			raw, fits := k.raw(item, what, s, false)
			found, ok = []int64{raw}, ok && fits
		} else {
			labelled, known := k.labelled(item, what, s)
			found, ok = labelled, ok && known
		}
		for _, raw := range found {
			if !containsInt(raws, raw) {
				raws = append(raws, raw)
			}
		}
	}
	if ok && len(raws) == 0 {
		k.at(n, ErrType, fmt.Sprintf("`%s` is an empty list", what), "")
		return nil, false
	}
	return raws, ok
}

// labelled returns the raw values with the label that n names.
func (k *compiler) labelled(n *node, what string, s *decode.Signal) ([]int64, bool) {
	if !k.isScalar(n, what, "a number or a label") {
		return nil, false
	}
	var raws []int64
	labels := make([]string, len(s.Labels))
	for i, l := range s.Labels {
		labels[i] = l.Text
		if l.Text == strings.TrimSpace(n.text) {
			raws = append(raws, l.Raw)
		}
	}
	if raws != nil {
		return raws, true
	}
	hint := ""
	if near := nearest(n.text, labels); near != "" {
		hint = "did you mean " + near + "?"
	} else if len(labels) > 0 {
		hint = "its labels: " + strings.Join(unique(labels), ", ")
	}
	why := fmt.Sprintf("the signal %s has no label %s", s.Name, n.shown())
	if len(labels) == 0 {
		why = fmt.Sprintf("the signal %s has no labels, so %s means nothing", s.Name, n.shown())
		hint = "write a number, or give the signal `values`"
	}
	k.at(n, ErrLabel, why, hint)
	return nil, false
}

func containsInt(list []int64, v int64) bool {
	for _, have := range list {
		if have == v {
			return true
		}
	}
	return false
}

// unique returns the words without repetitions, at most 16 of them.
func unique(words []string) []string {
	var kept []string
	for _, w := range words {
		if !contains(kept, w) {
			kept = append(kept, w)
		}
		if len(kept) == 16 {
			return append(kept, "...")
		}
	}
	return kept
}

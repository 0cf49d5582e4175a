package candump

import "unicode/utf8"

const (
	mostNames  = 1024 // interned names; a car has a handful, garbage has many
	mostInName = 64   // bytes; Linux allows 15
)

// names turns interface names into strings, equal ones into the same string.
type names struct {
	recent [4]string // tried first: nearly every log has fewer interfaces
	all    map[string]string
}

// intern returns the name as a string. Only a name seen for the first time, or
// one beyond the number of names that are kept, is allocated and checked.
func (n *names) intern(b []byte) (string, reason) {
	for i := range n.recent {
		if n.recent[i] == string(b) && len(b) > 0 {
			return n.recent[i], accepted
		}
	}
	if s, ok := n.all[string(b)]; ok {
		return s, accepted
	}
	switch {
	case len(b) == 0:
		return "", nameMissing
	case len(b) > mostInName:
		return "", nameTooLong
	case !utf8.Valid(b):
		return "", nameNotText
	}
	for _, c := range b {
		if c == 0x7F || c == '#' || c < ' ' {
			return "", nameNotText
		}
	}
	s := string(b)
	if len(n.all) < mostNames {
		if n.all == nil {
			n.all = make(map[string]string)
		}
		if len(n.all) < len(n.recent) {
			n.recent[len(n.all)] = s
		}
		n.all[s] = s
	}
	return s, accepted
}

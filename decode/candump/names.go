package candump

import "unicode/utf8"

const (
	mostNames  = 1024 // interned names; a car has a handful, but garbage has many
	mostInName = 64   // bytes; Linux allows 15
)

// names interns interface names.
type names struct {
	recent [4]string // the first names, compared before all others: most logs have no more
	all    map[string]string
}

// intern returns the name as a string. It checks and allocates only a name that it sees for
// the first time, or that is not kept because there are too many.
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

package sigmap

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"lull/pkg/spelling"
)

// fields is a mapping whose keys have been held against those that it may have.
type fields struct {
	*collector
	node   *node
	values map[string]*node
	keys   map[string]*node
}

// fields reads a mapping and reports keys that it may not have; the value of a
// misspelled one is read all the same, so that what depends on it is not
// reported too. It returns nil for what is no mapping.
func (c *collector) fields(n *node, what string, known ...string) *fields {
	if n.shape == broken {
		return nil
	}
	if n.shape != mapping {
		c.at(n, ErrType, fmt.Sprintf("%s must be a mapping of keys to values", what), "its keys: "+strings.Join(known, ", "))
		return nil
	}
	f := &fields{collector: c, node: n, values: map[string]*node{}, keys: map[string]*node{}}
	for _, p := range n.pairs {
		if contains(known, p.key.text) {
			f.values[p.key.text], f.keys[p.key.text] = p.value, p.key
		}
	}
	for _, p := range n.pairs {
		if contains(known, p.key.text) {
			continue
		}
		hint := "its keys: " + strings.Join(known, ", ")
		if wholeForm.MatchString(p.key.text) { // 0,5 in braces is 0 and a key 5
			hint = "a comma begins the next key: write numbers with a point"
		}
		if near := nearest(p.key.text, known); near != "" {
			hint = "did you mean " + near + "?"
			if f.keys[near] == nil { // read it as what it was likely meant to be
				f.values[near], f.keys[near] = p.value, p.key
			}
		}
		c.at(p.key, ErrUnknownKey, fmt.Sprintf("%s has no key %s", what, p.key.shown()), hint)
	}
	return f
}

// get returns the value of a key, or nil.
func (f *fields) get(key string) *node { return f.values[key] }

// require returns the value of a key; where it is missing it reports so.
func (f *fields) require(key, what, hint string) *node {
	v := f.values[key]
	if v == nil {
		f.at(f.node, ErrMissing, fmt.Sprintf("%s has no %s", what, key), hint)
	}
	return v
}

func contains(list []string, s string) bool {
	for _, have := range list {
		if have == s {
			return true
		}
	}
	return false
}

// nearest finds the word that a misspelled one was likely meant to be: at most
// a third of its letters, and never more than three, added, left out, changed
// or swapped with the next; case, hyphens and spaces count for nothing.
func nearest(word string, known []string) string {
	best, bestDistance := "", 4
	simple := simplify(word)
	letters := utf8.RuneCountInString(simple)
	if letters > 64 {
		return ""
	}
	for _, k := range known {
		s := simplify(k)
		n := utf8.RuneCountInString(s)
		if n > 64 {
			continue
		}
		limit := min(3, max(1, (n+1)/3))
		if n < 2 || n == 2 && letters == 2 { // no is not on
			limit = 0
		}
		if d := spelling.Distance(simple, s); d <= limit && d < bestDistance {
			best, bestDistance = k, d
		}
	}
	return best
}

var simplifier = strings.NewReplacer("-", "_", " ", "_")

func simplify(s string) string { return simplifier.Replace(strings.ToLower(s)) }

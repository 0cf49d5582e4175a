package sigmap

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"lull/pkg/spelling"
)

// fields is a mapping whose keys have been checked against those that it may have.
type fields struct {
	*collector
	node   *node
	values map[string]*node
	keys   map[string]*node
}

// fields reads a mapping and reports keys that it may not have. The value of a misspelled key
// is used nevertheless, so that what depends on it is not reported as missing. fields returns
// nil if n is not a mapping.
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
		if key, value, glued := p.glued(); glued && contains(known, key.text) {
			c.at(value, ErrSyntax, "missing space after the colon", "write `"+key.text+": "+value.text+"`")
			if f.keys[key.text] == nil {
				f.values[key.text], f.keys[key.text] = value, key
			}
			continue
		}
		hint := "its keys: " + strings.Join(known, ", ")
		if wholeForm.MatchString(p.key.text) { // 0,5 in braces is 0 and a key 5
			hint = "a comma begins the next key: write numbers with a decimal point"
		}
		if near := nearest(p.key.text, known); near != "" {
			hint = "did you mean " + near + "?"
			if f.keys[near] == nil { // use it as the key that was likely meant
				f.values[near], f.keys[near] = p.value, p.key
			}
		}
		c.at(p.key, ErrUnknownKey, fmt.Sprintf("%s has no key %s", what, p.key.shown()), hint)
	}
	return f
}

// glued splits a key such as length:16, which lacks a space after its colon, into the key and
// the value that were meant.
func (p pair) glued() (key, value *node, ok bool) {
	name, rest, found := strings.Cut(p.key.text, ":")
	if !found || rest == "" || p.key.quoted || p.value.shape != scalar || p.value.text != "" || p.value.quoted {
		return nil, nil, false
	}
	key = &node{line: p.key.line, column: p.key.column, text: name}
	value = &node{line: p.key.line, column: p.key.column + utf8.RuneCountInString(name) + 1, text: strings.TrimSpace(rest)}
	return key, value, true
}

// get returns the value of a key, or nil.
func (f *fields) get(key string) *node { return f.values[key] }

// require returns the value of a key. If the key is missing, it reports that and returns nil.
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

// nearest returns the known word that a misspelled word was likely meant to be, or "". At
// most a third of the letters, and never more than three, may be added, left out, changed or
// swapped with the next. Case does not matter, and hyphens and spaces are the same as
// underscores.
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
		if n < 2 || n == 2 && letters == 2 { // so that "no" is not taken for "on"
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

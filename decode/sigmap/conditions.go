package sigmap

import (
	"fmt"
	"sort"
	"strings"

	"lull/decode"
)

// conditions reads restart requests or inhibits. It may leave out conditions with mistakes,
// since no map is returned then.
func (k *compiler) conditions(n *node, what string, requests bool) []decode.Condition {
	keys := []string{"name", "bridge", "for", "when"}
	one := "an inhibit"
	if requests {
		keys = []string{"name", "by", "bridge", "for", "when"}
		one = "a restart request"
	}
	var all []decode.Condition
	first := map[string]int{}
	for _, item := range k.items(n, what) {
		f := k.fields(item, one, keys...)
		if f == nil {
			continue
		}
		c := decode.Condition{Line: item.line}
		if v := f.require("name", one, "give it the name that reports show"); v != nil {
			var ok bool
			if c.Name, ok = k.name(v, "name"); ok {
				if line, twice := first[c.Name]; twice {
					k.at(v, ErrDuplicate, fmt.Sprintf("the name %q is given twice in %s (first on line %d)", c.Name, what, line), "give this one another name")
				} else {
					first[c.Name] = v.line
				}
			}
		}
		if v := f.get("by"); v != nil && k.choice(v, "by", "driver", "system") == "system" {
			c.By = decode.BySystem
		}
		if v := f.get("bridge"); v != nil {
			c.Bridge, _ = k.duration(v, "bridge", 0)
		}
		if v := f.get("for"); v != nil {
			c.For, _ = k.duration(v, "for", 0)
		}
		if v := f.require("when", one, "say what makes it true, such as `when: {signal: brake, is: released}`"); v != nil {
			c.Expr = k.expr(v, 0)
		}
		all = append(all, c)
	}
	return all
}

var (
	joins       = []string{"all", "any", "not"}
	comparisons = []string{"is", "is_not", "above", "below", "at_least", "at_most", "between", "outside", "moves"}
)

func before(a, b *node) bool {
	return a.line < b.line || a.line == b.line && a.column < b.column
}

// maxNesting is how deep all, any and not may be nested.
const maxNesting = 16

// expr reads a comparison or a join of several. It returns nil after a mistake.
func (k *compiler) expr(n *node, depth int) *decode.Expr {
	f := k.fields(n, "a condition", append(append([]string{"signal"}, comparisons...), joins...)...)
	if f == nil {
		return nil
	}
	if depth > maxNesting {
		k.at(n, ErrRange, fmt.Sprintf("conditions are nested deeper than %d levels", maxNesting), "")
		return nil
	}
	var given []string
	for _, key := range append(append([]string(nil), comparisons...), joins...) {
		if f.get(key) != nil {
			given = append(given, key)
		}
	}
	sort.SliceStable(given, func(i, j int) bool { return before(f.keys[given[i]], f.keys[given[j]]) })
	switch {
	case len(given) == 0:
		k.at(n, ErrMissing, "the condition compares nothing", "give it one of "+strings.Join(append(append([]string(nil), comparisons...), joins...), ", "))
		return nil
	case len(given) > 1:
		k.at(f.keys[given[1]], ErrConflict, fmt.Sprintf("a condition takes one comparison, but this one has %s", strings.Join(given, " and ")),
			"combine several: all: [{signal: ..., "+given[0]+": ...}, {signal: ..., "+given[1]+": ...}]")
		return nil
	}
	key := given[0]
	if contains(joins, key) {
		if at := f.keys["signal"]; at != nil {
			k.at(at, ErrConflict, fmt.Sprintf("signal does not go with %s", key), "name the signal in each of the joined conditions")
		}
		return k.join(key, f.get(key), depth)
	}
	at := f.require("signal", "the condition", "name the signal that is compared")
	if at == nil {
		return nil
	}
	index, ok := k.signalNamed(at, "signal")
	if !ok {
		k.operands(key, f.get(key)) // to report mistakes in its numbers, too
		return nil
	}
	return k.comparison(key, f.get(key), index)
}

// join reads all, any and not. It returns nil after a mistake in any part.
func (k *compiler) join(key string, n *node, depth int) *decode.Expr {
	e := &decode.Expr{Op: map[string]decode.Op{"all": decode.OpAll, "any": decode.OpAny, "not": decode.OpNot}[key]}
	parts := []*node{n}
	if key != "not" {
		if n.shape == broken {
			return nil
		}
		if n.shape != list || len(n.items) == 0 {
			k.at(n, ErrType, fmt.Sprintf("%s must be a list of conditions", key), "such as "+key+": [{signal: ac, is: on}, {signal: coolant, below: 40}]")
			return nil
		}
		parts = n.items
	}
	whole := true
	for _, part := range parts { // all of them, to report the mistakes of each
		child := k.expr(part, depth+1)
		whole = whole && child != nil
		e.Children = append(e.Children, child)
	}
	if !whole {
		return nil
	}
	return e
}

// comparison reads what a signal is compared with.
func (k *compiler) comparison(key string, n *node, index int) *decode.Expr {
	e := &decode.Expr{Signal: index}
	if key == "is" || key == "is_not" {
		e.Op, e.Text = decode.OpIs, "is "
		if key == "is_not" {
			e.Op, e.Text = decode.OpIsNot, "is not "
		}
		if !k.equals(e, key, n, index) {
			return nil
		}
		return e
	}
	values, ok := k.operands(key, n)
	if !ok {
		return nil
	}
	e.A = values[0]
	switch key {
	case "above":
		e.Op, e.Text = decode.OpAbove, "above "+plain(e.A)
	case "below":
		e.Op, e.Text = decode.OpBelow, "below "+plain(e.A)
	case "at_least":
		e.Op, e.Text = decode.OpAtLeast, "at least "+plain(e.A)
	case "at_most":
		e.Op, e.Text = decode.OpAtMost, "at most "+plain(e.A)
	case "moves":
		e.Op, e.Text = decode.OpMoves, "moves "+plain(e.A)
	case "between":
		e.B = values[1]
		e.Op, e.Text = decode.OpBetween, "between "+plain(e.A)+" and "+plain(e.B)
	case "outside":
		e.B = values[1]
		e.Op, e.Text = decode.OpOutside, "outside "+plain(e.A)+" to "+plain(e.B)
	}
	return e
}

// operands reads the numbers of any comparison other than is and is_not.
func (k *compiler) operands(key string, n *node) ([]float64, bool) {
	switch key {
	case "is", "is_not":
		return nil, false
	case "between", "outside":
		if n.shape == broken {
			return nil, false
		}
		if n.shape != list || len(n.items) != 2 {
			k.at(n, ErrType, fmt.Sprintf("%s takes two numbers", key), "such as "+key+": [-3, 3]")
			return nil, false
		}
		a, okA := k.num(n.items[0], key)
		b, okB := k.num(n.items[1], key)
		if okA && okB && a.float > b.float {
			k.at(n, ErrRange, fmt.Sprintf("%s: %s is greater than %s", key, n.items[0].text, n.items[1].text), fmt.Sprintf("write [%s, %s]", n.items[1].text, n.items[0].text))
			return nil, false
		}
		return []float64{a.float, b.float}, okA && okB
	}
	v, ok := k.num(n, key)
	if ok && key == "moves" && v.float <= 0 {
		k.at(n, ErrRange, "moves must be above 0", "give the distance that counts as a movement, such as 15")
		return nil, false
	}
	return []float64{v.float}, ok
}

// equals reads the operands of is and is_not: physical numbers and labels.
func (k *compiler) equals(e *decode.Expr, key string, n *node, index int) bool {
	s, state := &k.m.Signals[index], &k.signals[index]
	if n.shape == broken {
		return false
	}
	items := some(n)
	if n.shape == list && len(items) == 0 {
		k.at(n, ErrType, fmt.Sprintf("`%s` is an empty list", key), "give numbers or labels")
		return false
	}
	ok := true
	var words []string
	for _, item := range items {
		if v, isNumber := item.asNumber(); isNumber {
			e.Numbers = append(e.Numbers, v.float)
			words = append(words, plain(v.float))
			continue
		}
		if !state.labelsOK || state.fields == nil {
			ok = false
			continue
		}
		raws, known := k.labelled(item, key, s)
		ok = ok && known
		for _, raw := range raws {
			if !containsInt(e.Raws, raw) {
				e.Raws = append(e.Raws, raw)
			}
		}
		words = append(words, strings.TrimSpace(item.text))
	}
	e.Text += strings.Join(words, " or ")
	return ok
}

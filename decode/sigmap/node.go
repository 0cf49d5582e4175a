package sigmap

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v4"
)

// shape is what kind of YAML node a node is.
type shape uint8

const (
	scalar shape = iota
	list
	mapping
)

// node is a YAML node with its place, aliases followed and keys checked: plain
// text keys, none twice, no merge keys.
type node struct {
	shape        shape
	line, column int
	text         string // scalar
	quoted       bool   // scalar in quotes or a block, or tagged as text: never a number
	items        []*node
	pairs        []pair
}

type pair struct {
	key   *node
	value *node
}

const (
	maxBytes = 8 << 20
	maxNodes = 1 << 20 // with aliases followed
	maxDepth = 64
)

// losses tell what had to be left out of a tree, so that what is missing there
// is not reported too.
type losses struct {
	some bool // anything, the second of two equal keys included
	keys bool // keys that stand nowhere else
}

// builder turns the nodes of the YAML library into ours.
type builder struct {
	*collector
	nodes int
	open  map[*yaml.Node]bool // anchors being followed, to find an alias within itself
	losses
}

// read parses the one document of a file. It returns nil after an error that
// leaves nothing to look at.
func read(c *collector, data []byte) (root *node, lost losses) {
	loader, err := yaml.NewLoader(bytes.NewReader(data))
	if err != nil {
		c.add(ErrSyntax, 1, 1, err.Error(), "")
		return nil, losses{}
	}
	var first, second yaml.Node
	if err := loader.Load(&first); err != nil {
		if errors.Is(err, io.EOF) {
			c.add(ErrMissing, 1, 1, "the map is empty", "a map begins with `format: 1`")
			return nil, losses{}
		}
		c.syntax(err)
		return nil, losses{}
	}
	b := &builder{collector: c, open: map[*yaml.Node]bool{}}
	root = b.build(&first, 0)
	switch err := loader.Load(&second); {
	case err == nil:
		at := &second
		if len(second.Content) > 0 {
			at = second.Content[0]
		}
		c.add(ErrSyntax, at.Line, at.Column, "a second document begins here", "a map is one YAML document: remove the line `---` before this one")
	case !errors.Is(err, io.EOF):
		c.syntax(err)
	}
	return root, b.losses
}

// syntax words an error of the YAML library.
func (c *collector) syntax(err error) {
	var load *yaml.LoadError
	if !errors.As(err, &load) {
		c.add(ErrSyntax, 1, 1, err.Error(), "")
		return
	}
	line, column := load.Mark.Line, load.Mark.Column
	why, hint := load.Message, ""
	here := ""
	if line >= 1 && line <= len(c.lines) {
		if runes := []rune(c.lines[line-1]); column >= 1 && column <= len(runes) {
			here = string(runes[column-1])
		}
	}
	switch {
	case strings.Contains(why, "tab character"), strings.Contains(why, "cannot start any token") && here == "\t":
		why, hint = "a tab where YAML wants spaces", "indent with spaces"
	case strings.Contains(why, "mapping values are not allowed"):
		why, hint = "a `:` where no key can stand", "put a text that has a colon in it in quotes; `key: value` needs a space after the colon"
	case strings.Contains(why, "expected ',' or '}'"), strings.Contains(why, "expected ',' or ']'"):
		why = fmt.Sprintf("the bracket opened at line %d, column %d is not closed, or a comma is missing before this place", load.ContextMark.Line, load.ContextMark.Column)
	case strings.Contains(why, "did not find expected key"), strings.Contains(why, "did not find expected '-'"):
		why, hint = "this does not fit the lines above", "the keys of one mapping begin in the same column"
	case strings.Contains(why, "unexpected end of stream") && load.ContextMark.Line > 0:
		line, column = load.ContextMark.Line, load.ContextMark.Column
		why = "the quote opened here is not closed"
	case strings.Contains(why, "cannot start any token"):
		why, hint = "no value can begin with this character", "put the text in quotes"
	case strings.Contains(why, "unknown anchor"):
		why = strings.TrimSuffix(strings.Replace(why, "unknown anchor", "no anchor is called", 1), " referenced")
	}
	c.add(ErrSyntax, line, column, why, hint)
}

// build turns one node over. It never returns nil; what could not be read is an
// empty scalar that later rules skip, since its mistake is already listed.
func (b *builder) build(y *yaml.Node, depth int) *node {
	n := &node{line: y.Line, column: y.Column}
	b.nodes++
	if b.nodes > maxNodes || depth > maxDepth {
		if b.nodes <= maxNodes+1 {
			b.add(ErrTooLarge, y.Line, y.Column, "nested or repeated too often", "a map needs no more than a few levels")
			b.nodes = maxNodes + 1
		}
		return b.skipped(n)
	}
	switch y.Kind {
	case yaml.DocumentNode:
		if len(y.Content) == 0 {
			return n
		}
		return b.build(y.Content[0], depth)
	case yaml.AliasNode:
		return b.follow(y, n, depth)
	case yaml.SequenceNode:
		n.shape = list
		b.open[y] = true
		for _, item := range y.Content {
			n.items = append(n.items, b.build(item, depth+1))
		}
		delete(b.open, y)
	case yaml.MappingNode:
		n.shape = mapping
		b.open[y] = true
		b.pairs(y, n, depth)
		delete(b.open, y)
	default:
		n.text = y.Value
		n.quoted = y.Style&(yaml.SingleQuotedStyle|yaml.DoubleQuotedStyle|yaml.LiteralStyle|yaml.FoldedStyle) != 0
	}
	if y.Style&yaml.TaggedStyle != 0 {
		if y.Tag != "!!str" {
			b.add(ErrType, y.Line, y.Column, fmt.Sprintf("the tag %s has no meaning in a map", y.Tag), "leave the tag out")
			return b.skipped(n)
		}
		n.quoted = true
	}
	return n
}

// skipped marks a node whose mistake is already listed.
func (b *builder) skipped(n *node) *node {
	b.losses = losses{true, true}
	return &node{line: n.line, column: n.column, shape: broken}
}

// broken is the shape of a node that could not be read.
const broken shape = 255

func (b *builder) follow(y *yaml.Node, n *node, depth int) *node {
	if y.Alias == nil || b.open[y.Alias] {
		b.add(ErrSyntax, y.Line, y.Column, fmt.Sprintf("the alias *%s stands within its own anchor", y.Value), "write the value out")
		return b.skipped(n)
	}
	target := b.build(y.Alias, depth+1)
	if target.shape == scalar { // the alias is where a wrong value would be put right
		target.line, target.column = y.Line, y.Column
	}
	return target
}

func (b *builder) pairs(y *yaml.Node, n *node, depth int) {
	first := map[string]int{}
	for i := 0; i+1 < len(y.Content); i += 2 {
		key := y.Content[i]
		if key.Kind == yaml.AliasNode && key.Alias != nil {
			key = &yaml.Node{Kind: key.Alias.Kind, Value: key.Alias.Value, Line: key.Line, Column: key.Column}
		}
		switch {
		case key.Kind != yaml.ScalarNode:
			b.losses = losses{true, true}
			b.add(ErrType, key.Line, key.Column, "a key must be a text or a number", "")
			continue
		case key.Value == "<<" && key.Style&(yaml.SingleQuotedStyle|yaml.DoubleQuotedStyle) == 0:
			b.losses = losses{true, true}
			b.add(ErrUnknownKey, key.Line, key.Column, "merge keys (<<) are not taken", "write the keys out")
			continue
		}
		value := b.build(y.Content[i+1], depth+1)
		if line, twice := first[key.Value]; twice {
			b.some = true
			b.add(ErrDuplicate, key.Line, key.Column, fmt.Sprintf("%q is given twice in one mapping (first in line %d)", key.Value, line), "keep one of the two")
			continue
		}
		first[key.Value] = key.Line
		k := &node{line: key.Line, column: key.Column, text: key.Value, quoted: key.Style&(yaml.SingleQuotedStyle|yaml.DoubleQuotedStyle) != 0}
		n.pairs = append(n.pairs, pair{key: k, value: value})
	}
}

// checkBytes finds what is no text at all, with its place, before the YAML
// library sees it, which gives no place. Characters that some take for line
// breaks are refused too, since editors would count other lines.
func checkBytes(c *collector, data []byte) bool {
	line, column := 1, 1
	for i := 0; i < len(data); {
		r, size := utf8.DecodeRune(data[i:])
		switch {
		case r == utf8.RuneError && size == 1:
			c.add(ErrSyntax, line, column, fmt.Sprintf("the byte 0x%02X is not UTF-8", data[i]), "save the file as UTF-8")
			return false
		case r < 0x20 && r != '\t' && r != '\n' && r != '\r', r >= 0x7F && r < 0xA0, r == 0x2028, r == 0x2029, r == 0xFFFE, r == 0xFFFF, r == 0xFEFF:
			c.add(ErrSyntax, line, column, fmt.Sprintf("the character U+%04X cannot stand in a map", r), "is this a text file?")
			return false
		case r == '\n', r == '\r' && (i+1 >= len(data) || data[i+1] != '\n'):
			line, column = line+1, 0
		}
		if r != '\r' || column == 0 {
			column++
		}
		i += size
	}
	return true
}

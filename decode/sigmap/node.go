package sigmap

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
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

// node is a YAML node with its place. Aliases have been followed, and keys checked: they are
// scalars, none occurs twice, and there are no merge keys.
type node struct {
	shape        shape
	line, column int
	text         string // scalar
	quoted       bool   // scalar in quotes or a block, or tagged as text, and so never a number
	items        []*node
	pairs        []pair
}

type pair struct {
	key   *node
	value *node
}

const (
	maxBytes = 8 << 20
	maxNodes = 1 << 20 // after following aliases
	maxDepth = 64
)

// losses tells what had to be left out of a tree, so that it is not reported as missing.
type losses struct {
	some bool // anything, including the second of two equal keys
	keys bool // keys that occur nowhere else
}

// builder converts the nodes of the YAML library to ours.
type builder struct {
	*collector
	nodes int
	open  map[*yaml.Node]bool // nodes being built, to detect an alias within its own anchor
	losses
}

// read parses the only document of a file. It returns nil after an error that leaves nothing
// to check.
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

// syntax reports an error of the YAML library in plain words.
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
	switch at, key := c.gluedColon(load); {
	case key != "":
		line, column = at.line, at.column
		why, hint = "missing space after the colon", "put a space after `"+key+":`"
	case strings.Contains(why, "tab character"), strings.Contains(why, "cannot start any token") && here == "\t":
		why, hint = "a tab where YAML wants spaces", "indent with spaces"
	case strings.Contains(why, "mapping values are not allowed"):
		why, hint = "a `:` where no key is allowed", "put text that contains a colon in quotes"
	case strings.Contains(why, "expected ',' or '}'"), strings.Contains(why, "expected ',' or ']'"):
		why = fmt.Sprintf("the bracket opened at line %d, column %d is not closed, or a comma is missing before this point", load.ContextMark.Line, load.ContextMark.Column)
	case strings.Contains(why, "did not find expected key"), strings.Contains(why, "did not find expected '-'"):
		why, hint = "this does not fit the lines above", "the keys of one mapping begin in the same column"
	case strings.Contains(why, "unexpected end of stream") && load.ContextMark.Line > 0:
		line, column = load.ContextMark.Line, load.ContextMark.Column
		why = "the quote opened here is not closed"
	case strings.Contains(why, "cannot start any token"):
		why, hint = "a value cannot begin with this character", "put the text in quotes"
	case strings.Contains(why, "unknown anchor"):
		why = strings.TrimSuffix(strings.Replace(why, "unknown anchor", "there is no anchor", 1), " referenced")
	}
	c.add(ErrSyntax, line, column, why, hint)
}

var (
	// gluedLine is a line that begins with a key without a space after its colon.
	gluedLine = regexp.MustCompile(`^[ {-]*([A-Za-z_]\w*):[^\s:/]`)
	// gluedEnd is a text that ends with a key and a colon.
	gluedEnd = regexp.MustCompile(`([A-Za-z_]\w*):$`)
)

// gluedColon looks for a key without a space after its colon, such as length:16, as the cause
// of an error of the YAML library. It returns the place after the colon and the key, or no
// key.
func (c *collector) gluedColon(err *yaml.LoadError) (at node, key string) {
	last := min(err.Mark.Line, len(c.lines))
	switch {
	case last < 1:
		return node{}, ""
	case strings.Contains(err.Message, "expected ',' or '}'"):
		runes := []rune(c.lines[last-1])
		before := string(runes[:max(0, min(err.Mark.Column-1, len(runes)))])
		if m := gluedEnd.FindStringSubmatch(before); m != nil {
			return node{line: last, column: err.Mark.Column}, m[1]
		}
		return node{}, ""
	case !strings.Contains(err.Message, "could not find expected ':'") && !strings.Contains(err.Message, "mapping values are not allowed"):
		return node{}, ""
	}
	// The library takes the key for text and complains only at the next colon, so look at
	// the line that it names and at the one before.
	for line, seen := last, 0; line >= 1 && seen < 2; line-- {
		text := c.lines[line-1]
		if strings.TrimSpace(text) == "" {
			continue
		}
		seen++
		if m := gluedLine.FindStringSubmatchIndex(text); m != nil {
			return node{line: line, column: utf8.RuneCountInString(text[:m[3]]) + 2}, text[m[2]:m[3]]
		}
	}
	return node{}, ""
}

// build converts one node. It never returns nil. For a node that cannot be read it returns an
// empty one with the shape broken, which later checks skip, since its mistake is already
// recorded.
func (b *builder) build(y *yaml.Node, depth int) *node {
	n := &node{line: y.Line, column: y.Column}
	b.nodes++
	if b.nodes > maxNodes || depth > maxDepth {
		if b.nodes <= maxNodes+1 {
			b.add(ErrTooLarge, y.Line, y.Column, "nested too deeply or repeated too often", "a map needs no more than a few levels")
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

// skipped returns a node in place of one whose mistake is already recorded.
func (b *builder) skipped(n *node) *node {
	b.losses = losses{true, true}
	return &node{line: n.line, column: n.column, shape: broken}
}

// broken is the shape of a node that could not be read.
const broken shape = 255

func (b *builder) follow(y *yaml.Node, n *node, depth int) *node {
	if y.Alias == nil || b.open[y.Alias] {
		b.add(ErrSyntax, y.Line, y.Column, fmt.Sprintf("the alias *%s is inside its own anchor", y.Value), "write the value out")
		return b.skipped(n)
	}
	target := b.build(y.Alias, depth+1)
	if target.shape == scalar { // report a wrong value where it is used
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
			b.add(ErrType, key.Line, key.Column, "a key must be text or a number", "")
			continue
		case key.Value == "<<" && key.Style&(yaml.SingleQuotedStyle|yaml.DoubleQuotedStyle) == 0:
			b.losses = losses{true, true}
			b.add(ErrUnknownKey, key.Line, key.Column, "merge keys (<<) are not supported", "write the keys out")
			continue
		}
		value := b.build(y.Content[i+1], depth+1)
		if line, twice := first[key.Value]; twice {
			b.some = true
			b.add(ErrDuplicate, key.Line, key.Column, fmt.Sprintf("%q is given twice in one mapping (first on line %d)", key.Value, line), "keep one of the two")
			continue
		}
		first[key.Value] = key.Line
		k := &node{line: key.Line, column: key.Column, text: key.Value, quoted: key.Style&(yaml.SingleQuotedStyle|yaml.DoubleQuotedStyle) != 0}
		n.pairs = append(n.pairs, pair{key: k, value: value})
	}
}

// checkBytes reports bytes that are not text, before the YAML library sees them, which would
// report no place. It also refuses characters that some programs take for line breaks, since
// editors would count lines differently.
func checkBytes(c *collector, data []byte) bool {
	line, column := 1, 1
	for i := 0; i < len(data); {
		r, size := utf8.DecodeRune(data[i:])
		switch {
		case r == utf8.RuneError && size == 1:
			c.add(ErrSyntax, line, column, fmt.Sprintf("the byte 0x%02X is not UTF-8", data[i]), "save the file as UTF-8")
			return false
		case r < 0x20 && r != '\t' && r != '\n' && r != '\r', r >= 0x7F && r < 0xA0, r == 0x2028, r == 0x2029, r == 0xFFFE, r == 0xFFFF, r == 0xFEFF:
			c.add(ErrSyntax, line, column, fmt.Sprintf("the character U+%04X is not allowed in a map", r), "is this a text file?")
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

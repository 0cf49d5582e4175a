package main

import (
	"crypto/sha256"
	"encoding/binary"
	"go/ast"
	"go/parser"
	"go/token"
	"math/big"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
)

// mutant is a file with one change.
type mutant struct {
	file    string // whole path
	path    string // as it is told: from the working directory
	line    int
	was, is string // the lines of the change, on one line
	source  []byte
}

// key names a mutant as long as nobody touches its lines.
func (m *mutant) key() string { return m.path + "\t" + m.was + "\t" + m.is }

// among tells whether the mutant is one of those tried where only one of so many is.
// It goes by the key, so that a run can be repeated, and a change of one line does not
// choose others elsewhere.
func (m *mutant) among(oneIn uint64) bool {
	sum := sha256.Sum256([]byte(m.key()))
	return binary.BigEndian.Uint64(sum[:])%oneIn == 0
}

// mutants makes all of a package, in the order of its files and their lines.
func (p *pkg) mutants(only *regexp.Regexp) ([]mutant, error) {
	here, err := os.Getwd()
	if err != nil {
		return nil, err
	}
	var all []mutant
	for _, name := range p.GoFiles {
		file := filepath.Join(p.Dir, name)
		path, err := filepath.Rel(here, file)
		if err != nil {
			return nil, err
		}
		path = filepath.ToSlash(path)
		if !only.MatchString(path) {
			continue
		}
		source, err := os.ReadFile(file)
		if err != nil {
			return nil, err
		}
		mutants, err := mutate(file, source)
		if err != nil {
			return nil, err
		}
		for _, m := range mutants {
			m.path = path
			all = append(all, m)
		}
	}
	return all, nil
}

// swaps are the other operators that one could have meant.
var swaps = map[token.Token][]string{
	token.LSS: {"<="}, token.LEQ: {"<"}, token.GTR: {">="}, token.GEQ: {">"},
	token.EQL: {"!="}, token.NEQ: {"=="}, token.ADD: {"-"}, token.SUB: {"+"},
}

// mutate makes all mutants of one file.
func mutate(file string, source []byte) ([]mutant, error) {
	set := token.NewFileSet()
	tree, err := parser.ParseFile(set, file, source, parser.SkipObjectResolution)
	if err != nil {
		return nil, err
	}
	at := func(p token.Pos) int { return set.Position(p).Offset }
	text := func(n ast.Node) string { return string(source[at(n.Pos()):at(n.End())]) }
	var all []mutant
	replace := func(from, to token.Pos, by string) {
		a, b := at(from), at(to)
		first := strings.LastIndexByte(string(source[:a]), '\n') + 1
		last := len(source)
		if n := strings.IndexByte(string(source[b:]), '\n'); n >= 0 {
			last = b + n
		}
		line := func(middle string) string {
			return strings.Join(strings.Fields(string(source[first:a])+middle+string(source[b:last])), " ")
		}
		all = append(all, mutant{file: file, line: set.Position(from).Line, was: line(string(source[a:b])), is: line(by),
			source: []byte(string(source[:a]) + by + string(source[b:]))})
	}
	negate := func(e ast.Expr) {
		if b, ok := e.(*ast.BinaryExpr); e == nil || ok && len(swaps[b.Op]) > 0 && (b.Op == token.EQL || b.Op == token.NEQ) {
			return // the swap does just that
		}
		replace(e.Pos(), e.End(), "!("+text(e)+")")
	}
	ast.Inspect(tree, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.ImportSpec:
			return false
		case *ast.BinaryExpr:
			for _, op := range swaps[n.Op] {
				replace(n.OpPos, n.OpPos+token.Pos(len(n.Op.String())), op)
			}
			if n.Op == token.LAND || n.Op == token.LOR {
				replace(n.Pos(), n.End(), "("+text(n.X)+")")
				replace(n.Pos(), n.End(), "("+text(n.Y)+")")
			}
		case *ast.BasicLit:
			for _, by := range neighbours(n.Kind, n.Value) {
				replace(n.Pos(), n.End(), by)
			}
		case *ast.CallExpr:
			if f, ok := n.Fun.(*ast.Ident); ok && (f.Name == "min" || f.Name == "max") {
				replace(f.Pos(), f.End(), map[string]string{"min": "max", "max": "min"}[f.Name])
			}
		case *ast.IfStmt:
			negate(n.Cond)
		case *ast.SwitchStmt:
			if n.Tag == nil {
				for _, c := range n.Body.List {
					for _, e := range c.(*ast.CaseClause).List {
						negate(e)
					}
				}
			}
		}
		return true
	})
	return all, nil
}

// neighbours are the numbers one step beside a literal, in its last written digit.
func neighbours(kind token.Token, literal string) []string {
	plain := strings.ReplaceAll(literal, "_", "")
	if kind == token.INT {
		v, err := strconv.ParseUint(plain, 0, 64)
		switch {
		case err != nil:
			return nil
		case v == 0:
			return []string{"1"}
		}
		return []string{strconv.FormatUint(v-1, 10), strconv.FormatUint(v+1, 10)}
	}
	if kind != token.FLOAT || strings.ContainsAny(plain, "xXpP") {
		return nil
	}
	digits, power, _ := strings.Cut(strings.ToLower(plain), "e")
	_, fraction, _ := strings.Cut(digits, ".")
	v, ok := new(big.Rat).SetString(digits)
	if !ok {
		return nil
	}
	step := new(big.Rat).SetFrac(big.NewInt(1), new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(len(fraction))), nil))
	var all []string
	for _, w := range []*big.Rat{new(big.Rat).Sub(v, step), new(big.Rat).Add(v, step)} {
		s := w.FloatString(len(fraction))
		if power != "" {
			s += "e" + power
		}
		all = append(all, s)
	}
	return all
}

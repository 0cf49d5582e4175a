package findings

import (
	"go/ast"
	"go/parser"
	"go/token"
	"slices"
	"strconv"
	"testing"
)

// A code that has no place in the order would stand before all others.
func TestEveryCodeOfAFindingHasItsPlaceInTheOrder(t *testing.T) {
	file, err := parser.ParseFile(token.NewFileSet(), "../codes.go", nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	// The first block has the codes of findings about one log.
	block := file.Decls[slices.IndexFunc(file.Decls, func(d ast.Decl) bool {
		g, ok := d.(*ast.GenDecl)
		return ok && g.Tok == token.CONST
	})].(*ast.GenDecl)
	for _, s := range block.Specs {
		code, err := strconv.Unquote(s.(*ast.ValueSpec).Values[0].(*ast.BasicLit).Value)
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Contains(findingOrder, code) {
			t.Errorf("%s has no place in findingOrder", code)
		}
	}
	if len(block.Specs) != len(findingOrder) {
		t.Errorf("%d codes, and %d places in the order", len(block.Specs), len(findingOrder))
	}
}

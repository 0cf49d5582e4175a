package words_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// declarations of the package in a folder, tests left out.
func declarations(t *testing.T, dir string) []ast.Decl {
	t.Helper()
	names, err := filepath.Glob(filepath.Join(dir, "*.go"))
	if err != nil {
		t.Fatal(err)
	}
	var list []ast.Decl
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, file.Decls...)
	}
	return list
}

// typesWith names the types of a package that have the method, without arguments.
func typesWith(t *testing.T, dir, method string) []string {
	t.Helper()
	var names []string
	for _, d := range declarations(t, dir) {
		f, ok := d.(*ast.FuncDecl)
		if !ok || f.Recv == nil || f.Name.Name != method || len(f.Type.Params.List) > 0 {
			continue
		}
		names = append(names, f.Recv.List[0].Type.(*ast.Ident).Name)
	}
	if len(names) < 3 {
		t.Fatalf("types in %s with %s: %q", dir, method, names)
	}
	return names
}

// constantsOf returns the values of a string type's constants.
func constantsOf(t *testing.T, dir, typ string) []string {
	t.Helper()
	var values []string
	for _, d := range declarations(t, dir) {
		g, ok := d.(*ast.GenDecl)
		if !ok || g.Tok != token.CONST {
			continue
		}
		for _, spec := range g.Specs {
			v := spec.(*ast.ValueSpec)
			if id, ok := v.Type.(*ast.Ident); !ok || id.Name != typ {
				continue
			}
			text, err := strconv.Unquote(v.Values[0].(*ast.BasicLit).Value)
			if err != nil {
				t.Fatal(err)
			}
			values = append(values, text)
		}
	}
	if len(values) < 3 {
		t.Fatalf("constants in %s of %s: %q", dir, typ, values)
	}
	return values
}

// constantsNamed gives the values of the text constants whose names begin so.
func constantsNamed(t *testing.T, dir, prefix string) []string {
	t.Helper()
	var values []string
	for _, d := range declarations(t, dir) {
		g, ok := d.(*ast.GenDecl)
		if !ok || g.Tok != token.CONST {
			continue
		}
		for _, spec := range g.Specs {
			v := spec.(*ast.ValueSpec)
			for i, value := range v.Values {
				literal, ok := value.(*ast.BasicLit)
				if !ok || literal.Kind != token.STRING || !capitalAfter(v.Names[i].Name, prefix) {
					continue
				}
				text, err := strconv.Unquote(literal.Value)
				if err != nil {
					t.Fatal(err)
				}
				values = append(values, text)
			}
		}
	}
	if len(values) < 3 {
		t.Fatalf("constants in %s that begin with %s: %q", dir, prefix, values)
	}
	return values
}

// capitalAfter reports whether a name is the prefix and a word behind it.
func capitalAfter(name, prefix string) bool {
	rest, ok := strings.CutPrefix(name, prefix)
	return ok && rest != "" && rest[0] >= 'A' && rest[0] <= 'Z'
}

func typeName(v any) string { return reflect.TypeOf(v).Name() }

// missing lists what of all is not among some.
func missing(all, some []string) []string {
	return slices.DeleteFunc(all, func(s string) bool { return slices.Contains(some, s) })
}

func none(t *testing.T, forgotten []string) {
	t.Helper()
	if len(forgotten) > 0 {
		t.Errorf("no sentence of %q", forgotten)
	}
}

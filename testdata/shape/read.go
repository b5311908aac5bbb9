package main

import (
	"bytes"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"unicode/utf8"
)

// tree is what was measured of a module.
type tree struct {
	files     []file
	funcs     []function
	packages  map[string]*pkg // by folder
	longLines []string
	nameless  []string // exported names without a comment
}

type file struct {
	path  string
	lines int
}

type function struct {
	at         string // path:line name
	body       int    // lines between the braces
	decisions  int
	parameters int
	reason     bool // why it is long is said
}

type pkg struct {
	exported int
	comment  bool
}

// reason begins a line above a long function that says why it is one.
const reason = "//shape:long "

// longest is the most characters of a line.
const longest = 120

// known are methods of the standard library's interfaces, which need no words.
var known = map[string]bool{"Error": true, "String": true, "Unwrap": true, "Read": true, "Write": true,
	"ServeHTTP": true,
	"Len":       true, "Less": true, "Swap": true, "Push": true, "Pop": true}

// read measures every file of Go under root that is no test.
func read(root string) (*tree, error) {
	t := &tree{packages: map[string]*pkg{}}
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		switch name := d.Name(); {
		case err != nil:
			return err
		case d.IsDir() && path != root && (name == "testdata" || strings.HasPrefix(name, ".")):
			return filepath.SkipDir
		case d.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go"):
			return nil
		}
		return t.add(root, path)
	})
	if err == nil && len(t.files) == 0 {
		err = fmt.Errorf("no Go files under %s", root)
	}
	return t, err
}

// add measures a file.
func (t *tree) add(root, path string) error {
	src, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	short, err := filepath.Rel(root, path)
	if err != nil {
		return err
	}
	set := token.NewFileSet()
	f, err := parser.ParseFile(set, short, src, parser.ParseComments)
	if err != nil {
		return err
	}
	t.files = append(t.files, file{short, bytes.Count(src, []byte("\n"))})
	for i, l := range strings.Split(string(src), "\n") {
		if n := utf8.RuneCountInString(l); n > longest {
			t.longLines = append(t.longLines, fmt.Sprintf("%s:%d (%d)", short, i+1, n))
		}
	}
	dir := filepath.Dir(short)
	p := t.packages[dir]
	if p == nil {
		p = &pkg{}
		t.packages[dir] = p
	}
	p.comment = p.comment || f.Doc != nil
	for _, d := range f.Decls {
		t.declaration(set, p, d, f.Name.Name == "main")
	}
	return nil
}

// declaration counts exported names and measures functions. Those of a command
// are nobody's to use and need no comment.
func (t *tree) declaration(set *token.FileSet, p *pkg, d ast.Decl, command bool) {
	at := func(n *ast.Ident) string { return fmt.Sprintf("%s %s", set.Position(n.Pos()), n.Name) }
	exported := func(n *ast.Ident, documented, counts bool) {
		if !n.IsExported() || command {
			return
		}
		if counts {
			p.exported++
		}
		if !documented {
			t.nameless = append(t.nameless, at(n))
		}
	}
	switch d := d.(type) {
	case *ast.FuncDecl:
		if owner := receiver(d); owner == nil || owner.IsExported() {
			exported(d.Name, d.Doc != nil || owner != nil && known[d.Name.Name], d.Recv == nil)
		}
		if d.Body != nil {
			t.funcs = append(t.funcs, measure(set, d, at(d.Name)))
		}
	case *ast.GenDecl:
		for _, s := range d.Specs {
			switch s := s.(type) {
			case *ast.TypeSpec:
				exported(s.Name, d.Doc != nil || s.Doc != nil || s.Comment != nil, true)
			case *ast.ValueSpec:
				for _, n := range s.Names {
					exported(n, d.Doc != nil || s.Doc != nil || s.Comment != nil, true)
				}
			}
		}
	}
}

// receiver returns the name of the type that a method is of, nil for a function.
func receiver(d *ast.FuncDecl) *ast.Ident {
	if d.Recv == nil || len(d.Recv.List) == 0 {
		return nil
	}
	var name *ast.Ident
	ast.Inspect(d.Recv.List[0].Type, func(n ast.Node) bool {
		if id, ok := n.(*ast.Ident); ok && name == nil {
			name = id
		}
		return name == nil
	})
	return name
}

func measure(set *token.FileSet, d *ast.FuncDecl, at string) function {
	f := function{at: at, parameters: d.Type.Params.NumFields()}
	if d.Doc != nil {
		f.reason = slices.ContainsFunc(d.Doc.List, func(c *ast.Comment) bool { return strings.HasPrefix(c.Text, reason) })
	}
	f.body = max(0, set.Position(d.Body.Rbrace).Line-set.Position(d.Body.Lbrace).Line-1)
	if set.Position(d.Body.Rbrace).Line == set.Position(d.Body.Lbrace).Line && len(d.Body.List) > 0 {
		f.body = 1
	}
	ast.Inspect(d.Body, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.IfStmt, *ast.ForStmt, *ast.RangeStmt:
			f.decisions++
		case *ast.CaseClause:
			if n.List != nil { // not default
				f.decisions++
			}
		case *ast.CommClause:
			if n.Comm != nil {
				f.decisions++
			}
		case *ast.BinaryExpr:
			if n.Op == token.LAND || n.Op == token.LOR {
				f.decisions++
			}
		case *ast.FuncLit:
			f.parameters = max(f.parameters, n.Type.Params.NumFields())
		}
		return true
	})
	return f
}

// Command literals lists numbers that decide something, have no name, and have no word beside them:
//
//	go run ./scripts/literals [-most N] [FOLDER...]      (cmd and internal where none is named)
//
// A number decides where it is compared with, bounds a value (min, max, clamp) or is the case of a switch. 0, a half, 1 and 2 need no name, nor
// does what a length is compared with (how many bytes or points there must be). A comment on the same line says enough. Left out are tests
// and the packages that draw scenes for training and tests, whose numbers are what is drawn. It says how many there are; where there are
// more than N (0) it lists them and fails.
package main

import (
	"flag"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"go/types"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// drawing are the packages that draw.
var drawing = []string{"internal/trainscene", "internal/wallmaker", "internal/scenemaker", "internal/benchphoto"}

func main() {
	most := flag.Int("most", 0, "how many there may be")
	flag.Parse()
	folders := flag.Args()
	if len(folders) == 0 {
		folders = []string{"cmd", "internal"}
	}
	var all []string
	for _, folder := range folders {
		err := filepath.WalkDir(folder, func(path string, e fs.DirEntry, err error) error {
			if err == nil && e.IsDir() && slices.Contains(drawing, filepath.ToSlash(path)) {
				return fs.SkipDir
			}
			if err != nil || e.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
				return err
			}
			found, err := list(path)
			all = append(all, found...)
			return err
		})
		if err != nil {
			fmt.Fprintln(os.Stderr, "literals:", err)
			os.Exit(2)
		}
	}
	fmt.Printf("%d unnamed numbers that decide something\n", len(all))
	if len(all) > *most {
		fmt.Println(strings.Join(all, "\n"))
		os.Exit(1)
	}
}

// list gives those of a file, each with the expression it stands in.
func list(path string) (found []string, err error) {
	set := token.NewFileSet()
	file, err := parser.ParseFile(set, path, nil, parser.SkipObjectResolution|parser.ParseComments)
	if err != nil {
		return nil, err
	}
	told := map[int]bool{} // lines with a comment
	for _, g := range file.Comments {
		for _, c := range g.List {
			told[set.Position(c.Pos()).Line] = true
		}
	}
	ast.Inspect(file, func(node ast.Node) bool {
		if d, ok := node.(*ast.GenDecl); ok && d.Tok == token.CONST {
			return false
		}
		for _, e := range deciding(node) {
			if unnamed(e) && !told[set.Position(e.Pos()).Line] {
				found = append(found, fmt.Sprintf("%s: %s", set.Position(e.Pos()), types.ExprString(whole(node, e))))
			}
		}
		return true
	})
	return found, nil
}

// whole is the expression to show: the comparison or call, of a switch the case alone.
func whole(node ast.Node, e ast.Expr) ast.Expr {
	if x, ok := node.(ast.Expr); ok {
		return x
	}
	return e
}

// deciding are the expressions of a node that decide.
func deciding(node ast.Node) []ast.Expr {
	switch x := node.(type) {
	case *ast.BinaryExpr:
		switch x.Op {
		case token.LSS, token.GTR, token.LEQ, token.GEQ, token.EQL, token.NEQ:
			if !length(x.X) && !length(x.Y) {
				return []ast.Expr{x.X, x.Y}
			}
		}
	case *ast.CaseClause:
		return x.List
	case *ast.CallExpr:
		switch types.ExprString(x.Fun) {
		case "min", "max", "clamp", "math.Min", "math.Max":
			return x.Args
		}
	}
	return nil
}

// length says whether an expression tells how long something is.
func length(e ast.Expr) (yes bool) {
	ast.Inspect(e, func(n ast.Node) bool {
		if c, ok := n.(*ast.CallExpr); ok && types.ExprString(c.Fun) == "len" {
			yes = true
		}
		return !yes
	})
	return yes
}

// unnamed says whether an expression rests on a number without a name. A sum or a product has one as soon as one side of it is a number
// alone: of limit*3 it is the 3; limit/3 is a third. What is within a call, an index or a comparison of its own is looked at there.
func unnamed(e ast.Expr) bool {
	switch x := e.(type) {
	case *ast.BasicLit:
		return (x.Kind == token.INT || x.Kind == token.FLOAT) && !plain(x.Value)
	case *ast.ParenExpr:
		return unnamed(x.X)
	case *ast.UnaryExpr:
		return unnamed(x.X)
	case *ast.BinaryExpr:
		switch x.Op {
		case token.ADD, token.SUB, token.MUL:
			return unnamed(x.X) || unnamed(x.Y)
		case token.QUO, token.REM: // a third of something, every tenth: a whole number says it as well as a name would
			y, ok := x.Y.(*ast.BasicLit)
			return unnamed(x.X) || unnamed(x.Y) && !(ok && y.Kind == token.INT)
		}
	}
	return false
}

// plain are numbers that need no name.
func plain(text string) bool {
	v, err := strconv.ParseFloat(strings.ReplaceAll(text, "_", ""), 64)
	return err == nil && (v == 0 || v == 0.5 || v == 1 || v == 2)
}

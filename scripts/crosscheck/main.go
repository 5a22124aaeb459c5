// Command crosscheck tells whether the program still compiles for another system, without a C compiler or C libraries for
// it: go run ./scripts/crosscheck [-goos windows] [PACKAGE...]   (default: ./cmd/... ./internal/...)
//
// Packages that rest on no C are compiled, and vetted with their tests where those rest on none either. The others, and
// what imports them, are checked by the compiler's own type checker from their source, with what they take from C
// believed. Code in C itself is not looked at.
package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"go/ast"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
)

func main() {
	goos := flag.String("goos", "windows", "the system to check for")
	flag.Parse()
	patterns := flag.Args()
	if len(patterns) == 0 {
		patterns = []string{"./cmd/...", "./internal/..."}
	}
	if err := check(*goos, patterns); err != nil {
		fmt.Fprintln(os.Stderr, "crosscheck:", err)
		os.Exit(1)
	}
}

// goPackage is what go list says of a package.
type goPackage struct {
	ImportPath, Dir, Export    string
	GoFiles, CgoFiles, Imports []string
	TestImports, XTestImports  []string
	ImportMap                  map[string]string
	DepOnly                    bool
}

func check(goos string, patterns []string) error {
	// Dependencies come before what imports them.
	all, err := list(goos, "1", append([]string{"-deps"}, patterns...))
	if err != nil {
		return err
	}
	needsC := map[string]bool{}
	var vetted, plain, inC []string
	for _, p := range all {
		needsC[p.ImportPath] = len(p.CgoFiles) > 0 || slices.ContainsFunc(p.Imports, func(i string) bool { return needsC[p.real(i)] })
		switch {
		case needsC[p.ImportPath]:
			inC = append(inC, p.ImportPath)
		case p.ImportPath != "unsafe":
			plain = append(plain, p.ImportPath)
		}
	}
	// A package that only tests import is none of these, so that all are known by now.
	for _, p := range all {
		tests := slices.Concat(p.TestImports, p.XTestImports)
		if !p.DepOnly && !needsC[p.ImportPath] && !slices.ContainsFunc(tests, func(i string) bool { return needsC[p.real(i)] }) {
			vetted = append(vetted, p.ImportPath)
		}
	}
	vet := command(goos, "0", append([]string{"vet"}, vetted...))
	vet.Stdout, vet.Stderr = os.Stdout, os.Stderr
	vetErr := vet.Run()

	compiled, err := list(goos, "0", append([]string{"-export"}, plain...))
	if err != nil {
		return err
	}
	faults := typeCheck(all, needsC, compiled)
	for _, f := range faults {
		fmt.Fprintln(os.Stderr, f)
	}
	if vetErr != nil || len(faults) > 0 {
		return fmt.Errorf("does not compile for %s", goos)
	}
	fmt.Printf("%s: %d packages vetted, %d compiled in all, %d that rest on C type-checked\n", goos, len(vetted), len(plain), len(inC))
	return nil
}

// real is the package that an import names: a vendored one of the standard library has another path.
func (p *goPackage) real(name string) string {
	if other, ok := p.ImportMap[name]; ok {
		return other
	}
	return name
}

// typeCheck checks the packages that rest on C, in their order; compiled holds all others.
func typeCheck(all []*goPackage, needsC map[string]bool, compiled []*goPackage) (faults []error) {
	exports := map[string]string{}
	for _, p := range compiled {
		exports[p.ImportPath] = p.Export
	}
	fset := token.NewFileSet()
	gc := importer.ForCompiler(fset, "gc", func(path string) (io.ReadCloser, error) {
		if exports[path] == "" {
			return nil, fmt.Errorf("%s was not compiled", path)
		}
		return os.Open(exports[path])
	})
	checked := map[string]*types.Package{}
	for _, p := range all {
		if !needsC[p.ImportPath] {
			continue
		}
		var files []*ast.File
		for _, name := range slices.Concat(p.GoFiles, p.CgoFiles) {
			f, err := parser.ParseFile(fset, filepath.Join(p.Dir, name), nil, parser.SkipObjectResolution)
			if err != nil {
				faults = append(faults, err)
				continue
			}
			files = append(files, f)
		}
		c := types.Config{FakeImportC: true, Sizes: types.SizesFor("gc", "amd64"), Error: func(err error) {
			if !ofC(err) {
				faults = append(faults, err)
			}
		},
			Importer: importFunc(func(name string) (*types.Package, error) {
				if path := p.real(name); needsC[path] {
					return checked[path], nil
				} else if path == "unsafe" {
					return types.Unsafe, nil
				} else {
					return gc.Import(path)
				}
			})}
		checked[p.ImportPath], _ = c.Check(p.ImportPath, fset, files, nil)
	}
	return faults
}

// ofC says that a fault only tells that the type of something from C is not known.
func ofC(err error) bool { return strings.Contains(err.Error(), "invalid type") }

type importFunc func(string) (*types.Package, error)

func (f importFunc) Import(path string) (*types.Package, error) { return f(path) }

func list(goos, cgo string, args []string) (out []*goPackage, err error) {
	var faults bytes.Buffer
	cmd := command(goos, cgo, append([]string{"list", "-json=ImportPath,Dir,Export,GoFiles,CgoFiles,Imports,TestImports,XTestImports,ImportMap,DepOnly"}, args...))
	cmd.Stderr = &faults
	data, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("go list: %w\n%s", err, faults.String())
	}
	for d := json.NewDecoder(bytes.NewReader(data)); ; {
		p := new(goPackage)
		if err := d.Decode(p); errors.Is(err, io.EOF) {
			return out, nil
		} else if err != nil {
			return nil, err
		}
		out = append(out, p)
	}
}

func command(goos, cgo string, args []string) *exec.Cmd {
	cmd := exec.Command("go", args...)
	cmd.Env = append(os.Environ(), "GOOS="+goos, "GOARCH=amd64", "CGO_ENABLED="+cgo)
	return cmd
}

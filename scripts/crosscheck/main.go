// Command crosscheck tells whether the program still compiles for another system, without a C compiler or C libraries for
// it: go run ./scripts/crosscheck [-goos windows] [-vet] [PACKAGE...]   (default: ./cmd/... ./internal/...)
//
// Everything, down to the standard library, is checked by the compiler's own type checker from its source, with what it takes from C
// believed; of packages that rest on no C the tests are checked too. With -vet those are vetted as well, for which all that they import is
// compiled: a minute and more. Code in C itself is not looked at.
package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"go/ast"
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
	vet := flag.Bool("vet", false, "vet what rests on no C")
	flag.Parse()
	patterns := flag.Args()
	if len(patterns) == 0 {
		patterns = []string{"./cmd/...", "./internal/..."}
	}
	if err := check(*goos, *vet, patterns); err != nil {
		fmt.Fprintln(os.Stderr, "crosscheck:", err)
		os.Exit(1)
	}
}

// goPackage is what go list says of a package.
type goPackage struct {
	ImportPath, Dir            string
	GoFiles, CgoFiles, Imports []string
	TestImports, XTestImports  []string
	ImportMap                  map[string]string
	DepOnly                    bool
}

func check(goos string, vet bool, patterns []string) error {
	// Dependencies come before what imports them.
	all, err := list(goos, "1", append([]string{"-deps"}, patterns...))
	if err != nil {
		return err
	}
	needsC := map[string]bool{}
	inC := 0
	for _, p := range all {
		needsC[p.ImportPath] = len(p.CgoFiles) > 0 || slices.ContainsFunc(p.Imports, func(i string) bool { return needsC[p.real(i)] })
		if needsC[p.ImportPath] {
			inC++
		}
	}
	// A package that only tests import is none of these, so that all are known by now.
	var tested []string
	for _, p := range all {
		tests := slices.Concat(p.TestImports, p.XTestImports)
		if !p.DepOnly && !needsC[p.ImportPath] && !slices.ContainsFunc(tests, func(i string) bool { return needsC[p.real(i)] }) {
			tested = append(tested, p.ImportPath)
		}
	}
	withTests, err := list(goos, "1", append([]string{"-deps", "-test"}, tested...))
	if err != nil {
		return err
	}
	faults := typeCheck(append(all, withTests...))
	for _, f := range faults {
		fmt.Fprintln(os.Stderr, f)
	}
	if vet {
		cmd := command(goos, "0", append([]string{"vet"}, tested...))
		cmd.Stdout, cmd.Stderr = os.Stdout, os.Stderr
		if err := cmd.Run(); err != nil {
			faults = append(faults, err)
		}
	}
	if len(faults) > 0 {
		return fmt.Errorf("does not compile for %s", goos)
	}
	fmt.Printf("%s: %d packages type-checked, of which %d rest on C, %d with their tests\n", goos, len(all), inC, len(tested))
	return nil
}

// real is the package that an import names: a vendored one of the standard library has another path.
func (p *goPackage) real(name string) string {
	if other, ok := p.ImportMap[name]; ok {
		return other
	}
	return name
}

// typeCheck checks packages in their order.
func typeCheck(all []*goPackage) (faults []error) {
	fset := token.NewFileSet()
	checked := map[string]*types.Package{"unsafe": types.Unsafe}
	for _, p := range all {
		if checked[p.ImportPath] != nil || strings.HasSuffix(p.ImportPath, ".test") { // known already, or made by the go command
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
				if in := checked[p.real(name)]; in != nil {
					return in, nil
				}
				return nil, fmt.Errorf("%s was not checked", name)
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
	cmd := command(goos, cgo, append([]string{"list", "-json=ImportPath,Dir,GoFiles,CgoFiles,Imports,TestImports,XTestImports,ImportMap,DepOnly"}, args...))
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

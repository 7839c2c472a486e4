package main

import (
	"bytes"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// withoutExample are packages that have nothing to call: embedded files, what tests share, and a program.
var withoutExample = []string{"data", "catalog/specimen", "catalog/whatif/wasm"}

// Each library package shows by a runnable example how it is called.
func TestEachLibraryPackageHasAnExample(t *testing.T) {
	has := map[string]bool{}
	for _, file := range goFiles(t) {
		pkg := path.Dir(file)
		if pkg == "cmd/gradeline" || strings.HasPrefix(pkg, ".") {
			continue
		}
		if !strings.HasSuffix(file, "_test.go") {
			has[pkg] = has[pkg] || slices.Contains(withoutExample, pkg)
			continue
		}
		b, err := os.ReadFile(filepath.Join(tree, file))
		if err != nil {
			t.Fatal(err)
		}
		if bytes.Contains(b, []byte("\nfunc Example")) && bytes.Contains(b, []byte("// Output:")) {
			has[pkg] = true
		}
	}
	if len(has) < 20 {
		t.Fatalf("only %d packages seen: is this the module's top folder?", len(has))
	}
	for pkg, ok := range has {
		if !ok {
			t.Errorf("package %s has no runnable example", pkg)
		}
	}
}

package main

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// oneMeaning lists words that name one type in the whole module, exported or not.
var oneMeaning = []string{"Site", "Source", "Finding", "Stretch", "Route", "Candidate", "Descent", "Hold", "Review", "Provenance", "Raster", "Entry"}

// declaredTypes maps each word of oneMeaning to where it is declared, in a file's source
// or in the file itself where src is nil. An alias is no second type.
func declaredTypes(name string, src any) (map[string][]string, error) {
	files := token.NewFileSet()
	f, err := parser.ParseFile(files, filepath.Join(tree, name), src, parser.SkipObjectResolution)
	if err != nil {
		return nil, err
	}
	out := map[string][]string{}
	for _, d := range f.Decls {
		g, ok := d.(*ast.GenDecl)
		if !ok || g.Tok != token.TYPE {
			continue
		}
		for _, s := range g.Specs {
			t := s.(*ast.TypeSpec)
			i := slices.IndexFunc(oneMeaning, func(w string) bool { return strings.EqualFold(w, t.Name.Name) })
			if i >= 0 && !t.Assign.IsValid() {
				out[oneMeaning[i]] = append(out[oneMeaning[i]], fmt.Sprintf("%s:%d", name, files.Position(t.Pos()).Line))
			}
		}
	}
	return out, nil
}

func vocabularyFaults(declared map[string][]string) []string {
	var faults []string
	for word, at := range declared {
		if len(at) > 1 {
			faults = append(faults, fmt.Sprintf("%s is the name of %d types: %s", word, len(at), strings.Join(at, ", ")))
		}
	}
	return faults
}

func TestOneWordOneMeaning(t *testing.T) {
	all := map[string][]string{}
	for _, name := range goFiles(t) {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		declared, err := declaredTypes(name, nil)
		if err != nil {
			t.Fatal(err)
		}
		for word, at := range declared {
			all[word] = append(all[word], at...)
		}
	}
	if len(all) == 0 {
		t.Fatal("none of the words is declared: is this the module's top folder?")
	}
	for _, f := range vocabularyFaults(all) {
		t.Error(f)
	}
}

func TestVocabularyGateTurnsRed(t *testing.T) {
	declared, err := declaredTypes("x.go", "package x\n\ntype Site struct{}\n\ntype (\n\tother int\n\tsite  struct{}\n)\n\ntype Route = Site\n")
	if err != nil {
		t.Fatal(err)
	}
	if got := vocabularyFaults(declared); len(got) != 1 || !strings.HasPrefix(got[0], "Site is the name of 2 types") {
		t.Errorf("%q", got)
	}
}

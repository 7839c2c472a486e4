package main

import (
	"fmt"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// rows is the table of DEVELOPERS.md: a package imports ours only from a lower row.
var rows = map[string]int{
	"data":    0,
	"terrain": 1, "terrain/cmemory": 1,
	"terrain/raster": 2, "terrain/synth": 2,
	"routes":        3,
	"routes/vector": 4, "routes/stationing": 4,
	"routes/network": 5, "routes/recorded": 5, "routes/grade": 5,
	"routes/descent":  6,
	"catalog":         7,
	"catalog/vehicle": 8, "catalog/wholefile": 8, "catalog/specimen": 8, "catalog/compact": 8, "catalog/shared/testserver": 8,
	"catalog/holding": 9, "catalog/wording": 9,
	"cmd/commandline": 10, "catalog/handout": 10, "catalog/debrief": 10, "catalog/ranking": 10, "catalog/whatif": 10, "catalog/signs": 10, "catalog/gpkg": 10,
	"catalog/resurvey": 11, "catalog/shared": 11, "catalog/whatif/wasm": 11, "catalog/trainees": 11,
	"catalog/store":  12,
	"catalog/survey": 13, "catalog/plot": 13, "catalog/table": 13, "catalog/overlay": 13,
	"catalog/spread": 14, "catalog/lesson": 14, "catalog/page": 14, "catalog/plansheet": 14,
	"catalog/answer": 15,
	"catalog/demo":   16, "catalog/serve": 16,
	"cmd/gradeline": 17,
}

// homes are the outside packages that belong to some of ours only, by import prefix.
var homes = map[string][]string{
	"github.com/airbusgeo/godal":  {"terrain/raster", "routes/vector"},
	"github.com/klauspost":        {"terrain/raster"},
	"github.com/paulmach/osm":     {"routes/vector"},
	"github.com/muktihari/fit":    {"routes/vector"},
	"github.com/adrianmo/go-nmea": {"routes/vector"},
	"github.com/tkrajina/gpxgo":   {"routes/vector"}, // in a test
	"github.com/tidwall/geodesic": {"routes/stationing"},
	"gonum.org/v1/gonum":          {"routes/grade", "catalog/survey"},
	"github.com/mattn/go-sqlite3": {"catalog/gpkg", "catalog/store"},
	"github.com/jackc/pgx":        {"catalog/shared", "catalog/spread"},
	"github.com/riverqueue/river": {"catalog/spread"},
	"gonum.org/v1/plot":           {"catalog/plot"},
	"codeberg.org/go-pdf/fpdf":    {"catalog/page", "catalog/plansheet", "catalog/handout"},
	"github.com/yofu/dxf":         {"catalog/plansheet"},
	"github.com/xuri/excelize":    {"catalog/table"},
	"github.com/xrash/smetrics":   {"catalog/vehicle", "cmd"},
	"github.com/urfave/cli":       {"cmd"},
	"github.com/paulmach/orb":     {"routes", "catalog", "cmd"},
}

// rootPackages are vocabulary: no C and no input or output.
var rootPackages = []string{"terrain", "routes", "catalog"}

type imported struct{ pkg, file, path string }

func layerFaults(list []imported) []string {
	var faults []string
	for _, im := range list {
		row, known := rows[im.pkg]
		if !known {
			faults = append(faults, fmt.Sprintf("%s: package %s is in no row of the layer table", im.file, im.pkg))
			continue
		}
		if own, ok := strings.CutPrefix(im.path, "gradeline/"); ok {
			if to, known := rows[own]; own != im.pkg && (!known || to >= row) {
				faults = append(faults, fmt.Sprintf("%s: %s (row %d) imports %s (row %d): arrows point down only", im.file, im.pkg, row, own, to))
			}
			continue
		}
		for prefix, at := range homes {
			if !strings.HasPrefix(im.path, prefix) {
				continue
			}
			if !slices.ContainsFunc(at, func(h string) bool { return im.pkg == h || strings.HasPrefix(im.pkg, h+"/") }) {
				faults = append(faults, fmt.Sprintf("%s: %s imports %s, which is at home in %v only", im.file, im.pkg, im.path, at))
			}
		}
		if slices.Contains(rootPackages, im.pkg) && !strings.HasSuffix(im.file, "_test.go") &&
			slices.Contains([]string{"C", "os", "io", "net/http", "log", "database/sql"}, im.path) {
			faults = append(faults, fmt.Sprintf("%s: root package %s imports %s: vocabulary does no input or output", im.file, im.pkg, im.path))
		}
	}
	return faults
}

// tree is the top folder of the module, seen from this package's tests.
const tree = "../.."

// goFiles lists the module's Go files by path from its top.
func goFiles(t *testing.T) []string {
	t.Helper()
	var out []string
	err := filepath.WalkDir(tree, func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (strings.HasPrefix(d.Name(), ".") && d.Name() != ".." || d.Name() == "testdata" || d.Name() == "bin" || d.Name() == "out") {
			return filepath.SkipDir
		}
		if strings.HasSuffix(p, ".go") {
			rel, err := filepath.Rel(tree, p)
			if err != nil {
				return err
			}
			out = append(out, filepath.ToSlash(rel))
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func TestImportsPointDown(t *testing.T) {
	var list []imported
	for _, file := range goFiles(t) {
		f, err := parser.ParseFile(token.NewFileSet(), filepath.Join(tree, file), nil, parser.ImportsOnly)
		if err != nil {
			t.Fatal(err)
		}
		for _, im := range f.Imports {
			p, _ := strconv.Unquote(im.Path.Value)
			list = append(list, imported{path.Dir(file), file, p})
		}
	}
	if len(list) < 100 {
		t.Fatalf("only %d imports read: is this the module's top folder?", len(list))
	}
	for _, f := range layerFaults(list) {
		t.Error(f)
	}
}

// godal stores pointers in memory of C.malloc, which package cmemory makes safe.
func TestPackagesWithGodalClearCMemory(t *testing.T) {
	uses, clears := map[string]bool{}, map[string]bool{}
	for _, file := range goFiles(t) {
		f, err := parser.ParseFile(token.NewFileSet(), filepath.Join(tree, file), nil, parser.ImportsOnly)
		if err != nil {
			t.Fatal(err)
		}
		for _, im := range f.Imports {
			switch im.Path.Value {
			case `"github.com/airbusgeo/godal"`:
				uses[path.Dir(file)] = true
			case `"gradeline/terrain/cmemory"`:
				clears[path.Dir(file)] = true
			}
		}
	}
	if len(uses) < 2 {
		t.Fatalf("only %d packages use godal: the test shows little", len(uses))
	}
	for pkg := range uses {
		if !clears[pkg] {
			t.Errorf("%s imports godal and not gradeline/terrain/cmemory", pkg)
		}
	}
}

func TestLayerGateTurnsRed(t *testing.T) {
	for _, bad := range []imported{
		{"terrain", "terrain/x.go", "gradeline/routes"},                      // up
		{"catalog/signs", "catalog/signs/x.go", "gradeline/catalog/ranking"}, // sideways
		{"routes/grade", "routes/grade/x.go", "github.com/airbusgeo/godal"},  // not at home
		{"terrain", "terrain/x.go", "github.com/paulmach/orb"},               // orb below routes
		{"catalog", "catalog/x.go", "os"},                                    // root package with I/O
		{"routes/new", "routes/new/x.go", "fmt"},                             // no row
	} {
		if len(layerFaults([]imported{bad})) == 0 {
			t.Errorf("%s importing %s passes", bad.pkg, bad.path)
		}
	}
}

func TestTopLevelIsAsLaidOut(t *testing.T) {
	allowed := []string{"cmd", "terrain", "routes", "catalog", "data", "go.mod", "go.sum", "README.md", "DEVELOPERS.md",
		"Makefile", ".ci", ".gitignore", "LICENSE", ".git", "bin", "out"}
	entries, err := os.ReadDir(tree)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if !slices.Contains(allowed, e.Name()) {
			t.Errorf("top level has %q, which the layout does not name", e.Name())
		}
	}
}

// mostCommandLines is the most that a file of cmd may have: what a command does belongs into the library.
const mostCommandLines = 150

func isTooLong(file string, lines int) bool {
	return strings.HasPrefix(file, "cmd/") && !strings.HasSuffix(file, "_test.go") && lines > mostCommandLines
}

func TestCommandFilesHaveFewLines(t *testing.T) {
	found := 0
	for _, file := range goFiles(t) {
		b, err := os.ReadFile(filepath.Join(tree, file))
		if err != nil {
			t.Fatal(err)
		}
		if strings.HasPrefix(file, "cmd/") {
			found++
		}
		if n := strings.Count(string(b), "\n"); isTooLong(file, n) {
			t.Errorf("%s has %d lines, more than %d: move what is not flags, one call or printing into the library", file, n, mostCommandLines)
		}
	}
	if found < 50 {
		t.Fatalf("only %d files of cmd found", found)
	}
	for file, lines := range map[string]int{"cmd/gradeline/x.go": 151, "cmd/commandline/x.go": 400} { // the check turns red
		if !isTooLong(file, lines) {
			t.Errorf("%s with %d lines passes", file, lines)
		}
	}
}

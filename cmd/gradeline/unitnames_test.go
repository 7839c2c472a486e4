package main

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// goSuffix and keySuffix are how a quantity's name ends: its unit, or the word
// that says it has none. Units lists (SpanM, PowerWByRPM) name the last one.
var (
	goSuffix  = regexp.MustCompile(`(M|KM|MM|Mi|Ft|In|M2|M3|Pct|Deg|Rad|MPS|MPH|KMH|Kg|Lb|Kips|T|W|KW|HP|Nm|RPM|S|H|C|F|K|N|Lbf|J|Pa|PSI|SI|Wh|L|X|Y|KgM3|PerM|PerK|PerH|PerS|FPerHP|JPerK|WPerK|WPerM2K|JPerKgK|MPS2|Ratio|Ratios|Share|Shares|Efficiency|Friction|FinalDrive|Resistance|Score|Factor|Scale|Ms|Px)$`)
	keySuffix = regexp.MustCompile(`_(m|km|mm|mi|ft|in|m2|pct|deg|mps|mps2|mph|kmh|kg|lb|w|kw|hp|nm|rpm|rpm_min|rpm_max|s|h|c|f|n|j|wh|l|ratio|ratios|share|shares|score)$`)
	// dimensionless are whole names that need no unit.
	dimensionless = map[string]bool{
		"Milepost": true, "milepost": true, "Reads": true, // the number on a post, whatever its unit
		"ratio": true, "gear_ratios": true, "final_drive": true, "driveline_efficiency": true, "rolling_resistance": true,
		// A figure of any kind, whose unit a header or the figure's own key names; a raster's own no-data value.
		"Cost": true, "EdgeCost": true, "OverstatedCost": true, "line": true, // what the query counts, seconds or metres; coordinates
		"V": true, "Old": true, "New": true, "Bound": true, "old": true, "new": true, "bound": true, "NoData": true,
		"friction_needed": true, "friction_applied": true, "friction_allowed": true, "FrictionApplied": true, "FrictionAllowed": true, "Ratio": true, "power_w_by_rpm": true, "sin": true, "cos": true, "friction": true, "FrictionNeeded": true, "share": true, "factor": true,
	}
)

type quantityName struct{ where, name string }

// quantities reads the exported float fields, parameters and results, and the
// JSON keys of float fields, of one file.
func quantities(fset *token.FileSet, f *ast.File) (goNames, keys []quantityName) {
	add := func(list *[]quantityName, at token.Pos, name string) {
		p := fset.Position(at)
		*list = append(*list, quantityName{fmt.Sprintf("%s:%d", p.Filename, p.Line), name})
	}
	for _, decl := range f.Decls {
		switch d := decl.(type) {
		case *ast.FuncDecl:
			if !d.Name.IsExported() {
				continue
			}
			for _, p := range d.Type.Params.List {
				if isFloat(p.Type) {
					for _, n := range p.Names {
						add(&goNames, n.Pos(), n.Name)
					}
				}
			}
			if d.Type.Results != nil {
				for _, p := range d.Type.Results.List {
					if isFloat(p.Type) {
						for _, n := range p.Names {
							add(&goNames, n.Pos(), n.Name)
						}
					}
				}
			}
		case *ast.GenDecl:
			for _, s := range d.Specs {
				ts, ok := s.(*ast.TypeSpec)
				if !ok {
					continue
				}
				ast.Inspect(ts.Type, func(n ast.Node) bool {
					field, ok := n.(*ast.Field)
					if !ok || !isFloat(field.Type) {
						return true
					}
					for _, name := range field.Names {
						if name.IsExported() && ts.Name.IsExported() {
							add(&goNames, name.Pos(), name.Name)
						}
					}
					if field.Tag != nil {
						tag, _ := strconv.Unquote(field.Tag.Value)
						for _, kind := range []string{"json", "toml"} {
							if key, _, _ := strings.Cut(reflect.StructTag(tag).Get(kind), ","); key != "" && key != "-" {
								add(&keys, field.Pos(), key)
							}
						}
					}
					return true
				})
			}
		}
	}
	return goNames, keys
}

// isFloat reports whether a type is a float, or a list or pointer of floats.
func isFloat(e ast.Expr) bool {
	switch x := e.(type) {
	case *ast.Ident:
		return x.Name == "float64" || x.Name == "float32"
	case *ast.ArrayType:
		return isFloat(x.Elt)
	case *ast.StarExpr:
		return isFloat(x.X)
	case *ast.Ellipsis:
		return isFloat(x.Elt)
	}
	return false
}

func nameFaults(goNames, keys []quantityName) []string {
	var out []string
	for _, n := range goNames {
		// A parameter may be just its unit in small letters, as in lengthM or rpm.
		name := strings.ToUpper(n.name[:1]) + n.name[1:]
		whole := goSuffix.FindString(strings.ToUpper(n.name)) == strings.ToUpper(n.name)
		if !goSuffix.MatchString(name) && !dimensionless[n.name] && !whole {
			out = append(out, fmt.Sprintf("%s: %s does not end in its unit", n.where, n.name))
		}
	}
	for _, k := range keys {
		if !keySuffix.MatchString(k.name) && !dimensionless[k.name] {
			out = append(out, fmt.Sprintf("%s: key %q does not end in its unit", k.where, k.name))
		}
	}
	return out
}

func TestQuantitiesEndInTheirUnit(t *testing.T) {
	var goNames, keys []quantityName
	for _, file := range goFiles(t) {
		if strings.HasSuffix(file, "_test.go") {
			continue
		}
		src, err := os.ReadFile(filepath.Join(tree, file))
		if err != nil {
			t.Fatal(err)
		}
		fset := token.NewFileSet()
		f, err := parser.ParseFile(fset, file, src, 0)
		if err != nil {
			t.Fatal(err)
		}
		g, k := quantities(fset, f)
		goNames, keys = append(goNames, g...), append(keys, k...)
	}
	if len(goNames) < 100 || len(keys) < 30 {
		t.Fatalf("only %d names and %d keys read", len(goNames), len(keys))
	}
	for _, f := range nameFaults(goNames, keys) {
		t.Error(f)
	}
}

// sqlColumn finds real-valued columns, in SQL text and in the tables of columns of the file.
var sqlColumn = regexp.MustCompile(`(?m)^\s*(?:,?\s*([a-z_0-9]+)\s+(?:REAL|DOUBLE|FLOAT)\b|\{"([a-z_0-9]+)", (?:number|numberOr|"REAL[^"]*"),)`)

func TestSchemaColumnsEndInTheirUnit(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(tree, "catalog/gpkg/*"))
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	for _, file := range files {
		src, err := os.ReadFile(file)
		if err != nil || strings.HasSuffix(file, "_test.go") {
			continue
		}
		for _, m := range sqlColumn.FindAllStringSubmatch(string(src), -1) {
			seen++
			// The GeoPackage standard itself names these four.
			if name := m[1] + m[2]; !keySuffix.MatchString(name) && !dimensionless[name] && !regexp.MustCompile(`^(min|max)_?[xy]$`).MatchString(name) {
				t.Errorf("%s: column %q does not end in its unit", filepath.Base(file), name)
			}
		}
	}
	if seen < 20 {
		t.Fatalf("only %d real-valued columns read", seen)
	}
}

func TestUnitNameGateTurnsRed(t *testing.T) {
	src := `package x
type T struct {
	Length float64 ` + "`json:\"length\"`" + `
	LengthM float64 ` + "`json:\"length_m\"`" + `
}
func F(speed float64) {}
func G(speedMPS float64) {}`
	fset := token.NewFileSet()
	f, err := parser.ParseFile(fset, "x.go", src, 0)
	if err != nil {
		t.Fatal(err)
	}
	if got := nameFaults(quantities(fset, f)); len(got) != 3 {
		t.Errorf("want three faults (Length, length, speed), got %q", got)
	}
	if !sqlColumn.MatchString("  length REAL NOT NULL") || !sqlColumn.MatchString("\t\t{\"length\", number, \"Length\", \"\"},") {
		t.Error("the schema gate does not see a real-valued column")
	}
}

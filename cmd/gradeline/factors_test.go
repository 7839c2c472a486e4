package main

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// factorHomes says where each factor of a unit, and gravity and air, stand; all else
// uses the constant or the conversion from there.
var factorHomes = []struct {
	what   string
	values []float64 // the factor, its inverse and the powers of ten in use
	homes  []string
}{
	{"terrain.FootM", []float64{0.3048, 304.8, 30.48, 1 / 0.3048}, []string{"terrain/unit.go"}},
	{"routes.MileM", []float64{1609.344, 160.9344, 1.609344, 1 / 1.609344, 5280}, []string{"routes/units.go"}},
	{"routes.YardM", []float64{0.9144, 1 / 0.9144}, nil},
	{"routes.InchM", []float64{0.0254, 2.54, 25.4, 1 / 0.0254}, nil},
	{"routes.MilePerHourMPS", []float64{0.44704, 1 / 0.44704}, nil},
	{"routes.KilometrePerHourMPS", []float64{3.6, 1 / 3.6}, nil},
	{"routes.PoundKg", []float64{0.45359237, 453.59237, 1 / 0.45359237, 907.18474}, []string{"routes/units.go"}},
	{"terrain.GravityMPS2", []float64{9.80665, 9.81}, []string{"terrain/gravity.go"}},
	{"catalog.HorsepowerW", []float64{745.69987158227022, 0.745699871, 1.341022, 735.49875}, nil},
	{"vehicle.AirDensityKgM3", []float64{1.225}, nil},
}

// factorFaults lists the number literals of a file that are a unit's factor, or gravity
// or air, to three figures, outside their home.
func factorFaults(name string, src any) ([]string, error) {
	files := token.NewFileSet()
	f, err := parser.ParseFile(files, filepath.Join(tree, name), src, parser.SkipObjectResolution)
	if err != nil {
		return nil, err
	}
	var faults []string
	ast.Inspect(f, func(n ast.Node) bool {
		lit, ok := n.(*ast.BasicLit)
		if !ok || lit.Kind != token.FLOAT && lit.Kind != token.INT {
			return true
		}
		v, err := strconv.ParseFloat(strings.ReplaceAll(lit.Value, "_", ""), 64)
		if err != nil {
			return true // a hexadecimal or binary number
		}
		for _, h := range factorHomes {
			if slices.Contains(h.homes, name) {
				continue
			}
			for _, x := range h.values {
				if math.Abs(v/x-1) < 3e-4 {
					faults = append(faults, fmt.Sprintf("%s:%d: %s stands for %s", name, files.Position(lit.Pos()).Line, lit.Value, h.what))
				}
			}
		}
		return true
	})
	return faults, nil
}

func TestUnitFactorsStandOnce(t *testing.T) {
	for _, name := range goFiles(t) {
		if strings.HasSuffix(name, "_test.go") {
			continue // a test may have its own figure to check ours by
		}
		faults, err := factorFaults(name, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range faults {
			t.Error(f)
		}
	}
}

func TestUnitFactorGateTurnsRed(t *testing.T) {
	for _, literal := range []string{"1609.344", "1_609.34", "0.3048", "3.28084", "3.6", "0.4536", "2.2046", ".44704", "2.237", "9.80665", "9.81", "1.225", "745.7", "1.341", "25.4", "0.9144", "5280"} {
		faults, err := factorFaults("catalog/x.go", "package catalog\n\nvar x = 2 * "+literal+"\n")
		if err != nil {
			t.Fatal(err)
		}
		if len(faults) == 0 {
			t.Errorf("%s passes", literal)
		}
	}
}

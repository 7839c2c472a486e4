package survey_test

import (
	"context"
	"flag"
	"fmt"
	"maps"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"

	"gradeline/terrain/synth"
)

var (
	accuracySet     = flag.String("accuracy.set", "", "seeds of BenchmarkAccuracy: tuning, testing, bounds, holdout, fresh, steep-parts, benches, displaced or slopes; without it a few testing roads")
	accuracyRoads   = flag.Int("accuracy.roads", 40, "roads of the set, from its first; 0 is all")
	accuracyMethods = flag.String("accuracy.methods", "raw,window,ours", "methods, comma-separated")
	accuracyStress  = flag.String("accuracy.stress", "", "a hard variant of the set's roads: "+strings.Join(stressNames(), ", "))
	accuracyCellsM  = flag.String("accuracy.cells", "1,10,30,90", "cell sizes of BenchmarkAccuracy, metres")
	accuracyEach    = flag.Bool("accuracy.each", false, "print each road's figures too")
)

// gateRoads is how many testing roads the gate measures, from the set's first.
const gateRoads = 24

// key names a line of the table.
type key struct {
	cellM  float64
	method string
}

// runRoads measures roads by some workers; the result doesn't depend on how many.
func runRoads(ctx context.Context, workers int, options []synth.Options, cellsM []float64, use []method) (map[key]*score, []map[key]*score, error) {
	each := make([]map[key]*score, len(options))
	errs := make([]error, len(options))
	next := make(chan int)
	var wg sync.WaitGroup
	for range workers {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for i := range next {
				road, cases, err := runRoad(ctx, options[i], cellsM, use)
				if err != nil {
					errs[i] = err
					continue
				}
				each[i] = map[key]*score{}
				for _, c := range cases {
					each[i][key{c.cellM, c.method}] = measureRoad(road, c)
				}
			}
		}()
	}
	for i := range options {
		next <- i
	}
	close(next)
	wg.Wait()
	total := map[key]*score{}
	for i, m := range each {
		if errs[i] != nil {
			return nil, nil, errs[i]
		}
		for _, cellM := range cellsM {
			for _, u := range use {
				k := key{cellM, u.name}
				if total[k] == nil {
					total[k] = &score{}
				}
				total[k].add(m[k])
			}
		}
	}
	return total, each, nil
}

// stresses are variants of every road of a set.
var stresses = map[string]func(*synth.Options){
	"untagged":     func(o *synth.Options) { o.UnflaggedShare = 1 },
	"voids":        func(o *synth.Options) { o.VoidsPerKM = 0.25 },
	"whole-metres": func(o *synth.Options) { o.WholeMetres = true },
	"datum-steps":  func(o *synth.Options) { o.DatumStepM = 2 },
	"noise-1.8":    func(o *synth.Options) { o.NoiseScale = 1.8 },
	"noise-0.5":    func(o *synth.Options) { o.NoiseScale = 0.5 },
	"canopy":       func(o *synth.Options) { o.Canopy = true },
	"shift-3m":     func(o *synth.Options) { o.LateralConstM = 3 },
	"shift-6m":     func(o *synth.Options) { o.LateralConstM = 6 },
	"flat":         func(o *synth.Options) { o.Flat = true },
	"narrow-bench": func(o *synth.Options) { o.BenchHalfWidthM = 3.5 },
}

func stressNames() []string { return slices.Sorted(maps.Keys(stresses)) }

func optionsOf(seeds []uint64) []synth.Options {
	out := make([]synth.Options, len(seeds))
	for i, s := range seeds {
		out[i] = synth.Options{Seed: s}
	}
	return out
}

// BenchmarkAccuracy prints the table of accuracy; see the flags.
func BenchmarkAccuracy(b *testing.B) {
	options := setOptions(b)
	use := chosenMethods(b)
	if *accuracyStress != "" {
		change := stresses[*accuracyStress]
		if change == nil {
			b.Fatalf("-accuracy.stress: no variant %q", *accuracyStress)
		}
		for i := range options {
			change(&options[i])
		}
	}
	for b.Loop() {
		total, each, err := runRoads(context.Background(), 2, options, cellsOf(b, *accuracyCellsM), use)
		if err != nil {
			b.Fatal(err)
		}
		fmt.Printf("\naccuracy on %d roads of set %q %s\n", len(options), *accuracySet, *accuracyStress)
		table(os.Stdout, total, use)
		detailTable(os.Stdout, total)
		if *accuracyEach {
			for i, m := range each {
				fmt.Printf("seed %d\n", options[i].Seed)
				table(os.Stdout, m, use)
			}
		}
		for _, cellM := range accuracyCells {
			if s := total[key{cellM, "ours"}]; s != nil {
				b.ReportMetric(rms(s.gradeAll), fmt.Sprintf("rmse-%gm", cellM))
				b.ReportMetric(s.f1(), fmt.Sprintf("F1-%gm", cellM))
			}
		}
	}
}

// displacedM are how far the lines of the set "displaced" lie beside their roads, in turn.
var displacedM = []float64{50, -100, 200, -50, 100, -200}

// setOptions are the roads of the set that the flags name.
func setOptions(b *testing.B) []synth.Options {
	kinds := synth.FreshKinds
	var out []synth.Options
	switch *accuracySet {
	case "":
		out = optionsOf(synth.Testing[:gateRoads])
	case "tuning":
		out = optionsOf(synth.Tuning)
	case "testing":
		out = optionsOf(synth.Testing)
	case "bounds":
		out = optionsOf(synth.Bounds)
	case "holdout":
		out = optionsOf(synth.HoldOut)
	case "fresh":
		out = optionsOf(synth.Fresh)
	case "steep-parts":
		out = ofKind(optionsOf(synth.FreshSteep), synth.ShortSteepParts)
	case "benches":
		out = ofKind(optionsOf(kinds[30:60]), synth.ShortBenches)
	case "displaced":
		out = optionsOf(synth.FreshLines)
		for i := range out {
			out[i].LateralConstM = displacedM[i%len(displacedM)]
		}
	case "slopes":
		out = ofKind(optionsOf(kinds[80:100]), synth.EndsOnSlopes)
	default:
		b.Fatalf("-accuracy.set %q: see its help for the sets", *accuracySet)
	}
	if n := *accuracyRoads; n > 0 && n < len(out) {
		out = out[:n]
	}
	return out
}

func ofKind(options []synth.Options, k synth.Kind) []synth.Options {
	for i := range options {
		options[i].Kind = k
	}
	return options
}

func chosenMethods(b *testing.B) []method {
	var use []method
	for _, name := range strings.Split(*accuracyMethods, ",") {
		found := false
		for _, m := range methods {
			if m.name == name {
				use, found = append(use, m), true
			}
		}
		if !found {
			b.Fatalf("-accuracy.methods: no method %q", name)
		}
	}
	return use
}

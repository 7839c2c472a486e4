// Mutate changes one constant or one comparison of a package at a time, runs the
// package's tests and reports which changes no test noticed.
//
//	go run .ci/mutate/main.go -sample 60 ./catalog/holding ./catalog/vehicle
//
// A number moves up by five per cent, or down with -down, a whole number by at least one; a comparison is
// negated. Numbers that index, 0 and 1, and tolerances up to 1e-6 stay. A change that
// does not compile does not count. The sample is drawn by -seed, so that a run can be
// repeated. Tests named by -slow run last. Survivors that may live stand in .ci/mutate/survivors.txt with the reason.
package main

import (
	"bufio"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"sort"
	"strconv"
	"strings"
	"sync"
	"time"
)

type mutant struct {
	file       string
	from, to   int // bytes of the file
	line       int
	old, new   string
	sourceLine string
}

func (m mutant) String() string {
	return fmt.Sprintf("%s:%d%s", m.file, m.line, m.change())
}

func (m mutant) change() string { return ": " + m.old + " -> " + m.new + " in " + m.sourceLine }

var (
	sample  = flag.Int("sample", 0, "changes `N` to draw for each package; 0 for all")
	seed    = flag.Uint64("seed", 1, "of the draw")
	workers = flag.Int("workers", 2, "changes tried at once")
	limit   = flag.Duration("timeout", 3*time.Minute, "for one run of the tests; a run over it counts as noticed")
	tests   = flag.String("tests", "", "packages whose tests run, comma between; default the package itself")
	run     = flag.String("run", "", "only tests that match, as in go test -run")
	skip    = flag.String("skip", "", "no tests that match, as in go test -skip")
	slow    = flag.String("slow", "", "tests that match run only for a change that no other noticed")
	brief   = flag.Bool("short", false, "tests in their short form: what they notice the full ones do too")
	only    = flag.String("files", "", "only files whose name contains one of these, comma between")
	again   = flag.String("again", "", "only the changes that this output of an earlier run lists")
	down    = flag.Bool("down", false, "numbers move down instead of up")
	count   = flag.Bool("count", false, "only say how many changes there are")
)

func main() {
	flag.Parse()
	allowed := readAllowed(".ci/mutate/survivors.txt")
	short := false
	for _, pkg := range flag.Args() {
		list, err := mutantsOf(filepath.Clean(pkg))
		if err == nil && !*count {
			err = passesUnchanged(pkg)
		}
		if err != nil {
			fmt.Fprintln(os.Stderr, "mutate:", err)
			os.Exit(1)
		}
		if *count {
			fmt.Println(pkg, len(list))
			continue
		}
		if killed, tried := tryAll(pkg, list, allowed); tried == 0 || float64(killed) < .85*float64(tried) {
			short = true
		}
	}
	if short {
		os.Exit(1)
	}
}

// mutantsOf lists the changes of a package, drawn if -sample says so.
func mutantsOf(dir string) ([]mutant, error) {
	files, err := filepath.Glob(filepath.Join(dir, "*.go"))
	if err != nil {
		return nil, err
	}
	var list []mutant
	for _, f := range files {
		if strings.HasSuffix(f, "_test.go") || !isWanted(filepath.Base(f)) {
			continue
		}
		ms, err := mutantsOfFile(f)
		if err != nil {
			return nil, err
		}
		list = append(list, ms...)
	}
	if *again != "" {
		earlier, err := os.ReadFile(*again)
		if err != nil {
			return nil, err
		}
		list = slices.DeleteFunc(list, func(m mutant) bool { return !strings.Contains(string(earlier), m.change()) })
	}
	if len(list) == 0 {
		return nil, fmt.Errorf("%s: nothing to change", dir)
	}
	if *sample > 0 && *sample < len(list) {
		r := rand.New(rand.NewPCG(*seed, 0))
		r.Shuffle(len(list), func(i, k int) { list[i], list[k] = list[k], list[i] })
		list = list[:*sample]
		sort.Slice(list, func(i, k int) bool {
			return list[i].file < list[k].file || list[i].file == list[k].file && list[i].from < list[k].from
		})
	}
	return list, nil
}

func isWanted(file string) bool {
	for _, part := range strings.Split(*only, ",") {
		if strings.Contains(file, part) {
			return true
		}
	}
	return false
}

var negated = map[token.Token]string{token.LSS: ">=", token.LEQ: ">", token.GTR: "<=", token.GEQ: "<", token.EQL: "!=", token.NEQ: "=="}

func mutantsOfFile(path string) ([]mutant, error) {
	src, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	fset := token.NewFileSet()
	tree, err := parser.ParseFile(fset, path, src, 0)
	if err != nil {
		return nil, err
	}
	lines := strings.Split(string(src), "\n")
	var list []mutant
	add := func(pos token.Pos, old, new string) {
		p := fset.Position(pos)
		list = append(list, mutant{path, p.Offset, p.Offset + len(old), p.Line, old, new, strings.TrimSpace(lines[p.Line-1])})
	}
	left := map[ast.Node]bool{} // literals that stay
	ast.Inspect(tree, func(n ast.Node) bool {
		switch x := n.(type) {
		case *ast.IndexExpr:
			left[x.Index] = true
		case *ast.SliceExpr:
			left[x.Low], left[x.High], left[x.Max] = true, true, true
		case *ast.ArrayType:
			left[x.Len] = true
		case *ast.CallExpr:
			if id, ok := x.Fun.(*ast.Ident); ok && id.Name == "make" {
				for _, a := range x.Args {
					left[a] = true
				}
			}
		case *ast.BinaryExpr:
			if s, ok := negated[x.Op]; ok && !isNil(x.X) && !isNil(x.Y) {
				add(x.OpPos, x.Op.String(), s)
			}
		case *ast.BasicLit:
			if s := moved(x); s != "" && !left[x] {
				add(x.Pos(), x.Value, s)
			}
		}
		return true
	})
	return list, nil
}

func isNil(e ast.Expr) bool {
	id, ok := e.(*ast.Ident)
	return ok && id.Name == "nil"
}

// moved is a literal moved by five per cent; empty for one that stays.
func moved(l *ast.BasicLit) string {
	switch l.Kind {
	case token.INT:
		v, err := strconv.ParseInt(strings.ReplaceAll(l.Value, "_", ""), 10, 64)
		if err != nil || v < 2 { // hexadecimal, 0 and 1
			return ""
		}
		if *down {
			return strconv.FormatInt(v-max(1, v/20), 10)
		}
		return strconv.FormatInt(v+max(1, v/20), 10)
	case token.FLOAT:
		v, err := strconv.ParseFloat(l.Value, 64)
		if err != nil || math.Abs(v) <= 1e-6 || math.Abs(v) >= 1e12 {
			return ""
		}
		if *down {
			return strconv.FormatFloat(v*.95, 'g', -1, 64)
		}
		return strconv.FormatFloat(v*1.05, 'g', -1, 64)
	}
	return ""
}

// tryAll runs the tests for every change and prints what was found.
func tryAll(pkg string, list []mutant, allowed map[string]string) (killed, tried int) {
	var mu sync.Mutex
	var wg sync.WaitGroup
	next := make(chan mutant)
	open, named, late := 0, 0, 0
	for range *workers {
		wg.Go(func() {
			for m := range next {
				noticed, compiles, inTime := try(pkg, m)
				mu.Lock()
				if !inTime {
					late++
				}
				if compiles {
					tried++
					if noticed {
						killed++
					} else if _, ok := allowed[m.key()]; ok {
						named++
					} else {
						open++
						fmt.Println("  ", m)
					}
				}
				mu.Unlock()
			}
		})
	}
	for i, m := range list {
		if i > 0 && i%20 == 0 {
			fmt.Printf("%s: %d of %d tried\n", pkg, i, len(list))
		}
		next <- m
	}
	close(next)
	wg.Wait()
	fmt.Printf("%s: %d of %d changes noticed (%.0f %%; %d of them ran out of time), %d survivors named, %d not\n", pkg, killed, tried, 100*float64(killed)/float64(max(1, tried)), late, named, open)
	return killed, tried
}

// key names a change in survivors.txt: independent of the line's number.
func (m mutant) key() string { return m.file + m.change() }

func readAllowed(path string) map[string]string {
	out := map[string]string{}
	f, err := os.Open(path)
	if err != nil {
		return out
	}
	defer f.Close()
	var why string
	for sc := bufio.NewScanner(f); sc.Scan(); {
		switch s := strings.TrimSpace(sc.Text()); {
		case strings.HasPrefix(s, "#"):
			why = s
		case s != "":
			out[s] = why
		}
	}
	return out
}

// try runs the tests with one change laid over the file.
func try(pkg string, m mutant) (noticed, compiles, inTime bool) {
	dir, err := os.MkdirTemp("", "mutate-")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	src, err := os.ReadFile(m.file)
	if err != nil {
		panic(err)
	}
	changed := string(src[:m.from]) + m.new + string(src[m.to:])
	file := filepath.Join(dir, "changed.go")
	abs, err := filepath.Abs(m.file)
	if err != nil {
		panic(err)
	}
	overlay, err := json.Marshal(map[string]map[string]string{"Replace": {abs: file}})
	if err != nil {
		panic(err)
	}
	for path, b := range map[string][]byte{file: []byte(changed), filepath.Join(dir, "overlay.json"): overlay} {
		if err := os.WriteFile(path, b, 0o600); err != nil {
			panic(err)
		}
	}
	out, err := runTests(pkg, "-overlay", filepath.Join(dir, "overlay.json"))
	if err == nil {
		return false, true, true
	}
	return true, !strings.Contains(out, "[build failed]"), !strings.Contains(out, "panic: test timed out")
}

// runTests builds the tests once and runs them: the quick ones, then those of -slow.
func runTests(pkg string, flags ...string) (string, error) {
	on := []string{pkg}
	if *tests != "" {
		on = strings.Split(*tests, ",")
	}
	dir, err := os.MkdirTemp("", "mutate-tests-")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	ctx, cancel := context.WithTimeout(context.Background(), *limit+2*time.Minute)
	defer cancel()
	for i, p := range on {
		args := append([]string{"test", "-c", "-vet=off", "-o", filepath.Join(dir, strconv.Itoa(i))}, flags...)
		if out, err := exec.CommandContext(ctx, "go", append(args, p)...).CombinedOutput(); err != nil {
			return "[build failed]\n" + string(out), err
		}
	}
	stages := [][2]string{{*run, *skip}}
	if *slow != "" {
		stages = [][2]string{{*run, strings.Trim(*skip+"|"+*slow, "|")}, {*slow, *skip}}
	}
	for _, stage := range stages {
		for i, p := range on {
			cmd := exec.CommandContext(ctx, filepath.Join(dir, strconv.Itoa(i)), "-test.failfast", "-test.timeout="+limit.String(), "-test.run="+stage[0], "-test.skip="+stage[1], "-test.short="+strconv.FormatBool(*brief))
			cmd.Dir = filepath.Clean(p)
			if out, err := cmd.CombinedOutput(); err != nil {
				return string(out), err
			}
		}
	}
	return "", nil
}

// passesUnchanged keeps a test that fails anyway from counting as one that notices.
func passesUnchanged(pkg string) error {
	began := time.Now()
	if out, err := runTests(pkg); err != nil {
		return fmt.Errorf("%s: its tests fail without a change: %w\n%s", pkg, err, out)
	}
	fmt.Printf("%s: unchanged, its tests pass in %.1f s\n", pkg, time.Since(began).Seconds())
	return nil
}

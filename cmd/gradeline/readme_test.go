package main

import (
	"context"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var writeReadme = flag.Bool("readme.write", false, "put the demo's output into README.md")

// README.md shows what the demo prints, to the letter:
// go test ./cmd/gradeline -run TestReadmeShowsTheDemo -args -readme.write
func TestReadmeShowsTheDemo(t *testing.T) {
	file, err := filepath.Abs(filepath.Join(tree, "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir())
	var out, errOut strings.Builder
	if code := run(context.Background(), strings.Fields("./bin/gradeline demo -o out/demo --force"), strings.NewReader(""), &out, &errOut); code != exitDone {
		t.Fatalf("exit code %d: %s", code, errOut.String())
	}
	printed := strings.TrimRight(out.String(), "\n")
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	const from, to = "./bin/gradeline demo -o out/demo --force\n", "\n```"
	i := strings.Index(string(b), from)
	if i < 0 {
		t.Fatal("README.md shows no demo")
	}
	i += len(from)
	j := i + strings.Index(string(b[i:]), to)
	if *writeReadme {
		if err := os.WriteFile(file, []byte(string(b[:i])+printed+string(b[j:])), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	shown, got := strings.Split(string(b[i:j]), "\n"), strings.Split(printed, "\n")
	for k := range max(len(shown), len(got)) {
		var a, b string
		if k < len(shown) {
			a = shown[k]
		}
		if k < len(got) {
			b = got[k]
		}
		if a != b {
			t.Fatalf("line %d: README.md has\n%s\nthe demo prints\n%s", k+1, a, b)
		}
	}
}

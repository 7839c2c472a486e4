package main

import (
	"bytes"
	"context"
	"os"
	"strings"
	"testing"
)

// Any words behind a command that reads nothing: an exit code that scripts know,
// at most one line of complaint for wrong use, and no panic.
func FuzzCommandLine(f *testing.F) {
	for _, s := range []string{"hold\n--grade\n8%\n--length\n6mi\n--class\nus-5axle", "hold\n--grade=8%\n--grade\n9%", "list\n--bbox\n1,2,3,4\n--limit\n-1", "--json\nlist", "classes\nlist\n--json",
		"review\nx\n--state\napproved", "list\n-o", "show\n--\n--json", "hold\n--class\nus-5axle\n--mass\n46,5t", "practice\n--near\nNaN,1", "\x00", "list\n--units\nfurlongs"} {
		f.Add(s)
	}
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, text string) {
		words := strings.Split(text, "\n")
		if len(words) > 20 {
			return
		}
		switch words[0] {
		case "hold", "classes", "list", "show", "review", "practice", "signs", "ramps", "sites", "overlay", "sheet", "merge":
		default:
			if !strings.HasPrefix(words[0], "-") {
				return // survey, demo, report and doctor write or look about
			}
		}
		for i, w := range words {
			if strings.HasPrefix(w, "-o") || strings.HasPrefix(w, "--o") || w == "--strip" || w == "--plot" || strings.ContainsAny(w, "/\\") && i > 0 {
				return // no files outside
			}
		}
		t.Chdir(dir)
		var out, errOut bytes.Buffer
		code := run(context.Background(), append([]string{"gradeline"}, words...), strings.NewReader(""), &out, &errOut)
		if code != exitDone && code != exitFailed && code != exitUsage && code != exitGaps {
			t.Fatalf("exit code %d", code)
		}
		if (code == exitFailed || code == exitUsage) && errOut.Len() == 0 {
			t.Fatalf("code %d without a word", code)
		}
		if code == exitUsage && strings.Count(errOut.String(), "\n") != 1 {
			t.Fatalf("%q", errOut.String())
		}
		if left, err := os.ReadDir("."); err != nil || len(left) > 0 {
			t.Fatalf("left %v, %v", left, err)
		}
	})
}

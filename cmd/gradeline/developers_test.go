package main

import (
	"os"
	"path"
	"regexp"
	"strings"
	"testing"
)

// DEVELOPERS.md is short, and each file and function of its walk is where it says.
func TestDevelopersNamesWhatIsThere(t *testing.T) {
	raw, err := os.ReadFile("../../DEVELOPERS.md")
	if err != nil {
		t.Fatal(err)
	}
	if n := len(strings.Fields(string(raw))); n > 2000 {
		t.Errorf("%d words, at most 2,000", n)
	}
	_, walk, _ := strings.Cut(string(raw), "from file to catalogue")
	hops := 0
	for _, line := range strings.Split(walk, "\n") {
		cells := strings.Split(line, "|")
		if strings.HasPrefix(line, "## ") {
			break
		}
		if len(cells) != 5 || !strings.Contains(cells[2], ".go") {
			continue
		}
		hops++
		for _, fault := range faultsOfHop(cells[2]) {
			t.Errorf("hop%s: %s", cells[1], fault)
		}
	}
	if hops < 8 {
		t.Errorf("only %d hops are named", hops)
	}
	for cell, want := range map[string]int{"`routes/grade/gone.go`": 1, "`routes/grade/recover.go` `Recovers`": 1, "`routes/grade/recover.go` `Recover`, `drives.go` `Fuse`": 0} {
		if got := faultsOfHop(cell); len(got) != want {
			t.Errorf("%s: %v", cell, got)
		}
	}
}

// faultsOfHop lists the files that are not there, and the functions that the file before them lacks. A
// file without a folder is beside the one before.
func faultsOfHop(cell string) (faults []string) {
	var file, source string
	for _, m := range regexp.MustCompile("`([^`]+)`").FindAllStringSubmatch(cell, -1) {
		name := m[1]
		if !strings.HasSuffix(name, ".go") {
			if !regexp.MustCompile(`(?m)^func (\([^)]*\) )?` + regexp.QuoteMeta(name) + `\b`).MatchString(source) {
				faults = append(faults, file+" has no "+name)
			}
			continue
		}
		if !strings.Contains(name, "/") {
			name = path.Join(path.Dir(file), name)
		}
		file = name
		code, err := os.ReadFile("../../" + file)
		if source = string(code); err != nil {
			faults = append(faults, file+" is not there")
		}
	}
	return faults
}

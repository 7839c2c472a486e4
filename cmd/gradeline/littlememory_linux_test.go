package main

import (
	"strings"
	"testing"
)

// A limit on address space is said in one line, not by a dump of stacks.
func TestLittleAddressSpaceIsSaid(t *testing.T) {
	program := programPath(t)
	for _, limitKB := range []string{"250000", "700000", "1100000", "1900000"} {
		out, err := shell(t, "sh", program, t.TempDir(), "ulimit -v "+limitKB+" && gradeline classes list 2>&1; echo code $?")
		if err != nil || !strings.Contains(out, "too little memory") || !strings.Contains(out, "code 1") || strings.Count(out, "\n") > 2 {
			t.Errorf("%s kB: %v\n%.400s", limitKB, err, out)
		}
	}
	out, err := shell(t, "sh", program, t.TempDir(), "ulimit -v 30000000 && gradeline classes list 2>&1; echo code $?")
	if err != nil || !strings.Contains(out, "code 0") {
		t.Errorf("enough: %v\n%.400s", err, out)
	}
}

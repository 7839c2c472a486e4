package main

import (
	"bufio"
	"fmt"
	"gradeline/catalog/shared/testserver"
	"gradeline/cmd/commandline"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// asProgram makes this test binary be gradeline itself, so that shells can run it.
const asProgram = "GRADELINE_AS_PROGRAM"

func TestMain(m *testing.M) {
	if os.Getenv(asProgram) == "1" {
		main()
	}
	os.Exit(withDemoFolder(m.Run))
}

// withDemoFolder makes room for the demo that the tests share.
func withDemoFolder(tests func() int) int {
	dir, err := os.MkdirTemp("", "gradeline-demo-")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(dir)
	demoMade = filepath.Join(dir, "demo")
	code := tests()
	testserver.Stop()
	return code
}

// programPath gives a PATH on which gradeline is this build.
func programPath(t *testing.T) string {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	bin := t.TempDir()
	script := fmt.Sprintf("#!/bin/sh\n%s=1 exec '%s' \"$@\"\n", asProgram, self)
	if err := os.WriteFile(filepath.Join(bin, "gradeline"), []byte(script), 0o755); err != nil {
		t.Fatal(err)
	}
	return bin + string(os.PathListSeparator) + os.Getenv("PATH")
}

// shell runs a script in a folder, gradeline on its PATH.
func shell(t *testing.T, name, path, dir, script string) (out string, err error) {
	t.Helper()
	cmd := exec.Command(name, "-c", script)
	if name == "zsh" {
		cmd = exec.Command(name, "-fc", script)
	}
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "PATH="+path)
	b, err := cmd.CombinedOutput()
	return string(b), err
}

// Every worked example of every command runs as it stands in the folder that the
// demo leaves, through a shell, and ends with exit code 0.
func TestEveryExampleRuns(t *testing.T) {
	demo, path := demoDir(t), programPath(t)
	p := newProgram(&session{})
	app := p.App
	for _, c := range app.Commands {
		if c.Hidden {
			continue
		}
		if n := len(examples[c.Name]); n < 2 {
			t.Errorf("%s has %d worked examples", c.Name, n)
		}
		t.Run(c.Name, func(t *testing.T) {
			t.Parallel()
			dir := filepath.Join(t.TempDir(), c.Name)
			if err := os.CopyFS(dir, os.DirFS(demo)); err != nil {
				t.Fatal(err)
			}
			for _, x := range examples[c.Name] {
				if !strings.Contains(x.Line, "gradeline "+c.Name) || x.What == "" {
					t.Errorf("example %q is of another command, or says not what it is for", x.Line)
				}
				if c.Name == "serve" { // which runs until it is told to end
					servedUntilInterrupted(t, path, dir, x.Line)
					continue
				}
				if out, err := shell(t, "bash", path, dir, withDatabase(t, x.Line)); err != nil {
					t.Errorf("%s: %v\n%s", x.Line, err, out)
				}
			}
		})
	}
	for name := range examples {
		if app.Command(name) == nil {
			t.Errorf("examples of %q, which is no command", name)
		}
	}
	for _, g := range groups {
		for _, name := range g.Commands {
			if app.Command(name) == nil {
				t.Errorf("help lists %q, which is no command", name)
			}
		}
	}
	if out := gradeline(t, "--help").want(t, exitDone).out; true {
		for _, name := range p.Commands() {
			if !strings.Contains(out, "\n  "+name+" ") {
				t.Errorf("help lists no %s", name)
			}
		}
	}
}

// servedUntilInterrupted runs a server until it has printed its address and answered
// there, then interrupts it; it must end with exit code 0.
func servedUntilInterrupted(t *testing.T, path, dir, line string) {
	t.Helper()
	cmd := exec.Command("bash", "-c", "exec "+line)
	cmd.Dir, cmd.Env = dir, append(os.Environ(), "PATH="+path)
	var said strings.Builder
	cmd.Stderr = &said
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	address, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Errorf("%s prints no address: %v, %s", line, err, said.String())
	}
	if w, err := http.Get(strings.TrimSpace(address)); err != nil {
		t.Errorf("%s: %v", line, err)
	} else {
		w.Body.Close()
	}
	if err := cmd.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Wait(); err != nil {
		t.Errorf("%s, interrupted: %v, %s", line, err, said.String())
	}
}

func TestHelpInTheWaysPeopleAskForIt(t *testing.T) {
	whole, one := gradeline(t, "--help").want(t, exitDone), gradeline(t, "sheet", "--help").want(t, exitDone)
	for _, args := range [][]string{{"-h"}, {"help"}} {
		if r := gradeline(t, args...).want(t, exitDone); r.out != whole.out {
			t.Errorf("%v gives another help", args)
		}
	}
	for _, args := range [][]string{{"help", "sheet"}, {"sheet", "-h"}, {"--help", "sheet"}, {"sheet", "some-hill", "--help"}} {
		if r := gradeline(t, args...).want(t, exitDone); r.out != one.out || r.err != "" {
			t.Errorf("%v gives another help", args)
		}
	}
	for _, part := range []string{"Examples", "--paper PAPER", "gradeline sheet veltrane-pass-road-f-4.7", "without it letter"} {
		if !strings.Contains(one.out, part) {
			t.Errorf("help lacks %q:\n%s", part, one.out)
		}
	}
	gradeline(t, "help", "shet").want(t, exitUsage).says(t, "did you mean sheet?")
	if r := gradeline(t).want(t, exitDone); !strings.Contains(r.out, "gradeline demo") || !strings.Contains(r.out, "--help") {
		t.Errorf("gradeline alone says not what to do next: %s", r.out)
	}
}

// bash itself, with the script sourced, asked as its line editor asks: COMP_WORDS
// and COMP_CWORD set, the registered function called (bash manual, Programmable Completion).
func TestCompletionInBash(t *testing.T) {
	demo, path := demoDir(t), programPath(t)
	if out, err := shell(t, "bash", path, demo, "gradeline completion bash > complete.bash"); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	ask := func(line ...string) []string {
		script := `source ./complete.bash || exit 1
complete -p gradeline >/dev/null || exit 1
COMP_WORDS=(gradeline "$@"); COMP_CWORD=$(( ${#COMP_WORDS[@]} - 1 ))
_gradeline gradeline "${COMP_WORDS[COMP_CWORD]}" "${COMP_WORDS[COMP_CWORD-1]}"
printf '%s\n' "${COMPREPLY[@]}"`
		cmd := exec.Command("bash", append([]string{"-c", script, "bash"}, line...)...)
		cmd.Dir, cmd.Env = demo, append(os.Environ(), "PATH="+path)
		b, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("%v: %v\n%s", line, err, b)
		}
		return strings.Fields(string(b))
	}
	for _, c := range []struct {
		line []string
		want string // all that is offered, in order
	}{
		{[]string{"sh"}, "show sheet"},
		{[]string{"sheet", "--cl"}, "--class --classes"},
		{[]string{"sheet", "--class", "us-5axle", "--cl"}, "--classes"},
		{[]string{"sheet", "--paper", ""}, "letter a4"},
		{[]string{"sheet", "--units", "=", "m"}, "metric"},
		{[]string{"hold", "--class", "us-5axle-"}, "us-5axle-60k"},
		{[]string{"overlay", "a"}, "avoid"},
		{[]string{"signs", "--rules", ""}, "de-stvo haul-road uk-2013 uk-2018 us-2023 vienna-1968"},
		{[]string{"sheet", "--catalog", "demo.gpkg", "velt"}, "veltrane-pass-road-f-4.7 veltrane-pass-road-b-4.1"},
		{[]string{"compare", "--catalog", "demo.gpkg", "Vel"}, `Veltrane\ Pass\ Road`},
		{[]string{"show", "--catalog", "none.gpkg", ""}, ""},
		{[]string{"show", "--catalog", "demo.gpkg", "veltrane-pass-road-f-4.7", ""}, ""},
		{[]string{"debrief", "--catalog", "demo.gpkg", "veltrane-pass-road-f-4.7", ""}, ""},
		{[]string{"sheet", "--catalog", "demo.gpkg", "--all", ""}, ""},
		{[]string{"hold", "--class", `"us-5axle-`}, "us-5axle-60k"},
		{[]string{"compare", "--catalog", `demo\.gpkg`, `Veltrane\ P`}, `Veltrane\ Pass\ Road`},
		{[]string{"help", "sh"}, "show sheet"},
		{[]string{"--he"}, "--help"},
		{[]string{"nosuch", ""}, ""},
		{[]string{"report", "-o", ""}, ""}, // a file: left to the shell
	} {
		if got := strings.Join(ask(c.line...), " "); got != c.want {
			t.Errorf("gradeline %s: %q, want %q", strings.Join(c.line, " "), got, c.want)
		}
	}
}

// zsh itself: the script is sourced under its completion system, and what it
// would hand to compadd is caught.
func TestCompletionInZsh(t *testing.T) {
	demo, path := demoDir(t), programPath(t)
	ask := func(words string) string {
		out, err := shell(t, "zsh", path, demo, `autoload -Uz compinit && compinit -D -u || exit 1
source <(gradeline completion zsh) || exit 1
[[ "${_comps[gradeline]}" == _gradeline ]] || exit 2
compadd() { shift; print -l -- "$@" }
_files() { print FILES }
words=(gradeline `+words+`); CURRENT=${#words}
_gradeline`)
		if err != nil {
			t.Fatalf("%s: %v\n%s", words, err, out)
		}
		return out
	}
	if out := ask("''"); !strings.Contains(out, "survey\n") || !strings.Contains(out, "manual\n") || strings.Contains(out, "candidates") {
		t.Errorf("commands: %q", out)
	}
	if out := ask("sheet --catalog demo.gpkg ''"); !strings.Contains(out, "veltrane-pass-road-f-4.7\n") {
		t.Errorf("descents: %q", out)
	}
	if out := ask("report -o ''"); out != "FILES\n" {
		t.Errorf("files: %q", out)
	}
	gradeline(t, "completion", "zhs").want(t, exitUsage).says(t, "did you mean zsh?")
}

// The manual page passes mandoc's check of man(7) and groff without a warning,
// and says every command and flag. A page made by the program has no date of its own.
func TestManualPage(t *testing.T) {
	page := gradeline(t, "manual").want(t, exitDone).out
	file := filepath.Join(t.TempDir(), "gradeline.1")
	if err := os.WriteFile(file, []byte(page), 0o644); err != nil {
		t.Fatal(err)
	}
	lint, err := exec.Command("mandoc", "-Tlint", "-Wwarning", file).CombinedOutput()
	if len(lint) == 0 && err != nil {
		t.Fatal(err)
	}
	for _, l := range strings.Split(strings.TrimSpace(string(lint)), "\n") {
		if l != "" && !strings.Contains(l, "missing date") {
			t.Errorf("mandoc: %s", l)
		}
	}
	if out, err := exec.Command("groff", "-ww", "-man", "-Tutf8", "-z", file).CombinedOutput(); err != nil || len(out) > 0 {
		t.Errorf("groff: %v %s", err, out)
	}
	plain, err := exec.Command("mandoc", "-Tascii", "-Owidth=200", file).Output()
	if err != nil {
		t.Fatal(err)
	}
	text := string(stripOverstrike(plain))
	for _, c := range newProgram(&session{}).App.Commands {
		if c.Hidden {
			continue
		}
		if !strings.Contains(text, "GRADELINE "+strings.ToUpper(c.Name)) {
			t.Errorf("no section on %s", c.Name)
		}
		for _, d := range commandline.Spellings(c) {
			if !strings.Contains(text, d) {
				t.Errorf("%s: no %s", c.Name, d)
			}
		}
	}
}

// stripOverstrike drops the backspaces with which bold and underlined letters are written.
func stripOverstrike(b []byte) []byte {
	var out []byte
	for _, c := range b {
		if c == '\b' && len(out) > 0 {
			out = out[:len(out)-1]
			continue
		}
		out = append(out, c)
	}
	return out
}

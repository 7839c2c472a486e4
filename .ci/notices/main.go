// Notices writes the licences of everything that the program's binary contains, from
// the modules that go list names, and compares the file that is there with -check.
//
//	go run .ci/notices/main.go -o data/notices.txt
package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"sort"
	"strings"
)

const head = `Third-party notices

The program contains the modules below, each under its own licence, and links to the
shared libraries GDAL (MIT), PROJ (MIT), libdeflate (MIT) and the C library of the
system, whose notices come with their own packages. Made by: make notices.
`

// licenceFiles are names under which modules keep their terms.
var licenceFiles = regexp.MustCompile(`(?i)^(licen[cs]e|copying|notice|copyright|patents|ofl|about)([-._].*)?$`)

func main() {
	file := flag.String("o", "data/notices.txt", "the `FILE`")
	check := flag.Bool("check", false, "compare, write nothing")
	flag.Parse()
	text, err := notices()
	if err == nil && *check {
		var have []byte
		if have, err = os.ReadFile(*file); err == nil && !bytes.Equal(have, text) {
			err = fmt.Errorf("%s is not current: run make notices", *file)
		}
	} else if err == nil {
		err = os.WriteFile(*file, text, 0o644)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "notices:", err)
		os.Exit(1)
	}
}

type module struct {
	Path, Version, Dir string
	Main               bool
}

func notices() ([]byte, error) {
	out, err := exec.Command("go", "list", "-deps", "-json=ImportPath,Dir,Module,Standard", "./cmd/gradeline").Output()
	if err != nil {
		return nil, fmt.Errorf("go list: %w", err)
	}
	dirs := map[module]map[string]bool{} // folders of packages in use, by module
	for dec := json.NewDecoder(bytes.NewReader(out)); ; {
		var p struct {
			Dir    string
			Module *module
		}
		if err := dec.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return nil, err
		}
		if p.Module == nil || p.Module.Main {
			continue
		}
		if dirs[*p.Module] == nil {
			dirs[*p.Module] = map[string]bool{}
		}
		for d := p.Dir; len(d) >= len(p.Module.Dir); d = filepath.Dir(d) {
			dirs[*p.Module][d] = true
		}
	}
	var modules []module
	for m := range dirs {
		modules = append(modules, m)
	}
	sort.Slice(modules, func(i, k int) bool { return modules[i].Path < modules[k].Path })
	var b bytes.Buffer
	b.WriteString(head)
	if err := goLicence(&b); err != nil {
		return nil, err
	}
	for _, m := range modules {
		if err := addModule(&b, m, dirs[m]); err != nil {
			return nil, err
		}
	}
	if err := addEmbedded(&b); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// addEmbedded adds the terms of what is embedded in a page and is no Go module: files
// LICENSE.NAME.txt in a folder of assets.
func addEmbedded(b *bytes.Buffer) error {
	files, err := filepath.Glob("catalog/*/assets/LICENSE.*.txt")
	if err != nil {
		return err
	}
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			return err
		}
		title(b, strings.TrimSuffix(strings.TrimPrefix(filepath.Base(f), "LICENSE."), ".txt")+", in the office's page")
		b.Write(clean(text))
	}
	return nil
}

func title(b *bytes.Buffer, name string) {
	fmt.Fprintf(b, "\n%s\n%s\n%s\n\n", strings.Repeat("=", 78), name, strings.Repeat("=", 78))
}

// goLicence adds the terms of Go's standard library and run time.
func goLicence(b *bytes.Buffer) error {
	root, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		return err
	}
	text, err := os.ReadFile(filepath.Join(strings.TrimSpace(string(root)), "LICENSE"))
	if err != nil {
		return err
	}
	title(b, "Go standard library")
	b.Write(clean(text))
	return nil
}

// addModule adds the terms that stand in the folders of the packages in use.
func addModule(b *bytes.Buffer, m module, dirs map[string]bool) error {
	var files []string
	for d := range dirs {
		list, err := os.ReadDir(d)
		if err != nil {
			return err
		}
		for _, e := range list {
			if !e.IsDir() && licenceFiles.MatchString(e.Name()) && !strings.HasSuffix(e.Name(), ".go") {
				files = append(files, filepath.Join(d, e.Name()))
			}
		}
	}
	if len(files) == 0 {
		return fmt.Errorf("%s %s has no licence file: look for its terms", m.Path, m.Version)
	}
	sort.Strings(files)
	title(b, m.Path+" "+m.Version)
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(m.Dir, f)
		if err != nil {
			return err
		}
		fmt.Fprintf(b, "[%s]\n", filepath.ToSlash(rel))
		b.Write(clean(text))
	}
	return nil
}

// clean ends each line and the text alike.
func clean(text []byte) []byte {
	lines := strings.Split(strings.ReplaceAll(string(text), "\r\n", "\n"), "\n")
	for i := range lines {
		lines[i] = strings.TrimRight(lines[i], " \t\f")
	}
	return []byte(strings.TrimSpace(strings.Join(lines, "\n")) + "\n")
}

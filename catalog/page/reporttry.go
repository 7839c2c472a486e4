package page

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"html/template"
	"strings"

	"gradeline/catalog/wording"
)

// Program is package whatif's program for a browser, with the script that starts it. A report holds
// both, so that it answers offline.
type Program struct {
	Packed []byte // the program, compressed by gzip
	Start  []byte // wasm_exec.js of the Go release that built it
}

// tryPanel is the part of a report that tries other trucks.
type tryPanel struct {
	Units   string
	Classes []ReportClass
	Hills   []tryHill
	Start   template.JS
	Script  template.JS
	Program string // base64 without + and /, which a template would escape
	Lines   string // the grade lines: a JSON list, compressed, likewise
}

type tryHill struct {
	Index    int
	Title    string
	Question bool
}

// addProgram adds the program to the page and to its policy.
func (r *Report) addProgram(p *reportPage) error {
	if r.Program == nil || len(r.Classes) == 0 {
		return nil
	}
	script, err := pageFiles.ReadFile("assets/reporttry.js")
	if err != nil {
		return err
	}
	t := &tryPanel{Units: r.Units.String(), Classes: r.Classes, Start: template.JS(r.Program.Start), Script: template.JS(script), Program: base64.RawURLEncoding.EncodeToString(r.Program.Packed)}
	lines := []json.RawMessage{}
	for i := range r.Entries {
		d := &r.Entries[i].Entry.Descent
		line := r.Entries[i].GradeLine
		if line == nil {
			line = []byte("null")
		}
		lines = append(lines, line)
		t.Hills = append(t.Hills, tryHill{i, wording.Title(d) + ", " + wording.Heading(d), r.Entries[i].Entry.Review.InQuestion != ""})
	}
	list, err := json.Marshal(lines)
	if err != nil {
		return err
	}
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	if _, err = z.Write(list); err == nil {
		err = z.Close()
	}
	if err != nil {
		return err
	}
	t.Lines = base64.RawURLEncoding.EncodeToString(packed.Bytes())
	p.Try = t
	allowed := "'wasm-unsafe-eval'"
	for _, s := range []template.JS{t.Start, t.Script} {
		sum := sha256.Sum256([]byte(s))
		allowed += " 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
	}
	p.Policy = strings.Replace(p.Policy, "script-src ", "script-src "+allowed+" ", 1)
	return nil
}

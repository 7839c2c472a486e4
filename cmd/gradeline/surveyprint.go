package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/table"
	"gradeline/catalog/wholefile"
)

// startedAt is the moment that stands in the provenance of what a run makes.
func startedAt() time.Time { return time.Now().UTC().Truncate(time.Second) }

// print gives the answer: the table or the JSON object on standard output, warnings
// and gaps on standard error.
func (o *surveyOut) print(u catalog.Units) error {
	var err error
	if o.c.Bool("json") {
		err = o.printJSON()
	} else {
		err = o.printTable(u)
	}
	if err != nil {
		return err
	}
	for _, w := range o.warnings {
		o.s.say("warning: %s", w)
	}
	gaps := 0
	tell := func(list []string) {
		for _, g := range list {
			gaps++
			o.s.say("gap: %s", g)
		}
	}
	pass := func(of func(m *spoolMeta) []string) {
		if err == nil {
			err = o.spool.each(func(off int64) error {
				b, err := o.spool.part(off, partMeta)
				if err != nil {
					return err
				}
				var m spoolMeta
				if err := json.Unmarshal(b, &m); err != nil {
					return spoolFault(o.spool.path, err)
				}
				tell(of(&m))
				return nil
			})
		}
	}
	pass(func(m *spoolMeta) []string { return m.Gaps })
	tell(skipGaps(o.unread))
	pass(func(m *spoolMeta) []string { return m.SkipGaps })
	pass(func(m *spoolMeta) []string { return m.Waiting })
	tell(o.steps)
	if err != nil {
		return err
	}
	if gaps > 0 {
		return errGaps
	}
	return nil
}

func (o *surveyOut) printTable(u catalog.Units) error {
	if err := table.WriteText(o.s.out, o.worst.table(u)); err != nil {
		return err
	}
	path := o.c.String("catalog")
	if o.cat != nil && !o.c.Bool("dry-run") {
		fmt.Fprintf(o.s.out, "\nStored in %s: gradeline list --catalog %s, gradeline show --catalog %s DESCENT.\n", path, path, path)
	}
	if o.takenOver > 0 {
		fmt.Fprintf(o.s.out, "Taken over from the run that began %s and was cut short: %d of %d routes, finished with the same terrain, roads, classes and rules.\n",
			o.head.At.Format("2006-01-02 15:04 MST"), o.takenOver, o.routes)
	}
	return nil
}

// printJSON writes the one object from the working file, a member a line.
func (o *surveyOut) printJSON() error {
	w := bufio.NewWriterSize(o.s.out, 1<<16)
	var err error
	write := func(s string) {
		if err == nil {
			_, err = w.WriteString(s)
		}
	}
	list := func(key string, first []byte, p part) {
		write("\"" + key + "\": [")
		if len(first) > 0 {
			write("\n" + string(first))
		}
		if err == nil {
			lead := "\n"
			if len(first) > 0 {
				lead = ",\n"
			}
			err = o.spool.copy(&leadWriter{w: w, lead: lead}, p, ",\n")
		}
		write("],\n")
	}
	path := ""
	if o.cat != nil {
		path = o.c.String("catalog")
	}
	write("{\"schema\": " + string(plainJSON(catalog.Schema)) + ",\n\"catalog\": " + string(plainJSON(path)) + ",\n")
	list("routes", nil, partRoute)
	list("descents", nil, partDescents)
	list("skipped", members(o.unread), partSkipped)
	list("changes", nil, partChanges)
	warnings := o.warnings
	if warnings == nil {
		warnings = []string{}
	}
	write(fmt.Sprintf("\"taken_over_routes\": %d,\n\"warnings\": ", o.takenOver) + string(plainJSON(warnings)) + ",\n\"cautions\": " + string(plainJSON(catalog.Cautions())) + "}\n")
	if err != nil {
		return err
	}
	return w.Flush()
}

// leadWriter writes lead before the first byte, if any comes.
type leadWriter struct {
	w    io.Writer
	lead string
}

func (l *leadWriter) Write(b []byte) (int, error) {
	if l.lead != "" && len(b) > 0 {
		if _, err := io.WriteString(l.w, l.lead); err != nil {
			return 0, err
		}
		l.lead = ""
	}
	return l.w.Write(b)
}

// writeProfile writes the profile file from the working file.
func (o *surveyOut) writeProfile() error {
	path := o.c.String("profile")
	if path == "" || o.c.Bool("dry-run") {
		return nil
	}
	return wholefile.WriteFile(path, o.c.Bool("force"), func(w io.Writer) error {
		b := bufio.NewWriterSize(w, 1<<16)
		if err := copyRows(b, o.spool); err != nil {
			return err
		}
		return b.Flush()
	})
}

// plainJSON is v on one line; views hold only numbers and text.
func plainJSON(v any) []byte {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return []byte("null")
	}
	return bytes.TrimRight(b.Bytes(), "\n")
}

// members are the elements of a JSON list with commas between.
func members[T any](list []T) []byte {
	var out []byte
	for i := range list {
		if i > 0 {
			out = append(out, ',', '\n')
		}
		out = append(out, plainJSON(list[i])...)
	}
	return out
}

func mustJSON(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		return "{}" // views hold only numbers and text
	}
	return string(b)
}

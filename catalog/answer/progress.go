package answer

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strings"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/handout"
	"gradeline/catalog/table"
	"gradeline/catalog/trainees"
	"gradeline/catalog/wording"
	"gradeline/terrain"
)

// Progress is what a file of trainees has about all of them or about one.
type Progress struct {
	Schema   string             `json:"schema"`
	Trainees []trainees.Trainee `json:"trainees"`
	Did      string             `json:"did"` // the change that was made; empty for none

	isOne bool
}

// ProgressRequest is what is asked of a file of trainees: about one of them where Name is given, and
// a change where Forget or SignOff asks for it.
type ProgressRequest struct {
	File, Name string
	Forget     bool
	Descent    string // to sign off; empty for none
	Class      string
	SignOff    trainees.SignOff
}

// check refuses a change of nobody, and two changes at once.
func (q *ProgressRequest) check() error {
	switch {
	case q.Name == "" && (q.Forget || q.Descent != ""):
		return &catalog.Fault{Kind: terrain.ErrInput, File: q.File, What: "a change of no trainee", Fix: "name the trainee"}
	case q.Forget && q.Descent != "":
		return &catalog.Fault{Kind: terrain.ErrInput, File: q.File, What: "a trainee cannot be signed off and removed", Fix: "choose one of the two"}
	}
	return nil
}

// NewProgress reads a file of trainees, and changes it where that is asked for.
func NewProgress(q ProgressRequest) (*Progress, error) {
	if err := q.check(); err != nil {
		return nil, err
	}
	f, err := trainees.Open(q.File)
	if err != nil {
		return nil, err
	}
	a := &Progress{Schema: catalog.Schema, Trainees: f.Trainees, isOne: q.Name != ""}
	if q.Name == "" {
		return a, nil
	}
	t, err := f.Trainee(q.Name)
	if err != nil {
		return nil, err
	}
	name := t.Name
	switch {
	case q.Forget:
		if err = f.Forget(name); err == nil {
			a.Did = "Removed from the file, and its former contents erased. Copies, backups and snapshots are the office's to delete."
			a.Trainees, a.isOne = f.Trainees, false
			err = f.Save()
		}
		return a, err
	case q.Descent != "":
		s, err := f.SignOff(name, q.Descent, q.Class, q.SignOff)
		if err != nil {
			return nil, err
		}
		if err := f.Save(); err != nil {
			return nil, err
		}
		a.Did = fmt.Sprintf("Signed off: %s down %s with %s, by %s on %s.", name, s.Hill, s.Class, s.Instructor, s.On.Format("2006-01-02"))
	}
	if t, err = f.Trainee(name); err != nil {
		return nil, err
	}
	a.Trainees = []trainees.Trainee{*t}
	return a, nil
}

// Keep adds the drive to a file of trainees, which is made where there is none.
func (a *Debrief) Keep(file, name string, added time.Time, u catalog.Units) error {
	f, err := trainees.Open(file)
	if errors.Is(err, fs.ErrNotExist) {
		f, err = trainees.New(file), nil
	}
	if err != nil {
		return err
	}
	p := debriefPage{&lines{units: u}, &a.Debrief}
	v := trainees.Verdict{WellDone: sentences(p.wellDone()), ToChange: sentences(p.toChange()), Open: sentences(p.open())}
	hill := wording.Shortened(wording.OneLine(wording.Title(&a.entry.Descent)), 200)
	d := trainees.DriveFromDebrief(&a.Debrief, hill, v, added)
	d.Invented = a.entry.Provenance.Invented
	if err := f.Add(name, d); err != nil {
		return err
	}
	return f.Save()
}

// sentences are the items of a verdict, each with a capital.
func sentences(items []string) []string {
	out := []string{}
	for _, x := range items {
		out = append(out, wording.Shortened(wording.OneLine(capital(x)), 390))
	}
	return out
}

// WriteText writes a row for each trainee, or the page of one.
func (a *Progress) WriteText(w io.Writer, u catalog.Units) error {
	if a.Did != "" {
		if _, err := fmt.Fprintln(w, a.Did); err != nil {
			return err
		}
	}
	if a.isOne {
		return writeBlocks(w, trainees.Document(&a.Trainees[0], a.options(u)))
	}
	rows := [][]string{}
	for i := range a.Trainees {
		t := &a.Trainees[i]
		signed, last := 0, "none"
		hills := t.Hills()
		for k := range hills {
			if hills[k].SignOff != nil {
				signed++
			}
		}
		for k := range t.Drives {
			if day := t.Drives[k].Added.Format("2006-01-02"); last == "none" || day > last {
				last = day
			}
		}
		rows = append(rows, []string{t.Name, fmt.Sprint(len(t.Drives)), fmt.Sprint(len(hills)), fmt.Sprint(signed), last})
	}
	t := tableOf("Trainees on file", []string{"trainee", "drives", "hills", "signed off", "last added"}, rows)
	t.Notes = []string{"Personal data: progress FILE --trainee NAME --forget removes a person."}
	return table.WriteText(w, t)
}

// writeBlocks writes a document for a terminal: its words and tables, without what is filled in by
// hand.
func writeBlocks(w io.Writer, d handout.Document) error {
	say := func(s string) error { _, err := fmt.Fprintln(w, s); return err }
	if d.Banner != "" {
		d.Title = d.Banner + "\n" + d.Title
	}
	err := say(d.Title)
	for _, b := range d.Blocks {
		if err != nil {
			return err
		}
		switch b := b.(type) {
		case handout.Heading:
			err = say("\n" + b.Text + "\n")
		case handout.Paragraph:
			err = say(wording.Wrap(b.Text, 78, "", ""))
		case handout.List:
			for _, x := range b.Items {
				err = errors.Join(err, say(wording.Wrap(x, 78, "- ", "  ")))
			}
		case handout.Table:
			if err = table.WriteText(w, tableOf("", b.Head, b.Rows)); err == nil {
				err = say("")
			}
		}
	}
	return err
}

func (a *Progress) options(u catalog.Units) trainees.PageOptions {
	return trainees.PageOptions{Units: u, On: time.Now(), Creator: "gradeline"}
}

// Write writes the page of one trainee as PDF where the file's name ends in .pdf, else as HTML.
func (a *Progress) Write(w io.Writer, file, paper string, u catalog.Units) error {
	if !a.isOne {
		return &catalog.Fault{Kind: catalog.ErrNotFound, What: "a page is about one trainee", Fix: "add --trainee NAME"}
	}
	o := a.options(u)
	d := trainees.Document(&a.Trainees[0], o)
	if strings.HasSuffix(strings.ToLower(file), ".pdf") {
		return handout.PDF(w, d, paper, o.On)
	}
	return handout.HTML(w, d)
}

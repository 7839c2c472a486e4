package answer

import (
	"context"
	"fmt"
	"io"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/catalog/survey"
	"gradeline/catalog/table"
	"gradeline/catalog/wording"
	"gradeline/routes"
)

// aboutDrives is printed under every list of drives.
const aboutDrives = "A drive is kept as places on the road, heights and seconds since its start, on the hills and 2 km before and after them; neither who drove nor when. Its number is drawn at random. No recording of a truck on a surveyed road was available: the bounds of drives are from bicycle computers."

// ImportedDrives says which recordings a catalogue now keeps.
type ImportedDrives struct {
	Schema     string           `json:"schema"`
	Drives     []ImportedDrive  `json:"drives"`
	InQuestion []store.Question `json:"in_question"`
	Skipped    []routes.Skipped `json:"skipped"`
}

// ImportedDrive is one recording.
type ImportedDrive struct {
	File    string  `json:"file"`
	Number  int64   `json:"drive"`
	Passes  int     `json:"passes"`
	New     int     `json:"new"`
	LengthM float64 `json:"length_m"`
}

// ImportDrives keeps recorded drives in a catalogue.
func ImportDrives(ctx context.Context, cat *store.Catalog, o survey.DriveImport) (*ImportedDrives, error) {
	r, err := survey.ImportDrives(ctx, cat, o)
	if err != nil {
		return nil, err
	}
	a := &ImportedDrives{Schema: catalog.Schema, Drives: []ImportedDrive{}, InQuestion: notNil(r.Question), Skipped: notNil(r.Skipped)}
	for _, d := range r.Drives {
		a.Drives = append(a.Drives, ImportedDrive{d.File, d.Number, d.Passes, d.New, d.KeptM})
	}
	return a, nil
}

// Gaps list the recordings that were left out.
func (a *ImportedDrives) Gaps() []string { return placeGaps(a.Skipped) }

// WriteText writes a line a recording, and the descents that came into question.
func (a *ImportedDrives) WriteText(w io.Writer, u catalog.Units) error {
	t := table.Table{Title: wording.Counted(len(a.Drives), "recorded drive"), Header: []string{"recording", "drive", "passes over hills", "new", "kept"}}
	for _, d := range a.Drives {
		t.Rows = append(t.Rows, []any{d.File, fmt.Sprint(d.Number), d.Passes, d.New, u.Length(d.LengthM)})
	}
	for _, q := range a.InQuestion {
		t.Notes = append(t.Notes, fmt.Sprintf("%s is in question: %s. Survey its road again, then review it.", q.ID, q.Why))
	}
	if len(a.Drives) > 0 {
		t.Notes = append(t.Notes, "Note which number belongs to which recording now: the catalogue does not keep the names. The next survey of these roads uses the drives.")
	}
	t.Notes = append(t.Notes, aboutDrives)
	return table.WriteText(w, t)
}

// Drives are the drives that a catalogue keeps.
type Drives struct {
	Schema string              `json:"schema"`
	Drives []catalog.DrivePass `json:"drives"` // one for each pass over a hill
}

// ListDrives reads the kept drives of a route, or of all for "".
func ListDrives(ctx context.Context, cat *store.Catalog, route string) (*Drives, error) {
	list, err := cat.Drives(ctx, route, false)
	return &Drives{catalog.Schema, list}, err
}

// WriteText writes a line a pass.
func (a *Drives) WriteText(w io.Writer, u catalog.Units) error {
	numbers := map[int64]bool{}
	for _, p := range a.Drives {
		numbers[p.Number] = true
	}
	t := table.Table{Title: fmt.Sprintf("%s, over hills: %d", wording.Counted(len(numbers), "recorded drive"), len(a.Drives)), Header: []string{"drive", "route", "direction", "from", "to", "heights", "label"}}
	for _, p := range a.Drives {
		t.Rows = append(t.Rows, []any{fmt.Sprint(p.Number), p.Route, p.Direction.String(), u.Station(p.FromM), u.Station(p.ToM), p.Count, p.Label})
	}
	t.Notes = []string{aboutDrives}
	return table.WriteText(w, t)
}

// leftOnServer is what a database keeps of deleted rows (postgresql.org/docs/current/routine-vacuuming.html).
const leftOnServer = "The server may still hold their bytes: in its table until the owner runs VACUUM FULL on the table drives (a plain VACUUM is not enough), in its write-ahead log, backups and replicas for as long as these are kept. Not reached: files that the catalogue was copied to or merged into, released sectors of the disk."

// ForgottenDrives says what was deleted, and what is beyond the program.
type ForgottenDrives struct {
	Schema string `json:"schema"`
	store.Forgotten
	File       string `json:"catalog"`
	InDatabase bool   `json:"in_database"` // whose server may still hold the rows
}

// ForgetDrives deletes drives from a catalogue.
func ForgetDrives(ctx context.Context, cat *store.Catalog, numbers []int64, by string) (*ForgottenDrives, error) {
	f, err := cat.ForgetDrives(ctx, numbers, by)
	return &ForgottenDrives{catalog.Schema, f, cat.Path(), cat.IsShared()}, err
}

// WriteText says it in words.
func (a *ForgottenDrives) WriteText(w io.Writer, _ catalog.Units) error {
	l := &lines{w: w}
	done, left := "%s deleted, with all passes over hills (%d); %s is rewritten without them.", "Not reached: copies and backups of the file, catalogues that it was merged into, a server that keeps old versions, released sectors of the disk."
	if a.InDatabase {
		done, left = "%s deleted, with all passes over hills (%d), from %s. Your local copy of it is rewritten without them; other users' copies lose them when they are next opened.", leftOnServer
	}
	l.printf("%s\n", wording.Wrapped(fmt.Sprintf(done, wording.Counted(len(a.Numbers), "drive"), a.Passes, a.File), textCols, 0))
	l.printf("%s\n", wording.Wrapped("Grade lines that were made with them stay until the roads are surveyed again. "+left, textCols, 0))
	for _, c := range a.Copies {
		l.printf("- %s is an older copy that this program made: delete it if it may hold them.\n", c)
	}
	return l.err
}

package answer

import (
	"context"
	"io"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/catalog/survey"
	"gradeline/catalog/table"
	"gradeline/catalog/wording"
)

// Queue lists the descents that need a look, most urgent first.
type Queue struct {
	Schema string            `json:"schema"`
	Queue  []store.QueueItem `json:"queue"`
}

// NewQueue is the answer for the result of store.Catalog.Queue.
func NewQueue(list []store.QueueItem) *Queue { return &Queue{catalog.Schema, list} }

// WriteText writes a line a descent.
func (a *Queue) WriteText(w io.Writer, _ catalog.Units) error {
	t := table.Table{Title: "Descents that need a look", Header: []string{"descent", "name", "state", "why", "more"}}
	for _, it := range a.Queue {
		t.Rows = append(t.Rows, []any{it.ID, it.Name, string(it.State), strings.Join(it.Reasons, ", "), it.Words})
	}
	return table.WriteText(w, t)
}

// History says who changed what of one descent.
type History struct {
	Schema  string        `json:"schema"`
	History []store.Event `json:"history"`

	id string
}

// NewHistory is the answer for a descent's events.
func NewHistory(id string, list []store.Event) *History { return &History{catalog.Schema, list, id} }

// WriteText writes a line an event.
func (a *History) WriteText(w io.Writer, _ catalog.Units) error {
	t := table.Table{Title: "History of " + a.id, Header: []string{"when", "what", "by", "words"}}
	for _, ev := range a.History {
		t.Rows = append(t.Rows, []any{ev.At.Format("2006-01-02 15:04"), ev.What, ev.By, ev.Words})
	}
	return table.WriteText(w, t)
}

// Reviewed is a descent after a review.
type Reviewed struct {
	Schema   string        `json:"schema"`
	Descent  ListedDescent `json:"descent"`
	Profile  Profile       `json:"profile"`
	Cautions []string      `json:"cautions"`
	// Drives is what kept drives say of the descent; nil where none passes over it.
	Drives *survey.DrivesSay `json:"drives"`
	// Replaced is another person's review or decision directly before this one; nil where there is none.
	// That person may not know of this one, nor this one have known of theirs.
	Replaced *store.Event `json:"replaced"`

	entry *catalog.Entry
}

// NewReviewed is the answer for the current entry.
func NewReviewed(e *catalog.Entry) *Reviewed {
	return &Reviewed{Schema: catalog.Schema, Descent: ListedDescentOf(e), Cautions: catalog.Cautions(), entry: e}
}

// WriteText writes the state of the review on one line.
func (a *Reviewed) WriteText(w io.Writer, _ catalog.Units) error {
	l := &lines{w: w}
	l.printf("%s: %s\n", a.entry.Descent.ID, wording.ReviewLine(a.entry))
	if r := a.Replaced; r != nil {
		l.printf("Before this, %s, %s: %s: %s. Both are in the history (review %s --history).\n", r.At.Format("2006-01-02 15:04"), r.By, r.What, r.Words, a.entry.Descent.ID)
	}
	if a.Drives != nil {
		for _, words := range a.Drives.Words() {
			l.printf("Drives: %s.\n", words)
		}
	}
	return l.err
}

// Decide records a decision; the answer is the changed entry with what its drives say.
func Decide(ctx context.Context, cat *store.Catalog, id string, d store.Decision) (*Reviewed, error) {
	if err := cat.Decide(ctx, id, d); err != nil {
		return nil, err
	}
	e, err := cat.Descent(ctx, id)
	if err != nil {
		return nil, err
	}
	a := NewReviewed(&e)
	if a.Replaced, err = replacedBy(ctx, cat, e.Descent.ID, &d); err != nil {
		return nil, err
	}
	a.Drives, err = survey.SayDrives(ctx, cat, &e)
	return a, err
}

// replacedBy is what another person did directly before a decision that was just recorded.
func replacedBy(ctx context.Context, cat *store.Catalog, id string, d *store.Decision) (*store.Event, error) {
	list, err := cat.History(ctx, id)
	if err != nil {
		return nil, err
	}
	own := 0
	if d.Accept || d.Refuse {
		own++
	}
	if d.Review.State != "" {
		own++
	}
	at := len(list) - own - 1
	if at < 0 || list[at].By == "" || list[at].By == d.Review.By || !list[at].IsDecision() {
		return nil, nil
	}
	return &list[at], nil
}

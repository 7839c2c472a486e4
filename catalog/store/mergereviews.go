package store

import (
	"database/sql"
	"reflect"
	"slices"
	"strings"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/catalog/resurvey"
)

// knowledge says which of the two reviews of a hill was made by a person who knew the other, as far as
// the histories show it.
func (m *merger) knowledge(ours *resurvey.Stored, theirs *catalog.Entry) (k resurvey.Knowledge, err error) {
	if reflect.DeepEqual(ours.Review, theirs.Review) {
		return k, nil
	}
	here, err := events(m.dst.file, ours.Descent.ID, 0)
	if err != nil {
		return k, err
	}
	there, err := events(m.src, theirs.Descent.ID, 0)
	if err != nil {
		return k, err
	}
	k.OursKnowsTheirs = isAfter(here, &ours.Review, &theirs.Review)
	k.IsTold = slices.ContainsFunc(here, func(e Event) bool { return e.names(&theirs.Review) })
	k.TheirsKnowsOurs = isAfter(there, &theirs.Review, &ours.Review)
	return k, nil
}

// isAfter reports whether a person gave a review where the history already named another one. That
// a merge brought the two in this order says nothing about what the person knew.
func isAfter(history []Event, later, earlier *catalog.Review) bool {
	isSeen := false
	for i := range history {
		e := &history[i]
		switch {
		case e.What == setBackEvent && e.Words == setBackWords(resurvey.ReviewMark(earlier), later):
			return true
		case e.records(later):
			return isSeen
		}
		isSeen = isSeen || e.names(earlier)
	}
	return false
}

// setBackWords say that a review of another catalogue, which was made in knowledge of ours, undoes it.
func setBackWords(ours string, theirs *catalog.Review) string {
	return "from " + ours + " to " + resurvey.ReviewMark(theirs) + ", in another catalogue"
}

// recordedWithin is how long after its own moment a review may reach the history: it waits for other
// writers. Common practice, no source.
const recordedWithin = time.Minute

// names reports whether an event is about a review, made here or in another catalogue.
func (e *Event) names(r *catalog.Review) bool {
	return strings.Contains(e.Words, resurvey.ReviewMark(r)) || e.records(r)
}

// records reports whether an event is that of the review itself, in the catalogue in which it was made.
func (e *Event) records(r *catalog.Review) bool {
	late := e.At.Sub(r.At)
	if e.By != r.By || late < -time.Second || late > recordedWithin {
		return false
	}
	switch e.What {
	case "review":
		return strings.HasPrefix(e.Words, string(r.State))
	case setBackEvent:
		return strings.Contains(e.Words, ") to "+string(r.State))
	}
	return false
}

// waitingSurvey is a survey that waits in a catalogue to be accepted or refused.
type waitingSurvey struct {
	at, words string
	entry     catalog.Entry
	samples   []byte
	classes   []ClassUsed
}

// waitingOf reads the survey that waits for one of their hills; nil where none does.
func (m *merger) waitingOf(id string) (*waitingSurvey, error) {
	return readWaiting(m.src, "p.descent_fid = (SELECT fid FROM descents WHERE id = ?)", id)
}

func readWaiting(q gpkg.Querier, which string, arg any) (*waitingSurvey, error) {
	var w waitingSurvey
	var entry []byte
	fids := map[string]int64{}
	found, err := gpkg.First(q, []any{&w.at, &w.words, &entry, &gpkg.JSONColumn{To: &fids}, &w.samples}, "SELECT p.at || '', p.words, p.entry, p.class_fids, p.samples FROM proposals p WHERE "+which, arg)
	if err != nil || !found {
		return nil, err
	}
	if err := gpkg.ParseJSON(entry, &w.entry); err != nil {
		return nil, err
	}
	for i := range w.entry.Holds {
		err := gpkg.Each(q, func(rows *sql.Rows) error {
			var k ClassUsed
			err := rows.Scan(&k.ID, &k.Definition)
			w.classes = append(w.classes, k)
			return err
		}, "SELECT class, definition FROM classes WHERE fid = ?", fids[w.entry.Holds[i].Class])
		if err != nil {
			return nil, err
		}
	}
	return &w, nil
}

// propose lets a survey of theirs wait here, unless it waits already or was refused before.
func (m *merger) propose(p *plan, old *resurvey.Stored, w *waitingSurvey, index int) error {
	id := old.Descent.ID
	mine, err := readWaiting(m.dst.file, "p.descent_fid = ?", old.Key)
	if err != nil || mine != nil && mine.isSame(w) {
		return err
	}
	if mine != nil && resurvey.WorseNews(&mine.entry, &w.entry) == "" {
		return m.dst.file.LogHistory("merged", m.choices.By, id, p.Survey.Route.ID, "not taken, since a survey waits that is no less dangerous: "+w.words)
	}
	wasRefused, err := m.wasRefused(id, w.words)
	if err != nil || wasRefused {
		return err
	}
	w.entry.Descent.ID = id
	if err := m.s.propose(p, &resurvey.Step{Entry: &w.entry, ID: id, Index: index, Old: old}, w.at, w.words); err != nil {
		return err
	}
	return m.dst.question(id, m.choices.By, resurvey.ProposalQuestion(w.at, w.words))
}

// isSame reports whether two surveys that wait are one; the id of the hill may differ.
func (w *waitingSurvey) isSame(other *waitingSurvey) bool {
	mine := resurvey.Stored{Entry: w.entry}
	return resurvey.SameFigures(&mine, &other.entry) && resurvey.SameAdvice(&mine, &other.entry)
}

// wasRefused reports whether a person refused a survey with these words here.
func (m *merger) wasRefused(id, words string) (bool, error) {
	list, err := events(m.dst.file, id, 0)
	for i := range list {
		if list[i].What == refusedEvent && strings.Contains(list[i].Words, hadWords(words)) {
			return true, err
		}
	}
	return false, err
}

// proposeTheirs lets the survey that waits in their catalogue wait here too, unless it is what this
// catalogue holds, or less dangerous than that.
func (m *merger) proposeTheirs(p *plan, old *resurvey.Stored, w *waitingSurvey) error {
	l := loader{q: m.dst.file}
	now, _, err := l.entry(old.Key)
	if err != nil {
		return err
	}
	mine := waitingSurvey{entry: now.Entry}
	if mine.isSame(w) {
		return nil
	}
	also, err := m.planOfWaiting(p, w)
	if err != nil {
		return err
	}
	return m.propose(also, old, w, 0)
}

// planOfWaiting is a plan for a survey that waits, with its classes and profile.
func (m *merger) planOfWaiting(p *plan, w *waitingSurvey) (*plan, error) {
	rs := &RouteSurvey{Route: p.Survey.Route, ClassesUsed: w.classes}
	also := &plan{Plan: &resurvey.Plan{Survey: rs, ClassSHA256: m.s.planner.fingerprints(w.classes)}, samples: [][]byte{w.samples}}
	return also, m.s.writeClasses(also, m.dst.file.NowStamp())
}

// waitingOfNew copies the surveys that wait for the hills of a new road.
func (m *merger) waitingOfNew(p *plan, theirs []string) error {
	for i, id := range p.Changes.Added {
		w, err := m.waitingOf(theirs[i])
		if err != nil {
			return err
		}
		if w == nil {
			continue
		}
		also, err := m.planOfWaiting(p, w)
		if err != nil {
			return err
		}
		old := &resurvey.Stored{Entry: catalog.Entry{}}
		if _, err := gpkg.First(m.dst.file, []any{&old.Key}, "SELECT fid FROM descents WHERE id = ?", id); err != nil {
			return err
		}
		old.Descent.ID = id
		if err := m.propose(also, old, w, 0); err != nil {
			return err
		}
	}
	return nil
}

package resurvey

import (
	"strings"

	"gradeline/catalog"
)

// Stored is a descent as the catalogue holds it.
type Stored struct {
	catalog.Entry
	Key         int64             // its id in the catalogue
	GoneSince   string            // when a survey no longer found it (UTC); empty if it was found
	ClassSHA256 map[string]string // fingerprint of each class's definition for which the advice was computed
	// Waiting is the question of a newer survey that waits to be accepted or refused; empty where
	// none waits. The next survey replaces it.
	Waiting string
}

// IsReviewed reports whether a person checked the descent and confirmed it.
func (s *Stored) IsReviewed() bool {
	return s.Review.State == catalog.FieldChecked || s.Review.State == catalog.Approved
}

// Action is what happens to one descent.
type Action uint8

const (
	Add     Action = iota // it is new
	Keep                  // it stays unchanged
	Update                // the new survey replaces it
	Propose               // the new survey waits for a person
)

// Step is one descent of a new survey with what happens to it.
type Step struct {
	Do     Action
	Entry  *catalog.Entry
	Index  int // of the entry in the survey
	ID     string
	Old    *Stored // nil when added
	Shifts []Shift
	Why    string // why it is put in question; empty if it is not
	Back   bool   // it was not found before and is found again
}

// stored is the entry as the catalogue holds it after the step.
func (s *Step) stored() catalog.Entry {
	if s.Old == nil {
		return *s.Entry
	}
	e := s.Old.Entry
	if s.Do == Update {
		e = *s.Entry
		e.Review = s.Old.Review
		if e.Review.InQuestion == GoneQuestion(s.Old.GoneSince) {
			e.Review.InQuestion = ""
		}
	}
	e.Review.InQuestion = WithoutQuestion(e.Review.InQuestion, s.Old.Waiting)
	if s.Why != "" {
		e.Review.InQuestion = JoinQuestions(e.Review.InQuestion, s.Why)
	}
	return e
}

// Plan lists everything that saving one route will change.
type Plan struct {
	Survey      *RouteSurvey
	Entries     []catalog.Entry // as they will be stored
	SameLine    bool
	ClassSHA256 map[string]string // fingerprints of the versions used by this survey
	Steps       []Step
	Gone        []*Stored
	Changes     Changes
}

// Known is the catalogue's content for the surveyed route.
type Known struct {
	Slug     string    // the road's short name in ids
	SameLine bool      // the line is exactly the one surveyed before
	Descents []*Stored // in order of arrival
}

// Options set how a new survey is stored.
type Options struct {
	At string // when it is saved (UTC)
	// AcceptMoves accepts the new survey even where it is beyond the bounds of a descent that a
	// person has reviewed.
	AcceptMoves bool
	// KeepIDs lets entries request the id that they have, like those of another catalogue.
	KeepIDs bool
	// ClassSHA256 are the fingerprints of the classes' definitions.
	ClassSHA256 map[string]string
	// IsTaken reports whether an id is already in use.
	IsTaken func(id string) (bool, error)
}

// Compare plans the changes from saving a survey. Its only errors are those of IsTaken.
func Compare(rs *RouteSurvey, known Known, o Options) (*Plan, error) {
	p := &Plan{Survey: rs, SameLine: known.SameLine, ClassSHA256: o.ClassSHA256}
	p.Changes = Changes{At: o.At, Route: rs.Route.ID, Added: []string{}, Same: []string{}, Updated: []string{}, Moved: []Move{}, Gone: []string{}, Back: []string{}, Holds: []HoldChange{}, Questioned: []Question{}}
	p.Entries = make([]catalog.Entry, len(rs.Entries))
	for i := range rs.Entries {
		p.Entries[i] = AsStored(rs.Entries[i], rs)
	}
	matched := map[int]*Stored{}
	found := map[*Stored]bool{}
	for _, m := range Match(known.Descents, p.Entries, known.SameLine) {
		matched[m.New] = known.Descents[m.Old]
		found[known.Descents[m.Old]] = true
	}
	for i := range p.Entries {
		if old := matched[i]; old != nil {
			p.compare(old, i, o)
		} else if err := p.add(i, known.Slug, o); err != nil {
			return nil, err
		}
		p.Changes.Descents = append(p.Changes.Descents, p.Entries[i].Descent.ID)
		p.Changes.Stored = append(p.Changes.Stored, p.Steps[i].stored())
	}
	for _, old := range known.Descents {
		if !found[old] && old.GoneSince == "" {
			p.Gone = append(p.Gone, old)
			p.Changes.Gone = append(p.Changes.Gone, old.Descent.ID)
			if old.IsReviewed() {
				p.Changes.Questioned = append(p.Changes.Questioned, Question{old.Descent.ID, GoneWords(o.At)})
			}
		}
	}
	return p, nil
}

// add plans a descent that the catalogue does not hold.
func (p *Plan) add(index int, slug string, o Options) error {
	e := &p.Entries[index]
	want := DescentID(slug, &e.Descent)
	if o.KeepIDs && e.Descent.ID != "" {
		want = e.Descent.ID
	}
	id, err := FirstFree(want, "-", o.IsTaken)
	if err != nil {
		return err
	}
	e.Descent.ID = id
	p.Steps = append(p.Steps, Step{Do: Add, Entry: e, ID: id, Index: index})
	p.Changes.Added = append(p.Changes.Added, id)
	return nil
}

// compare decides the action for a descent that was found again.
func (p *Plan) compare(old *Stored, index int, o Options) {
	e := &p.Entries[index]
	id := old.Descent.ID
	e.Descent.ID = id
	s := Step{Do: Update, Entry: e, Index: index, ID: id, Old: old, Shifts: shifts(old, e, p.SameLine), Back: old.GoneSince != ""}
	reasons := p.reasons(old, e)
	if len(reasons) == 0 && SameAdvice(old, e) && sameBasis(old.Provenance, e.Provenance) && !s.Back {
		s.Do = Keep
		p.Steps = append(p.Steps, s)
		p.Changes.Same = append(p.Changes.Same, id)
		return
	}
	hasMoved := len(s.Shifts) > 0
	survey := "survey of " + o.At[:10]
	switch {
	case hasMoved && old.IsReviewed():
		s.Why = survey + " moved it beyond its bounds: " + ShiftWords(s.Shifts)
		if !o.AcceptMoves {
			s.Do = Propose
			s.Why = ProposalQuestion(o.At, ShiftWords(s.Shifts))
		}
	case old.Review.State == catalog.Approved && len(reasons) > 0:
		s.Why = survey + ": " + strings.Join(reasons, "; ")
	}
	if hasMoved {
		p.Changes.Moved = append(p.Changes.Moved, Move{id, s.Shifts, s.Do == Update})
	} else {
		p.Changes.Updated = append(p.Changes.Updated, id)
	}
	if s.Back {
		p.Changes.Back = append(p.Changes.Back, id)
	}
	p.Changes.Holds = append(p.Changes.Holds, holdChanges(id, old.Holds, e.Holds)...)
	if s.Why != "" {
		p.Changes.Questioned = append(p.Changes.Questioned, Question{id, s.Why})
	}
	p.Steps = append(p.Steps, s)
}

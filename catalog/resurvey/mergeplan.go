package resurvey

import (
	"cmp"
	"fmt"
	"reflect"
	"slices"

	"gradeline/catalog"
)

// MergeChoices are a person's decisions for the merge of another catalogue into ours. The zero
// value decides nothing: ours stays, and what is more dangerous in theirs waits for a person.
type MergeChoices struct {
	By string // who merges
	// TakeTheirs replaces our surveys, steep parts and sites by theirs where the two differ. A
	// review is never chosen for all descents: of two states the stricter one stays.
	TakeTheirs bool
	// TakeTheirsFor and KeepOursFor choose single descents by our id, with survey and review.
	TakeTheirsFor, KeepOursFor []string
}

// Of is the choice for the survey of a descent, by our id.
func (c *MergeChoices) Of(id string) Choice {
	switch {
	case slices.Contains(c.TakeTheirsFor, id):
		return Theirs
	case slices.Contains(c.KeepOursFor, id):
		return Ours
	case c.TakeTheirs:
		return Theirs
	}
	return Undecided
}

// OfReview is the choice for the review of a descent, by our id.
func (c *MergeChoices) OfReview(id string) Choice {
	choice := c.Of(id)
	if choice == Theirs && !slices.Contains(c.TakeTheirsFor, id) {
		return Undecided
	}
	return choice
}

// Conflict is one difference between two catalogues.
type Conflict struct {
	ID     string `json:"id"`   // descent or site, ours; the road of steep parts
	What   string `json:"what"` // "survey", "review", "only in theirs", "steep parts", "site"
	Ours   string `json:"ours"`
	Theirs string `json:"theirs"`
	Taken  bool   `json:"taken"` // theirs replaced it
}

// Record is a line for the history of a descent. By is empty for the person who merges.
type Record struct{ What, By, Words string }

// MergedDescent is the result of a merge for a hill that both catalogues have.
type MergedDescent struct {
	TakesSurvey    bool            // their survey replaces ours
	Review         *catalog.Review // the review to write; nil: ours stays unchanged
	ReviewIsTheirs bool
	Proposal       string // why their survey waits for a person; empty: it does not
	SetBack        string // the review of ours that theirs undoes, in its person's knowledge; empty: none
	Conflicts      []Conflict
	History        []Record
}

// IsSame reports whether the catalogues agree on the hill, so that nothing changes.
func (m *MergedDescent) IsSame() bool {
	return !m.TakesSurvey && m.Review == nil && len(m.Conflicts) == 0
}

// MergeDescent decides about a hill that both catalogues have. goneSince is when their survey no
// longer found it.
func MergeDescent(ours *Stored, theirs *catalog.Entry, goneSince string, known Knowledge, c *MergeChoices) MergedDescent {
	var m MergedDescent
	id := ours.Descent.ID
	same := SameFigures(ours, theirs) && SameAdvice(ours, theirs)
	if !same {
		m.TakesSurvey = c.Of(id) == Theirs
		if m.TakesSurvey {
			m.History = append(m.History, Record{"merged", "", "taken from another catalogue: " + descentWords(theirs)})
		}
		m.Conflicts = append(m.Conflicts, Conflict{id, "survey", descentWords(&ours.Entry), descentWords(theirs), m.TakesSurvey})
	}
	if (goneSince == "") != (ours.GoneSince == "") {
		m.Conflicts = append(m.Conflicts, Conflict{id, "gone", foundWords(ours.GoneSince), foundWords(goneSince), false})
	}
	m.mergeReview(ours, &theirs.Review, same || m.TakesSurvey, known, c)
	if news := WorseNews(&ours.Entry, theirs); !same && !m.TakesSurvey && news != "" && c.Of(id) != Ours {
		m.Proposal = "another catalogue: " + news
	}
	return m
}

// foundWords says whether a survey still finds a hill.
func foundWords(goneSince string) string {
	if goneSince == "" {
		return "found"
	}
	return GoneQuestion(goneSince)
}

// mergeReview decides about the review of a hill. sameFigures means that their review is about the
// figures that ours will have.
func (m *MergedDescent) mergeReview(ours *Stored, theirs *catalog.Review, sameFigures bool, known Knowledge, c *MergeChoices) {
	id, mine := ours.Descent.ID, ours.Review
	if mine.InQuestion == GoneQuestion(ours.GoneSince) {
		mine.InQuestion = ""
	}
	r := MergeReviews(mine, *theirs, c.OfReview(id), known)
	if r.HasConflict {
		m.Conflicts = append(m.Conflicts, Conflict{id, "review", ReviewWords(&mine), ReviewWords(theirs), r.IsTheirs})
	}
	if r.IsTheirs && !sameFigures {
		r.Review.InQuestion = JoinQuestions(r.Review.InQuestion, "reviewed in another catalogue on other figures")
	}
	if isNew := !known.IsTold && !isSameReview(mine, *theirs); isNew && !r.IsTheirs && !isNobodys(theirs) {
		m.History = append(m.History, Record{"merged", "", anotherSays + ReviewWords(theirs) + "; ours stays"})
	}
	if reflect.DeepEqual(r.Review, mine) {
		return
	}
	m.Review, m.ReviewIsTheirs = &r.Review, r.IsTheirs
	if r.IsDecision && strictness(theirs.State) < strictness(mine.State) {
		m.SetBack = ReviewMark(&mine)
	}
	if r.IsTheirs {
		m.History = append(m.History, Record{"review", theirs.By, "from another catalogue: " + ReviewWords(theirs) + mergedBy(c.By)})
		if r.Review.InQuestion == "" || r.Review.InQuestion == theirs.InQuestion {
			return
		}
	}
	m.History = append(m.History, Record{"in question", "", cmp.Or(r.Review.InQuestion, "no longer: "+anotherSays+ReviewWords(theirs))})
}

func mergedBy(by string) string {
	if by == "" {
		return ""
	}
	return "; merged by " + by
}

// MergeOnlyTheirs decides about a hill of a common road that our survey did not find. It is added,
// in question unless a person chose it; if ours is to be kept it is not added.
func MergeOnlyTheirs(theirs *catalog.Entry, c *MergeChoices) (conflict Conflict, isAdded bool) {
	choice := c.Of(theirs.Descent.ID)
	if choice == Undecided {
		theirs.Review.InQuestion = JoinQuestions(theirs.Review.InQuestion, "known only from another catalogue: the survey of this road here did not find it")
	}
	isAdded = choice != Ours
	return Conflict{theirs.Descent.ID, "only in theirs", "not found on this road", descentWords(theirs), isAdded}, isAdded
}

// AddedWords describes a hill that a merge adds, for the history.
func AddedWords(e *catalog.Entry) string { return "added from another catalogue: " + descentWords(e) }

// FoundSteepParts are the steep parts of a road outside descents; IsSearched is false where a
// survey did not look for them.
type FoundSteepParts struct {
	Parts      []catalog.SteepPart
	IsSearched bool
}

// MergeSteepParts reports whether their steep parts of a common road replace ours, with the
// conflict if there is one. Ours stay unless theirs are wanted, or ours were not searched for.
func MergeSteepParts(road string, ours, theirs FoundSteepParts, c *MergeChoices) (takesTheirs bool, conflict *Conflict) {
	if !theirs.IsSearched || ours.IsSearched && SameSteepParts(ours.Parts, theirs.Parts) {
		return false, nil
	}
	takesTheirs = c.TakeTheirs || !ours.IsSearched
	if ours.IsSearched {
		conflict = &Conflict{road, "steep parts", SteepPartsWords(ours.Parts), SteepPartsWords(theirs.Parts), takesTheirs}
	}
	return takesTheirs, conflict
}

// FindSite returns the id of our site that is theirs under another id: of the same kind, at the same
// place of the same road. It is empty where there is none.
func FindSite(ours map[string]*catalog.Site, theirs *catalog.Site) string {
	found := ""
	for id, s := range ours {
		if s.Route == theirs.Route && s.Kind == theirs.Kind && s.Point == theirs.Point && (found == "" || id < found) {
			found = id
		}
	}
	return found
}

// MergeSite reports whether their site replaces ours, with the conflict if there is one. ours is
// nil where we have no site of that id; removed then says who removed it here, if somebody did.
func MergeSite(ours, theirs *catalog.Site, removed string, c *MergeChoices) (takesTheirs bool, conflict *Conflict) {
	switch {
	case ours == nil && removed != "":
		return c.TakeTheirs, &Conflict{theirs.ID, "site", removed, siteWords(theirs), c.TakeTheirs}
	case ours == nil:
		return true, nil
	case reflect.DeepEqual(ours, theirs):
		return false, nil
	}
	return c.TakeTheirs, &Conflict{theirs.ID, "site", siteWords(ours), siteWords(theirs), c.TakeTheirs}
}

// SiteTheyRemoved is the conflict about a site of ours that a person removed in theirs: ours stays.
func SiteTheyRemoved(ours *catalog.Site, removed string) Conflict {
	return Conflict{ours.ID, "site", siteWords(ours), removed, false}
}

func descentWords(e *catalog.Entry) string {
	d := &e.Descent
	return fmt.Sprintf("%.0f m to %.0f m, %.0f m down, mean %.2f %%, surveyed %s", d.StartM, d.EndM, d.DropM, d.MeanDowngradePct, e.Provenance.At.Format("2006-01-02"))
}

func siteWords(s *catalog.Site) string {
	w := fmt.Sprintf("%s %q at %.6f, %.6f", s.Kind, s.Name, s.Point.LonDeg, s.Point.LatDeg)
	if s.StationM != nil {
		w += fmt.Sprintf(", station %.0f m", *s.StationM)
	}
	return w
}

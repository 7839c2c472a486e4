package store

import (
	"context"
	"database/sql"
	"errors"
	"os"
	"reflect"
	"slices"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/catalog/resurvey"
	"gradeline/terrain"
)

// MergeOptions says how to merge one catalogue into another.
type MergeOptions struct {
	DryRun bool   // work out the report, write nothing
	By     string // who merges
	// TakeTheirs uses the surveys and sites of the source where the two differ. Without it ours
	// stay. A more dangerous survey of theirs then waits to be accepted or refused, and a hill that
	// only theirs has is copied and marked in question. Of two different review states the stricter
	// stays, marked in question, with or without it.
	TakeTheirs bool
	// TakeTheirsFor and KeepOursFor choose single descents by their id in the target, with survey
	// and review.
	TakeTheirsFor, KeepOursFor []string
}

// MergeReport says what was copied and what was not.
type MergeReport struct {
	Routes    []string          `json:"routes"`  // new roads
	Added     []string          `json:"added"`   // new descents, by their ids in the target
	Renamed   map[string]string `json:"renamed"` // their id to ours, where theirs was taken
	Same      []string          `json:"same"`
	Reviews   []string          `json:"reviews"` // reviews that were copied
	Sites     []string          `json:"sites"`   // sites that were copied
	Conflicts []Conflict        `json:"conflicts"`
}

// Conflict is one difference between the two catalogues.
type Conflict struct {
	ID     string `json:"id"`   // descent or site, ours; the road of steep parts
	What   string `json:"what"` // "survey", "review", "only in theirs", "steep parts", "site"
	Ours   string `json:"ours"`
	Theirs string `json:"theirs"`
	Taken  bool   `json:"taken"` // theirs replaced it
}

var errDryRun = errors.New("dry run")

// Merge copies the routes, descents, reviews and sites of src into dst, in one change.
// Roads are the same when their route ids are; their descents by overlap. While a large
// merge is being written, readers of dst may have to wait.
func Merge(ctx context.Context, dst, src *Catalog, o MergeOptions) (MergeReport, error) {
	m := merger{dst: dst, o: o, report: MergeReport{Routes: []string{}, Added: []string{}, Renamed: map[string]string{}, Same: []string{}, Reviews: []string{}, Sites: []string{}, Conflicts: []Conflict{}}}
	a, errA := os.Stat(dst.Path())
	b, errB := os.Stat(src.Path())
	if errA == nil && errB == nil && os.SameFile(a, b) {
		return m.report, &Fault{Kind: terrain.ErrInput, File: src.Path(), What: "merged into itself", Fix: "name another catalogue"}
	}
	err := src.file.Read(ctx, func(q gpkg.Querier) error {
		m.src = q
		if err := gpkg.CheckIndexes(q, ""); err != nil {
			return src.inFile(err)
		}
		return dst.file.Change(ctx, func() error {
			// A merge is one long transaction: let it spill to the file instead of filling the memory.
			if err := dst.file.AllowSpill(true); err != nil {
				return err
			}
			m.s = dst.BeginSurvey(SaveOptions{By: o.By, AcceptMoves: true})
			m.s.planner.q = dst.file
			if err := errors.Join(m.all(ctx), dst.file.AllowSpill(false)); err != nil {
				return err
			}
			if err := m.s.finish(); err != nil {
				return err
			}
			if o.DryRun {
				return errDryRun
			}
			return nil
		})
	})
	if errors.Is(err, errDryRun) {
		err = nil
	}
	return m.report, err
}

type merger struct {
	dst    *Catalog
	src    gpkg.Querier
	s      *Survey
	o      MergeOptions
	report MergeReport
}

func (m *merger) all(ctx context.Context) error {
	var fids []int64
	if err := gpkg.Keys(m.src, &fids, "SELECT fid FROM routes ORDER BY route"); err != nil {
		return err
	}
	for _, fid := range fids {
		if err := ctx.Err(); err != nil {
			return err
		}
		rs, from, err := m.routeSurvey(fid)
		if err != nil {
			return err
		}
		var known int
		found, err := gpkg.First(m.dst.file, []any{&known}, "SELECT 1 FROM routes WHERE route = ?", rs.Route.ID)
		if err != nil {
			return err
		}
		if found {
			err = m.known(rs, from)
		} else {
			err = m.new(rs, from)
		}
		if err != nil {
			return err
		}
	}
	if err := m.networkRoads(); err != nil {
		return err
	}
	return m.sites()
}

// new copies a complete road with its history.
func (m *merger) new(rs *RouteSurvey, from *carried) error {
	theirs := make([]string, len(rs.Entries))
	for i := range rs.Entries {
		theirs[i] = rs.Entries[i].Descent.ID
	}
	at := m.dst.file.NowStamp()
	p, err := m.s.planner.planOf(rs, from, m.s.o, at)
	if err != nil {
		return err
	}
	if err := p.pack(); err != nil {
		return err
	}
	if err := m.s.apply(p, at); err != nil {
		return err
	}
	m.report.Routes = append(m.report.Routes, rs.Route.ID)
	for i, id := range p.Changes.Added {
		m.report.Added = append(m.report.Added, id)
		if id != theirs[i] {
			m.report.Renamed[theirs[i]] = id
		}
		err := gpkg.Each(m.src, func(rows *sql.Rows) error {
			var v [5]string
			if err := rows.Scan(&v[0], &v[1], &v[2], &v[3], &v[4]); err != nil {
				return err
			}
			_, err := m.dst.file.Exec("INSERT INTO history(at, done_by, what, route, words, descent) VALUES (?, ?, ?, ?, ?, ?)", v[0], v[1], v[2], v[3], v[4], id)
			return err
		}, "SELECT at || '', done_by, what, route, words FROM history WHERE descent = ? ORDER BY fid", theirs[i])
		if err != nil {
			return err
		}
	}
	return m.dst.file.LogHistory("merged", m.o.By, "", rs.Route.ID, "the road was copied from another catalogue")
}

// known merges a road that both have.
func (m *merger) known(rs *RouteSurvey, from *carried) error {
	at := m.dst.file.NowStamp()
	p := &plan{Plan: &resurvey.Plan{Survey: rs, ClassSHA256: m.s.planner.fingerprints(rs.ClassesUsed)}, from: from, samples: from.samples}
	if err := m.s.planner.readKnown(p, rs); err != nil {
		return err
	}
	ours := p.known.Descents
	if err := m.s.writeClasses(p, at); err != nil {
		return err
	}
	if err := m.mergeSteepParts(p); err != nil {
		return err
	}
	paired := map[int]*resurvey.Stored{}
	for _, x := range resurvey.Match(ours, rs.Entries, p.known.SameLine) {
		paired[x.New] = ours[x.Old]
	}
	for i := range rs.Entries {
		e := &rs.Entries[i]
		if old := paired[i]; old != nil {
			if err := m.descent(p, old, e, i); err != nil {
				return err
			}
			continue
		}
		if err := m.onlyTheirs(p, e, i); err != nil {
			return err
		}
	}
	return nil
}

// onlyTheirs adds a hill that our survey of a shared road did not find, marked in question unless
// the caller chose it.
func (m *merger) onlyTheirs(p *plan, e *catalog.Entry, index int) error {
	theirID := e.Descent.ID
	choice := m.choice(theirID)
	conflict := Conflict{theirID, "only in theirs", "not found on this road", descentWords(e), choice != resurvey.Ours}
	m.report.Conflicts = append(m.report.Conflicts, conflict)
	if choice == resurvey.Ours {
		return nil
	}
	id, err := resurvey.FirstFree(theirID, "-", func(id string) (bool, error) { return m.s.planner.isTaken("descents", "id", id) })
	if err != nil {
		return err
	}
	e.Descent.ID = id
	if choice == resurvey.Undecided {
		e.Review.InQuestion = resurvey.JoinQuestions(e.Review.InQuestion, "known only from another catalogue: the survey of this road here did not find it")
	}
	if err := m.s.writeEntry(&resurvey.Step{Do: resurvey.Add, Entry: e, ID: id, Index: index}, p); err != nil {
		return err
	}
	m.report.Added = append(m.report.Added, id)
	return m.dst.file.LogHistory("merged", m.o.By, id, p.Survey.Route.ID, "added from another catalogue: "+descentWords(e))
}

// descent merges one hill that both have, then its reviews.
func (m *merger) descent(p *plan, old *resurvey.Stored, e *catalog.Entry, index int) error {
	id := old.Descent.ID
	theirs := e.Review
	e.Descent.ID = id
	taken := false
	same := resurvey.SameFigures(old, e) && resurvey.SameAdvice(old, e)
	if !same {
		if taken = m.choice(id) == resurvey.Theirs; taken {
			if err := m.s.writeEntry(&resurvey.Step{Do: resurvey.Update, Entry: e, ID: id, Index: index, Old: old}, p); err != nil {
				return err
			}
			if err := m.dst.file.LogHistory("merged", m.o.By, id, p.Survey.Route.ID, "taken from another catalogue: "+descentWords(e)); err != nil {
				return err
			}
		}
		m.report.Conflicts = append(m.report.Conflicts, Conflict{id, "survey", descentWords(&old.Entry), descentWords(e), taken})
	}
	agree, err := m.review(p, old, theirs, same || taken)
	if err == nil && agree && same {
		m.report.Same = append(m.report.Same, id)
	}
	if err == nil && !same && !taken { // after the review, which it puts in question
		err = m.worse(p, old, e, index)
	}
	return err
}

// worse stores a more dangerous survey from the other catalogue as a proposal.
func (m *merger) worse(p *plan, old *resurvey.Stored, e *catalog.Entry, index int) error {
	news := resurvey.WorseNews(&old.Entry, e)
	if news == "" || m.choice(old.Descent.ID) == resurvey.Ours {
		return nil
	}
	at := m.dst.file.NowStamp()
	words := "another catalogue: " + news
	if err := m.s.propose(p, &resurvey.Step{Entry: e, ID: old.Descent.ID, Index: index, Old: old}, at, words); err != nil {
		return err
	}
	return m.dst.question(old.Descent.ID, m.o.By, resurvey.ProposalQuestion(at, words))
}

// review copies the review of one hill. sameFigures says that the review is about the figures that
// ours has. It reports whether nothing had to be decided or changed.
func (m *merger) review(p *plan, old *resurvey.Stored, theirs catalog.Review, sameFigures bool) (agree bool, err error) {
	id := old.Descent.ID
	mine := old.Review
	if mine.InQuestion == resurvey.GoneQuestion(old.GoneSince) {
		mine.InQuestion = ""
	}
	choice := m.choice(id)
	if choice == resurvey.Theirs && !m.isNamed(id) {
		choice = resurvey.Undecided // a review state is chosen for single descents, never for all
	}
	r := resurvey.MergeReviews(mine, theirs, choice)
	if r.HasConflict {
		m.report.Conflicts = append(m.report.Conflicts, Conflict{id, "review", resurvey.ReviewWords(&mine), resurvey.ReviewWords(&theirs), r.IsTheirs})
	}
	if r.IsTheirs && !sameFigures {
		// A review of figures that differ from ours is copied and marked in question.
		r.Review.InQuestion = resurvey.JoinQuestions(r.Review.InQuestion, "reviewed in another catalogue on other figures")
	}
	if reflect.DeepEqual(r.Review, mine) {
		return !r.HasConflict, nil
	}
	if err := m.dst.writeReview(id, &r.Review); err != nil {
		return false, err
	}
	if !r.IsTheirs {
		return false, m.dst.file.LogHistory("in question", m.o.By, id, p.Survey.Route.ID, r.Review.InQuestion)
	}
	m.report.Reviews = append(m.report.Reviews, id)
	words := "from another catalogue: " + resurvey.ReviewWords(&theirs)
	if m.o.By != "" {
		words += "; merged by " + m.o.By
	}
	err = m.dst.file.LogHistory("review", theirs.By, id, p.Survey.Route.ID, words)
	if err == nil && r.Review.InQuestion != "" && r.Review.InQuestion != theirs.InQuestion {
		err = m.dst.file.LogHistory("in question", m.o.By, id, p.Survey.Route.ID, r.Review.InQuestion)
	}
	return false, err
}

// choice is the caller's choice for a descent, by its id in the target.
func (m *merger) choice(id string) resurvey.Choice {
	switch {
	case slices.Contains(m.o.TakeTheirsFor, id):
		return resurvey.Theirs
	case slices.Contains(m.o.KeepOursFor, id):
		return resurvey.Ours
	case m.o.TakeTheirs:
		return resurvey.Theirs
	}
	return resurvey.Undecided
}

// isNamed reports whether a descent was chosen by its id.
func (m *merger) isNamed(id string) bool {
	return slices.Contains(m.o.TakeTheirsFor, id) || slices.Contains(m.o.KeepOursFor, id)
}

package store

import (
	"context"
	"database/sql"
	"errors"
	"os"
	"reflect"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/catalog/resurvey"
	"gradeline/terrain"
)

// MergeOptions says how to bring one catalogue into another.
type MergeOptions struct {
	DryRun bool   // work out the report, write nothing
	By     string // who asked for it
	// TakeTheirs settles conflicts for the source; without it the target stays
	// as it is and the conflicts are only reported.
	TakeTheirs bool
}

// MergeReport says what came over and what did not.
type MergeReport struct {
	Routes    []string          `json:"routes"`  // new roads
	Added     []string          `json:"added"`   // new descents, by their ids in the target
	Renamed   map[string]string `json:"renamed"` // their id to ours, where theirs was taken
	Same      []string          `json:"same"`
	Reviews   []string          `json:"reviews"` // reviews that came over
	Sites     []string          `json:"sites"`   // sites that came over
	Conflicts []Conflict        `json:"conflicts"`
}

// Conflict is one thing that the two catalogues say differently.
type Conflict struct {
	ID     string `json:"id"`   // descent or site, ours
	What   string `json:"what"` // "survey", "review", "only in theirs", "site"
	Ours   string `json:"ours"`
	Theirs string `json:"theirs"`
	Taken  bool   `json:"taken"` // theirs was put in its place
}

var errDryRun = errors.New("dry run")

// Merge brings the routes, descents, reviews and sites of src into dst, in one
// change. Roads are the same when their route ids are; their descents by overlap.
// While a large merge is being written, readers of dst may have to wait.
func Merge(ctx context.Context, dst, src *Catalog, o MergeOptions) (MergeReport, error) {
	m := merger{dst: dst, o: o, report: MergeReport{Routes: []string{}, Added: []string{}, Renamed: map[string]string{}, Same: []string{}, Reviews: []string{}, Sites: []string{}, Conflicts: []Conflict{}}}
	a, errA := os.Stat(dst.Path())
	b, errB := os.Stat(src.Path())
	if errA == nil && errB == nil && os.SameFile(a, b) {
		return m.report, &Fault{Kind: terrain.ErrInput, File: src.Path(), What: "merged into itself", Fix: "name another catalogue"}
	}
	err := src.file.Read(ctx, func(q gpkg.Querier) error {
		m.src = q
		return dst.file.Change(ctx, func() error {
			// A merge has no natural pauses: let it spill to the file rather than fill the memory.
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
	return m.sites()
}

// new brings a road over whole, with its history.
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
	return m.dst.file.LogHistory("merged", m.o.By, "", rs.Route.ID, "the road came over from another catalogue")
}

// known compares a road that both have.
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
		theirID := e.Descent.ID
		if m.o.TakeTheirs {
			id, err := resurvey.FirstFree(theirID, "-", func(id string) (bool, error) { return m.s.planner.isTaken("descents", "id", id) })
			if err != nil {
				return err
			}
			e.Descent.ID = id
			if err := m.s.writeEntry(&resurvey.Step{Do: resurvey.Add, Entry: e, ID: id, Index: i}, p); err != nil {
				return err
			}
			m.report.Added = append(m.report.Added, id)
		}
		m.report.Conflicts = append(m.report.Conflicts, Conflict{theirID, "only in theirs", "not found on this road", descentWords(e), m.o.TakeTheirs})
	}
	return nil
}

// descent compares one hill that both have, then what people said of it.
func (m *merger) descent(p *plan, old *resurvey.Stored, e *catalog.Entry, index int) error {
	id := old.Descent.ID
	theirs := e.Review
	e.Descent.ID = id
	same := resurvey.SameFigures(old, e) && resurvey.SameAdvice(old, e)
	if !same {
		if m.o.TakeTheirs {
			if err := m.s.writeEntry(&resurvey.Step{Do: resurvey.Update, Entry: e, ID: id, Index: index, Old: old}, p); err != nil {
				return err
			}
			if err := m.dst.file.LogHistory("merged", m.o.By, id, p.Survey.Route.ID, "taken from another catalogue: "+descentWords(e)); err != nil {
				return err
			}
		}
		m.report.Conflicts = append(m.report.Conflicts, Conflict{id, "survey", descentWords(&old.Entry), descentWords(e), m.o.TakeTheirs})
	}
	none := catalog.Review{State: catalog.Surveyed}
	mine := old.Review
	if old.GoneSince != "" && mine.State == catalog.Surveyed {
		mine.InQuestion = ""
	}
	switch {
	case reflect.DeepEqual(theirs, mine) || reflect.DeepEqual(theirs, none):
		if same {
			m.report.Same = append(m.report.Same, id)
		}
		return nil
	case !reflect.DeepEqual(mine, none):
		m.report.Conflicts = append(m.report.Conflicts, Conflict{id, "review", reviewWords(&mine), reviewWords(&theirs), m.o.TakeTheirs})
		if !m.o.TakeTheirs {
			return nil
		}
	}
	if !same && !m.o.TakeTheirs {
		// A review of other figures than ours comes over in question.
		theirs.InQuestion = resurvey.JoinQuestions(theirs.InQuestion, "reviewed in another catalogue on other figures")
	}
	if err := m.dst.writeReview(id, &theirs); err != nil {
		return err
	}
	m.report.Reviews = append(m.report.Reviews, id)
	return m.dst.file.LogHistory("review", theirs.By, id, p.Survey.Route.ID, "from another catalogue: "+reviewWords(&theirs))
}

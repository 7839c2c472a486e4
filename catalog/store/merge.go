package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"os"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/catalog/resurvey"
	"gradeline/terrain"
)

// MergeOptions set how one catalogue is merged into another.
type MergeOptions struct {
	DryRun bool   // make the report, write nothing
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

// MergeReport lists what was copied and what was not.
type MergeReport struct {
	Routes    []string          `json:"routes"`  // new roads
	Added     []string          `json:"added"`   // new descents, by their ids in the target
	Renamed   map[string]string `json:"renamed"` // their id to ours, where theirs was taken
	Same      []string          `json:"same"`
	Reviews   []string          `json:"reviews"` // reviews that were copied
	Sites     []string          `json:"sites"`   // sites that were copied
	Drives    []int64           `json:"drives"`  // recorded drives that were copied, by their numbers in the target
	Conflicts []Conflict        `json:"conflicts"`
}

var errDryRun = errors.New("dry run")

// Merge copies the routes, descents, reviews and sites of src into dst, in one change.
// Roads are matched by id, by the id of an earlier version or by exactly the same line; their
// descents by overlap. While a large merge is being written, readers of dst may have to wait.
func Merge(ctx context.Context, dst, src *Catalog, o MergeOptions) (MergeReport, error) {
	m := merger{dst: dst, choices: o.choices(), ourID: map[string]string{}, report: MergeReport{Routes: []string{}, Added: []string{}, Renamed: map[string]string{}, Same: []string{}, Reviews: []string{}, Sites: []string{}, Drives: []int64{}, Conflicts: []Conflict{}}}
	a, errA := os.Stat(dst.LocalPath())
	b, errB := os.Stat(src.LocalPath())
	if errA == nil && errB == nil && os.SameFile(a, b) {
		return m.report, &Fault{Kind: terrain.ErrInput, File: src.Path(), What: "merged into itself", Fix: "name another catalogue"}
	}
	err := src.file.Read(ctx, func(q gpkg.Querier) error {
		m.src = q
		err := gpkg.CheckIndexes(q, "")
		if err == nil {
			err = checkSums(q)
		}
		if err != nil {
			return src.inFile(err)
		}
		return dst.file.Change(ctx, func() error {
			// A merge is one long transaction: let it spill to the file instead of filling the memory.
			if err := dst.file.AllowSpill(true); err != nil {
				return err
			}
			if err := gpkg.CheckRows(dst.file, gpkg.SealedTables()...); err != nil {
				return dst.inFile(err)
			}
			m.s = dst.BeginSurvey(SaveOptions{By: o.By, AcceptMoves: true})
			m.s.planner.q = dst.file
			if err := errors.Join(m.all(ctx, src), dst.file.AllowSpill(false)); err != nil {
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

// merger carries out the decisions of package resurvey.
type merger struct {
	dst     *Catalog
	src     gpkg.Querier
	s       *Survey
	choices resurvey.MergeChoices
	roads   *resurvey.Roads
	ourID   map[string]string // our id of each of their roads that has another one here
	report  MergeReport
}

func (o *MergeOptions) choices() resurvey.MergeChoices {
	return resurvey.MergeChoices{By: o.By, TakeTheirs: o.TakeTheirs, TakeTheirsFor: o.TakeTheirsFor, KeepOursFor: o.KeepOursFor}
}

func (m *merger) all(ctx context.Context, src *Catalog) error {
	var fids []int64
	if err := gpkg.Keys(m.src, &fids, "SELECT fid FROM routes ORDER BY route"); err != nil {
		return err
	}
	var err error
	if m.roads, err = m.findRoads(); err != nil {
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
		if id, found := m.roads.Find(&rs.Route); found {
			err = m.known(rs, from, id)
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
	if err := m.drives(src); err != nil {
		return err
	}
	return m.sites()
}

// findRoads makes the index of the roads that both catalogues may have.
func (m *merger) findRoads() (*resurvey.Roads, error) {
	var ours []RouteRecord
	err := gpkg.Each(m.dst.file, func(rows *sql.Rows) error {
		var r RouteRecord
		err := rows.Scan(&r.ID, &r.LineSHA256)
		ours = append(ours, r)
		return err
	}, "SELECT route, line_sha256 FROM routes")
	if err != nil {
		return nil, err
	}
	var theirs []string
	err = gpkg.Each(m.src, scanText(&theirs), "SELECT route FROM routes")
	return resurvey.NewRoads(ours, theirs), err
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
	if err := p.pack(nil); err != nil {
		return err
	}
	if err := m.s.apply(p, at); err != nil {
		return err
	}
	m.report.Routes = append(m.report.Routes, rs.Route.ID)
	if err := m.waitingOfNew(p, theirs); err != nil {
		return err
	}
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
			return m.dst.file.LogHistoryAt(v[0], v[2], v[1], id, v[3], v[4])
		}, "SELECT at || '', done_by, what, route, words FROM history WHERE descent = ? ORDER BY fid", theirs[i])
		if err != nil {
			return err
		}
	}
	return m.dst.file.LogHistory("merged", m.choices.By, "", rs.Route.ID, "the road was copied from another catalogue")
}

// known merges a road that both have; id is ours.
func (m *merger) known(rs *RouteSurvey, from *carried, id string) error {
	at := m.dst.file.NowStamp()
	if err := m.rename(rs, id); err != nil {
		return err
	}
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

// rename gives a road of theirs our id.
func (m *merger) rename(rs *RouteSurvey, id string) error {
	theirs := rs.Route.ID
	if theirs == id {
		return nil
	}
	m.ourID[theirs] = id
	rs.Route.ID = id
	for i := range rs.Entries {
		rs.Entries[i].Descent.Route = id
	}
	for i := range rs.SteepParts {
		rs.SteepParts[i].Route = id
	}
	return m.dst.file.LogHistory("merged", m.choices.By, "", id, "the other catalogue calls this road "+theirs)
}

// onlyTheirs adds a hill of a common road that our survey did not find.
func (m *merger) onlyTheirs(p *plan, e *catalog.Entry, index int) error {
	conflict, isAdded := resurvey.MergeOnlyTheirs(e, &m.choices)
	m.report.Conflicts = append(m.report.Conflicts, conflict)
	if !isAdded {
		return nil
	}
	id, err := resurvey.FirstFree(e.Descent.ID, "-", func(id string) (bool, error) { return m.s.planner.isTaken("descents", "id", id) })
	if err != nil {
		return err
	}
	e.Descent.ID = id
	if err := m.s.writeEntry(&resurvey.Step{Do: resurvey.Add, Entry: e, ID: id, Index: index}, p); err != nil {
		return err
	}
	m.report.Added = append(m.report.Added, id)
	return m.dst.file.LogHistory("merged", m.choices.By, id, p.Survey.Route.ID, resurvey.AddedWords(e))
}

// descent merges one hill that both have, with its review.
func (m *merger) descent(p *plan, old *resurvey.Stored, e *catalog.Entry, index int) error {
	id := old.Descent.ID
	waiting, err := m.waitingOf(e.Descent.ID)
	if err != nil {
		return err
	}
	if waiting != nil { // its question goes with it
		e.Review.InQuestion = resurvey.WithoutQuestion(e.Review.InQuestion, resurvey.ProposalQuestion(waiting.at, waiting.words))
	}
	known, err := m.knowledge(old, e)
	if err != nil {
		return err
	}
	do := resurvey.MergeDescent(old, e, p.from.gone[index], known, &m.choices)
	e.Descent.ID = id
	m.report.Conflicts = append(m.report.Conflicts, do.Conflicts...)
	if do.TakesSurvey {
		if err := m.s.writeEntry(&resurvey.Step{Do: resurvey.Update, Entry: e, ID: id, Index: index, Old: old}, p); err != nil {
			return err
		}
	}
	if do.Review != nil {
		if err := m.dst.writeReview(id, do.Review); err != nil {
			return err
		}
	}
	if err := m.logMerged(&do, id, p.Survey.Route.ID, &e.Review); err != nil {
		return err
	}
	switch {
	case do.IsSame():
		m.report.Same = append(m.report.Same, id)
	case do.ReviewIsTheirs:
		m.report.Reviews = append(m.report.Reviews, id)
	}
	// After the review, which a proposal puts in question.
	if do.Proposal != "" {
		w := &waitingSurvey{at: m.dst.file.NowStamp(), words: do.Proposal, entry: *e, samples: p.samples[index]}
		if err := m.propose(p, old, w, index); err != nil {
			return err
		}
	}
	if waiting == nil || m.choices.Of(id) == resurvey.Ours {
		return nil
	}
	return m.proposeTheirs(p, old, waiting)
}

// logMerged writes what became of a hill into its history.
func (m *merger) logMerged(do *resurvey.MergedDescent, id, road string, theirs *catalog.Review) error {
	for _, h := range do.History {
		if err := m.dst.file.LogHistory(h.What, cmp.Or(h.By, m.choices.By), id, road, h.Words); err != nil {
			return err
		}
	}
	if do.SetBack == "" {
		return nil
	}
	return m.dst.file.LogHistory(setBackEvent, theirs.By, id, road, setBackWords(do.SetBack, theirs))
}

// mergeSteepParts merges the steep parts outside descents of a road that both have.
func (m *merger) mergeSteepParts(p *plan) error {
	rs := p.Survey
	ours, oursM, err := steepPartsOf(m.dst.file, p.routeFID)
	if err != nil {
		return err
	}
	takesTheirs, conflict := resurvey.MergeSteepParts(rs.Route.ID, resurvey.FoundSteepParts{Parts: ours, IsSearched: oursM != nil},
		resurvey.FoundSteepParts{Parts: rs.SteepParts, IsSearched: rs.PossibleSteepM != nil}, &m.choices)
	if conflict != nil {
		m.report.Conflicts = append(m.report.Conflicts, *conflict)
	}
	if !takesTheirs {
		return nil
	}
	if err := m.s.writeSteepParts(p); err != nil {
		return err
	}
	if _, err := m.dst.file.Exec("UPDATE routes SET possible_steep_m = ? WHERE fid = ?", *rs.PossibleSteepM, p.routeFID); err != nil {
		return err
	}
	if err := m.dst.file.SealRows("routes", "WHERE fid = ?", p.routeFID); err != nil {
		return err
	}
	return m.dst.file.LogHistory("merged", m.choices.By, "", rs.Route.ID, "steep parts taken from another catalogue: "+resurvey.SteepPartsWords(rs.SteepParts))
}

package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"strings"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/catalog/resurvey"
	"gradeline/terrain"
)

// propose keeps a newer survey of a reviewed descent until someone decides.
func (s *Survey) propose(p *plan, st *resurvey.Step, at, words string) error {
	b, err := json.Marshal(st.Entry)
	if err != nil {
		return err
	}
	fids := map[string]int64{}
	for _, h := range st.Entry.Holds {
		if fid := s.classes[h.Class+p.classSHA(st.Index, h.Class)]; fid != 0 {
			fids[h.Class] = fid
		}
	}
	classes, err := json.Marshal(fids)
	if err != nil {
		return err
	}
	if err := s.c.withdraw(st.Old.Key, st.ID, p.Survey.Route.ID, s.o.By); err != nil {
		return err
	}
	if _, err := s.c.file.Exec("INSERT INTO proposals(descent_fid, at, proposed_by, words, entry, class_fids, samples) VALUES (?, ?, ?, ?, ?, ?, ?)", st.Old.Key, at, s.o.By, words, string(b), string(classes), p.samples[st.Index]); err != nil {
		return err
	}
	if err := s.c.file.SealRows("proposals", "WHERE descent_fid = ?", st.Old.Key); err != nil {
		return err
	}
	return s.c.file.LogHistory("proposed", s.o.By, st.ID, p.Survey.Route.ID, words)
}

// withdraw deletes a waiting proposal that a newer survey has replaced.
func (c *Catalog) withdraw(fid int64, id, route, by string) error {
	var at, words string
	found, err := gpkg.First(c.file, []any{&at, &words}, "SELECT at || '', words FROM proposals WHERE descent_fid = ?", fid)
	if err != nil || !found {
		return err
	}
	if _, err := c.file.Exec("DELETE FROM proposals WHERE descent_fid = ?", fid); err != nil {
		return err
	}
	if err := c.endQuestion(id, at, words); err != nil {
		return err
	}
	return c.file.LogHistory("withdrawn", by, id, route, "a newer survey replaced the waiting one")
}

// Proposal is a newer survey of a reviewed descent that waits for a decision.
type Proposal struct {
	ID    string
	At    time.Time
	By    string
	Words string        // what moved
	Entry catalog.Entry // as it would be after acceptance
}

// Proposals lists what waits to be accepted or refused, by id.
func (c *Catalog) Proposals(ctx context.Context) ([]Proposal, error) {
	out := []Proposal{}
	err := c.file.Read(ctx, func(q gpkg.Querier) error {
		if err := gpkg.CheckRows(q, "proposals"); err != nil {
			return c.inFile(err)
		}
		return gpkg.Each(q, func(rows *sql.Rows) error {
			var p Proposal
			var at, entry string
			err := rows.Scan(&p.ID, &at, &p.By, &p.Words, &entry)
			if err == nil {
				p.At, err = gpkg.ParseMoment(at)
			}
			if err == nil {
				err = gpkg.ParseJSON([]byte(entry), &p.Entry)
			}
			out = append(out, p)
			return err
		}, "SELECT d.id, p.at || '', p.proposed_by, p.words, p.entry FROM proposals p JOIN descents d ON d.fid = p.descent_fid ORDER BY d.id")
	})
	return out, err
}

// endQuestion removes the question of a proposal; other open questions stay.
func (c *Catalog) endQuestion(id, at, words string) error {
	var had string
	found, err := gpkg.First(c.file, []any{&had}, "SELECT in_question FROM reviews WHERE descent = ?", id)
	if err != nil || !found {
		return err
	}
	if left := resurvey.WithoutQuestion(had, resurvey.ProposalQuestion(at, words)); left != had {
		return c.setQuestion(id, left)
	}
	return nil
}

// Accept replaces the descent by the waiting survey. Its review stays, and is no longer in question
// if no other question is open.
func (c *Catalog) Accept(ctx context.Context, id, by string) error {
	return c.file.Change(ctx, func() error { return c.accept(id, by) })
}

// accept is Accept inside a change.
func (c *Catalog) accept(id, by string) error {
	return c.decide(id, by, func(s *Survey, old *resurvey.Stored, entry []byte, samples []byte, words string) error {
		var e catalog.Entry
		if err := gpkg.ParseJSON(entry, &e); err != nil {
			return err
		}
		p := &plan{Plan: &resurvey.Plan{Survey: &RouteSurvey{}}, samples: [][]byte{samples}}
		if _, err := gpkg.First(c.file, []any{&p.routeFID}, "SELECT route_fid FROM descents WHERE fid = ?", old.Key); err != nil {
			return err
		}
		e.Descent.ID = old.Descent.ID
		if err := s.writeEntry(&resurvey.Step{Do: resurvey.Update, Entry: &e, ID: old.Descent.ID, Old: old}, p); err != nil {
			return err
		}
		if m := old.Review.MeasuredGradePct; m != nil {
			if why := measuredQuestion(*m, e.Descent.MeanDowngradePct, e.Descent.MeanDowngradeErrPct); why != "" {
				if err := c.question(old.Descent.ID, by, why); err != nil {
					return err
				}
			}
		}
		return c.file.LogHistory(acceptedEvent, by, old.Descent.ID, e.Descent.Route, words)
	})
}

// Refuse deletes the waiting survey. The descent stays as reviewed, and is no longer in question if
// no other question is open.
func (c *Catalog) Refuse(ctx context.Context, id, by, why string) error {
	return c.file.Change(ctx, func() error { return c.refuse(id, by, why) })
}

// refuse is Refuse inside a change.
func (c *Catalog) refuse(id, by, why string) error {
	return c.decide(id, by, func(_ *Survey, old *resurvey.Stored, _, _ []byte, words string) error {
		return c.file.LogHistory(refusedEvent, by, old.Descent.ID, "", strings.TrimSpace(why+" "+hadWords(words)))
	})
}

// The history's words for a waiting survey on which a person decided.
const (
	acceptedEvent = "accepted"
	refusedEvent  = "refused"
)

// hadWords is how the history names a refused survey.
func hadWords(words string) string { return "(it had " + words + ")" }

// decide ends what waits for a descent; inside a change.
func (c *Catalog) decide(id, by string, do func(s *Survey, old *resurvey.Stored, entry, samples []byte, words string) error) error {
	if by == "" {
		return &Fault{Kind: terrain.ErrInput, What: "a decision without a name", Fix: "name the person who decides"}
	}
	fid, full, err := findDescent(c.file, c.file.Path(), id)
	if err != nil {
		return err
	}
	if err := gpkg.CheckRows(c.file, "proposals"); err != nil {
		return c.inFile(err)
	}
	var at, words string
	var entry, samples []byte
	s := c.BeginSurvey(SaveOptions{By: by})
	found, err := gpkg.First(c.file, []any{&at, &words, &entry, &gpkg.JSONColumn{To: &s.classes}, &samples}, "SELECT at || '', words, entry, class_fids, samples FROM proposals WHERE descent_fid = ?", fid)
	if err != nil {
		return err
	}
	if !found {
		return &Fault{Kind: catalog.ErrNotFound, File: c.file.Path(), Feature: "descent " + full, What: "no newer survey waits", Fix: "the review queue lists what waits"}
	}
	l := loader{q: c.file}
	old, _, err := l.entry(fid)
	if err != nil {
		return err
	}
	if err := do(s, old, entry, samples, words); err != nil {
		return err
	}
	if _, err := c.file.Exec("DELETE FROM proposals WHERE descent_fid = ?", fid); err != nil {
		return err
	}
	if err := c.endQuestion(full, at, words); err != nil {
		return err
	}
	return s.finish()
}

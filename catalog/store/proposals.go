package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"time"

	"gradeline/catalog"
	"gradeline/terrain"
)

// propose keeps a newer survey of a reviewed descent until someone decides.
func (s *Survey) propose(p *plan, st *step, at string) error {
	b, err := json.Marshal(st.entry)
	if err != nil {
		return err
	}
	fids := map[string]int64{}
	for _, h := range st.entry.Holds {
		if fid := s.classes[h.Class+p.classNow[h.Class]]; fid != 0 {
			fids[h.Class] = fid
		}
	}
	classes, err := json.Marshal(fids)
	if err != nil {
		return err
	}
	if _, err := s.c.exec("DELETE FROM proposals WHERE descent_fid = ?", st.old.fid); err != nil {
		return err
	}
	words := shiftWords(st.shifts)
	if _, err := s.c.exec("INSERT INTO proposals(descent_fid, at, proposed_by, words, entry, class_fids, samples) VALUES (?, ?, ?, ?, ?, ?, ?)", st.old.fid, at, s.o.By, words, string(b), string(classes), st.samples); err != nil {
		return err
	}
	return s.c.log("proposed", s.o.By, st.id, p.rs.Route.ID, words)
}

// withdraw drops a waiting proposal that a newer survey has overtaken.
func (c *Catalog) withdraw(fid int64, id, route, by string) error {
	res, err := c.exec("DELETE FROM proposals WHERE descent_fid = ?", fid)
	if err != nil {
		return err
	}
	if n, err := res.RowsAffected(); err != nil || n == 0 {
		return err
	}
	return c.log("withdrawn", by, id, route, "a newer survey took the waiting one's place")
}

// Proposal is a newer survey of a reviewed descent that waits.
type Proposal struct {
	ID    string
	At    time.Time
	By    string
	Words string        // what moved
	Entry catalog.Entry // as it would stand
}

// Proposals lists what waits to be accepted or refused, by id.
func (c *Catalog) Proposals(ctx context.Context) ([]Proposal, error) {
	out := []Proposal{}
	err := c.read(ctx, func(q querier) error {
		return each(q, func(rows *sql.Rows) error {
			var p Proposal
			var at, entry string
			err := rows.Scan(&p.ID, &at, &p.By, &p.Words, &entry)
			if err == nil {
				p.At, err = momentOf(at)
			}
			if err == nil {
				err = jsonInto([]byte(entry), &p.Entry)
			}
			out = append(out, p)
			return err
		}, "SELECT d.id, p.at || '', p.proposed_by, p.words, p.entry FROM proposals p JOIN descents d ON d.fid = p.descent_fid ORDER BY d.id")
	})
	return out, err
}

// Accept puts the waiting survey in the descent's place. Its review stays, in
// question until someone looks again.
func (c *Catalog) Accept(ctx context.Context, id, by string) error {
	return c.decide(ctx, id, by, func(s *Survey, old *stored, entry []byte, samples []byte, words string) error {
		var e catalog.Entry
		if err := jsonInto(entry, &e); err != nil {
			return err
		}
		p := &plan{rs: &RouteSurvey{}, classNow: map[string]string{}}
		if _, err := one(c, []any{&p.routeFID}, "SELECT route_fid FROM descents WHERE fid = ?", old.fid); err != nil {
			return err
		}
		e.Descent.ID = old.Descent.ID
		if err := s.writeEntry(&step{do: update, entry: &e, id: old.Descent.ID, old: old, samples: samples}, p); err != nil {
			return err
		}
		return c.log("accepted", by, old.Descent.ID, e.Descent.Route, words)
	})
}

// Refuse drops the waiting survey; the descent stays as it was reviewed, and
// what was in question stays so until a review says otherwise.
func (c *Catalog) Refuse(ctx context.Context, id, by, why string) error {
	return c.decide(ctx, id, by, func(_ *Survey, old *stored, _, _ []byte, words string) error {
		return c.log("refused", by, old.Descent.ID, "", why+" (it had "+words+")")
	})
}

func (c *Catalog) decide(ctx context.Context, id, by string, do func(s *Survey, old *stored, entry, samples []byte, words string) error) error {
	if by == "" {
		return &Fault{Kind: terrain.ErrInput, What: "a decision without a name", Fix: "say who decides"}
	}
	return c.change(ctx, func() error {
		fid, full, err := findDescent(c, c.path, id)
		if err != nil {
			return err
		}
		var words string
		var entry, samples []byte
		s := c.BeginSurvey(SaveOptions{By: by})
		found, err := one(c, []any{&words, &entry, &jsonColumn{&s.classes}, &samples}, "SELECT words, entry, class_fids, samples FROM proposals WHERE descent_fid = ?", fid)
		if err != nil {
			return err
		}
		if !found {
			return &Fault{Kind: catalog.ErrNotFound, File: c.path, Feature: "descent " + full, What: "no newer survey waits", Fix: "the review queue lists what waits"}
		}
		l := loader{q: c}
		old, _, err := l.entry(fid)
		if err != nil {
			return err
		}
		if err := do(s, old, entry, samples, words); err != nil {
			return err
		}
		if _, err := c.exec("DELETE FROM proposals WHERE descent_fid = ?", fid); err != nil {
			return err
		}
		return s.finish()
	})
}

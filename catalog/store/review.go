package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"time"

	"gradeline/catalog"
	"gradeline/terrain"
)

// Review records a look at a descent: its state, by whom, a measured downgrade,
// a note, a photo's reference. It takes what was in question off, unless
// r.InQuestion says otherwise. A zero At is now. A descent whose newer survey
// waits to be accepted or refused cannot be approved before that is done.
func (c *Catalog) Review(ctx context.Context, id string, r catalog.Review) error {
	if err := c.checkReview(&r); err != nil {
		return err
	}
	return c.change(ctx, func() error {
		fid, full, err := findDescent(c, c.path, id)
		if err != nil {
			return err
		}
		var words string
		if r.State == catalog.Approved {
			waiting, err := one(c, []any{&words}, "SELECT words FROM proposals WHERE descent_fid = ?", fid)
			if err != nil {
				return err
			}
			if waiting {
				return &Fault{Kind: terrain.ErrInput, File: c.path, Feature: "descent " + full, What: "a newer survey waits: " + words, Fix: "accept or refuse it, then approve"}
			}
		}
		if err := c.carry(fid, full, &r); err != nil {
			return err
		}
		if err := c.writeReview(full, &r); err != nil {
			return err
		}
		if err := c.touch("reviews"); err != nil {
			return err
		}
		words = string(r.State)
		if r.MeasuredGradePct != nil {
			words += fmt.Sprintf("; measured downgrade %.1f %%", *r.MeasuredGradePct)
		}
		if r.Note != "" {
			words += "; " + r.Note
		}
		return c.log("review", r.By, full, "", words)
	})
}

// measuredSlackPct is what an inclinometer reading of a mean downgrade may be off
// by itself; common practice, no source.
const measuredSlackPct = 0.5

// carry keeps what an earlier look measured where this one measured nothing, and
// puts the descent in question where road and terrain disagree; inside a change.
func (c *Catalog) carry(fid int64, id string, r *catalog.Review) error {
	var old *float64
	var photo string
	if _, err := one(c, []any{&old, &photo}, "SELECT measured_downgrade_pct, photo_ref FROM reviews WHERE descent = ?", id); err != nil {
		return err
	}
	if r.MeasuredGradePct == nil {
		r.MeasuredGradePct = old
	}
	if r.Photo == "" {
		r.Photo = photo
	}
	if r.MeasuredGradePct == nil || r.InQuestion != "" {
		return nil
	}
	var meanPct, errPct float64
	if _, err := one(c, []any{&meanPct, &errPct}, "SELECT mean_downgrade_pct, mean_downgrade_err_pct FROM descents WHERE fid = ?", fid); err != nil {
		return err
	}
	if math.Abs(math.Abs(*r.MeasuredGradePct)-meanPct) > errPct+measuredSlackPct {
		r.InQuestion = fmt.Sprintf("measured %.1f %% on the road, the terrain says %s", math.Abs(*r.MeasuredGradePct), catalog.GradeWithBound(meanPct, errPct))
	}
	return nil
}

func (c *Catalog) checkReview(r *catalog.Review) error {
	switch r.State {
	case catalog.Surveyed, catalog.FieldChecked, catalog.Approved, catalog.Retired:
	default:
		return &Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%q is no review state", r.State), Fix: "use surveyed, field-checked, approved or retired"}
	}
	if r.By == "" {
		return &Fault{Kind: terrain.ErrInput, What: "a review without a name", Fix: "say who reviewed it"}
	}
	if g := r.MeasuredGradePct; g != nil && !(math.Abs(*g) < 100) {
		return &Fault{Kind: catalog.ErrImpossible, What: fmt.Sprintf("a measured downgrade of %v %%", *g), Fix: "give it in per cent, as in 6.5"}
	}
	if r.At.IsZero() {
		r.At = time.Now()
		if c.opt.Now != nil {
			r.At = c.opt.Now()
		}
	}
	return sound(reflect.ValueOf(*r), "review")
}

// writeReview replaces the review of a descent; inside a change.
func (c *Catalog) writeReview(id string, r *catalog.Review) error {
	var at, measured any
	if !r.At.IsZero() {
		at = stamp(r.At)
	}
	if r.MeasuredGradePct != nil {
		measured = *r.MeasuredGradePct
	}
	args := []any{string(r.State), r.By, at, measured, r.Note, r.Photo, r.InQuestion, id}
	if err := c.byProgram(true); err != nil {
		return err
	}
	res, err := c.exec("UPDATE reviews SET state = ?, reviewed_by = ?, reviewed_at = ?, measured_downgrade_pct = ?, note = ?, photo_ref = ?, in_question = ? WHERE descent = ?", args...)
	if err != nil {
		return err
	}
	n, err := res.RowsAffected()
	if err == nil && n == 0 {
		_, err = c.exec("INSERT INTO reviews(state, reviewed_by, reviewed_at, measured_downgrade_pct, note, photo_ref, in_question, descent) VALUES (?, ?, ?, ?, ?, ?, ?, ?)", args...)
	}
	if err != nil {
		return err
	}
	return c.byProgram(false)
}

// byProgram says that the reviews are being changed by us; inside a change, so
// that no one else ever sees it.
func (c *Catalog) byProgram(on bool) error {
	_, err := c.exec("UPDATE catalogue SET by_program = ?", on)
	return err
}

// question puts a review in question, beside what already is; inside a change.
func (c *Catalog) question(id, by, why string) error {
	var had string
	if found, err := one(c, []any{&had}, "SELECT in_question FROM reviews WHERE descent = ?", id); err != nil || !found {
		return err
	}
	if text := questionText(had, why); text != had {
		if err := c.byProgram(true); err != nil {
			return err
		}
		if _, err := c.exec("UPDATE reviews SET in_question = ? WHERE descent = ?", text, id); err != nil {
			return err
		}
		if err := c.byProgram(false); err != nil {
			return err
		}
	}
	return c.log("in question", by, id, "", why)
}

func (c *Catalog) touch(layer string) error {
	_, err := c.exec("UPDATE gpkg_contents SET last_change = ? WHERE table_name IN (?, 'history')", c.now(), layer)
	return err
}

// propose keeps a newer survey of a reviewed descent until someone decides.
func (s *Survey) propose(p *plan, st *step, samples []byte, at string) error {
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
	if _, err := s.c.exec("INSERT INTO proposals(descent_fid, at, proposed_by, words, entry, class_fids, samples) VALUES (?, ?, ?, ?, ?, ?, ?)", st.old.fid, at, s.o.By, words, string(b), string(classes), samples); err != nil {
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
		if err := s.writeEntry(&step{do: update, entry: &e, id: old.Descent.ID, old: old}, p, samples); err != nil {
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

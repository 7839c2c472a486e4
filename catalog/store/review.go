package store

import (
	"context"
	"fmt"
	"math"
	"reflect"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/catalog/resurvey"
	"gradeline/terrain"
)

// Review records a review of a descent: its state, by whom, a measured downgrade, a note,
// a photo's reference. It removes open questions, unless r.InQuestion is set. A zero At
// means now. A descent whose newer survey waits to be accepted or refused cannot be
// approved before that is done.
func (c *Catalog) Review(ctx context.Context, id string, r catalog.Review) error {
	if err := c.checkReview(&r); err != nil {
		return err
	}
	return c.file.Change(ctx, func() error { return c.review(id, &r) })
}

// review records a look that was checked; inside a change.
func (c *Catalog) review(id string, r *catalog.Review) error {
	fid, full, err := findDescent(c.file, c.file.Path(), id)
	if err != nil {
		return err
	}
	var words string
	if r.State == catalog.Approved {
		waiting, err := gpkg.First(c.file, []any{&words}, "SELECT words FROM proposals WHERE descent_fid = ?", fid)
		if err != nil {
			return err
		}
		if waiting {
			return &Fault{Kind: terrain.ErrInput, File: c.file.Path(), Feature: "descent " + full, What: "a newer survey waits: " + words, Fix: "accept or refuse it, then approve"}
		}
	}
	setBack, lost, err := c.fromEarlier(fid, full, r)
	if err != nil {
		return err
	}
	if err := c.writeReview(full, r); err != nil {
		return err
	}
	if err := c.file.Touch("reviews", "history"); err != nil {
		return err
	}
	words = string(r.State)
	what := reviewEvent
	if setBack != "" {
		what, words = setBackEvent, setBack+" to "+words
	}
	if r.MeasuredGradePct != nil {
		words += fmt.Sprintf("; measured downgrade %.1f %%", *r.MeasuredGradePct)
	}
	if r.Note != "" {
		words += "; " + r.Note
	}
	if r.Photo != "" {
		words += "; photo " + r.Photo
	}
	words += lost
	return c.file.LogHistory(what, r.By, full, "", words)
}

// fromEarlier takes over what stays of an earlier review, and says whose review is undone. Nothing
// stays of one that does not match its check sum; lost then says so.
func (c *Catalog) fromEarlier(fid int64, id string, r *catalog.Review) (setBack, lost string, err error) {
	var earlier int64
	found, err := gpkg.First(c.file, []any{&earlier}, "SELECT fid FROM reviews WHERE descent = ?", id)
	if err != nil {
		return "", "", err
	}
	if found && gpkg.CheckRow(c.file, "reviews", earlier) != nil {
		if err := c.file.MarkOwnChange(true); err != nil {
			return "", "", err
		}
		_, err := c.file.Exec("DELETE FROM reviews WHERE fid = ?", earlier)
		if err == nil {
			err = c.file.MarkOwnChange(false)
		}
		return "", "; the earlier review was damaged and is not kept", err
	}
	if setBack, err = c.setBackWords(id, r); err == nil {
		err = c.carry(fid, id, r)
	}
	return setBack, "", err
}

// reviewEvent is the history's word for a review.
const reviewEvent = "review"

// setBackEvent is the history's word for a review that undoes another person's approval, field
// check or retirement.
const setBackEvent = "set back"

// setBackWords says whose review is undone; empty where none is, or where the person is the same.
func (c *Catalog) setBackWords(id string, r *catalog.Review) (string, error) {
	var state catalog.ReviewState
	var by, at string
	found, err := gpkg.First(c.file, []any{&state, &by, &at}, "SELECT state, reviewed_by, coalesce(reviewed_at, '') || '' FROM reviews WHERE descent = ?", id)
	if err != nil || !found || by == r.By || by == "" || !isSetBack(state, r.State) {
		return "", err
	}
	return fmt.Sprintf("from %s (%s, %s)", state, by, at[:min(10, len(at))]), nil
}

// isSetBack reports whether a state undoes another: an approval or a field check for a lower state,
// a retired descent for any state.
func isSetBack(from, to catalog.ReviewState) bool {
	rank := map[catalog.ReviewState]int{catalog.FieldChecked: 1, catalog.Approved: 2, catalog.Retired: 3}
	return rank[to] < rank[from]
}

// measuredSlackPct is the error of an inclinometer reading of a mean downgrade; common practice, no
// source.
const measuredSlackPct = 0.5

// carry keeps an earlier measurement if the new review has none, and marks the descent as in
// question where road and terrain disagree; inside a change.
func (c *Catalog) carry(fid int64, id string, r *catalog.Review) error {
	var old *float64
	var photo string
	if _, err := gpkg.First(c.file, []any{&old, &photo}, "SELECT measured_downgrade_pct, photo_ref FROM reviews WHERE descent = ?", id); err != nil {
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
	if _, err := gpkg.First(c.file, []any{&meanPct, &errPct}, "SELECT mean_downgrade_pct, mean_downgrade_err_pct FROM descents WHERE fid = ?", fid); err != nil {
		return err
	}
	r.InQuestion = measuredQuestion(*r.MeasuredGradePct, meanPct, errPct)
	return nil
}

// measuredQuestion is the question for a measured downgrade that differs from the terrain's; empty
// where the two agree.
func measuredQuestion(measuredPct, meanPct, errPct float64) string {
	if measuredPct = math.Abs(measuredPct); math.Abs(measuredPct-meanPct) <= errPct+measuredSlackPct {
		return ""
	}
	return fmt.Sprintf("measured %.1f %% on the road, the terrain says %s", measuredPct, catalog.GradeWithBound(meanPct, errPct))
}

func (c *Catalog) checkReview(r *catalog.Review) error {
	if err := checkState(r.State); err != nil {
		return err
	}
	if r.By == "" {
		return &Fault{Kind: terrain.ErrInput, What: "a review without a name", Fix: "name the person who reviewed it"}
	}
	if g := r.MeasuredGradePct; g != nil && !(math.Abs(*g) < 100) {
		return &Fault{Kind: catalog.ErrImpossible, What: fmt.Sprintf("a measured downgrade of %v %%", *g), Fix: "give it in per cent, as in 6.5"}
	}
	if r.At.IsZero() {
		r.At = c.file.Now()
	}
	return gpkg.CheckSound(reflect.ValueOf(*r), "review")
}

func checkState(s catalog.ReviewState) error {
	switch s {
	case catalog.Surveyed, catalog.FieldChecked, catalog.Approved, catalog.Retired:
		return nil
	}
	return &Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%q is not a review state", s), Fix: "use surveyed, field-checked, approved or retired"}
}

// writeReview replaces the review of a descent; inside a change.
func (c *Catalog) writeReview(id string, r *catalog.Review) error {
	var at, measured any
	if !r.At.IsZero() {
		at = gpkg.Stamp(r.At)
	}
	if r.MeasuredGradePct != nil {
		measured = *r.MeasuredGradePct
	}
	args := []any{string(r.State), r.By, at, measured, r.Note, r.Photo, r.InQuestion, id}
	if err := c.file.MarkOwnChange(true); err != nil {
		return err
	}
	res, err := c.file.Exec("UPDATE reviews SET state = ?, reviewed_by = ?, reviewed_at = ?, measured_downgrade_pct = ?, note = ?, photo_ref = ?, in_question = ? WHERE descent = ?", args...)
	if err != nil {
		return err
	}
	n, err := res.RowsAffected()
	if err == nil && n == 0 {
		_, err = c.file.Exec("INSERT INTO reviews(state, reviewed_by, reviewed_at, measured_downgrade_pct, note, photo_ref, in_question, descent) VALUES (?, ?, ?, ?, ?, ?, ?, ?)", args...)
	}
	if err == nil {
		err = c.file.SealRows("reviews", "WHERE descent = ?", id)
	}
	if err != nil {
		return err
	}
	return c.file.MarkOwnChange(false)
}

// question adds a question to a review; inside a change.
func (c *Catalog) question(id, by, why string) error {
	var had string
	if found, err := gpkg.First(c.file, []any{&had}, "SELECT in_question FROM reviews WHERE descent = ?", id); err != nil || !found {
		return err
	}
	if text := resurvey.JoinQuestions(had, why); text != had {
		if err := c.setQuestion(id, text); err != nil {
			return err
		}
	}
	return c.file.LogHistory("in question", by, id, "", why)
}

// AddQuestions adds questions to the reviews of descents, in one change.
func (c *Catalog) AddQuestions(ctx context.Context, list []Question, by string) error {
	if len(list) == 0 {
		return nil
	}
	return c.file.Change(ctx, func() error {
		for _, q := range list {
			if err := c.question(q.ID, by, q.Why); err != nil {
				return err
			}
		}
		return c.file.Touch("reviews", "history")
	})
}

// setQuestion replaces all that is in question of a review; inside a change.
func (c *Catalog) setQuestion(id, text string) error {
	if err := c.file.MarkOwnChange(true); err != nil {
		return err
	}
	if _, err := c.file.Exec("UPDATE reviews SET in_question = ? WHERE descent = ?", text, id); err != nil {
		return err
	}
	if err := c.file.SealRows("reviews", "WHERE descent = ?", id); err != nil {
		return err
	}
	return c.file.MarkOwnChange(false)
}

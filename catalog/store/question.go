package store

import (
	"context"
	"errors"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/catalog/resurvey"
	"gradeline/routes"
)

// QuestionHolds marks descents as in question when they are read by Each, Descents, Descent or
// Queue. why returns the reason for the holds of a descent, as vehicle.WhyStale does, or "" if they
// are good. Nothing is stored. Call it before the catalogue is read.
func (c *Catalog) QuestionHolds(why func(holds []catalog.Hold) string) { c.whyStale = why }

// questionStale marks an entry as in question if its holds are stale.
func (c *Catalog) questionStale(e *catalog.Entry) {
	if why := c.staleWords(e.Holds); why != "" {
		e.Review.InQuestion = resurvey.JoinQuestions(e.Review.InQuestion, why)
	}
}

func (c *Catalog) staleWords(holds []catalog.Hold) string {
	if c.whyStale == nil || len(holds) == 0 {
		return ""
	}
	return c.whyStale(holds)
}

// staleQuestions are the questions that stale holds raise, by descent.
func (c *Catalog) staleQuestions(q gpkg.Querier) (map[string]string, error) {
	out := map[string]string{}
	if c.whyStale == nil {
		return out, nil
	}
	var fids []int64
	if err := gpkg.Keys(q, &fids, "SELECT fid FROM descents"); err != nil {
		return nil, err
	}
	l := loader{q: q, brief: true}
	err := l.each(fids, func(e *resurvey.Stored, _ dangerOrder) (isEnough bool) {
		if why := c.staleWords(e.Holds); why != "" {
			out[e.Descent.ID] = why
		}
		return false
	})
	return out, c.inFile(err)
}

// Harsher returns the newer survey that waits for a decision on a descent, with its grade line, if
// it is harder for a class: the class does not hold the hill, or only at a lower speed, or at the
// same speed on a steeper, longer or deeper hill. It returns nil where none waits, or where the
// current survey is harder. The grade line is nil where none is stored.
func (c *Catalog) Harsher(ctx context.Context, e *catalog.Entry, class string) (*catalog.Entry, *routes.Profile, error) {
	var newer *catalog.Entry
	var line *routes.Profile
	err := c.file.Read(ctx, func(q gpkg.Querier) error {
		if err := gpkg.CheckRows(q, "proposals"); err != nil {
			return c.inFile(err)
		}
		var text, samples []byte
		found, err := gpkg.First(q, []any{&text, &samples}, "SELECT p.entry, p.samples FROM proposals p JOIN descents d ON d.fid = p.descent_fid WHERE d.id = ?", e.Descent.ID)
		if err != nil || !found {
			return err
		}
		var waiting catalog.Entry
		if err := gpkg.ParseJSON(text, &waiting); err != nil {
			return err
		}
		waiting.Descent.ID = e.Descent.ID
		if !resurvey.IsHarder(&waiting, e, class) {
			return nil
		}
		if len(samples) > 0 {
			if line, err = unpackProfile(samples); err != nil {
				return err
			}
		}
		waiting.Review = e.Review
		newer = &waiting
		return nil
	})
	var f *Fault
	if errors.As(err, &f) && f.Feature == "" {
		f.Feature = "descent " + e.Descent.ID
	}
	return newer, line, err
}

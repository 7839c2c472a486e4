package store

import (
	"context"
	"errors"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/catalog/resurvey"
	"gradeline/routes"
)

// QuestionHolds has every descent that Each, Descents, Descent and Queue give stand in
// question where why says so of its holds, as vehicle.WhyStale does; "" where they are
// good. Nothing of it is stored. To be called before the catalogue is read.
func (c *Catalog) QuestionHolds(why func(holds []catalog.Hold) string) { c.whyStale = why }

// questionStale puts an entry in question where its holds are stale.
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
	for _, fid := range fids {
		e, found, err := l.entry(fid)
		if err != nil {
			return nil, err
		}
		if why := c.staleWords(e.Holds); found && why != "" {
			out[e.Descent.ID] = why
		}
	}
	return out, nil
}

// Harsher gives the newer survey that waits for a decision on a descent, with its grade
// line, where it is the harder one to a class: it does not hold the hill, or only slower,
// or it is as fast on a steeper, longer or deeper hill. nil where none waits, or the one
// that was decided on is the harder. The grade line is nil where none was kept.
func (c *Catalog) Harsher(ctx context.Context, e *catalog.Entry, class string) (*catalog.Entry, *routes.Profile, error) {
	var newer *catalog.Entry
	var line *routes.Profile
	err := c.file.Read(ctx, func(q gpkg.Querier) error {
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

package store

import (
	"context"
	"fmt"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/terrain"
)

// Decision is a person's decision on a descent: whether a newer survey that waits is accepted, and
// the new state of review, where Review.State is not "".
type Decision struct {
	Accept, Refuse bool
	Review         catalog.Review
	// Version is the version of the descent that the person saw, see Catalog.Version; nil for no
	// check. A descent that has changed since is not changed.
	Version *int64
}

// OvertakenError reports that somebody else has changed the descent meanwhile. Nothing of the
// decision is stored.
type OvertakenError struct {
	ID      string
	Version int64   // version of the current descent
	Since   []Event // what was done meanwhile, oldest first
}

func (e *OvertakenError) Error() string {
	last := e.Since[len(e.Since)-1]
	return fmt.Sprintf("descent %s has changed meanwhile: %s by %s: %s", e.ID, last.What, last.By, last.Words)
}

// Version is a number that grows with each change that the history records of a descent:
// two readings that are the same saw the same descent.
func (c *Catalog) Version(ctx context.Context, id string) (version int64, err error) {
	err = c.file.Read(ctx, func(q gpkg.Querier) error {
		_, full, err := findDescent(q, c.file.Path(), id)
		if err == nil {
			version, err = versionOf(q, full)
		}
		return err
	})
	return version, err
}

func versionOf(q gpkg.Querier, id string) (version int64, err error) {
	_, err = gpkg.First(q, []any{&version}, "SELECT coalesce(max(fid), 0) FROM history WHERE descent = ?", id)
	return version, err
}

// Decide records a decision in one change: what becomes of the newer survey, and the
// review. An *OvertakenError where d.Version is not the descent's any more.
func (c *Catalog) Decide(ctx context.Context, id string, d Decision) error {
	switch {
	case d.Accept && d.Refuse:
		return &Fault{Kind: terrain.ErrInput, What: "a newer survey cannot be accepted and refused", Fix: "choose one of the two"}
	case !d.Accept && !d.Refuse && d.Review.State == "":
		return &Fault{Kind: terrain.ErrInput, What: "nothing is decided", Fix: "give a state, or accept or refuse the newer survey"}
	case d.Review.By == "":
		return &Fault{Kind: terrain.ErrInput, What: "a decision without a name", Fix: "name the person who decided"}
	}
	if d.Review.State != "" {
		if err := c.checkReview(&d.Review); err != nil {
			return err
		}
	}
	return c.file.Change(ctx, func() error {
		if err := c.checkVersion(id, d.Version); err != nil {
			return err
		}
		var err error
		switch {
		case d.Accept:
			err = c.accept(id, d.Review.By)
		case d.Refuse:
			err = c.refuse(id, d.Review.By, d.Review.Note)
		}
		if err == nil && d.Review.State != "" {
			err = c.review(id, &d.Review)
		}
		return err
	})
}

// checkVersion refuses a decision on a descent that has changed; inside a change.
func (c *Catalog) checkVersion(id string, seen *int64) error {
	if seen == nil {
		return nil
	}
	_, full, err := findDescent(c.file, c.file.Path(), id)
	if err != nil {
		return err
	}
	now, err := versionOf(c.file, full)
	if err != nil || now == *seen {
		return err
	}
	since, err := events(c.file, full, *seen)
	if err != nil {
		return err
	}
	if len(since) == 0 { // the history was cut by hand
		since = []Event{{What: "change", Words: "its history is another one now"}}
	}
	return &OvertakenError{full, now, since}
}

package store

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/catalog/resurvey"
	"gradeline/routes"
)

// Reasons why a descent needs a look, the most urgent first.
const (
	QueueMoved        = "moved"        // a newer survey waits to be accepted or refused
	QueueInQuestion   = "in question"  // the basis of an approval has changed
	QueueSetBack      = "set back"     // a person undid the review of another
	QueueGone         = "gone"         // no longer found by the last survey
	QueueNew          = "new"          // nobody has reviewed it
	QueueBorderline   = "borderline"   // within its bounds of a threshold
	QueueUnreliable   = "unreliable"   // its grade line is unreliable
	QueueInterpolated = "interpolated" // long parts have no ground under them
	QueueOld          = "old"          // the last review is old
	QueueDrives       = "drives"       // recorded drives contradict it; see survey.Queue
)

// QueueItem is a descent that needs a look, with all the reasons.
type QueueItem struct {
	ID      string              `json:"id"`
	Route   string              `json:"route"`
	Name    string              `json:"name"`
	State   catalog.ReviewState `json:"state"`
	Reasons []string            `json:"reasons"` // Queue… values
	Words   string              `json:"words"`   // what moved, what is in question
}

// longPartM is the longest part of a descent without ground that needs no look, unless its flags
// already require one.
const longPartM = 300

// Queue lists what needs a look, in order of danger; a review older than two
// years counts as old.
func (c *Catalog) Queue(ctx context.Context) ([]QueueItem, error) {
	return c.QueueAt(ctx, c.file.Now().AddDate(-2, 0, 0))
}

// QueueAt is Queue with reviews before oldBefore counting as old. A reviewed
// descent is not listed for being borderline, unreliable or interpolated: the reviewer knew that.
func (c *Catalog) QueueAt(ctx context.Context, oldBefore time.Time) ([]QueueItem, error) {
	out := []QueueItem{}
	err := c.file.Read(ctx, func(q gpkg.Querier) error {
		err := gpkg.CheckIndexes(q, "")
		if err == nil {
			err = gpkg.CheckRows(q, "reviews", "proposals", "history")
		}
		if err != nil {
			return c.inFile(err)
		}
		stale, err := c.staleQuestions(q)
		if err != nil {
			return err
		}
		return gpkg.Each(q, func(rows *sql.Rows) error {
			r := queueRow{}
			if err := r.scan(rows); err != nil {
				return err
			}
			if !slices.Contains(reviewStates, r.State) {
				return unknownState(r.State)
			}
			if s := stale[r.ID]; s != "" && r.State != catalog.Retired {
				r.question = resurvey.JoinQuestions(r.question, s)
			}
			r.addReasons(oldBefore)
			if len(r.Reasons) > 0 {
				r.addWords()
				out = append(out, r.QueueItem)
			}
			return nil
		}, `SELECT d.id, d.route, d.name, d.interpolated_m, d.flags, coalesce(d.gone_since, ''),
			coalesce(v.state, 'surveyed'), coalesce(v.reviewed_at, ''), coalesce(v.in_question, ''), coalesce(p.words, ''),
			coalesce((SELECT CASE h.what WHEN 'set back' THEN 'set back by ' || h.done_by || ' ' || h.words END FROM history h WHERE h.descent = d.id AND h.what IN ('review', 'set back') ORDER BY h.fid DESC LIMIT 1), '')
			FROM descents d LEFT JOIN reviews v ON v.descent = d.id LEFT JOIN proposals p ON p.descent_fid = d.fid
			WHERE coalesce(v.state, '') <> 'retired' OR v.in_question <> ''
			ORDER BY d.heaviest_rank, d.heaviest_speed_mps, d.drop_m DESC, d.id`)
	})
	return out, err
}

// queueRow holds the queue's data of one descent.
type queueRow struct {
	QueueItem
	d                                    routes.Descent // its flags and the length without ground
	at, question, gone, waiting, setBack string
}

func (r *queueRow) scan(rows *sql.Rows) error {
	return rows.Scan(&r.ID, &r.Route, &r.Name, &r.d.InterpolatedM, &gpkg.JSONColumn{To: &r.d.Flags}, &r.gone, &r.State, &r.at, &r.question, &r.waiting, &r.setBack)
}

func (r *queueRow) addReasons(oldBefore time.Time) {
	isNew := r.State == catalog.Surveyed
	t, err := gpkg.ParseMoment(r.at)
	for _, x := range []struct {
		is     bool
		reason string
	}{
		{r.waiting != "", QueueMoved},
		{r.question != "", QueueInQuestion},
		{r.setBack != "", QueueSetBack},
		{r.gone != "", QueueGone},
		{isNew && r.at == "", QueueNew},
		{isNew && r.d.HasFlag(routes.FlagBorderline), QueueBorderline},
		{isNew && r.d.HasFlag(routes.FlagUnreliable), QueueUnreliable},
		{isNew && (r.d.HasFlag(routes.FlagInterpolated) || r.d.InterpolatedM > longPartM), QueueInterpolated},
		{err == nil && !t.IsZero() && t.Before(oldBefore), QueueOld},
	} {
		if x.is {
			r.Reasons = append(r.Reasons, x.reason)
		}
	}
}

// addWords adds the most urgent reason in words.
func (r *queueRow) addWords() {
	switch {
	case r.waiting != "":
		r.Words = r.waiting
	case r.question != "":
		r.Words = r.question
	case r.setBack != "":
		r.Words = r.setBack
	case r.gone != "":
		r.Words = "no longer found since " + r.gone[:min(10, len(r.gone))]
	}
}

// Event is one line of the history.
type Event struct {
	At      time.Time `json:"at"`
	By      string    `json:"by"`
	What    string    `json:"what"`
	Descent string    `json:"descent"`
	Route   string    `json:"route"`
	Words   string    `json:"words"`
}

// IsDecision reports whether a person decided something on a descent: a review, or a newer survey
// accepted or refused.
func (e *Event) IsDecision() bool {
	return slices.Contains([]string{reviewEvent, setBackEvent, acceptedEvent, refusedEvent}, e.What)
}

// History lists who changed what and why, oldest first, for one descent, or for the complete
// catalogue where id is empty.
func (c *Catalog) History(ctx context.Context, id string) ([]Event, error) {
	out := []Event{}
	err := c.file.Read(ctx, func(q gpkg.Querier) error {
		full := ""
		if id != "" {
			var err error
			if _, full, err = findDescent(q, c.file.Path(), id); err != nil {
				return err
			}
		}
		var err error
		out, err = events(q, full, 0)
		return c.inFile(err)
	})
	return out, err
}

// events reads the history after a version: of one descent by its complete id, or of
// the whole catalogue for "".
func events(q gpkg.Querier, id string, after int64) ([]Event, error) {
	out := []Event{}
	if err := gpkg.CheckRows(q, "history"); err != nil {
		return nil, err
	}
	query, args := "SELECT at || '', done_by, what, descent, route, words FROM history WHERE fid > ?", []any{after}
	if id != "" {
		query, args = query+" AND descent = ?", append(args, id)
	}
	err := gpkg.Each(q, func(rows *sql.Rows) error {
		var e Event
		var at string
		err := rows.Scan(&at, &e.By, &e.What, &e.Descent, &e.Route, &e.Words)
		if err == nil {
			e.At, err = gpkg.ParseMoment(at)
		}
		out = append(out, e)
		return err
	}, query+" ORDER BY fid", args...)
	return out, err
}

// Routes lists the surveyed roads by id.
func (c *Catalog) Routes(ctx context.Context) ([]RouteRecord, error) {
	out := []RouteRecord{}
	err := c.file.Read(ctx, func(q gpkg.Querier) error {
		if err := gpkg.CheckRows(q, "routes"); err != nil {
			return c.inFile(err)
		}
		return gpkg.Each(q, func(rows *sql.Rows) error {
			var r RouteRecord
			err := rows.Scan(&r.ID, &r.Name, &r.Ref, &r.LengthM, &r.Stations, &r.MissingM, &r.Reliable, &r.Unreliable, &r.LineSHA256, &r.SurveyedAt)
			out = append(out, r)
			return err
		}, "SELECT route, name, ref, length_m, stations, missing_m, reliable, unreliable, line_sha256, surveyed_at || '' FROM routes ORDER BY route")
	})
	return out, err
}

// Profile returns the grade line along a descent with up to 2,000 m before its crest
// and after its foot, forward along the line and without doubtful stretches;
// ErrNotFound where none is stored.
func (c *Catalog) Profile(ctx context.Context, id string) (*routes.Profile, error) {
	var out *routes.Profile
	err := c.file.Read(ctx, func(q gpkg.Querier) error {
		fid, full, err := findDescent(q, c.file.Path(), id)
		if err != nil {
			return err
		}
		var b []byte
		found, err := gpkg.First(q, []any{&b}, "SELECT samples FROM profiles WHERE descent_fid = ?", fid)
		if err != nil {
			return err
		}
		if !found {
			return &Fault{Kind: catalog.ErrNotFound, File: c.file.Path(), Feature: "descent " + full, What: "no profile is stored", Fix: "survey its road again"}
		}
		if out, err = unpackProfile(b); err != nil {
			return fmt.Errorf("descent %s: %w", full, err)
		}
		return nil
	})
	return out, err
}

// Tangents returns the even grades of a route by its id, by station.
func (c *Catalog) Tangents(ctx context.Context, route string) ([]Tangent, error) {
	out := []Tangent{}
	err := c.file.Read(ctx, func(q gpkg.Querier) error {
		var fid int64
		found, err := gpkg.First(q, []any{&fid}, "SELECT fid FROM routes WHERE route = ?", route)
		if err == nil && found {
			err = gpkg.CheckParts(q, fid)
		}
		if err != nil {
			return c.inFile(err)
		}
		return gpkg.Each(q, func(rows *sql.Rows) error {
			var t Tangent
			err := rows.Scan(&t.FromM, &t.ToM, &t.GradePct, &t.GradeErrPct)
			out = append(out, t)
			return err
		}, "SELECT t.from_m, t.to_m, t.grade_pct, t.grade_err_pct FROM tangents t JOIN routes r ON r.fid = t.route_fid WHERE r.route = ? ORDER BY t.from_m", route)
	})
	return out, err
}

// ClassIDs lists the weight classes that any descent has an answer for.
func (c *Catalog) ClassIDs(ctx context.Context) ([]string, error) {
	out := []string{}
	err := c.file.Read(ctx, func(q gpkg.Querier) error {
		return gpkg.Each(q, func(rows *sql.Rows) error {
			var id string
			if err := rows.Scan(&id); err != nil {
				return err
			}
			out = append(out, id)
			return nil
		}, "SELECT DISTINCT class FROM holds ORDER BY class")
	})
	return out, err
}

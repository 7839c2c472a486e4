package store

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/catalog/resurvey"
	"gradeline/routes"
)

// Reasons why a descent waits for a look, the most pressing first.
const (
	QueueMoved        = "moved"        // a newer survey waits to be accepted or refused
	QueueInQuestion   = "in question"  // an approval no longer stands on what it stood on
	QueueSetBack      = "set back"     // another person took back what one had recorded
	QueueGone         = "gone"         // no longer found by the last survey
	QueueNew          = "new"          // nobody has looked at it
	QueueBorderline   = "borderline"   // within its bounds of a threshold
	QueueUnreliable   = "unreliable"   // the grade line under it does not stand on the ground
	QueueInterpolated = "interpolated" // long parts rest on no ground
	QueueOld          = "old"          // the last look is long ago
)

// QueueItem is a descent that waits for a look, and all the reasons.
type QueueItem struct {
	ID      string              `json:"id"`
	Route   string              `json:"route"`
	Name    string              `json:"name"`
	State   catalog.ReviewState `json:"state"`
	Reasons []string            `json:"reasons"` // Queue… values
	Words   string              `json:"words"`   // what moved, what is in question
}

// longPartM is how much of a descent may rest on no ground before someone
// should look, unless its flags say so already.
const longPartM = 300

// Queue lists what needs a look, in order of danger; a review older than two
// years counts as old.
func (c *Catalog) Queue(ctx context.Context) ([]QueueItem, error) {
	return c.QueueAt(ctx, c.file.Now().AddDate(-2, 0, 0))
}

// QueueAt is Queue with reviews before oldBefore counting as old. A reviewed
// descent is not listed for being borderline, unreliable or interpolated: that
// is what the reviewer looked at.
func (c *Catalog) QueueAt(ctx context.Context, oldBefore time.Time) ([]QueueItem, error) {
	out := []QueueItem{}
	err := c.file.Read(ctx, func(q gpkg.Querier) error {
		if err := gpkg.CheckIndexes(q, ""); err != nil {
			return c.inFile(err)
		}
		stale, err := c.staleQuestions(q)
		if err != nil {
			return err
		}
		return gpkg.Each(q, func(rows *sql.Rows) error {
			var it QueueItem
			var d routes.Descent
			var at, question, gone, waiting, setBack string
			if err := rows.Scan(&it.ID, &it.Route, &it.Name, &d.InterpolatedM, &gpkg.JSONColumn{To: &d.Flags}, &gone, &it.State, &at, &question, &waiting, &setBack); err != nil {
				return err
			}
			why := func(is bool, reason string) {
				if is {
					it.Reasons = append(it.Reasons, reason)
				}
			}
			if s := stale[it.ID]; s != "" && it.State != catalog.Retired {
				question = resurvey.JoinQuestions(question, s)
			}
			fresh := it.State == catalog.Surveyed
			why(waiting != "", QueueMoved)
			why(question != "", QueueInQuestion)
			why(setBack != "", QueueSetBack)
			why(gone != "", QueueGone)
			why(fresh && at == "", QueueNew)
			why(fresh && d.HasFlag(routes.FlagBorderline), QueueBorderline)
			why(fresh && d.HasFlag(routes.FlagUnreliable), QueueUnreliable)
			why(fresh && (d.HasFlag(routes.FlagInterpolated) || d.InterpolatedM > longPartM), QueueInterpolated)
			t, err := gpkg.ParseMoment(at)
			why(err == nil && !t.IsZero() && t.Before(oldBefore), QueueOld)
			switch {
			case waiting != "":
				it.Words = waiting
			case question != "":
				it.Words = question
			case setBack != "":
				it.Words = setBack
			case gone != "":
				it.Words = "no longer found since " + gone[:min(10, len(gone))]
			}
			if len(it.Reasons) > 0 {
				out = append(out, it)
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

// Event is one line of the history.
type Event struct {
	At      time.Time `json:"at"`
	By      string    `json:"by"`
	What    string    `json:"what"`
	Descent string    `json:"descent"`
	Route   string    `json:"route"`
	Words   string    `json:"words"`
}

// History tells who changed what and why, oldest first: of one descent, or of
// the whole catalogue where id is empty.
func (c *Catalog) History(ctx context.Context, id string) ([]Event, error) {
	out := []Event{}
	err := c.file.Read(ctx, func(q gpkg.Querier) error {
		query, args := "SELECT at || '', done_by, what, descent, route, words FROM history", []any{}
		if id != "" {
			_, full, err := findDescent(q, c.file.Path(), id)
			if err != nil {
				return err
			}
			query, args = query+" WHERE descent = ?", append(args, full)
		}
		return gpkg.Each(q, func(rows *sql.Rows) error {
			var e Event
			var at string
			err := rows.Scan(&at, &e.By, &e.What, &e.Descent, &e.Route, &e.Words)
			if err == nil {
				e.At, err = gpkg.ParseMoment(at)
			}
			out = append(out, e)
			return err
		}, query+" ORDER BY fid", args...)
	})
	return out, err
}

// Routes lists the surveyed roads by id.
func (c *Catalog) Routes(ctx context.Context) ([]RouteRecord, error) {
	out := []RouteRecord{}
	err := c.file.Read(ctx, func(q gpkg.Querier) error {
		return gpkg.Each(q, func(rows *sql.Rows) error {
			var r RouteRecord
			err := rows.Scan(&r.ID, &r.Name, &r.Ref, &r.LengthM, &r.Stations, &r.MissingM, &r.Reliable, &r.Unreliable, &r.LineSHA256, &r.SurveyedAt)
			out = append(out, r)
			return err
		}, "SELECT route, name, ref, length_m, stations, missing_m, reliable, unreliable, line_sha256, surveyed_at || '' FROM routes ORDER BY route")
	})
	return out, err
}

// Profile gives the grade line along a descent with up to 2,000 m before its
// crest and after its foot, forward along the line and without what was in doubt;
// ErrNotFound where the survey kept none.
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
			return &Fault{Kind: catalog.ErrNotFound, File: c.file.Path(), Feature: "descent " + full, What: "no profile was kept", Fix: "survey its road again"}
		}
		if out, err = unpackProfile(b); err != nil {
			return fmt.Errorf("descent %s: %w", full, err)
		}
		return nil
	})
	return out, err
}

// Tangents gives the even grades of a route by its id, by station.
func (c *Catalog) Tangents(ctx context.Context, route string) ([]Tangent, error) {
	out := []Tangent{}
	err := c.file.Read(ctx, func(q gpkg.Querier) error {
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

package spread

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"gradeline/catalog"
)

// State says where a run is.
type State string

// The states of a run.
const (
	Waiting   State = "waiting"   // queued; no worker takes part
	Working   State = "working"   // grade lines are recovered
	Ahead     State = "ahead"     // hills that continue in other roads are surveyed along those
	Finishing State = "finishing" // nodes, descents, advice and catalogue
	Finished  State = "finished"
	Failed    State = "failed"
)

// Progress is where a run is, by the database's clock.
type Progress struct {
	Schema      string    `json:"schema"`
	Run         int64     `json:"run"`
	State       State     `json:"state"`
	QueuedAt    time.Time `json:"queued_at"`
	Routes      int       `json:"routes"`
	Jobs        int       `json:"jobs"`
	JobsDone    int       `json:"jobs_done"`
	LengthM     float64   `json:"length_m"`
	DoneM       float64   `json:"done_m"`       // of road with a grade line
	RateMPS     float64   `json:"rate_mps"`     // of road, over the last minutes; 0: not known
	TimeLeftS   float64   `json:"time_left_s"`  // until the last grade line is there; 0: not known
	TimeTakenS  float64   `json:"time_taken_s"` // since it was queued, until its end
	AheadJobs   int       `json:"ahead_jobs"`   // of hills that continue in other roads
	AheadDone   int       `json:"ahead_done"`
	Settled     int       `json:"settled"`      // routes that the finishing job has done
	Workers     int       `json:"workers"`      // processes that take part
	Problem     string    `json:"problem"`      // of the finishing job
	Troubled    int       `json:"troubled"`     // routes that failed at least once and are tried again
	SetAside    int       `json:"set_aside"`    // routes without a grade line
	FirstAside  []string  `json:"first_aside"`  // some of them, with their messages
	CatalogFile string    `json:"catalog_file"` // empty for the database
	Gaps        int       `json:"gaps"`
	Warnings    []string  `json:"warnings"`
}

const (
	rateOver    = 3 * time.Minute
	asideListed = 20
	shownFor    = 3 * beatEvery // a worker that was not seen for longer is not counted
)

// Runs lists the runs that are not finished, oldest first.
func (q *Queue) Runs(ctx context.Context) ([]int64, error) {
	rows, err := q.pool.Query(ctx, "SELECT id FROM run WHERE finished_at IS NULL AND failed_at IS NULL ORDER BY id")
	if err != nil {
		return nil, q.fault("cannot be read", err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowTo[int64])
	return list, q.fault("cannot be read", err)
}

// LastRun is the newest run; 0 for none.
func (q *Queue) LastRun(ctx context.Context) (id int64, err error) {
	err = q.pool.QueryRow(ctx, "SELECT coalesce(max(id), 0) FROM run").Scan(&id)
	return id, q.fault("cannot be read", err)
}

// Progress says where a run is.
func (q *Queue) Progress(ctx context.Context, run int64) (Progress, error) {
	p := Progress{Schema: catalog.Schema, Run: run}
	var isFinished, isFailed, isLinesDone, isAheadDone bool
	var recentM, recentS float64
	var file *string
	err := q.pool.QueryRow(ctx, `SELECT queued_at, routes, batches, length_m, settled, problem, warnings, settings->>'Catalog',
		finished_at IS NOT NULL, failed_at IS NOT NULL, lines_at IS NOT NULL, ahead_at IS NOT NULL,
		extract(epoch FROM coalesce(finished_at, failed_at, now()) - queued_at),
		(SELECT count(*) FROM batch WHERE run = r.id AND done_at IS NOT NULL),
		(SELECT coalesce(sum(length_m), 0) FROM batch WHERE run = r.id AND done_at IS NOT NULL),
		(SELECT coalesce(sum(length_m), 0) FROM batch WHERE run = r.id AND done_at > now() - make_interval(secs => $2)),
		-- the first jobs were in work before they were done
		least($2, extract(epoch FROM now() - coalesce((SELECT min(attempted_at) FROM river_job WHERE queue = 'lines-' || r.id), now()))),
		(SELECT count(*) FROM worker WHERE run = r.id AND seen_at > now() - make_interval(secs => $3)),
		(SELECT count(*) FROM gap WHERE run = r.id),
		(SELECT count(*) FROM batch WHERE run = r.id AND is_joined), (SELECT count(*) FROM batch WHERE run = r.id AND is_joined AND ahead_at IS NOT NULL)
		FROM run r WHERE id = $1`, run, rateOver.Seconds(), shownFor.Seconds()).Scan(
		&p.QueuedAt, &p.Routes, &p.Jobs, &p.LengthM, &p.Settled, &p.Problem, &p.Warnings, &file,
		&isFinished, &isFailed, &isLinesDone, &isAheadDone, &p.TimeTakenS, &p.JobsDone, &p.DoneM, &recentM, &recentS, &p.Workers, &p.Gaps, &p.AheadJobs, &p.AheadDone)
	if errors.Is(err, pgx.ErrNoRows) {
		return p, &catalog.Fault{Kind: catalog.ErrNotFound, File: q.name, What: fmt.Sprintf("there is no run %d in the queue", run), Fix: "gradeline survey --watch names the runs"}
	}
	if err != nil {
		return p, q.fault("cannot be read", err)
	}
	if file != nil {
		p.CatalogFile = *file
	}
	if recentS > 0 && recentM > 0 {
		p.RateMPS = recentM / recentS
		p.TimeLeftS = (p.LengthM - p.DoneM) / p.RateMPS
	}
	p.State = stateOf(isFinished, isFailed, isLinesDone, isAheadDone, p.Workers)
	return p, q.addAside(ctx, &p)
}

func stateOf(isFinished, isFailed, isLinesDone, isAheadDone bool, workers int) State {
	switch {
	case isFinished:
		return Finished
	case isFailed:
		return Failed
	case workers == 0:
		return Waiting
	case isAheadDone:
		return Finishing
	case isLinesDone:
		return Ahead
	}
	return Working
}

// addAside adds the routes that were set aside, while the run keeps its records.
func (q *Queue) addAside(ctx context.Context, p *Progress) error {
	err := q.pool.QueryRow(ctx, `SELECT (SELECT count(*) FROM grade_line WHERE run = $1 AND packed IS NULL),
		(SELECT count(*) FROM route r WHERE run = $1 AND tries > 0 AND NOT EXISTS (SELECT FROM grade_line g WHERE g.run = r.run AND g.seq = r.seq))`, p.Run).Scan(&p.SetAside, &p.Troubled)
	if err != nil {
		return q.fault("cannot be read", err)
	}
	rows, err := q.pool.Query(ctx, `SELECT r.id || ': ' || g.failed FROM grade_line g JOIN route r USING (run, seq)
		WHERE g.run = $1 AND g.packed IS NULL ORDER BY g.seq LIMIT $2`, p.Run, asideListed)
	if err != nil {
		return q.fault("cannot be read", err)
	}
	p.FirstAside, err = pgx.CollectRows(rows, pgx.RowTo[string])
	return q.fault("cannot be read", err)
}

// Gaps lists what is missing from a finished run's answer, in words.
func (q *Queue) Gaps(ctx context.Context, run int64) ([]string, error) {
	rows, err := q.pool.Query(ctx, "SELECT words FROM gap WHERE run = $1 ORDER BY n", run)
	if err != nil {
		return nil, q.fault("cannot be read", err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowTo[string])
	return list, q.fault("cannot be read", err)
}

// Drop removes a run with its jobs. What is stored in the catalogue stays.
func (q *Queue) Drop(ctx context.Context, run int64) error {
	err := pgx.BeginFunc(ctx, q.pool, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, "DELETE FROM river_job WHERE queue IN ($1, $2, $3)", lineQueue(run), aheadQueue(run), finishQueue(run)); err != nil {
			return err
		}
		tag, err := tx.Exec(ctx, "DELETE FROM run WHERE id = $1", run)
		if err == nil && tag.RowsAffected() == 0 {
			return &catalog.Fault{Kind: catalog.ErrNotFound, File: q.name, What: fmt.Sprintf("there is no run %d in the queue", run), Fix: "gradeline survey --watch names the runs"}
		}
		return err
	})
	return q.fault("cannot be changed", err)
}

// Again lets a run that failed be finished again.
func (q *Queue) Again(ctx context.Context, run int64) error {
	err := pgx.BeginFunc(ctx, q.pool, func(tx pgx.Tx) error {
		tag, err := tx.Exec(ctx, "UPDATE run SET failed_at = NULL, finish_tries = 0, lines_at = NULL, ahead_at = NULL WHERE id = $1 AND failed_at IS NOT NULL", run)
		if err == nil && tag.RowsAffected() == 0 {
			return &catalog.Fault{Kind: catalog.ErrNotFound, File: q.name, What: fmt.Sprintf("run %d has not failed", run), Fix: "gradeline survey --watch shows where it is"}
		}
		if err == nil {
			_, err = tx.Exec(ctx, "DELETE FROM river_job WHERE queue = $1", finishQueue(run))
		}
		return err
	})
	return q.fault("cannot be changed", err)
}

// Watch asks again and again where a run is, until it has ended. What it hears goes to each, errors
// of a database that is away too; after those it asks again.
func (q *Queue) Watch(ctx context.Context, run int64, every time.Duration, each func(*Progress, error)) (Progress, error) {
	for {
		p, err := q.Progress(ctx, run)
		switch {
		case ctx.Err() != nil:
			return p, ctx.Err()
		case err != nil && !errors.Is(err, errAway):
			return p, err
		case err == nil && (p.State == Finished || p.State == Failed):
			return p, nil
		}
		each(&p, err)
		pause(ctx, every)
	}
}
